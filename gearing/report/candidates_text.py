"""Candidates side by side on a terminal: the page's tables, and what to know of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages.columns import USUAL_WIDTH, wrapped
from gearing.messages.display import Display, digits
from gearing.report.candidates_section import drive_tables, gearing_table, routes_table
from gearing.report.phrases import said
from gearing.report.reader import for_reader
from gearing.report.views.candidates import (
    FUEL,
    MAKERS,
    NO_WHOLE,
    SAFETY,
    choices,
    compared_with,
    marked,
    missing_routes,
    notes_of,
)

if TYPE_CHECKING:
    from gearing.analysis.candidates.result import CandidatesFinding
    from gearing.messages.display import System

MARKS = ("*", "=")
LEGEND = (
    "* the best of its column, = one of several that may be: what lies between these is smaller "
    "than what is not known of it."
)


def candidate_lines(
    finding: CandidatesFinding, units: System = "metric", width: int = USUAL_WIDTH
) -> list[str]:
    """The comparison as lines: gearing, all routes together, each route, and what to know."""
    display = Display(units)
    finding = for_reader(finding, display)
    basis = finding.basis
    every = choices(finding.candidates, basis)
    speed = f"{digits(display.speed(basis.at_kmh), 0)} {display.speed_unit}"
    routes = routes_table(every, display, MARKS)
    tables = [
        (f"Gearing, at a true {speed}", gearing_table(every, basis.at_kmh, display, MARKS)),
        *(((routes.caption, routes),) if routes.rows else ()),
        *((one.caption, one) for one in drive_tables(every, display, MARKS, intervals=False)),
    ]
    lines = wrapped(compared_with(basis, display), width)
    for title, table in tables:
        lines += ["", title, *table.lines(width)]
    lines.append("")
    notes = [(one.name, told) for one in every for told in notes_of(one.row)]
    for name, told in notes:
        lines += wrapped(f"{name}: {told}", width, "  ")
    legend = LEGEND if marked(every) else ""
    assumed, missing = map(said, basis.assumed), missing_routes(basis)
    for words in (legend, NO_WHOLE, FUEL, *assumed, missing, MAKERS, SAFETY):
        lines += wrapped(words, width) if words else []
    return lines
