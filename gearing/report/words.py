"""The three answers as plain sentences: figure, interval, how sure, and what to do next.

Pure functions of results.json; used by the page and by the short answer on the terminal.
"""

from __future__ import annotations

from typing import Any

from gearing.report.answer import Answer
from gearing.report.display import Display, System
from gearing.report.fuel_words import fuel_answer
from gearing.report.mountain_words import mountain_answer, route_sentences
from gearing.report.speed_words import speed_answer
from gearing.report.translate import translated

Results = dict[str, Any]


def three_answers(results: Results, units: System = "metric") -> tuple[str, str, str]:
    """Speed, fuel and mountain, each as a few plain sentences in the reader's units."""
    speed, fuel, mountain = answers(results, units)
    return speed.sentence(), fuel.sentence(), mountain.sentence()


def answers(results: Results, units: System = "metric") -> tuple[Answer, Answer, Answer]:
    display = Display(units)
    results = translated(results, display)
    return (
        speed_answer(results, display),
        fuel_answer(results, display),
        mountain_answer(results, display),
    )


def route_lines(mountain: Results, units: System = "metric") -> list[str]:
    """The mountain routes alone, one line each way, and what is missing."""
    display = Display(units)
    return route_sentences(translated(mountain, display), display)
