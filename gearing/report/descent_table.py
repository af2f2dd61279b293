"""Tables of the long way down: each descent, what gears hold on it, and the brakes' share."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits
from gearing.report.phrases import clause
from gearing.report.reading import SIDES, Tree, branch, dig, number, rows, text
from gearing.report.tables import Table, table

if TYPE_CHECKING:
    from collections.abc import Iterator

_DIRECTIONS = (("forward", False), ("reversed", True))
_MODEL = (
    "Brake temperature is the estimate of a published model ({source}) for laden five-axle "
    "tractor-trailers with drum brakes in adjustment: the range over both published sets of "
    "constants, which differ up to threefold, and over the simulated drives. It leaves out brakes "
    "out of adjustment or hotter than their mean, fade, water and wind. The maker's data and the "
    "signs at the grade come first."
)


def ways_down(results: Tree) -> list[tuple[str, str, str, list[Tree]]]:
    """Each way of a route that goes down: its name, direction, route and descents."""
    found = []
    for route in rows(results, "routes"):
        named, other = text(route.get("name")), branch(route, "reversed")
        for direction, back in _DIRECTIONS:
            way = other if back else route
            descents = rows(way, "descents")
            if descents:
                found.append((text(way.get("name")) or named, direction, named, descents))
    return found


def present_side(descent: Tree) -> Tree:
    """A descent on the new tires, on the old where there are no others."""
    return branch(descent, "after") or branch(descent, "before")


def cares(descent: Tree) -> list[str]:
    """What asks for care on a descent."""
    found = present_side(descent).get("care")
    return [text(one) for one in found] if isinstance(found, list | tuple) else []


def long_descent_table(results: Tree, display: Display) -> Table:
    """Each descent on each set of tires: grade, gear, work and power of the brakes, care."""
    cells, whys, source = [], [], ""
    for name, descent, tires, side in _each(results, display):
        source = text(dig(side, "brake_temperature_c", "source")) or source
        whys.append(text(side.get("brake_temperature_c_why")))
        cells.append((name, _place(descent, display), tires, *_cells(descent, side, display)))
    distance, power = display.distance_unit, display.plain(1.0, "W")[1]
    note = _MODEL.format(source=source) if source else _no_temperature(whys)
    return table(
        "Each descent",
        (
            "Way", f"From, to [{distance}]", display.word("Tires"), f"Length [{distance}]",
            "Mean grade [%]", "Steepest [%]", "Gear that holds", "without the retarder",
            "Brakes [kWh]",
            f"on average [{power}]", f"at most [{power}]", "in full stops",
            f"Drum brakes [{display.temperature_unit}]", "Asks for care",
        ),
        cells,
        words=3,
        figures=tuple(range(3, 13)),
        note=note,
    )  # fmt: skip


def _each(results: Tree, display: Display) -> Iterator[tuple[str, Tree, str, Tree]]:
    for name, _, _, descents in ways_down(results):
        for descent in descents:
            for key in SIDES:
                side = branch(descent, key)
                if side:
                    yield name, descent, display.tires(key), side


def _place(descent: Tree, display: Display) -> str:
    return " to ".join(
        digits(display.distance(number(descent.get(key)) or 0.0), 1) for key in ("from_km", "to_km")
    )


def _cells(descent: Tree, side: Tree, display: Display) -> tuple[str | None, ...]:
    def figure(tree: Tree, key: str, places: int) -> str | None:
        value = number(tree.get(key))
        return None if value is None else digits(value, places)

    def power(key: str) -> str | None:
        value = number(side.get(key))
        return None if value is None else digits(display.plain(1000 * value, "W")[0], 0)

    low, high = (number(dig(side, "brake_kwh_spread", end)) for end in ("low", "high"))
    work = figure(side, "brake_kwh", 1)
    if work is not None and low is not None and high is not None:
        work = f"{work} ({digits(low, 1)} to {digits(high, 1)})"
    care = present_side(descent) == side
    return (
        digits(display.distance(number(descent.get("length_km")) or 0.0), 1),
        figure(descent, "mean_grade_percent", 1),
        figure(descent, "steepest_percent", 1),
        _gear(branch(side, "retarder_on")),
        _gear(branch(side, "retarder_off")),
        work,
        power("brake_kw"),
        power("brake_kw_highest"),
        figure(side, "brake_stops", 1),
        _temperature(branch(side, "brake_temperature_c"), display),
        "; ".join(clause(one) for one in cares(descent)) if care else None,
    )


def _gear(down: Tree) -> str | None:
    if not down:
        return None
    gear = number(down.get("gear"))
    return "none" if gear is None else digits(gear, 0)


def _temperature(found: Tree, display: Display) -> str | None:
    figures = [number(found.get(key)) for key in ("low", "high", "with_stop_high")]
    if None in figures:
        return None
    low, high, stop = (digits(display.temperature(one or 0.0), 0) for one in figures)
    return f"{low} to {high}, with a stop up to {stop}"


def _no_temperature(whys: list[str]) -> str:
    why = next(filter(None, whys), "")
    return f"No brake temperature: {why.rstrip('.')}." if why else ""


def gear_speed_table(results: Tree, display: Display) -> Table:
    """The speed each gear holds on the steepest part of each descent, retarder on and off."""
    gears: dict[str, None] = {}
    lines = []
    for name, descent, tires, side in _each(results, display):
        for key, what in (("retarder_on", "on"), ("retarder_off", "off")):
            held = branch(side, key, "held_by_gear_kmh")
            if not held:
                continue
            gears |= dict.fromkeys(held)
            one = "engine alone" if not branch(side, "retarder_off") else what
            lines.append((name, _place(descent, display), tires, one, held))
    cells = [
        (*start, *(_speed(held.get(gear), display) for gear in gears)) for *start, held in lines
    ]
    return table(
        f"Speed each gear holds where a descent is steepest [{display.speed_unit}]",
        (
            "Way", f"From, to [{display.distance_unit}]", display.word("Tires"), "Retarder",
            *(f"Gear {gear}" for gear in gears),
        ),
        cells,
        words=4,
        note=(
            "What engine and retarder hold without the service brakes, in the middle case, over "
            "the steepest "
            f"{digits(display.height(500), 0)} {display.height_unit}. None: not held "
            "under governed speed. These are not speeds to drive."
        ),
    )  # fmt: skip


def _speed(value: object, display: Display) -> str:
    kmh = number(value)
    return "none" if kmh is None else digits(display.speed(kmh), 0)
