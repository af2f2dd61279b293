"""Tables of the long way down: each descent, what gears hold on it, and the brakes' share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits
from gearing.report.phrases import said
from gearing.report.reader import sides_of
from gearing.report.tables import Grid, Table
from gearing.report.views.mountain import from_to, ways

if TYPE_CHECKING:
    from gearing.analysis.mountain.descent_figures import (
        BrakeTemperature,
        DescentSide,
        GearsDown,
        LongDescent,
    )
    from gearing.results.record import Results

_MODEL = (
    "Brake temperature is the estimate of a published model ({source}) for laden five-axle "
    "tractor-trailers with drum brakes in adjustment: the range over both published sets of "
    "constants, which differ up to threefold, and over the simulated drives. It leaves out brakes "
    "out of adjustment or hotter than their mean, fade, water and wind. The maker's data and the "
    "signs at the grade come first."
)
_HELD = (
    "Held: on the steepest {far}, by engine and retarder without the service brakes; those of the "
    "gears are of the middle case, and no speeds to drive. Full stops, from the speed wanted, are "
    "those that 95 of 100 simulated drives do not pass; power is their mean. Half of the drivers "
    "simulated shift down in time, half stay in gear and brake. A retarder that fades leaves more "
    "to the brakes."
)


@dataclass(frozen=True, slots=True)
class _Row:
    """One descent on one set of tires."""

    way: str
    descent: LongDescent
    tires: str
    side: DescentSide


def _rows(results: Results, display: Display) -> list[_Row]:
    return [
        _Row(name, descent, display.tires(side), found)
        for name, way in ways(results.routes)
        for descent in way.descents
        for side, found in sides_of(descent)
    ]


def long_descent_table(results: Results, display: Display) -> Table:
    """Each descent on each set of tires: grade, what gears hold, work and power of the brakes."""
    rows = _rows(results, display)
    distance, power = display.distance_unit, display.plain(1.0, "W")[1]

    def kw(value: float) -> float:
        """A power [kW] in the reader's unit."""
        return display.plain(1000 * value, "W")[0]

    return (
        Grid(rows)
        .words("Way", lambda row: row.way)
        .words(f"From, to [{distance}]", lambda row: from_to(row.descent, display))
        .words(display.word("Tires"), lambda row: row.tires)
        .figure("Mean grade [%]", lambda row: row.descent.mean_grade_percent, 1)
        .figure("Steepest [%]", lambda row: row.descent.steepest_percent, 1)
        .figure(
            f"Speed wanted there [{display.speed_unit}]",
            lambda row: row.descent.wanted_kmh,
            0,
            display.speed,
        )
        .told("It is held in", lambda row: _held(row.side.retarder_on))
        .told("without the retarder", lambda row: _held(row.side.retarder_off))
        .words(
            f"Gear: lower speed it holds [{display.speed_unit}]",
            lambda row: _lower(row.side.retarder_on, row.descent.wanted_kmh, display),
        )
        .figure("Brakes, full stops", lambda row: row.side.brake_stops, 1)
        .figure(f"on average [{power}]", lambda row: row.side.brake_kw, 0, kw)
        .figure(f"at most [{power}]", lambda row: row.side.brake_kw_highest, 0, kw)
        .told(
            f"Drum brakes [{display.temperature_unit}]",
            lambda row: _temperature(row.side.brake_temperature_c, display),
        )
        .table("Each descent", note=_note(rows, display))
    )


def _note(rows: list[_Row], display: Display) -> str:
    """How to read the table; what the brake temperature is by, or why there is none."""
    held = _HELD.format(far=f"{digits(display.distance(0.5), 1)} {display.distance_unit}")
    found = [one for row in rows if (one := row.side.brake_temperature_c) is not None]
    if found:
        return f"{held} {_MODEL.format(source=said(found[-1].source))}"
    why = next(filter(None, (said(row.side.brake_temperature_c_why) for row in rows)), "")
    return f"{held} No brake temperature: {why.rstrip('.')}." if why else held


def _held(down: GearsDown | None) -> str | None:
    """In how many simulated drives a gear holds the speed wanted."""
    return None if down is None else f"{digits(100 * (1 - down.unheld_share), 0)} of 100"


def _lower(down: GearsDown, wanted_kmh: float, display: Display) -> str:
    """What the next two gears hold at or under the speed wanted."""
    held = [(int(g), kmh) for g, kmh in down.held_by_gear_kmh.items() if kmh and kmh <= wanted_kmh]
    lower = sorted(held, reverse=True)[:2]
    return ", ".join(f"{gear}: {digits(display.speed(kmh), 0)}" for gear, kmh in lower) or "none"


def _temperature(found: BrakeTemperature | None, display: Display) -> str | None:
    if found is None:
        return None
    ends = (found.low, found.high, found.with_stop_high)
    low, high, stop = (digits(display.temperature(one), 0) for one in ends)
    return f"{low} to {high}, with a stop up to {stop}"
