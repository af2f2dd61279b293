"""The chart of a fleet: every vehicle's change with its interval, and the fleet's own."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import altair as alt
import polars as pl

from gearing.messages.display import Display, signed
from gearing.report import chart as draw
from gearing.report.phrases import interval_or_value
from gearing.report.tables import Grid

if TYPE_CHECKING:
    from gearing.results.fleet import FleetResults
    from gearing.statistics.estimate import Estimate

_DRAWN = 60
_ONE_SCREEN = 24  # with more rows the scale stands at the head, beside the fleet's figures
_SPOKEN = 8
_LONGEST, _KEPT = 18, 8  # characters of a name beside the chart, and of each end of a longer one
_CHANGED, _CONTROL, _FLEET = "new tires", "unchanged", "the fleet together"
_GROUPS = (_CHANGED, _CONTROL, _FLEET)

_READING = (
    "Squares are vehicles with new tires, circles unchanged vehicles, diamonds at the head the "
    "fleet together; each bar is a 95 % interval. Where circles lie off zero, something else "
    "changed too."
)


def fleet_chart(results: FleetResults, display: Display) -> draw.Chart | None:
    """The pooled figures, and below them the vehicles in order of their change."""
    vehicles, together = _vehicles(results, display), _together(results, display)
    if not vehicles and not together:
        return None
    left_out = len(vehicles) - _DRAWN
    step = max(1.0, len(vehicles) / _DRAWN)  # evenly through the order: the spread stays seen
    few = [vehicles[int(index * step)] for index in range(min(_DRAWN, len(vehicles)))]
    drawn = [
        row | {"place": f"{index:03d}"}  # two vehicles may share a name
        for index, row in enumerate(together + few)
    ]
    claim = results.fuel.claim_percent
    at = None if claim is None else display.fuel_change_percent(claim)
    claimed = "" if at is None else f" The dotted line is the claim, {signed(at)} %."
    rest = f" {left_out} vehicles are in the table only." if left_out > 0 else ""
    told = [f"{row['label']} {signed(row['value'])} %" for row in drawn[:_SPOKEN]]
    return draw.Chart(
        key="fleet",
        title=f"Change of {display.fuel_word}, vehicle by vehicle",
        reading=_READING + claimed + rest,
        alt=f"Interval chart: {'; '.join(told)}.",
        table=Grid(vehicles + together)
        .words("Vehicle", lambda row: row["label"])
        .words("Tires", lambda row: row["group"])
        .figure("Change", lambda row: row["value"], 1, sign=True)
        .figure("From", lambda row: row["low"], 1, sign=True)
        .figure("To", lambda row: row["high"], 1, sign=True)
        .table(f"Change of {display.fuel_word} [%]"),
        panels=(draw.panel(_layers(drawn, at, display), "", 26 * len(drawn) + 24),),
    )


def _layers(drawn: list[dict[str, Any]], claim: float | None, display: Display) -> list[draw.Spec]:
    labels = ",".join(f"'{row['place']}': {json.dumps(_short(row['label']))}" for row in drawn)
    orient = "top" if len(drawn) > _ONE_SCREEN else "bottom"
    axis = draw.across(f"Change of {display.fuel_word} [%]", orient=orient)
    colours = draw.coded(_GROUPS, ["var(--after)", "var(--before)", "var(--ink)"])
    shapes = draw.coded(_GROUPS, ["square", "circle", "diamond"])
    answer = draw.tips(
        ("label:N", "Vehicle"),
        ("group:N", "Tires"),
        ("value:Q", "Change [%]", "+.1f"),
        ("low:Q", "From", "+.1f"),
        ("high:Q", "To", "+.1f"),
    )
    marks = draw.intervals(
        pl.DataFrame(drawn),
        axis,
        draw.names("place:N", labelExpr=f"({{{labels}}})[datum.value]"),
        answer,
        bar={"strokeWidth": 2},
        dot={"size": 75, "strokeWidth": 2, "fill": "var(--sheet)"},
        color=alt.Color("group:N", **colours),
        shape=alt.Shape("group:N", **shapes),
    )
    claimed = [] if claim is None else [draw.line_at(claim, **draw.CLAIM)]
    return [draw.line_at(0.0), *claimed, *marks]


def _short(label: str) -> str:
    """A name with its middle left out: what tells vehicles of one depot apart stands at the end."""
    if len(label) <= _LONGEST:
        return label
    return f"{label[:_KEPT].rstrip()}…{label[-_KEPT:].lstrip()}"


def _vehicles(results: FleetResults, display: Display) -> list[dict[str, Any]]:
    """Vehicles in order of their change, those with new tires first."""
    found = [
        _row(row.name, _CONTROL if row.role == "control" else _CHANGED, row.change_percent, display)
        for row in results.vehicles
        if row.change_percent.known
    ]
    return sorted(found, key=lambda row: (row["group"] != _CHANGED, row["value"]))


def _together(results: FleetResults, display: Display) -> list[dict[str, Any]]:
    """The fleet's own figures."""
    fuel = results.fuel
    pooled = (
        ("New tires, pooled", fuel.pooled),
        ("Unchanged, pooled", fuel.controls),
        ("Difference", fuel.difference),
    )
    return [_row(label, _FLEET, shown, display) for label, shown in pooled if shown.known]


def _row(label: str, group: str, shown: Estimate, display: Display) -> dict[str, Any]:
    return {"label": label, "group": group} | interval_or_value(display.fuel_change(shown))
