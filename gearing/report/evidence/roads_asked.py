"""Tables of what the owner's own roads ask, and what each gear holds there."""

from __future__ import annotations

from functools import partial

from gearing.messages.display import Display, digits, minus
from gearing.report.phrases import with_interval
from gearing.report.reading import NEWEST_FIRST, Tree, branch, estimate, number, rows
from gearing.report.tables import Table, of_rows


def asked_grade_table(results: Tree, display: Display) -> Table:
    """How far, and how fast, the drives went on which grades."""
    unit, asked = display.distance_unit, branch(results, "mountain", "asked")

    def between(row: Tree) -> str:
        low, high = number(row.get("low_percent")), number(row.get("high_percent"))
        if low is None or high is None:
            return f"{minus((high if low is None else low) or 0.0, 0)} and steeper"
        return f"{minus(low, 0)} to {minus(high, 0)}"

    return of_rows(
        "Grades over a kilometer on the roads driven, and the speed there",
        rows(asked, "grades"),
        [
            ("Grade [%]", between),
            (f"Driven [{unit}]", lambda row: digits(display.distance(number(row["km"]) or 0.0), 0)),
            (
                f"Usual speed [{display.speed_unit}]",
                lambda row: digits(display.speed(number(row["speed_kmh"]) or 0.0), 0),
            ),
        ],
        note="Below nothing the road falls. Half the way on a grade is driven faster than the "
        "usual speed.",
    )


def asked_gear_table(results: Tree, display: Display) -> Table:
    """The share of the hilly road each gear is the highest for that holds at the speed there."""
    asked = branch(results, "mountain", "asked")

    def share(side: str, way: str, row: Tree) -> str:
        shown = estimate(row, side, way)
        return with_interval(shown, 0) if shown.known else "-"

    up, down = (
        digits(display.distance(number(asked.get(key)) or 0.0), 0) for key in ("up_km", "down_km")
    )
    unit = display.distance_unit
    return of_rows(
        "The highest gear that holds the roads driven, at the speed driven there",
        rows(asked, "gears"),
        [
            ("Gear", lambda row: digits(number(row["gear"]) or 0.0, 0) if row["gear"] else "none"),
            *(
                (f"{words} [% of the way], {display.tires(side)}", partial(share, side, way))
                for way, words in (
                    ("up_percent", "Up"),
                    ("down_percent", "Down by itself"),
                )
                for side in NEWEST_FIRST
                if any(branch(row, side) for row in rows(asked, "gears"))
            ),
        ],
        note=f"By the road model, steadily and in still air, over {up} {unit} that climb and "
        f"{down} {unit} that fall by 2 % or more over a kilometer. Where none holds, "
        "a lower gear and a lower speed are needed, or the service brakes.",
    )
