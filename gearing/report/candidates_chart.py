"""The chart of candidates: a dot with its interval for each, one panel a figure."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import altair as alt
import polars as pl

from gearing.report.candidates_words import comparison_rows, route_columns, shown
from gearing.report.chart import Chart, Spec, across, data, finish
from gearing.report.reading import SIDES, Tree, branch, number
from gearing.report.tables import Table, table

if TYPE_CHECKING:
    from gearing.messages.display import Display
    from gearing.report.candidates_words import Column, Row

CANDIDATE = "candidate"
KINDS = ["before", "after", CANDIDATE]
COLOURS = ["var(--before)", "var(--after)", "var(--house)"]
MARKERS = ["circle", "square", "diamond"]
ROW_HEIGHT = 20
# what the panels show, in this order; the intervals of the others are in the tables
PANELS = ("fuel_change_percent", "top_gear_share", "sustained_lowest_kmh", "brake_kwh")
_READING = (
    "One line a choice, candidates as diamonds: the figure, and a bar for where it lies in 95 of "
    "100 simulated drives, over all routes both ways. The bars share their drives: how two choices "
    "differ is known better than each by itself, and the table marks which differences are sure."
)


def candidates_chart(results: Tree, display: Display) -> Chart | None:
    """Fuel, top gear, the slowest climb and the brakes, choice by choice."""
    choices = comparison_rows(results)
    columns = [one for key in PANELS for one in route_columns(display) if one.key == key]
    panels = [panel for one in columns if (panel := _panel(choices, one, display)) is not None]
    if not panels:
        return None
    return Chart(
        key="candidates",
        title="The choices side by side",
        reading=_READING,
        alt=_alt(choices, columns),
        table=_table(choices, columns),
        panels=tuple(panels),
    )


def _label(row: Row) -> str:
    return f"{row.label} {row.name}".strip()


def _panel(choices: list[Row], column: Column, display: Display) -> Spec | None:
    rows: list[dict[str, Any]] = []
    for row in choices:
        figure = branch(row.tree, "figures", column.key)
        value, low, high = (number(figure.get(key)) for key in ("value", "low", "high"))
        if value is None:
            continue
        ends = [column.turned(value if end is None else end) for end in (low, high)]
        rows.append(
            {
                "choice": _label(row),
                "side": row.period if row.period in SIDES else CANDIDATE,
                "tires": display.tires(row.period) if row.period in SIDES else CANDIDATE,
                "value": column.turned(value),
                "low": min(ends),
                "high": max(ends),
            }
        )
    if len(rows) < 2:
        return None
    frame = pl.DataFrame(rows)
    order = [row["choice"] for row in rows]
    y = alt.Y(
        "choice:N", sort=order, axis=alt.Axis(title=None, labelLimit=120, grid=True, ticks=False)
    )
    color = alt.Color(
        "side:N", legend=None, sort=None, scale=alt.Scale(domain=KINDS, range=COLOURS)
    )
    shape = alt.Shape(
        "side:N", legend=None, sort=None,
        scale=alt.Scale(domain=KINDS, range=MARKERS),
    )  # fmt: skip
    base = alt.Chart(data(frame)).encode(y=y, color=color)
    scale = alt.Scale(zero=False, nice=True)
    bars = base.mark_rule(strokeWidth=2).encode(
        x=alt.X("low:Q", scale=scale, axis=across(None)), x2=alt.X2("high:Q")
    )
    marks = base.mark_point(size=70, filled=True, opacity=1).encode(
        x=alt.X("value:Q", scale=scale),
        shape=shape,
        tooltip=[
            alt.Tooltip("choice:N", title="Choice"),
            alt.Tooltip("value:Q", title=column.head, format=".1f"),
            alt.Tooltip("low:Q", title="from", format=".1f"),
            alt.Tooltip("high:Q", title="to", format=".1f"),
        ],
    )
    return finish(bars + marks, column.head, ROW_HEIGHT * len(rows))


def _alt(choices: list[Row], columns: list[Column]) -> str:
    """What the first panel shows, in words."""
    column = columns[0]
    told = [
        f"{_label(row)} {shown(column, branch(row.tree, 'figures', column.key))}" for row in choices
    ]
    return f"Dots with intervals, one a choice. {column.head}: {'; '.join(told)}."


def _table(choices: list[Row], columns: list[Column]) -> Table:
    full = [_with_interval(one) for one in columns]
    return table(
        "The choices side by side, with their intervals",
        ("Choice", *(one.head for one in full)),
        [
            (
                _label(row),
                *(shown(one, branch(row.tree, "figures", one.key)) for one in full),
            )
            for row in choices
        ],
    )


def _with_interval(column: Column) -> Column:
    return replace(column, interval=True)
