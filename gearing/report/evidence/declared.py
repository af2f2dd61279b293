"""What the study declares, and what was assumed because it does not."""

from __future__ import annotations

from gearing.messages.display import Display, digits
from gearing.report.evidence.gears import parameter_rows
from gearing.report.evidence.physics import PHYSICS, shown_value
from gearing.report.reading import SIDES, Tree, branch, dig, number, rows, text
from gearing.report.tables import Table, table
from gearing.units import INCH_M, convert


def declared_table(results: Tree, display: Display) -> Table:
    """The study file in short: tires and vehicle; paths are no part of it."""
    cells: list[tuple[str, str]] = []
    for side in SIDES:
        period = branch(results, "declared", side)
        parts = [
            text(period.get("drive_tire")),
            text(period.get("fitment")),
            _pressure(number(period.get("pressure_kpa")), display),
            _tread(number(period.get("tread_m")), display),
            _turns(number(period.get("revolutions_per_km")), display),
        ]
        shown = ", ".join(part for part in parts if part)
        if shown:
            cells.append((display.tires(side).capitalize(), shown))
    cells += _vehicle(branch(results, "declared", "vehicle"), display)
    return table("What the study declares", ("What", "Figure"), cells, words=2)


def _vehicle(vehicle: Tree, display: Display) -> list[tuple[str, str]]:
    mass, axle = number(vehicle.get("mass_kg")), number(vehicle.get("axle_ratio"))
    drag, rolling = number(vehicle.get("drag_area_m2")), number(vehicle.get("rolling_resistance"))
    ratios = vehicle.get("gear_ratios")
    gears = [r for item in (ratios if isinstance(ratios, list) else []) if (r := number(item))]
    weight_unit = "lb" if display.us else "kg"
    retarder = text(dig(vehicle, "engine", "retarder", "kind"))
    found = {
        "Weight": None if mass is None else f"{digits(display.weight(mass), 0)} {weight_unit}",
        "Fuel": text(vehicle.get("fuel")),
        "Axle ratio": None if axle is None else digits(axle, 2),
        "Gear ratios": ", ".join(digits(ratio, 2) for ratio in gears),
        "Vehicle speed is counted at": text(vehicle.get("speed_source")),
        "Drag area": None if drag is None else _area(drag, display),
        "Rolling resistance": None if rolling is None else digits(rolling, 4),
        "Retarder": retarder,
    }
    return [(name, shown) for name, shown in found.items() if shown]


def _pressure(kpa: float | None, display: Display) -> str:
    if kpa is None:
        return ""
    return f"{digits(convert(kpa, 'kPa', 'psi'), 0)} psi" if display.us else f"{digits(kpa, 0)} kPa"


def _tread(meters: float | None, display: Display) -> str:
    if meters is None:
        return ""
    if display.us:
        return f"tread {digits(meters / INCH_M * 32, 0)}/32 in"
    return f"tread {digits(1000 * meters, 1)} mm"


def _turns(per_km: float | None, display: Display) -> str:
    if per_km is None:
        return ""
    return f"{digits(display.revolutions(per_km), 0)} {display.revolutions_unit} published"


def _area(m2: float, display: Display) -> str:
    return f"{digits(convert(m2, 'm^2', 'ft^2'), 0)} sq ft" if display.us else f"{digits(m2, 1)} m²"


_WORTH_NAMING = 0.05  # percent points of the fuel answer


def assumed_table(results: Tree, display: Display) -> Table:
    """What no log and no line of the study says, and what was taken in its place."""
    cells = [
        (
            PHYSICS.get(text(row.get("name")), text(row.get("name"))),
            "fuel",
            shown_value(row, display),
        )
        for row in rows(results, "fuel", "physics")
        if text(row.get("source")) == "default"
        and abs(number(row.get("points")) or 0.0) >= _WORTH_NAMING
    ]
    found = dig(results, "mountain", "assumed")
    taken = {row[0]: row for row in parameter_rows(results, display)}
    for item in found if isinstance(found, list) else []:
        told = text(item)[:1].upper() + text(item)[1:]
        name = next((name for name in taken if told.startswith(name)), "")
        if name:
            _, _, unit, value, span = taken[name]
            cells.append((name, "mountain", f"{value} ({span}) {unit}".strip()))
        elif told:
            cells.append((told, "mountain", "-"))
    return table(
        "What was assumed",
        ("What", "For", "Taken as"),
        cells,
        words=3,
        note="What moves the fuel answer by less than 0.05 points stands with the fuel tables.",
    )
