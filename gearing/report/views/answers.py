"""The three answers as plain sentences: figure, interval, how sure, and what to do next.

Pure functions of the results; for the page and for the terminal.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from gearing.messages.display import Display
from gearing.report.phrases import clause
from gearing.report.views.fuel import fuel_answer
from gearing.report.views.mountain import mountain_answer
from gearing.report.views.speed import SEE_WHICH, looks_swapped, speed_answer

if TYPE_CHECKING:
    from gearing.report.views.answer import Answer
    from gearing.results.record import Results


def answers(results: Results, display: Display) -> tuple[Answer, Answer, Answer]:
    """Speed, fuel and mountain, of results told for their reader (`reader.for_reader`)."""
    speed = speed_answer(results, display)
    fuel, mountain = fuel_answer(results, display), mountain_answer(results, display)
    if looks_swapped(results):
        fuel = _in_doubt(fuel) if results.fuel.verdict else fuel
        mountain = _in_doubt(mountain) if mountain.settled else mountain
    return speed, fuel, mountain


def _in_doubt(answer: Answer) -> Answer:
    """A change whose direction hangs on which logs are from before."""
    return replace(
        answer,
        short="Periods swapped?",
        headline=f"If no logs are swapped: {clause(answer.headline)}."
        if answer.settled
        else answer.headline,
        next_step=f"{SEE_WHICH}: if they are swapped, this change is told the wrong way round.",
        settled=False,
        action="See which logs are from before",
        sure="Cannot tell yet",
    )
