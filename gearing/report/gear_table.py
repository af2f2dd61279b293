"""Engine speed by gear and road speed, as a table for the terminal."""

from __future__ import annotations

import textwrap
from typing import Any

from gearing.messages.display import Display, signed
from gearing.report.retell import for_reader

SPEEDS_MPH = (10, 20, 30, 40, 50, 55, 60, 65, 70, 75)
TEXT_WIDTH = 92
_SIDES = ("before", "after")
_BASIS = {"published": "published", "size": "from the size; published is better"}


def gear_table(table: dict[str, Any], display: Display) -> str:
    """The gearing table, with its messages, in the reader's units."""
    told = for_reader(table, display)
    unit = display.speed_unit
    speeds = SPEEDS_MPH if display.us else [round(kmh) for kmh in told["speeds_kmh"]]
    lines = [_tire_line(side, told[side], display) for side in _SIDES if told[side] is not None]
    lines.append(f"Axle ratio {told['axle_ratio']:.2f}")
    head = f"{'gear':<6}{'ratio':>6}  {'tires':<8}{f'{unit}/1000 rpm':>14}"
    lines += ["", f"Engine speed in rpm, converter locked, at true {unit}:", ""]
    lines.append(head + "".join(f"{speed:>6}" for speed in speeds))
    left_out = False
    for row in told["gears"]:
        label = f"{row['gear']:<6}{row['ratio']:>6.2f}"
        for side in (one for one in _SIDES if row[one] is not None):
            per_1000 = display.speed(row[side]["kmh_per_1000_rpm"])
            rpm = [1000 * speed / per_1000 for speed in speeds]
            left_out = left_out or max(rpm) > told["highest_rpm"]
            cells = "".join(f"{_cell(one, told['highest_rpm']):>6}" for one in rpm)
            lines.append(f"{label:<12}  {side:<8}{per_1000:>14.1f}{cells}")
            label = ""
    lines.append("")
    if left_out:
        lines.append(textwrap.fill(f"- is above {told['highest_words']}", TEXT_WIDTH))
    return "\n".join(lines + _closing(told))


def _tire_line(side: str, tire: dict[str, Any], display: Display) -> str:
    turns = display.revolutions(tire["revolutions_per_km"])
    return (
        f"{side.capitalize():<7} {tire['drive_tire']}, {turns:.0f} {display.revolutions_unit} "
        f"({_BASIS[tire['basis']]})"
    )


def _cell(rpm: float, highest_rpm: float) -> str:
    return f"{rpm:.0f}" if rpm <= highest_rpm else "-"


def _closing(told: dict[str, Any]) -> list[str]:
    lines = []
    if told["engine_speed_change_percent"] is not None:
        change = signed(told["engine_speed_change_percent"])
        lines += [
            f"Engine speed at the same road speed and gear: {change} %.",
            f"The axle ratio of {told['axle_ratio']:.2f} now acts as "
            f"{told['effective_axle_ratio']:.2f}; an axle ratio of "
            f"{told['restoring_axle_ratio']:.2f} would bring the old gearing back.",
        ]
    else:
        lines.append("Declare both [before] and [after] to see what the change did.")
    lines += [warning["text"] for warning in told["warnings"]]
    return [textwrap.fill(line, TEXT_WIDTH) for line in lines]
