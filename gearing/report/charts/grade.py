"""The chart of gradeability: the steepest grade each gear holds, before and after."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from gearing.messages.display import Display, digits
from gearing.report.chart import SIDES, Chart, across, colour, data, finish, marker
from gearing.report.phrases import with_interval
from gearing.report.reading import Tree, branch, dig, estimate, number, rows
from gearing.report.tables import Table, table

_SOONER = " The farther left the new tires' mark, the sooner that gear has to be left on a climb."


def grade_chart(results: Tree, display: Display) -> Chart | None:
    """Gear by gear, the steepest grade held at the gear's best speed."""
    out: list[dict[str, Any]] = []
    for row in rows(results, "mountain", "gears"):
        gear = number(row.get("gear"))
        for side, tires in SIDES.items():
            held = estimate(row, side, "gradeability_percent")
            if gear is None or held.value is None:
                continue
            out.append(
                {
                    "gear": digits(gear, 0),
                    "tires": tires,
                    "grade": held.value,
                    "low": held.low if held.low is not None else held.value,
                    "high": held.high if held.high is not None else held.value,
                    "at": _speed(dig(row, side, "at_kmh"), display),
                }
            )
    if not out:
        return None
    frame = pl.DataFrame(out)
    gears = frame["gear"].unique(maintain_order=True).to_list()
    y = alt.Y("gear:N", sort=gears, axis=alt.Axis(title=None, grid=True, ticks=False))
    offset = alt.YOffset("tires:N", sort=None, scale=alt.Scale(paddingOuter=0.6))
    base = alt.Chart(data(frame))
    axis = across("Steepest grade held [%]")
    bars = base.mark_rule(strokeWidth=2).encode(
        x=alt.X("low:Q", axis=axis), x2=alt.X2("high:Q"), y=y, yOffset=offset, color=colour()
    )
    marks = base.mark_point(size=60, strokeWidth=2, fill="var(--sheet)", opacity=1).encode(
        x=alt.X("grade:Q", axis=axis),
        y=y,
        yOffset=offset,
        color=colour(),
        shape=marker(),
        tooltip=[
            alt.Tooltip("gear:N", title="Gear"),
            alt.Tooltip("tires:N", title="Tires"),
            alt.Tooltip("grade:Q", title="Steepest grade [%]", format=".1f"),
            alt.Tooltip("at:Q", title=f"At [{display.speed_unit}]", format=".0f"),
        ],
    )
    last = out[-frame["tires"].n_unique() :]
    return Chart(
        key="gradeability",
        title="The steepest grade each gear holds",
        reading=(
            "Each mark is the gradeability of one gear at its best speed, its bar the 95 % range "
            "over what is not known for sure." + (_SOONER if frame["tires"].n_unique() > 1 else "")
        ),
        alt="Dot chart by gear. "
        + "; ".join(
            f"Gear {row['gear']} holds {digits(float(row['grade']), 1)} % on the {row['tires']}"
            for row in last
        )
        + ".",
        table=table(
            "Steepest grade held at the gear's best speed",
            ("Gear", "Tires", "Grade [%]", f"At [{display.speed_unit}]"),
            [
                (
                    str(row["gear"]),
                    str(row["tires"]),
                    digits(row["grade"], 1),
                    digits(row["at"], 0) if row["at"] is not None else "-",
                )
                for row in out
            ],
            words=2,
        ),
        panels=(finish(alt.layer(bars, marks), "Gear", 44 * len(gears) + 20),),
    )


def _speed(value: object, display: Display) -> float | None:
    kmh = number(value)
    return None if kmh is None else display.speed(kmh)


_UP = "up_percent"


def held_table(results: Tree, display: Display) -> Table:
    """The steepest grade each gear holds up and down at common road speeds."""
    found = rows(results, "mountain", "gears")
    speeds = (
        list(branch(found[0], "after", "up_percent") or branch(found[0], "before", "up_percent"))
        if found
        else []
    )
    cells = []
    for row in found:
        for side, tires in SIDES.items():
            up, down = branch(row, side, _UP), branch(row, side, "down_percent")
            if all(number(value) is None for value in (*up.values(), *down.values())):
                continue
            cells.append(
                (
                    digits(number(row.get("gear")) or 0, 0),
                    tires,
                    *(_pair(number(up.get(key)), number(down.get(key))) for key in speeds),
                )
            )
    heads = [f"at {digits(display.speed(float(key)), 0)} {display.speed_unit}" for key in speeds]
    return table(
        "Steepest grades held, up / down [%]",
        ("Gear", "Tires", *heads),
        cells,
        words=2,
        note="Down: by the engine and retarder alone. A dash: the gear cannot run at that speed.",
    )


def _pair(up: float | None, down: float | None) -> str:
    if up is None and down is None:
        return "-"
    return " / ".join("-" if v is None else digits(v, 1) for v in (up, down))


def start_table(results: Tree) -> Table:
    cells = []
    for side, tires in SIDES.items():
        shown = estimate(results, "mountain", "startability_percent", side)
        if shown.known:
            cells.append((tires, with_interval(shown, 1)))
    return table(
        "Startability: steepest grade it sets off on [%]",
        ("Tires", "Grade"),
        cells,
        note=(
            "By torque alone: the grip of the drive tires, which may give out far sooner, is not "
            "looked at."
        ),
    )
