"""The chart of what the dash's change is made of: the tires' own, and all that hides it."""

from __future__ import annotations

import math

import altair as alt
import polars as pl

from gearing.messages.display import Display, signed
from gearing.report import chart as draw
from gearing.report.charts.estimates import MEANINGS
from gearing.report.phrases import capital
from gearing.report.reading import Tree, estimate, number, rows, text
from gearing.report.tables import table

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


def parts_chart(results: Tree, display: Display) -> draw.Chart | None:
    """From what the tires did to what the dash says, one cause after another."""
    steps = _steps(results, display)
    if not steps:
        return None
    y = draw.names("part:N")
    x = alt.X(
        "start:Q",
        axis=draw.across(f"Change of {display.fuel_word} [%]"),
        scale=alt.Scale(padding=58, nice=False),
    )
    kinds = alt.Color(
        "kind:N",
        legend=None,
        scale=alt.Scale(
            domain=["figure", "better", "worse"],
            range=["var(--after)", "var(--lower)", "var(--raise)"],
        ),
    )
    base = alt.Chart(draw.data(pl.DataFrame(steps)))
    bars = base.mark_bar(height={"band": 0.62}).encode(x=x, x2=alt.X2("end:Q"), y=y, color=kinds)
    answer = draw.tips(("part:N", "Part"), ("shown:N", "Change"), ("meaning:N", "That is"))
    caught = base.mark_point(opacity=0).encode(x=alt.X("end:Q"), y=y, tooltip=answer)
    labels = base.mark_text(align="left", dx=5).encode(
        x=alt.X("label_at:Q"), y=y, text=alt.Text("shown:N")
    )
    return draw.Chart(
        key="parts",
        title="Where the change on the dash comes from",
        reading=(
            f"The first bar is {display.word('the tires alone')}. Each bar below goes on from "
            "where the last one ended and moves the figure by one cause; the last bar is what the "
            "dash says. The "
            "steps multiply, so percents add up only nearly."
        ),
        alt="Step chart: " + "; ".join(f"{s['part']} {s['shown']}" for s in steps) + ".",
        table=table(
            f"Parts of the change of {display.fuel_word}",
            ("Part", "What it is", "Change"),
            [(str(s["part"]), str(s["meaning"]), str(s["shown"])) for s in steps],
            words=2,
        ),
        panels=(
            draw.finish(
                alt.layer(draw.line_at(0.0), bars, labels, caught.add_params(draw.nearest("y"))),
                "",
                34 * len(steps) + 20,
            ),
        ),
        sides=False,
    )


def _steps(results: Tree, display: Display) -> list[dict[str, str | float]]:
    """Bars from the adjusted change through the parts to the indicated one, in percent.

    The parts' logarithms and the adjusted change's add up to the indicated one's.
    """
    own = estimate(results, "fuel", "change_percent", "adjusted").value
    said = estimate(results, "fuel", "change_percent", "indicated").value
    parts = [(row, log) for row in rows(results, "fuel", "parts") if (log := _log(row)) is not None]
    if own is None or said is None or not parts:
        return []
    level = math.log1p(own / 100)
    steps = [
        _bar(capital(display.word("the tires alone")), MEANINGS["adjusted"], 0, level, display)
    ]
    for row, log in parts:
        name = text(row.get("name"))
        unknown = (name.replace("_", " ").capitalize() or "Part", text(row.get("text")))
        label, meaning = PARTS.get(name, unknown)
        steps.append(_bar(label, meaning, level, level + log, display, part=True))
        level += log
    end = math.log1p(said / 100)
    steps.append(_bar("The dash says", MEANINGS["indicated"], 0, end, display))
    return steps


def _log(row: Tree) -> float | None:
    log, percent = number(row.get("log")), number(row.get("percent"))
    if log is None and percent is not None and percent > -100:
        return math.log1p(percent / 100)
    return log


def _bar(
    name: str, meaning: str, start: float, end: float, display: Display, *, part: bool = False
) -> dict[str, str | float]:
    ends = [display.fuel_change_percent(100 * math.expm1(log)) for log in (start, end)]
    step = display.fuel_change_percent(100 * math.expm1(end - start))
    return {
        "part": name,
        "meaning": meaning,
        "kind": ("worse" if end > start else "better") if part else "figure",
        "start": ends[0],
        "end": ends[1],
        "label_at": max(ends),
        "shown": f"{signed(step)} %",
    }
