"""Tables of the gearing and of what the road model rests on."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits, signed
from gearing.report.evidence.physics import TWO_FITS
from gearing.report.phrases import capital, said, shown
from gearing.report.reader import NEWEST_FIRST, sides_of
from gearing.report.tables import Grid, Table

if TYPE_CHECKING:
    from collections.abc import Callable

    from gearing.analysis.final_drive.gears import GearRow, GearUse
    from gearing.analysis.mountain.result import ClimbSide, Cruise
    from gearing.results.record import Results

    Gears = Grid[GearRow]

_ANY_ROAD_PERCENT = 30.0  # of grade: no road for heavy vehicles is as steep
_NUMBERED = "The study gives no gear ratios, so gears are numbered as found, the lowest first."


def cruise_table(results: Results, display: Display) -> Table:
    """Level road in the highest gear, and the headwind that costs it."""
    cruises = [
        (display.tires(side), row)
        for side in NEWEST_FIRST
        for row in results.mountain.cruise.of(side)
    ]

    def remark(row: Cruise) -> str:
        """Whether the engine turns too slowly."""
        return "lugging" if row.lugging else "below peak torque" if row.below_peak_torque else ""

    def wind(row: Cruise) -> str:
        """The headwind at which a gear is lost."""
        kmh = row.headwind_for_downshift_kmh
        return "none found" if kmh is None else shown(kmh, 0, display.speed)

    unit = display.speed_unit
    return (
        Grid(sorted(cruises, key=lambda row: row[1].speed_kmh))
        .words(f"Speed [{unit}]", lambda row: shown(row[1].speed_kmh, 0, display.speed))
        .words(display.word("Tires"), lambda row: row[0])
        .words("Remark", lambda row: remark(row[1]))
        .figure("Gear", lambda row: row[1].gear)
        .figure("Engine [rpm]", lambda row: row[1].engine_rpm)
        .figure("Load [%]", lambda row: row[1].load_percent)
        .told(f"Headwind that costs a gear [{unit}]", lambda row: wind(row[1]))
        .table("Level cruise in the highest gear")
    )


def logged_climb_table(results: Results, display: Display) -> Table:
    """Hills that the logs themselves hold, what was driven on them, and what the model has."""
    found = results.mountain
    seen = [
        (display.tires(side), hill, drive)
        for hill in (*found.climbs, *found.logged_descents)
        for side, drive in sides_of(hill, NEWEST_FIRST)
    ]
    unit, warm = display.temperature_unit, display.temperature

    def beside(drive: ClimbSide, key: str, turn: Callable[[float], float] | None = None) -> str:
        """A figure of the logs and of the model."""
        model = None if drive.model is None else getattr(drive.model, key)
        return f"{shown(getattr(drive, key), 0, turn)} / {shown(model, 0, turn)}"

    slowest = f"Slowest [{display.speed_unit}]"
    oil = f"Highest transmission oil [{unit}]"
    return (
        Grid(seen)
        .words("Hill", lambda row: row[1].name)
        .words(display.word("Tires"), lambda row: row[0])
        .figure("Passes", lambda row: row[2].traversals)
        .told("Mean grade [%]", lambda row: signed(row[1].mean_grade_percent))
        .told(slowest, lambda row: beside(row[2], "lowest_speed_kmh", display.speed))
        .told("Downshifts, all", lambda row: beside(row[2], "downshifts"))
        .told("Usual gear", lambda row: beside(row[2], "gear"))
        .percent("At full load", lambda row: row[2].full_load_share)
        .figure(f"Highest coolant [{unit}]", lambda row: row[2].peak_coolant_c, 0, warm)
        .figure(oil, lambda row: row[2].peak_transmission_oil_c, 0, warm)
        .table(
            "Hills in the logs, and the road model driven over them",
            note="Logs / model, each of one drive over the hill: of the logs the median of all "
            "passes. A downshift: a lower gear from one piece of road to the next, whether the "
            "engine pulls or not.",
        )
    )


def gear_table(results: Results, display: Display) -> Table:
    """Gears with their ratio, engine turns per distance, and how they were used."""
    unit = "turns per mile" if display.us else "turns per km"

    def use(row: GearRow, side: str) -> GearUse:
        """What is known of a gear in one period."""
        return row.before if side == "before" else row.after

    def share(what: str, of: Callable[[GearUse], float | None]) -> Callable[[Gears, str], Gears]:
        """How much one period used each gear."""
        return lambda grid, side: grid.percent(
            f"{what}, {display.tires(side)}", lambda row: of(use(row, side))
        )

    def turns(grid: Gears, side: str) -> None:
        """Engine turns a distance in one period."""
        head = f"Turns, {display.tires(side)}"
        grid.figure(head, lambda row: use(row, side).rev_per_km, 0, display.revolutions)

    return (
        Grid(results.gears)
        .words("Gear", lambda row: str(row.gear))
        .figure("Ratio", lambda row: row.ratio, 2)
        .each(NEWEST_FIRST, turns)
        .each(NEWEST_FIRST, share("Time", lambda one: one.time_share))
        .each(NEWEST_FIRST, share("Distance", lambda one: one.distance_share))
        .table(
            f"Gears: engine {unit}, and how much of the time and distance each gear was in use",
            note="" if all(row.labelled for row in results.gears) else _NUMBERED,
        )
    )


def start_table(results: Results, display: Display) -> Table:
    """The steepest grade the vehicle sets off on, unless it is beyond all roads."""
    starts = results.mountain.startability_percent
    known = [(side, found.low or found.value) for side, found in sides_of(starts) if found.value]
    return (
        Grid(side for side, low in known[::-1] if (low or 0.0) < _ANY_ROAD_PERCENT)
        .words(display.word("Tires"), display.tires)
        .spread("Grade", starts.of, 1)
        .table(
            "Startability: steepest grade it sets off on [%]",
            note="By torque alone: the grip of the drive tires, which may give out far sooner, is "
            "not looked at.",
        )
    )


@dataclass(frozen=True, slots=True)
class ModelInput:
    """One thing the road model rests on, in finished strings."""

    name: str
    source: str
    unit: str
    value: str
    span: str


def model_inputs(results: Results, display: Display) -> list[ModelInput]:
    """What the road model rests on, as its reader has it."""
    out = []
    for row in results.mountain.parameters:
        turned = [display.plain(one, row.unit) for one in (row.value, row.low, row.high)]
        places = _places(turned[0][0])
        value, low, high = (shown(one, places) for one, _ in turned)
        source = "assumed" if row.assumed else said(row.source)
        name = capital(said(row.label) or row.name)
        out.append(ModelInput(name, source, turned[0][1], value, f"{low} to {high}"))
    return out


def input_table(results: Results, display: Display) -> Table:
    """The table of what the road model rests on."""
    return (
        Grid(model_inputs(results, display))
        .words("What", lambda row: row.name)
        .words("From", lambda row: row.source)
        .words("Unit", lambda row: row.unit)
        .told("Value", lambda row: row.value)
        .told("Range", lambda row: row.span)
        .table("What the road model rests on", note=TWO_FITS if results.fuel.physics else "")
    )


def check_remark(results: Results, display: Display) -> str:
    """Whether the road model agrees with the logs."""
    check = results.mountain.model_check
    if not check.stretches or check.bias_kmh is None or check.rms_kmh is None:
        return ""
    unit = display.speed_unit
    return (
        f"The road model against the logs: over {digits(check.stretches, 0)} stretches driven at "
        f"full load its speed is off by {signed(display.speed(check.bias_kmh), 1)} {unit} on the "
        f"mean and {digits(display.speed(check.rms_kmh), 1)} {unit} root mean square."
    )


def _places(value: float) -> int:
    """Decimals that show three figures of a value."""
    return 0 if abs(value) >= 100 or value == 0 else max(0, 2 - math.floor(math.log10(abs(value))))
