"""The chart of a fleet: every vehicle's change with its interval, and the fleet's own."""

from __future__ import annotations

import json
from typing import Any

import altair as alt
import polars as pl

from gearing.messages.display import Display, signed
from gearing.report.chart import Chart, across, data, finish
from gearing.report.reading import Tree, estimate, number, rows, text
from gearing.report.tables import table
from gearing.statistics.estimate import Estimate

_DRAWN = 60
_ONE_SCREEN = 24  # with more rows the scale stands at the head, beside the fleet's figures
_SPOKEN = 8
_LONGEST, _KEPT = 18, 8  # characters of a name beside the chart, and of each end of a longer one
_GROUPS = {"changed": "new tires", "control": "unchanged", "fleet": "the fleet together"}


def fleet_chart(results: Tree, display: Display) -> Chart | None:
    """The pooled figures, and below them the vehicles in order of their change."""
    found = _rows(results, display)
    if not found:
        return None
    vehicles = [row for row in found if row["group"] != _GROUPS["fleet"]]
    left_out = len(vehicles) - _DRAWN
    if left_out > 0:  # evenly through the order, so that the spread stays seen
        step = len(vehicles) / _DRAWN
        vehicles = [vehicles[int(index * step)] for index in range(_DRAWN)]
    drawn = [row for row in found if row["group"] == _GROUPS["fleet"]] + vehicles
    for index, row in enumerate(drawn):
        row["place"] = f"{index:03d}"  # two vehicles may share a name
    labels = (
        "{" + ",".join(f"'{r['place']}': {json.dumps(_short(r['label']))}" for r in drawn) + "}"
    )
    y = alt.Y(
        "place:N",
        sort=None,
        axis=alt.Axis(
            title=None,
            grid=False,
            ticks=False,
            labelLimit=130,
            labelColor="var(--ink)",
            labelExpr=f"({labels})[datum.value]",
        ),
    )
    orient = "top" if len(drawn) > _ONE_SCREEN else "bottom"
    axis = across(f"Change of {display.fuel_word} [%]", orient=orient)
    base = alt.Chart(data(pl.DataFrame(drawn)))
    groups = list(_GROUPS.values())
    paint = alt.Color(
        "group:N",
        legend=None,
        scale=alt.Scale(domain=groups, range=["var(--after)", "var(--before)", "var(--ink)"]),
    )
    shape = alt.Shape(
        "group:N",
        legend=None,
        scale=alt.Scale(domain=groups, range=["square", "circle", "diamond"]),
    )
    bars = base.mark_rule(strokeWidth=2).encode(
        x=alt.X("low:Q", axis=axis), x2=alt.X2("high:Q"), y=y, color=paint
    )
    marks = base.mark_point(size=75, strokeWidth=2, fill="var(--sheet)", opacity=1).encode(
        x=alt.X("change:Q", axis=axis),
        y=y,
        color=paint,
        shape=shape,
        tooltip=[
            alt.Tooltip("label:N", title="Vehicle"),
            alt.Tooltip("group:N", title="Tires"),
            alt.Tooltip("change:Q", title="Change [%]", format="+.1f"),
            alt.Tooltip("low:Q", title="From", format="+.1f"),
            alt.Tooltip("high:Q", title="To", format="+.1f"),
        ],
    )
    zero = alt.Chart(data(pl.DataFrame({"at": [0.0]}))).mark_rule().encode(x=alt.X("at:Q"))
    claim = number(_claim(results))
    layers = [zero, bars, marks]
    if claim is not None:
        at = display.fuel_change_percent(claim)
        line = alt.Chart(data(pl.DataFrame({"at": [at]}))).mark_rule(
            strokeDash=[2, 3], strokeWidth=2.5, color="var(--ink)"
        )
        layers.insert(1, line.encode(x=alt.X("at:Q")))
    return Chart(
        key="fleet",
        title=f"Change of {display.fuel_word}, vehicle by vehicle",
        reading=(
            "Squares are vehicles with new tires, circles unchanged vehicles, diamonds at "
            "the head the fleet together; each bar is a 95 % interval. Where circles lie off zero, "
            "something else changed too."
            + (" The dotted line is the claim." if claim is not None else "")
            + (f" {left_out} vehicles are in the table only." if left_out > 0 else "")
        ),
        alt="Interval chart: "
        + "; ".join(f"{r['label']} {signed(r['change'])} %" for r in drawn[:_SPOKEN])
        + ".",
        table=table(
            f"Change of {display.fuel_word} [%]",
            ("Vehicle", "Tires", "Change", "From", "To"),
            [
                (r["label"], r["group"], signed(r["change"]), signed(r["low"]), signed(r["high"]))
                for r in found
            ],
            words=2,
        ),
        panels=(finish(alt.layer(*layers), "", 26 * len(drawn) + 24),),
        sides=False,
    )


def _short(label: str) -> str:
    """A name with its middle left out: what tells vehicles of one depot apart stands at the end."""
    if len(label) <= _LONGEST:
        return label
    return f"{label[:_KEPT].rstrip()}…{label[-_KEPT:].lstrip()}"


def _claim(results: Tree) -> object:
    fuel = results.get("fuel")
    return fuel.get("claim_percent") if isinstance(fuel, dict) else None


def _rows(results: Tree, display: Display) -> list[dict[str, Any]]:
    out = [
        _row(text(row.get("name")), text(row.get("role")), estimate(row, "change_percent"), display)
        for row in rows(results, "vehicles")
        if estimate(row, "change_percent").known
    ]
    out.sort(key=lambda row: (row["group"] != _GROUPS["changed"], row["change"]))
    for key, label in (
        ("pooled", "New tires, pooled"),
        ("controls", "Unchanged, pooled"),
        ("difference", "Difference"),
    ):
        shown = estimate(results, "fuel", key)
        if shown.known:
            out.append(_row(label, "fleet", shown, display))
    return out


def _row(label: str, group: str, shown: Estimate, display: Display) -> dict[str, Any]:
    change = display.fuel_change(shown)
    assert change.value is not None
    return {
        "label": label,
        "group": _GROUPS.get(group, _GROUPS["changed"]),
        "change": change.value,
        "low": change.value if change.low is None else change.low,
        "high": change.value if change.high is None else change.high,
    }
