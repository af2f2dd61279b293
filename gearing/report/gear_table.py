"""Engine speed by gear and road speed, as a table for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages.columns import USUAL_WIDTH, wrapped
from gearing.messages.display import Display, digits, signed
from gearing.report.phrases import said
from gearing.report.reader import for_reader, sides_of
from gearing.report.tables import Grid, Table
from gearing.report.views.routes_alone import WITHOUT_LOGS

if TYPE_CHECKING:
    from gearing.analysis.gearing_table import GearingTable, TableSide

SPEEDS_MPH = (10, 20, 30, 40, 50, 55, 60, 65, 70, 75)
_MEASURED = "the tires' revolutions"
_BASIS = {"published": "published", "size": "from the size; published is better"}


def gear_table(
    table: GearingTable, display: Display, width: int = USUAL_WIDTH, *, logged: bool = False
) -> str:
    """The gearing table, with its messages, in the reader's units; `logged`: the study has logs,
    which are not looked at."""
    told = for_reader(table, display)
    sides = [_tire_line(side, tire, display) for side, tire in sides_of(told)]
    above, closing = _closing(told, display)
    prose = [*above, *closing, *((WITHOUT_LOGS.format(what=_MEASURED),) if logged else ())]
    lines = [
        *(part for line in sides for part in wrapped(line, width, "  ")),
        f"Axle ratio {told.axle_ratio:.2f}",
        "",
        f"Engine speed in rpm, converter locked, at true {display.speed_unit}:",
        "",
        *_figures(told, display).lines(width),
        "",
        *(part for line in prose for part in wrapped(line, width)),
    ]
    return "\n".join(lines)


def _tire_line(side: str, tire: TableSide, display: Display) -> str:
    turns = display.revolutions(tire.revolutions_per_km)
    return (
        f"{side.capitalize():<7} {tire.drive_tire}, {turns:.0f} {display.revolutions_unit} "
        f"({_BASIS[tire.basis]})"
    )


def _speeds(told: GearingTable, display: Display) -> tuple[float, ...]:
    return SPEEDS_MPH if display.us else told.speeds_kmh


def _figures(told: GearingTable, display: Display) -> Table:
    """A row a speed and set of tires, a column a gear; at its head ratios, and the speed at which
    the engine turns at 1,000 rpm."""
    sides = [side for side, _ in sides_of(told)]
    per_1000 = {
        side: [display.speed(dict(sides_of(row))[side].kmh_per_1000_rpm) for row in told.gears]
        for side in sides
    }
    unit = display.speed_unit
    rows = [("ratio", [digits(row.ratio, 2) for row in told.gears])]
    rows += [
        (f"{unit} at 1000 rpm {side}", [digits(one, 1) for one in per_1000[side]]) for side in sides
    ]
    for speed in _speeds(told, display):
        for side in sides:
            rpm = [1000 * speed / one for one in per_1000[side]]
            cells = ["-" if one > told.highest_rpm else f"{one:.0f}" for one in rpm]
            rows.append((f"{digits(speed, 0)} {unit} {side}", cells))
    return (
        Grid(rows)
        .words("gear", lambda row: row[0])
        .each(
            range(len(told.gears)),
            lambda grid, i: grid.told(str(told.gears[i].gear), lambda row: row[1][i]),
        )
        .table("Engine speed")
    )


def _closing(told: GearingTable, display: Display) -> tuple[list[str], list[str]]:
    """What a dash stands for, where there is one; what the change did and what to know of it."""
    fastest = max(_speeds(told, display))
    slowest = min(
        display.speed(one.kmh_per_1000_rpm) for row in told.gears for _, one in sides_of(row)
    )
    left_out = 1000 * fastest / slowest > told.highest_rpm
    above = [f"- is above {said(told.highest_words)}"] if left_out else []
    lines = ["Declare both [before] and [after] to see what the change did."]
    if told.engine_speed_change_percent is not None:
        change = signed(told.engine_speed_change_percent)
        lines = [
            f"Engine speed at the same road speed and gear: {change} %.",
            f"The axle ratio of {told.axle_ratio:.2f} now acts as "
            f"{told.effective_axle_ratio:.2f}; an axle ratio of {told.restoring_axle_ratio:.2f} "
            "would bring the old gearing back.",
        ]
    return above, lines + [said(one.told) for one in told.warnings]
