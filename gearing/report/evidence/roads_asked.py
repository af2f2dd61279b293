"""Tables of what the owner's own roads ask, and which gear holds there."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits, minus
from gearing.report.phrases import with_interval
from gearing.report.reader import NEWEST_FIRST, sides_of
from gearing.report.tables import Grid, Table

if TYPE_CHECKING:
    from gearing.analysis.mountain.result import AskedGear, AskedGrade
    from gearing.results.record import Results


def asked_grade_table(results: Results, display: Display) -> Table:
    """How far, and how fast, the drives went on which grades."""
    asked, unit = results.mountain.asked, display.distance_unit

    def between(row: AskedGrade) -> str:
        """The limits of a grade."""
        low, high = row.low_percent, row.high_percent
        if low is None or high is None:
            return f"{minus((high if low is None else low) or 0.0, 0)} and steeper"
        return f"{minus(low, 0)} to {minus(high, 0)}"

    return (
        Grid(() if asked is None else asked.grades)
        .words("Grade [%]", between)
        .figure(f"Driven [{unit}]", lambda row: row.km, 0, display.distance)
        .figure(f"Usual speed [{display.speed_unit}]", lambda row: row.speed_kmh, 0, display.speed)
        .table(f"Grades over {_kilometer(display)} on the roads driven, and the speed there")
    )


def asked_gear_table(results: Results, display: Display) -> Table:
    """The share of the hilly road each gear is the highest for that holds at the speed there."""
    asked, unit = results.mountain.asked, display.distance_unit
    grid = Grid(() if asked is None else asked.gears)
    grid = grid.words("Gear", lambda row: "none" if row.gear is None else str(row.gear))
    up, down = (0.0, 0.0) if asked is None else (asked.up_km, asked.down_km)
    climb, fall = (digits(display.distance(km), 0) for km in (up, down))
    for way, words in (("up_percent", "Up"), ("down_percent", "Down by itself")):
        for side in NEWEST_FIRST:
            tell = functools.partial(_share, side, way)
            grid = grid.told(f"{words} [% of the way], {display.tires(side)}", tell)
    return grid.table(
        "The highest gear that holds the roads driven, at the speed driven there",
        note=f"By the road model, steadily and in still air, over {climb} {unit} that climb and "
        f"{fall} {unit} that fall by 2 % or more over {_kilometer(display)}. Where none holds, "
        "a lower gear and a lower speed are needed, or the service brakes.",
    )


def _kilometer(display: Display) -> str:
    return f"{digits(display.distance(1.0), 1)} {display.distance_unit}"


def _share(side: str, way: str, row: AskedGear) -> str:
    """A share of the way, a dash without one."""
    of = dict(sides_of(row)).get(side)
    found = None if of is None else getattr(of, way)
    return "-" if found is None or not found.known else with_interval(found, 0)
