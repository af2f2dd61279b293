"""What physics knows only within a range, as the fuel answer carries it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from gearing.messages.display import MINUS, Display, digits
from gearing.report.tables import Grid, Table

if TYPE_CHECKING:
    from gearing.analysis.fuel.model import Physics
    from gearing.results.record import Results

# said of both tables, which show some of the same things with other values
TWO_FITS = (
    "The fuel answer and the road model each fit the vehicle themselves, from different records: "
    "their values need only agree within their ranges. By fuel, the drag area is that for air from "
    "straight ahead, side wind has a line of its own, rolling resistance is the mean of both "
    "periods and rises with speed, and rotating parts add 4 % to the weight in every gear, for "
    "gears are left out of the comparison. By the road model, from engine load in each gear, the "
    "drag area holds the usual side wind, rolling resistance is the same at all speeds, and wheels "
    "and engine turn as they do in that gear. What is declared counts as less sure for fuel (in 95 "
    "of 100 cases drag within 20 %, weight within 6 %) than for the road model (7 and 2 %)."
)
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


def physics_table(results: Results, display: Display) -> Table:
    """Each thing, what was taken for it, and what it does to the answer."""
    sources = {"study": "declared", "default": "assumed"}
    return (
        Grid(results.fuel.physics)
        .words("What", lambda row: PHYSICS.get(row.name, row.name.replace("_", " ")))
        .words("From", lambda row: sources.get(row.source, ""))
        .told("Taken as", lambda row: shown_value(row, display))
        .told(
            "One step off moves the answer by [points]",
            lambda row: f"± {digits(abs(row.points), 2)}",
        )
        .percent("Narrowed by the logs", lambda row: row.estimated_share)
        .table(
            "What physics knows only within a range, and what that does to the answer",
            note=TWO_FITS if results.mountain.parameters else "",
        )
    )


def shown_value(row: Physics, display: Display) -> str:
    """A value to three figures, with its unit."""
    value, unit = row.value, row.unit
    if unit == "m2/s2":  # a mean square: as the speed whose square it is
        value, unit = math.copysign(math.sqrt(abs(value)), value), "m/s"
    value, unit = display.turned(value, unit)
    shown = digits(value, 0) if abs(value) >= 1000 else f"{value:.3g}"
    return f"{shown.replace('-', MINUS)} {unit}".strip()
