"""The chart of a fleet: every vehicle's change with its interval, and the fleet's own."""

from __future__ import annotations

import json
from typing import Any

import altair as alt
import polars as pl

from gearing.messages.display import Display, signed
from gearing.report import chart as draw
from gearing.report.reading import Tree, dig, estimate, number, rows, text
from gearing.report.tables import table
from gearing.statistics.estimate import Estimate

_DRAWN = 60
_ONE_SCREEN = 24  # with more rows the scale stands at the head, beside the fleet's figures
_SPOKEN = 8
_LONGEST, _KEPT = 18, 8  # characters of a name beside the chart, and of each end of a longer one
_GROUPS = {"changed": "new tires", "control": "unchanged", "fleet": "the fleet together"}
_POOLED = {
    "pooled": "New tires, pooled",
    "controls": "Unchanged, pooled",
    "difference": "Difference",
}

_READING = (
    "Squares are vehicles with new tires, circles unchanged vehicles, diamonds at the head the "
    "fleet together; each bar is a 95 % interval. Where circles lie off zero, something else "
    "changed too."
)


def fleet_chart(results: Tree, display: Display) -> draw.Chart | None:
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
    claim = number(dig(results, "fuel", "claim_percent"))
    at = None if claim is None else display.fuel_change_percent(claim)
    return draw.Chart(
        key="fleet",
        title=f"Change of {display.fuel_word}, vehicle by vehicle",
        reading=(
            _READING
            + ("" if at is None else f" The dotted line is the claim, {signed(at)} %.")
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
        panels=(draw.finish(_layers(drawn, at, display), "", 26 * len(drawn) + 24),),
        sides=False,
    )


def _layers(drawn: list[dict[str, Any]], claim: float | None, display: Display) -> Any:
    for index, row in enumerate(drawn):
        row["place"] = f"{index:03d}"  # two vehicles may share a name
    labels = ",".join(f"'{r['place']}': {json.dumps(_short(r['label']))}" for r in drawn)
    look = {"grid": False, "ticks": False, "labelLimit": 130, "labelColor": "var(--ink)"}
    axis = alt.Axis(title=None, labelExpr=f"({{{labels}}})[datum.value]", **look)  # type: ignore[arg-type]
    y = alt.Y("place:N", sort=None, axis=axis)
    orient = "top" if len(drawn) > _ONE_SCREEN else "bottom"
    x = alt.X("change:Q", axis=draw.across(f"Change of {display.fuel_word} [%]", orient=orient))
    groups = list(_GROUPS.values())
    colours = alt.Scale(domain=groups, range=["var(--after)", "var(--before)", "var(--ink)"])
    shapes = alt.Scale(domain=groups, range=["square", "circle", "diamond"])
    paint = alt.Color("group:N", legend=None, scale=colours)
    base = alt.Chart(draw.data(pl.DataFrame(drawn)))
    bars = base.mark_rule(strokeWidth=2).encode(
        x=alt.X("low:Q"), x2=alt.X2("high:Q"), y=y, color=paint
    )
    answer = draw.tips(
        ("label:N", "Vehicle"), ("group:N", "Tires"), ("change:Q", "Change [%]", "+.1f"),
        ("low:Q", "From", "+.1f"), ("high:Q", "To", "+.1f"),
    )  # fmt: skip
    marks = base.mark_point(size=75, strokeWidth=2, fill="var(--sheet)", opacity=1).encode(
        x=x,
        y=y,
        color=paint,
        shape=alt.Shape("group:N", legend=None, scale=shapes),
        tooltip=answer,
    )
    claimed = [] if claim is None else [draw.claim_at(claim)]
    return alt.layer(draw.line_at(0.0), *claimed, bars, marks.add_params(draw.nearest("y")))


def _short(label: str) -> str:
    """A name with its middle left out: what tells vehicles of one depot apart stands at the end."""
    if len(label) <= _LONGEST:
        return label
    return f"{label[:_KEPT].rstrip()}…{label[-_KEPT:].lstrip()}"


def _rows(results: Tree, display: Display) -> list[dict[str, Any]]:
    """Vehicles in order of their change, those with new tires first, then the fleet's figures."""
    out = [
        _row(text(row.get("name")), text(row.get("role")), estimate(row, "change_percent"), display)
        for row in rows(results, "vehicles")
        if estimate(row, "change_percent").known
    ]
    out.sort(key=lambda row: (row["group"] != _GROUPS["changed"], row["change"]))
    pooled = ((label, estimate(results, "fuel", key)) for key, label in _POOLED.items())
    return out + [_row(label, "fleet", shown, display) for label, shown in pooled if shown.known]


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
