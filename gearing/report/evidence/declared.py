"""What the study declares, and what was assumed because it does not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits
from gearing.report.evidence.gears import model_inputs
from gearing.report.evidence.physics import PHYSICS, shown_value
from gearing.report.phrases import capital, said
from gearing.report.reader import sides_of
from gearing.report.tables import Grid, Table
from gearing.units import INCH_M, convert

if TYPE_CHECKING:
    from gearing.results.record import DeclaredPeriod, Results
    from gearing.study.model import Vehicle

_WORTH_NAMING = 0.05  # percent points of the fuel answer


def declared_table(results: Results, display: Display) -> Table:
    """The study file in short: tires and vehicle; paths are no part of it."""
    told = [
        (display.tires(side).capitalize(), _period(period, display))
        for side, period in sides_of(results.declared)
    ]
    told += _vehicle(results.declared.vehicle, display).items()
    return (
        Grid(row for row in told if row[1])
        .words("What", lambda row: row[0])
        .words("Figure", lambda row: row[1])
        .table("What the study declares")
    )


def _period(period: DeclaredPeriod, display: Display) -> str:
    """One set of tires in a line."""
    parts = [period.drive_tire, period.fitment or ""]
    if (kpa := period.pressure_kpa) is not None:
        psi = f"{digits(convert(kpa, 'kPa', 'psi'), 0)} psi"
        parts.append(psi if display.us else f"{digits(kpa, 0)} kPa")
    if (depth := period.tread_m) is not None:
        inches = f"{digits(depth / INCH_M * 32, 0)}/32 in"
        parts.append(f"tread {inches if display.us else f'{digits(1000 * depth, 1)} mm'}")
    if (per_km := period.revolutions_per_km) is not None:
        turns = digits(display.revolutions(per_km), 0)
        parts.append(f"{turns} {display.revolutions_unit} published")
    return ", ".join(part for part in parts if part)


def _vehicle(vehicle: Vehicle, display: Display) -> dict[str, str]:
    """What is declared of the vehicle; empty where a thing is not."""
    mass, axle, drag = vehicle.mass_kg, vehicle.axle_ratio, vehicle.drag_area_m2
    rolling, engine = vehicle.rolling_resistance, vehicle.engine
    area = ""
    if drag is not None:
        feet = f"{digits(convert(drag, 'm^2', 'ft^2'), 0)} sq ft"
        area = feet if display.us else f"{digits(drag, 1)} m²"
    weight = "lb" if display.us else "kg"
    return {
        "Weight": "" if mass is None else f"{digits(display.weight(mass), 0)} {weight}",
        "Fuel": vehicle.fuel or "",
        "Axle ratio": "" if axle is None else digits(axle, 2),
        "Gear ratios": ", ".join(digits(ratio, 2) for ratio in vehicle.gear_ratios),
        "Vehicle speed is counted at": vehicle.speed_source,
        "Drag area": area,
        "Rolling resistance": "" if rolling is None else digits(rolling, 4),
        "Retarder": engine.retarder.kind if engine is not None and engine.retarder else "",
    }


@dataclass(frozen=True, slots=True)
class _Assumed:
    """One thing taken for granted, for which answer, and as what."""

    name: str
    part: str
    value: str


def assumed_table(results: Results, display: Display) -> Table:
    """What no log and no line of the study says, and what was taken in its place."""
    found = [
        _Assumed(PHYSICS.get(row.name, row.name), "fuel", shown_value(row, display))
        for row in results.fuel.physics
        if row.source == "default" and abs(row.points) >= _WORTH_NAMING
    ]
    inputs = model_inputs(results, display)
    for item in results.mountain.assumed:
        told = capital(said(item))
        taken = next((one for one in inputs if told.startswith(one.name)), None)
        if taken is not None:
            value = f"{taken.value} ({taken.span}) {taken.unit}".strip()
            found.append(_Assumed(taken.name, "mountain", value))
        elif told:
            found.append(_Assumed(told, "mountain", ""))
    return (
        Grid(found)
        .words("What", lambda row: row.name)
        .words("For", lambda row: row.part)
        .words("Taken as", lambda row: row.value)
        .table(
            "What was assumed",
            note="What moves the fuel answer by less than 0.05 points stands with the fuel tables.",
        )
    )
