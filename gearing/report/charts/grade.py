"""The chart of gradeability: the grade each gear sustains over speed, and the routes' steepest."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from gearing.messages.display import Display, digits
from gearing.report import chart as draw
from gearing.report.reading import SIDES, Tree, branch, estimate, number, rows, text
from gearing.report.tables import Table, table

_HEADROOM = 1.5  # of the steepest grade of any route: above that the picture ends
_FEWEST = 3  # points that make a line
_STEEP = 12.0  # percent, where no route is named


def grade_chart(results: Tree, display: Display) -> draw.Chart | None:
    """A line a gear, both sets of tires, and across them each route's steepest grade."""
    lines = [
        {
            "side": side,
            "tires": display.tires(side),
            "gear": digits(number(row.get("gear")) or 0, 0),
            "speed": display.speed(float(kmh)),
            "grade": value,
        }
        for row in rows(results, "mountain", "gears")
        for side in SIDES
        for kmh, grade in branch(row, side, "sustained_percent").items()
        if (value := number(grade)) is not None and str(kmh).isdigit()
    ]
    steepest = _steepest(results)
    top = _HEADROOM * max(steepest.values(), default=_STEEP / _HEADROOM)
    lines = [row for row in lines if 0 <= float(row["grade"]) <= top]  # type: ignore[arg-type]
    if not lines:
        return None
    frame = pl.DataFrame(lines).filter(pl.len().over("gear", "side") >= _FEWEST)
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
        alt="Line chart by gear; " + _alt(results, steepest, display),
        table=_table(results, display),
        panels=(draw.finish(_layers(frame, steepest, display), "Grade sustained [%]", 280),),
    )


def _layers(frame: pl.DataFrame, steepest: dict[str, float], display: Display) -> Any:
    unit = display.speed_unit
    ends = frame.sort("grade").group_by("gear", maintain_order=True).last()
    x = alt.X("speed:Q", axis=draw.across(f"Speed [{unit}]"), scale=alt.Scale(zero=False))
    base = alt.Chart(draw.data(frame))
    gears = base.mark_line(strokeWidth=2).encode(
        x=x,
        y=draw.up("grade:Q"),
        color=draw.colour(),
        strokeDash=draw.dash(),
        detail=alt.Detail("gear:N"),
    )
    answer = draw.tips(
        ("gear:N", "Gear"),
        ("tires:N", display.word("Tires")),
        ("speed:Q", f"Speed [{unit}]", ".0f"),
        ("grade:Q", "Grade sustained [%]", ".1f"),
    )
    over = (
        base.mark_point(opacity=0, size=40)
        .encode(x=x, y=draw.up("grade:Q"), tooltip=answer)
        .add_params(draw.nearest())
    )
    numbers = (
        alt.Chart(draw.data(ends))
        .mark_text(dy=-8, fontWeight="bold")
        .encode(x=x, y=draw.up("grade:Q"), text=alt.Text("gear:N"))
    )
    return alt.layer(gears, numbers, *_road_lines(steepest, float(frame["speed"].max())), over)  # type: ignore[arg-type]


def _steepest(results: Tree) -> dict[str, float]:
    """Each route's steepest grade, up or down [%]."""
    out = {}
    for route in rows(results, "routes"):
        found = [number(part.get("steepest_grade_percent")) for part in rows(route, "sections")]
        known = [abs(grade) for grade in found if grade]
        if known:
            out[text(route.get("name"))] = max(known)
    return out


def _road_lines(steepest: dict[str, float], right: float) -> list[alt.Chart]:
    if not steepest:
        return []
    frame = pl.DataFrame({
        "name": list(steepest), "grade": list(steepest.values()), "at": [right] * len(steepest)
    })  # fmt: skip
    base = alt.Chart(draw.data(frame))
    return [
        base.mark_rule(strokeDash=[2, 3], strokeWidth=2, color="var(--ink)").encode(
            y=alt.Y("grade:Q")
        ),
        base.mark_text(align="right", dy=-7, limit=200).encode(
            x=alt.X("at:Q"), y=alt.Y("grade:Q"), text=alt.Text("name:N")
        ),
    ]


def _alt(results: Tree, steepest: dict[str, float], display: Display) -> str:
    gears = rows(results, "mountain", "gears")
    last = gears[-1] if gears else {}
    held = [
        f"gear {digits(number(last.get('gear')) or 0, 0)} sustains {digits(best.value, 1)} % at "
        f"its best speed {display.on(side)}"
        for side in SIDES
        if (best := estimate(last, side, "gradeability_percent")).value is not None
    ]
    roads = [f"{name} is {digits(grade, 1)} % at its steepest" for name, grade in steepest.items()]
    return f"{'; '.join([*held, *roads])}."


def _table(results: Tree, display: Display) -> Table:
    """The steepest grade of each gear, at the gear's best speed."""
    cells = []
    for row in rows(results, "mountain", "gears"):
        for side in SIDES:
            held = estimate(row, side, "gradeability_percent")
            at = number(branch(row, side).get("at_kmh"))
            if held.value is not None:
                cells.append((
                    digits(number(row.get("gear")) or 0, 0),
                    display.tires(side),
                    digits(held.value, 1),
                    "-" if at is None else digits(display.speed(at), 0),
                ))  # fmt: skip
    unit = display.speed_unit
    heads = ("Gear", display.word("Tires"), "Grade [%]", f"At [{unit}]")
    return table("Steepest grade held at the gear's best speed", heads, cells, words=2)
