"""The three answers as plain sentences: figure, interval, how sure, and what to do next.

Pure functions of results.json; used by the page and by the short answer on the terminal.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from gearing.messages.display import Display, System
from gearing.report.views.answer import Answer
from gearing.report.views.fuel import fuel_answer
from gearing.report.views.mountain import mountain_answer, route_sentences
from gearing.report.phrases import clause
from gearing.report.retell import for_reader
from gearing.report.views.speed import SEE_WHICH, looks_swapped, speed_answer

Results = dict[str, Any]


def three_answers(results: Results, units: System = "metric") -> tuple[str, str, str]:
    """Speed, fuel and mountain, each as a few plain sentences in the reader's units."""
    speed, fuel, mountain = answers(results, units)
    return speed.sentence(), fuel.sentence(), mountain.sentence()


def answers(results: Results, units: System = "metric") -> tuple[Answer, Answer, Answer]:
    display = Display(units)
    results = for_reader(results, display)
    speed, fuel, mountain = (
        speed_answer(results, display),
        fuel_answer(results, display),
        mountain_answer(results, display),
    )
    if looks_swapped(results):
        fuel, mountain = (_in_doubt(one) if one.settled else one for one in (fuel, mountain))
    return speed, fuel, mountain


def _in_doubt(answer: Answer) -> Answer:
    """A change whose direction hangs on which logs are from before."""
    return replace(
        answer,
        short="Periods swapped?",
        headline=f"If no logs are swapped: {clause(answer.headline)}.",
        next_step=f"{SEE_WHICH}: if they are swapped, this change is told the wrong way round.",
        settled=False,
    )


def route_lines(mountain: Results, units: System = "metric") -> list[str]:
    """The mountain routes alone, one line each way, and what is missing."""
    display = Display(units)
    return route_sentences(for_reader(mountain, display), display)
