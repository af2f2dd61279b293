"""The chart of candidates: a dot with its interval for each, one panel a figure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import altair as alt
import polars as pl

from gearing.report import chart as draw
from gearing.report.tables import Grid
from gearing.report.views.candidates import Choice, Column, route_columns

if TYPE_CHECKING:
    from gearing.messages.display import Display

CANDIDATE = "candidate"
_KINDS = ("before", "after", CANDIDATE)
_COLOURS = ("var(--before)", "var(--after)", "var(--house)")
_MARKERS = ("circle", "square", "diamond")
_ROW_HEIGHT = 20
# what the panels show, in this order; the intervals of the others are in the tables
PANELS = ("fuel_change_percent", "top_gear_share", "sustained_lowest_kmh", "brake_kwh")
_READING = (
    "One line a choice, candidates as diamonds: the figure, and a bar for where it lies in 95 of "
    "100 simulated drives, over all routes both ways. The bars share their drives: how two choices "
    "differ is known better than each by itself, and the table marks which differences are sure."
)


def candidates_chart(choices: Sequence[Choice], display: Display) -> draw.Chart | None:
    """Fuel, top gear, the slowest climb and the brakes, choice by choice."""
    columns = [
        replace(one, interval=True)
        for key in PANELS
        for one in route_columns(display)
        if one.key == key
    ]
    panels = [found for one in columns if (found := _panel(choices, one)) is not None]
    if not panels:
        return None
    first = columns[0]
    told = "; ".join(f"{one.name} {first.cell(one.row.figures)}" for one in choices)
    return draw.Chart(
        key="candidates",
        title="The choices side by side",
        reading=_READING,
        alt=f"Dots with intervals, one a choice. {first.head}: {told}.",
        table=Grid(choices)
        .words("Choice", lambda one: one.name)
        .each(
            columns,
            lambda grid, column: grid.told(column.head, lambda one: column.cell(one.row.figures)),
        )
        .table("The choices side by side, with their intervals"),
        panels=tuple(panels),
        sides=tuple(s for s in draw.SIDES if s in {one.row.period for one in choices}),
    )


def _panel(choices: Sequence[Choice], column: Column) -> draw.Spec | None:
    rows: list[dict[str, Any]] = []
    for one in choices:
        figure = one.row.figures.get(column.key)
        if figure is None or figure.value is None:
            continue
        ends = [figure.value if end is None else end for end in (figure.low, figure.high)]
        low, high = sorted(map(column.turned, ends))
        value = column.turned(figure.value)
        rows.append(
            {"choice": one.name, "side": one.row.period or CANDIDATE}
            | {"value": value, "low": low, "high": high}
        )
    if len(rows) < 2:
        return None
    look: dict[str, Any] = {"title": None, "labelLimit": 120, "grid": True, "ticks": False}
    answer = draw.tips(
        ("choice:N", "Choice"),
        ("value:Q", column.head, ".1f"),
        ("low:Q", "from", ".1f"),
        ("high:Q", "to", ".1f"),
    )
    marks = draw.intervals(
        pl.DataFrame(rows),
        draw.across(None),
        alt.Y("choice:N", sort=[row["choice"] for row in rows], axis=alt.Axis(**look)),
        answer,
        bar={"strokeWidth": 2},
        dot={"size": 70, "filled": True},
        scale=alt.Scale(zero=False, nice=True),
        color=alt.Color("side:N", sort=None, **draw.coded(_KINDS, _COLOURS)),
        shape=alt.Shape("side:N", sort=None, **draw.coded(_KINDS, _MARKERS)),
    )
    return draw.panel(marks, column.head, _ROW_HEIGHT * len(rows))
