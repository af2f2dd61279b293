"""The chart of gradeability: the grade each gear sustains over speed, and the routes' steepest."""

from __future__ import annotations

from typing import TYPE_CHECKING

import altair as alt
import polars as pl

from gearing.messages.display import Display, digits
from gearing.report import chart as draw
from gearing.report.phrases import said
from gearing.report.tables import Grid

if TYPE_CHECKING:
    from gearing.analysis.mountain.result import GearHolds
    from gearing.results.record import Results

_HEADROOM = 1.5  # of the steepest grade of any route: above that the picture ends
_FEWEST = 3  # points that make a line
_STEEP = 12.0  # percent, where no route is named


def grade_chart(results: Results, display: Display) -> draw.Chart | None:
    """A line a gear, both sets of tires, and across them each route's steepest grade."""
    held = _held(results)
    steepest = _steepest(results)
    top = _HEADROOM * max(steepest.values(), default=_STEEP / _HEADROOM)
    lines = [
        {
            "side": side,
            "tires": display.tires(side),
            "gear": str(gear),
            "speed": display.speed(float(kmh)),
            "grade": grade,
        }
        for gear, side, holds in held
        for kmh, grade in holds.sustained_percent.items()
        if 0 <= grade <= top
    ]
    schema = {"side": pl.String, "gear": pl.String, "grade": pl.Float64}
    frame = pl.DataFrame(lines or None, None if lines else schema)
    frame = frame.filter(pl.len().over("gear", "side") >= _FEWEST)
    if frame.is_empty():
        return None
    return draw.Chart(
        key="gradeability",
        title="The grade each gear sustains, over speed",
        reading=(
            "Each line is one gear at full load, its number at the upper end: on a steeper grade "
            "than the line the vehicle slows and has to shift down. Upright through a speed, read "
            "the grade. Dotted lines are the routes' steepest grades."
        ),
        alt="Line chart by gear; " + _alt(held, steepest, display),
        table=Grid(row for row in held if row[2].gradeability_percent.known)
        .words("Gear", lambda row: str(row[0]))
        .words(display.word("Tires"), lambda row: display.tires(row[1]))
        .figure("Grade [%]", lambda row: row[2].gradeability_percent.value, 1)
        .figure(f"At [{display.speed_unit}]", lambda row: row[2].at_kmh, 0, display.speed)
        .table("Steepest grade held at the gear's best speed"),
        panels=(draw.panel(_layers(frame, steepest, display), "Grade sustained [%]", 280),),
        sides=draw.sides_of(frame),
    )


def _held(results: Results) -> list[tuple[int, str, GearHolds]]:
    """What each gear holds on each set of tires that is known."""
    return [
        (row.gear, side, holds)
        for row in results.mountain.gears
        for side, holds in (("before", row.before), ("after", row.after))
        if holds is not None
    ]


def _layers(frame: pl.DataFrame, steepest: dict[str, float], display: Display) -> list[draw.Spec]:
    unit = display.speed_unit
    ends = frame.sort("grade").group_by("gear", maintain_order=True).last()
    axis = draw.across(f"Speed [{unit}]")
    at = {"x": alt.X("speed:Q", axis=axis, scale=alt.Scale(zero=False)), "y": draw.up("grade:Q")}
    by = {"color": draw.colour(), "strokeDash": draw.dash(), "detail": alt.Detail("gear:N")}
    answer = draw.tips(
        ("gear:N", "Gear"),
        ("tires:N", display.word("Tires")),
        ("speed:Q", f"Speed [{unit}]", ".0f"),
        ("grade:Q", "Grade sustained [%]", ".1f"),
    )
    number = {"dy": -8, "fontWeight": "bold"}
    return [
        draw.mark("line", frame, {"strokeWidth": 2}, **at, **by),
        draw.mark("text", ends, number, **at, text=alt.Text("gear:N")),
        *_road_lines(steepest, float(frame["speed"].max())),  # type: ignore[arg-type]
        draw.mark("point", frame, {"opacity": 0, "size": 40}, nearest=(), **at, tooltip=answer),
    ]


def _steepest(results: Results) -> dict[str, float]:
    """Each route's steepest grade, up or down [%]."""
    found = {
        said(route.name): max((abs(p.steepest_grade_percent) for p in route.sections), default=0.0)
        for route in results.routes
    }
    return {name: grade for name, grade in found.items() if grade}


def _road_lines(steepest: dict[str, float], right: float) -> list[draw.Spec]:
    if not steepest:
        return []
    roads = [{"name": name, "grade": grade, "at": right} for name, grade in steepest.items()]
    dotted = {"strokeDash": [2, 3], "strokeWidth": 2, "color": "var(--ink)"}
    y, label = alt.Y("grade:Q"), {"align": "right", "dy": -7, "limit": 200}
    return [
        draw.mark("rule", roads, dotted, y=y),
        draw.mark("text", roads, label, x=alt.X("at:Q"), y=y, text=alt.Text("name:N")),
    ]


def _alt(
    held: list[tuple[int, str, GearHolds]], steepest: dict[str, float], display: Display
) -> str:
    last = max((gear for gear, _, _ in held), default=0)
    best = [
        f"gear {gear} sustains {digits(holds.gradeability_percent.value, 1)} % at its best speed "
        f"{display.on(side)}"
        for gear, side, holds in held
        if gear == last and holds.gradeability_percent.value is not None
    ]
    roads = [f"{name} is {digits(grade, 1)} % at its steepest" for name, grade in steepest.items()]
    return f"{'; '.join([*best, *roads])}."
