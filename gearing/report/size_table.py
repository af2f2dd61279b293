"""Two tire sizes side by side, as a table for the terminal."""

from __future__ import annotations

import textwrap
from typing import Any

from gearing.messages.display import Display, signed
from gearing.report.retell import for_reader
from gearing.units import INCH_M

INDICATED_MPH = (55, 60, 65, 70, 75)
INDICATED_KMH = (80, 90, 100, 110)
TEXT_WIDTH = 92


def size_table(comparison: dict[str, Any], display: Display) -> str:
    """The comparison of sizes, with its messages, in the reader's units."""
    told = for_reader(comparison, display)
    a, b = (told[which] for which in ("old", "new"))
    per = "mile" if display.us else "km"
    lines = [
        _row("", a["size"], b["size"]) + "    change",
        _lengths("Diameter", "diameter", told, display),
        _lengths("Rolling circumference", "rolling_circumference", told, display),
        _row(
            f"Revolutions per {per}",
            *(_turns(one, "revolutions_per_km", display) for one in (a, b)),
            change=told["engine_speed_change_percent"],
        ),
        _row("  limits of the rule", *(_limits(one, display) for one in (a, b))),
        _row("Engine speed, same road speed", "", "", change=told["engine_speed_change_percent"]),
        "",
        f"A speedometer that is right on {a['size']}, left as it is, on {b['size']}:",
        *_speed_lines(told, display),
        "",
        *(textwrap.fill(note, TEXT_WIDTH) for note in (told["rule"], *told["cautions"])),
    ]
    return "\n".join(lines)


def _row(name: str, *cells: str, change: float | None = None) -> str:
    first, second = cells
    last = "" if change is None else f"{signed(change)} %"
    return f"{name:<32}{first:>14}{second:>14}{last:>10}".rstrip()


def _lengths(name: str, key: str, told: dict[str, Any], display: Display) -> str:
    unit, per_m, places = ("in", 1 / INCH_M, 2) if display.us else ("mm", 1000.0, 0)
    shown = (f"{per_m * told[which][f'{key}_m']:.{places}f}" for which in ("old", "new"))
    change = "diameter" if key == "diameter" else "circumference"
    return _row(f"{name}, {unit}", *shown, change=told[f"{change}_change_percent"])


def _turns(size: dict[str, Any], key: str, display: Display) -> str:
    return f"{display.revolutions(size[key]):.0f}"


def _limits(size: dict[str, Any], display: Display) -> str:
    low, high = (_turns(size, f"revolutions_per_km_{end}", display) for end in ("low", "high"))
    return f"{low} to {high}"


def _speed_lines(told: dict[str, Any], display: Display) -> list[str]:
    shown, width = (INDICATED_MPH, 8) if display.us else (INDICATED_KMH, 9)
    factor = told["odometer_factor"]
    unit = display.speed_unit
    return [
        "  it shows " + "".join(f"{speed:>{width}}" for speed in shown) + f" {unit}",
        "  true     " + "".join(f"{speed * factor:>{width}.1f}" for speed in shown) + f" {unit}",
    ]
