"""The chart of what the dash's change is made of: the tires' own, and all that hides it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import altair as alt

from gearing.messages.display import Display, signed
from gearing.report import chart as draw
from gearing.report.charts.estimates import WAYS
from gearing.report.phrases import capital, said
from gearing.report.tables import Grid

if TYPE_CHECKING:
    from gearing.results.record import Results

# name of a part: how it is called on the chart, and what it is
PARTS = {
    "distance": ("Dash's distance", "the dash counts more or less distance than is driven"),
    "speed_from_dash": ("Speed, by the dash", "the dash reads another speed; the driver follows"),
    "speed": ("Speed, otherwise", "speed, stopping and starting chosen otherwise"),
    "stops": ("Standing still", "fuel burnt standing"),
    "grade": ("Hills", "hills of the roads driven"),
    "air": ("Air and wind", "denser or thinner air, and wind"),
    "temperature": ("Cold tires", "tires roll harder in the cold"),
    "load": ("Weight", "the vehicle's weight"),
    "rest": ("Not explained", "roads and days themselves, and what was not compared"),
}
_COLOURS = {"figure": "var(--after)", "part": "var(--muted)"}


def parts_chart(results: Results, display: Display) -> draw.Chart | None:
    """From what the tires did to what the dash says, one cause after another."""
    steps = _steps(results, display)
    if not steps:
        return None
    told = "; ".join(f"{step['part']} {step['shown']}" for step in steps)
    return draw.Chart(
        key="parts",
        title="Where the change on the dash comes from",
        reading=(
            f"The first bar is {display.word('the tires alone')}. Each bar below goes on from "
            "where the last one ended and moves the figure by one cause; the last bar is what the "
            "dash says. The steps multiply, so percents add up only nearly."
        ),
        alt=f"Step chart: {told}.",
        table=Grid(steps)
        .words("Part", lambda step: str(step["part"]))
        .words("What it is", lambda step: str(step["meaning"]))
        .told("Change", lambda step: str(step["shown"]))
        .table(f"Parts of the change of {display.fuel_word}"),
        panels=(draw.panel(_layers(steps, display), "", 34 * len(steps) + 20),),
    )


def _layers(steps: list[dict[str, str | float]], display: Display) -> list[draw.Spec]:
    axis = draw.across(f"Change of {display.fuel_word} [%]")
    start = alt.X("start:Q", axis=axis, scale=alt.Scale(padding=58, nice=False))
    end, y = alt.X("end:Q"), draw.names("part:N")
    kinds = alt.Color("kind:N", **draw.coded(list(_COLOURS), list(_COLOURS.values())))
    answer = draw.tips(("part:N", "Part"), ("shown:N", "Change"), ("meaning:N", "That is"))
    bar, label = {"height": {"band": 0.62}}, {"align": "left", "dx": 5}
    at = {"x": alt.X("label_at:Q"), "y": y, "text": alt.Text("shown:N")}
    return [
        draw.line_at(0.0),
        draw.mark("bar", steps, bar, x=start, x2=alt.X2("end:Q"), y=y, color=kinds),
        draw.mark("text", steps, label, **at),
        draw.mark("point", steps, {"opacity": 0}, nearest=["y"], x=end, y=y, tooltip=answer),
    ]


def _steps(results: Results, display: Display) -> list[dict[str, str | float]]:
    """Bars from the adjusted change through the parts to the indicated one, in percent.

    The parts' logarithms and the adjusted change's add up to the indicated one's.
    """
    fuel = results.fuel
    own, dash = fuel.change_percent.adjusted.value, fuel.change_percent.indicated.value
    if own is None or dash is None or not fuel.parts:
        return []
    level = math.log1p(own / 100)
    alone = capital(display.word("the tires alone"))
    steps = [_bar(alone, WAYS["adjusted"][1], 0, level, display)]
    for part in fuel.parts:
        unknown = (part.name.replace("_", " ").capitalize(), said(part.text))
        label, meaning = PARTS.get(part.name, unknown)
        steps.append(_bar(label, meaning, level, level + part.log, display, part=True))
        level += part.log
    end = math.log1p(dash / 100)
    return [*steps, _bar("The dash says", WAYS["indicated"][1], 0, end, display)]


def _bar(
    name: str, meaning: str, start: float, end: float, display: Display, *, part: bool = False
) -> dict[str, str | float]:
    ends = [display.fuel_change_percent(100 * math.expm1(log)) for log in (start, end)]
    step = display.fuel_change_percent(100 * math.expm1(end - start))
    return {
        "part": name,
        "meaning": meaning,
        "kind": "part" if part else "figure",
        "start": ends[0],
        "end": ends[1],
        "label_at": max(ends),
        "shown": f"{signed(step)} %",
    }
