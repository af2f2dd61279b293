"""The section of the choice before buying: one chart, one table, and each route folded away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from gearing.messages.display import Display
from gearing.report.charts.candidates import candidates_chart
from gearing.report.phrases import joined, said
from gearing.report.section import Item, Section, drawn, filled
from gearing.report.tables import Grid, Table
from gearing.report.views.candidates import (
    FUEL,
    MAKERS,
    NO_WHOLE,
    SUSTAINS,
    Choice,
    choices,
    compared_with,
    gear_down,
    gearing_columns,
    missing_routes,
    notes_of,
    route_columns,
    tire_of,
)

if TYPE_CHECKING:
    from gearing.results.record import Results

Marks = tuple[str, str]
MARKS: Marks = ("\N{BLACK CIRCLE} ", "\N{WHITE CIRCLE} ")
LEGEND = (
    "\N{BLACK CIRCLE} the best of its column; \N{WHITE CIRCLE} one of several that may be, their "
    "differences being smaller than what is not known of them. Without a mark: surely behind, or "
    "a column in which neither more nor less is better by itself. Intervals are of 95 %. Engine "
    "speed, fuel: against what is compared with; restoring axle: the ratio that brings that "
    "gearing back on these tires; dash: its computer left as it is."
)


def candidates_section(results: Results, display: Display) -> Section | None:
    """None where the study names no candidate."""
    basis = results.candidates_basis
    if not results.candidates or basis is None:
        return None
    every = choices(results.candidates, basis)
    missing = missing_routes(basis)
    notes = [(one.name, joined(notes_of(one.row))) for one in every]
    return Section(
        key="candidates",
        title="The choice before buying",
        short="Candidates",
        lead=(f"{compared_with(basis, display)} {NO_WHOLE}",),
        charts=drawn(candidates_chart(every, display)),
        tables=filled(
            routes_table(every, display, note=LEGEND), gearing_table(every, basis.at_kmh, display)
        ),
        more=drive_tables(every, display),
        items=tuple(Item(f"{name}: {told}") for name, told in notes if told),
        remarks=(FUEL, *map(said, basis.assumed), MAKERS),
        missing=(missing,) if missing else (),
    )


def _choices(every: Sequence[Choice]) -> Grid[Choice]:
    return Grid(every).words("Choice", lambda one: one.name)


def gearing_table(
    every: Sequence[Choice], at_kmh: float, display: Display, marks: Marks = MARKS
) -> Table:
    """What the gearing alone changes, at one true speed [km/h]."""
    return (
        _choices(every)
        .words("Drive tires", lambda one: tire_of(one.row, display))
        .figure("Axle", lambda one: one.row.axle_ratio, 2)
        .each(
            gearing_columns(display, at_kmh),
            lambda grid, column: grid.told(
                column.head, lambda one: column.cell(one.row.figures, marks)
            ),
        )
        .table("Sizes and axle ratios")
    )


def routes_table(
    every: Sequence[Choice], display: Display, marks: Marks = MARKS, *, note: str = ""
) -> Table:
    """All routes together; without rows where no route was driven."""
    return (
        _choices(every if any(one.row.drives for one in every) else ())
        .each(
            route_columns(display),
            lambda grid, column: grid.told(
                column.head, lambda one: column.cell(one.row.figures, marks)
            ),
        )
        .table("All routes together, both ways", note=note)
    )


def drive_tables(
    every: Sequence[Choice], display: Display, marks: Marks = MARKS, *, intervals: bool = True
) -> tuple[Table, ...]:
    """Each route one way."""
    longest = max((one.row.drives for one in every), key=len)
    return tuple(
        _drive_table(every, place, display, marks, intervals=intervals)
        for place in range(len(longest))
    )


def _drive_table(
    every: Sequence[Choice], place: int, display: Display, marks: Marks, *, intervals: bool
) -> Table:
    first, *others = (
        replace(one, interval=one.interval and intervals) for one in route_columns(display)
    )
    rows = [(one.name, one.row.drives[place]) for one in every if place < len(one.row.drives)]
    return (
        Grid(rows)
        .words("Choice", lambda row: row[0])
        .words("Verdict", lambda row: row[1].verdict)
        .each(
            (first, SUSTAINS, *others),
            lambda grid, column: grid.told(
                column.head, lambda row: column.cell(row[1].figures, marks)
            ),
        )
        .told(
            f"Gear that holds the descent, at [{display.speed_unit}]",
            lambda row: gear_down(row[1], display),
        )
        .table(said(rows[-1][1].route))
    )
