"""Engine speed by gear and road speed, as a table for the terminal."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from gearing.messages.display import Display, signed
from gearing.report.phrases import said
from gearing.report.reader import for_reader, sides_of

if TYPE_CHECKING:
    from gearing.analysis.gearing_table import GearingTable, TableSide

SPEEDS_MPH = (10, 20, 30, 40, 50, 55, 60, 65, 70, 75)
TEXT_WIDTH = 92
_BASIS = {"published": "published", "size": "from the size; published is better"}


def gear_table(table: GearingTable, display: Display) -> str:
    """The gearing table, with its messages, in the reader's units."""
    told = for_reader(table, display)
    unit = display.speed_unit
    speeds = SPEEDS_MPH if display.us else [round(kmh) for kmh in told.speeds_kmh]
    lines = [_tire_line(side, tire, display) for side, tire in sides_of(told)]
    head = f"{'gear':<6}{'ratio':>6}  {'tires':<8}{f'{unit}/1000 rpm':>14}"
    lines += [
        f"Axle ratio {told.axle_ratio:.2f}",
        "",
        f"Engine speed in rpm, converter locked, at true {unit}:",
        "",
        head + "".join(f"{speed:>6}" for speed in speeds),
    ]
    left_out = False
    for row in told.gears:
        label = f"{row.gear:<6}{row.ratio:>6.2f}"
        for side, figures in sides_of(row):
            per_1000 = display.speed(figures.kmh_per_1000_rpm)
            rpm = [1000 * speed / per_1000 for speed in speeds]
            left_out = left_out or max(rpm) > told.highest_rpm
            cells = (f"{one:.0f}" if one <= told.highest_rpm else "-" for one in rpm)
            figured = "".join(f"{cell:>6}" for cell in cells)
            lines.append(f"{label:<12}  {side:<8}{per_1000:>14.1f}{figured}")
            label = ""
    lines.append("")
    if left_out:
        lines.append(textwrap.fill(f"- is above {said(told.highest_words)}", TEXT_WIDTH))
    return "\n".join(lines + [textwrap.fill(line, TEXT_WIDTH) for line in _closing(told)])


def _tire_line(side: str, tire: TableSide, display: Display) -> str:
    turns = display.revolutions(tire.revolutions_per_km)
    return (
        f"{side.capitalize():<7} {tire.drive_tire}, {turns:.0f} {display.revolutions_unit} "
        f"({_BASIS[tire.basis]})"
    )


def _closing(told: GearingTable) -> list[str]:
    """What the change did, and what the reader must know."""
    lines = ["Declare both [before] and [after] to see what the change did."]
    if told.engine_speed_change_percent is not None:
        change = signed(told.engine_speed_change_percent)
        lines = [
            f"Engine speed at the same road speed and gear: {change} %.",
            f"The axle ratio of {told.axle_ratio:.2f} now acts as "
            f"{told.effective_axle_ratio:.2f}; an axle ratio of {told.restoring_axle_ratio:.2f} "
            "would bring the old gearing back.",
        ]
    return lines + [said(one.told) for one in told.warnings]
