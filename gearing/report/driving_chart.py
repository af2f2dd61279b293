"""The chart of driving done and still to do."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from gearing.messages.display import Display, digits, rough
from gearing.report.chart import Chart, across, data, finish
from gearing.report.fuel_next import SETTLED
from gearing.report.reading import Tree, dig, number, text
from gearing.report.tables import table


def driving_chart(results: Tree, display: Display) -> Chart | None:
    """True distance driven on each set of tires, and what is still to drive on the new ones;
    None where nothing is, or where the question is settled."""
    more = number(dig(results, "fuel", "more_driving_km"))
    if not more or more < 0 or text(dig(results, "fuel", "verdict")) in SETTLED:
        return None
    driven = {
        "Old tires": number(dig(results, "fuel", "sides", "before", "true_km")),
        "New tires": number(dig(results, "fuel", "sides", "after", "true_km")),
    }
    if any(km is None for km in driven.values()):
        return None
    unit = display.distance_unit
    out: list[dict[str, Any]] = [
        {"tires": name, "state": "driven", "start": 0.0, "end": display.distance(km or 0.0)}
        for name, km in driven.items()
    ]
    done = display.distance(driven["New tires"] or 0.0)
    out.append(
        {
            "tires": "New tires",
            "state": "still to drive",
            "start": done,
            "end": done + display.distance(more),
        }
    )
    old = "datum.tires == 'Old tires'"
    paint = alt.condition(old, alt.value("var(--before)"), alt.value("var(--after)"))
    bars = (
        alt.Chart(data(pl.DataFrame(out)))
        .mark_bar(height={"band": 0.55}, strokeWidth=1.5)
        .encode(
            x=alt.X("start:Q", axis=across(f"True distance [{unit}]")),
            x2=alt.X2("end:Q"),
            y=alt.Y(
                "tires:N",
                sort=list(driven),
                axis=alt.Axis(title=None, grid=False, ticks=False, labelColor="var(--ink)"),
            ),
            fillOpacity=alt.condition("datum.state == 'driven'", alt.value(0.9), alt.value(0.0)),
            strokeDash=alt.condition(
                "datum.state == 'driven'", alt.value([1, 0]), alt.value([4, 3])
            ),
            fill=paint,
            stroke=paint,
            tooltip=[
                alt.Tooltip("tires:N", title="Tires"),
                alt.Tooltip("state:N", title="Distance"),
                alt.Tooltip("end:Q", title=f"Up to [{unit}]", format=",.0f"),
            ],
        )
    )
    to_go = f"{rough(display.distance(more))} {unit} still to drive"
    return Chart(
        key="driving",
        title="How much more driving it takes",
        reading=(
            "Full bars are driven, the hollow one is still to drive on the new tires until the "
            "smallest detectable change is half the claim, or 2 % where nothing is claimed."
        ),
        alt=f"Bar chart: {digits(done, 0)} {unit} driven on the new tires, {to_go}.",
        table=table(
            "Driven and still to drive",
            ("Tires", "State", f"True distance [{unit}]"),
            [(str(r["tires"]), str(r["state"]), digits(r["end"] - r["start"], 0)) for r in out],
            words=2,
        ),
        panels=(finish(bars, "", 110),),
        sides=False,
    )
