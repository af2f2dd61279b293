"""What physics knows only within a range, as the fuel answer carries it."""

from __future__ import annotations

import math

from gearing.messages.display import Display, digits
from gearing.report.reading import Tree, number, rows, text
from gearing.report.tables import Table, table

PHYSICS = {
    "rolling": "Rolling resistance",
    "rolling_per_k": "Rolling resistance, fall with warmth",
    "drag_area": "Drag area",
    "mass": "Weight",
    "overhead": "Power to turn engine and auxiliaries",
    "overhead_with_revolutions": "Its share that goes with engine speed",
    "bend": "Bend of the fuel line at high load",
    "bend_both_ends": "Bend of the fuel line at both ends",
    "slow_running": "Fuel of slow running",
    "rolling_speed": "Rolling resistance, rise with speed",
    "yaw": "Drag, growth with the angle of the air",
    "wind_share": "Share of station wind at the vehicle",
    "prevailing_from_east": "Mean wind of all days, from the east",
    "prevailing_from_north": "Mean wind of all days, from the north",
    "wind_from_east": "Wind the periods differ by, from the east",
    "wind_from_north": "Wind the periods differ by, from the north",
    "wind_square": "Gustiness the periods differ by, root mean square",
    "climate_half_range": "Climate, half the yearly range",
    "climate_level": "Climate, yearly mean",
    "temperature_difference": "Temperature the periods differ by beyond what was taken",
    "winter_fuel": "Energy that winter fuel lacks in frost",
}


def physics_table(results: Tree, display: Display) -> Table:
    cells = []
    for row in rows(results, "fuel", "physics"):
        points = number(row.get("points"))
        name = text(row.get("name"))
        source = {"study": "declared", "default": "assumed"}.get(text(row.get("source")), "")
        learned = number(row.get("learned"))
        cells.append(
            (
                PHYSICS.get(name, name.replace("_", " ")),
                source,
                shown_value(row, display),
                "-" if points is None else f"± {digits(abs(points), 2)}",
                "-" if learned is None else f"{digits(100 * learned, 0)} %",
            )
        )
    return table(
        "What physics knows only within a range, and what that does to the answer",
        (
            "What",
            "From",
            "Taken as",
            "One step off moves the answer by [points]",
            "Narrowed by the logs",
        ),
        cells,
        words=2,
    )


def shown_value(row: Tree, display: Display) -> str:
    """A value to three figures, with its unit."""
    value = number(row.get("value"))
    if value is None:
        return "-"
    unit = text(row.get("unit"))
    if unit == "m2/s2":  # a mean square: as the speed whose square it is
        value, unit = math.copysign(math.sqrt(abs(value)), value), "m/s"
    value, unit = display.plain(value, unit)
    shown = (
        digits(value, 0) if abs(value) >= 1000 else f"{value:.3g}".replace("-", "\N{MINUS SIGN}")
    )
    return f"{shown} {unit}".strip()
