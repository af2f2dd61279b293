"""The section of the choice before buying: one chart, one table, and each route folded away."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits
from gearing.report.candidates_chart import candidates_chart
from gearing.report.candidates_words import (
    FUEL,
    MAKERS,
    NO_WHOLE,
    Row,
    compared_with,
    comparison_rows,
    gear_down,
    gearing_columns,
    missing_routes,
    notes_of,
    route_columns,
    shown,
    sustains_column,
    tire_of,
)
from gearing.report.reading import Tree, branch, number, rows, text
from gearing.report.section import Item, Section
from gearing.report.tables import Table, table

if TYPE_CHECKING:
    from collections.abc import Sequence

MARKS = ("\N{BLACK CIRCLE} ", "\N{WHITE CIRCLE} ")
LEGEND = (
    "\N{BLACK CIRCLE} the best of its column; \N{WHITE CIRCLE} one of several that may be, their "
    "differences being smaller than what is not known of them. Without a mark: surely behind, or "
    "a column in which neither more nor less is better by itself. Intervals are of 95 %. Engine "
    "speed, fuel: against what is compared with; restoring axle: the ratio that brings that "
    "gearing back on these tires; dash: its computer left as it is."
)


def candidates_section(results: Tree, display: Display) -> Section | None:
    """None where the study names no candidate."""
    if not rows(results, "candidates"):
        return None
    choices = comparison_rows(results)
    chart = candidates_chart(results, display)
    missing = missing_routes(results)
    basis = branch(results, "candidates_basis")
    return Section(
        key="candidates",
        title="The choice before buying",
        short="Candidates",
        lead=(f"{compared_with(results, display)} {NO_WHOLE}",),
        charts=() if chart is None else (chart,),
        tables=(_table(results, choices, display),),
        more=tuple(_drive_table(choices, place, display) for place in range(_drives(choices))),
        items=_notes(choices),
        remarks=(FUEL, *(text(one) for one in basis.get("assumed", ())), MAKERS),
        missing=(missing,) if missing else (),
    )


def _named(row: Row) -> str:
    return f"{row.label} {row.name}".strip()


def _table(results: Tree, choices: Sequence[Row], display: Display) -> Table:
    at = number(branch(results, "candidates_basis").get("at_kmh")) or 0.0
    columns = (*route_columns(display), *gearing_columns(display, at))
    cells = []
    for row in choices:
        axle = number(row.tree.get("axle_ratio"))
        figures = branch(row.tree, "figures")
        cells.append(
            (
                _named(row),
                tire_of(row.tree, display),
                None if axle is None else digits(axle, 2),
                *(shown(one, branch(figures, one.key), marks=MARKS) for one in columns),
            )
        )
    heads = ("Choice", "Drive tires", "Axle", *(one.head for one in columns))
    return table(
        "Sizes and axle ratios, over all routes both ways", heads, cells, words=2, note=LEGEND
    )


def _drives(choices: Sequence[Row]) -> int:
    return max((len(rows(row.tree, "drives")) for row in choices), default=0)


def _drive_table(choices: Sequence[Row], place: int, display: Display) -> Table:
    first, *others = route_columns(display)
    columns = (first, sustains_column(), *others)
    cells, name = [], ""
    for row in choices:
        drives = rows(row.tree, "drives")
        if place >= len(drives):
            continue
        drive = drives[place]
        name = text(drive.get("route"))
        figures = branch(drive, "figures")
        cells.append(
            (
                _named(row),
                text(drive.get("verdict")),
                *(shown(one, branch(figures, one.key), marks=MARKS) for one in columns),
                gear_down(drive, display),
            )
        )
    heads = (
        "Choice", "Verdict", *(one.head for one in columns),
        f"Gear that holds the descent, at [{display.speed_unit}]",
    )  # fmt: skip
    return table(name, heads, cells, words=2)


def _notes(choices: Sequence[Row]) -> tuple[Item, ...]:
    told = [(row, " ".join(notes_of(row))) for row in choices]
    return tuple(Item(f"{_named(row)}: {notes}") for row, notes in told if notes)
