"""Tables of the long way down: each descent, what gears hold on it, and the brakes' share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits
from gearing.report.phrases import clause, said, shown
from gearing.report.reader import sides_of
from gearing.report.tables import Grid, Table
from gearing.report.views.mountain import cares, from_to, ways

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
_SPEEDS = (
    "What engine and retarder hold without the service brakes, in the middle case, over the "
    "steepest {far}. None: not held under governed speed. These are not speeds to drive."
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
    """Each descent on each set of tires: grade, gear, work and power of the brakes."""
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
        .figure(f"Length [{distance}]", lambda row: row.descent.length_km, 1, display.distance)
        .figure("Mean grade [%]", lambda row: row.descent.mean_grade_percent, 1)
        .figure("Steepest [%]", lambda row: row.descent.steepest_percent, 1)
        .told("Gear that holds", lambda row: _gear(row.side.retarder_on))
        .told("without the retarder", lambda row: _gear(row.side.retarder_off))
        .told("Brakes [kWh]", lambda row: _work(row.side))
        .figure(f"on average [{power}]", lambda row: row.side.brake_kw, 0, kw)
        .figure(f"at most [{power}]", lambda row: row.side.brake_kw_highest, 0, kw)
        .figure("in full stops", lambda row: row.side.brake_stops, 1)
        .told(
            f"Drum brakes [{display.temperature_unit}]",
            lambda row: _temperature(row.side.brake_temperature_c, display),
        )
        .table("Each descent", note=_note(rows))
    )


def _note(rows: list[_Row]) -> str:
    """What the brake temperature is by, or why there is none."""
    found = [one for row in rows if (one := row.side.brake_temperature_c) is not None]
    if found:
        return _MODEL.format(source=said(found[-1].source))
    why = next(filter(None, (said(row.side.brake_temperature_c_why) for row in rows)), "")
    return f"No brake temperature: {why.rstrip('.')}." if why else ""


def care_table(results: Results, display: Display) -> Table:
    """What asks for care on each descent, on the tires it is judged on."""
    careful = [
        (name, descent, "; ".join(map(clause, told)))
        for name, way in ways(results.routes)
        for descent in way.descents
        if (told := cares(descent))
    ]
    return (
        Grid(careful)
        .words("Way", lambda row: row[0])
        .words(f"From, to [{display.distance_unit}]", lambda row: from_to(row[1], display))
        .words("Asks for care", lambda row: row[2])
        .table("Descents that ask for care")
    )


def _work(side: DescentSide) -> str:
    low, high = (digits(one, 1) for one in (side.brake_kwh_spread.low, side.brake_kwh_spread.high))
    return f"{digits(side.brake_kwh, 1)} ({low} to {high})"


def _gear(down: GearsDown | None) -> str | None:
    if down is None:
        return None
    return "none" if down.gear is None else str(down.gear)


def _temperature(found: BrakeTemperature | None, display: Display) -> str | None:
    if found is None:
        return None
    ends = (found.low, found.high, found.with_stop_high)
    low, high, stop = (digits(display.temperature(one), 0) for one in ends)
    return f"{low} to {high}, with a stop up to {stop}"


def gear_speed_table(results: Results, display: Display) -> Table:
    """The speed each gear holds on the steepest part of each descent, retarder on and off."""
    lines = [
        (row, "on" if row.side.retarder_off else "engine alone", row.side.retarder_on)
        for row in _rows(results, display)
    ]
    both = [
        line
        for row, what, on in lines
        for line in ((row, what, on), (row, "off", row.side.retarder_off))
        if line[2] is not None and line[2].held_by_gear_kmh
    ]
    gears = dict.fromkeys(gear for _, _, down in both if down for gear in down.held_by_gear_kmh)

    def speed(down: GearsDown | None, gear: str) -> str:
        """What a gear holds."""
        kmh = down.held_by_gear_kmh.get(gear) if down is not None else None
        return "none" if kmh is None else shown(kmh, 0, display.speed)

    return (
        Grid(both)
        .words("Way", lambda line: line[0].way)
        .words(
            f"From, to [{display.distance_unit}]", lambda line: from_to(line[0].descent, display)
        )
        .words(display.word("Tires"), lambda line: line[0].tires)
        .words("Retarder", lambda line: line[1])
        .each(
            gears,
            lambda grid, gear: grid.told(f"Gear {gear}", lambda line: speed(line[2], gear)),
        )
        .table(
            f"Speed each gear holds where a descent is steepest [{display.speed_unit}]",
            note=_SPEEDS.format(far=f"{digits(display.height(500), 0)} {display.height_unit}"),
        )
    )
