"""Engine speed by gear and road speed, before and after, from what the study declares alone."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

from gearing.messages import GearingError, Problem, Severity, StudyWarning
from gearing.study.model import Period, Study, Vehicle
from gearing.units import KMH_MPS, convert
from gearing.vehicle.drivetrain import (
    effective_axle_ratio,
    engine_revolutions_per_km,
    engine_speed_rpm,
    final_drive_change_percent,
    restoring_axle_ratio,
    road_speed_mps,
)
from gearing.vehicle.tire import parse_size

SPEEDS_MPH = (10, 20, 30, 40, 50, 55, 60, 65, 70, 75)
SPEEDS_KMH = (15, 30, 50, 60, 70, 80, 90, 100, 110, 120)
PUBLISHED, SIZE = "published", "size"
# No engine of a heavy road vehicle turns faster: common practice, no source.
DIESEL_RPM, OTHER_RPM = 5000.0, 7000.0
TEXT_WIDTH = 92


@dataclass(frozen=True, slots=True)
class TableSide:
    """The drive tires of one period: turns a km, and whether published or from the size."""

    drive_tire: str
    revolutions_per_km: float
    basis: str


@dataclass(frozen=True, slots=True)
class GearFigures:
    """One gear on one period's tires; `engine_rpm` is at `GearingTable.speeds_kmh`, None above
    its `highest_rpm`."""

    engine_revolutions_per_km: float
    kmh_per_1000_rpm: float
    engine_rpm: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class GearRow:
    gear: int
    ratio: float
    before: GearFigures | None
    after: GearFigures | None


@dataclass(frozen=True, slots=True)
class GearingTable:
    """Gears in the order of the study. Changes are after against before, in percent.

    What compares the periods is None where the study declares one alone. `highest_rpm` is the
    governed speed, else where the torque curve ends, else more than any such engine turns.
    """

    axle_ratio: float
    governed_rpm: float | None
    highest_rpm: float
    highest_words: str
    before: TableSide | None
    after: TableSide | None
    speeds_kmh: tuple[float, ...]
    gears: tuple[GearRow, ...]
    engine_speed_change_percent: float | None
    effective_axle_ratio: float | None
    restoring_axle_ratio: float | None
    warnings: tuple[StudyWarning, ...]


def gearing_table(study: Study) -> GearingTable:
    """The table from axle ratio, gear ratios and the drive tires' turns a km.

    Raises
    ------
    GearingError
        naming what the study must declare for it.
    """
    usual = _declared_axle_ratio(study)
    axle_ratio = study.axle_ratio("before") or usual
    axle_after = study.axle_ratio("after") or axle_ratio
    before, after = _side(study.before), _side(study.after)
    both = before is not None and after is not None
    highest, words = _highest_rpm(study.vehicle)
    change = effective = restoring = None
    if before is not None and after is not None:
        turns = before.revolutions_per_km, after.revolutions_per_km
        # of the new tires and, where it was changed, of the new axle
        felt = before.revolutions_per_km, after.revolutions_per_km * axle_after / axle_ratio
        change = final_drive_change_percent(*felt)
        effective = effective_axle_ratio(axle_ratio, *felt)
        restoring = restoring_axle_ratio(axle_ratio, *turns)
    return GearingTable(
        axle_ratio=axle_ratio,
        governed_rpm=study.vehicle.engine.governed_rpm if study.vehicle.engine else None,
        highest_rpm=highest,
        highest_words=words,
        before=before,
        after=after,
        speeds_kmh=tuple(float(speed) for speed in SPEEDS_KMH),
        gears=tuple(
            GearRow(
                gear,
                ratio,
                _gear(before, axle_ratio, ratio, highest),
                _gear(after, axle_after, ratio, highest),
            )
            for gear, ratio in enumerate(study.vehicle.gear_ratios, start=1)
        ),
        engine_speed_change_percent=change,
        effective_axle_ratio=effective,
        restoring_axle_ratio=restoring,
        warnings=_warnings(before, after) if both else (),
    )


def _declared_axle_ratio(study: Study) -> float:
    missing = []
    if study.vehicle.axle_ratio is None:
        missing.append(("axle_ratio", "axle_ratio = 4.88"))
    if not study.vehicle.gear_ratios:
        missing.append(("gear_ratios", "gear_ratios = [3.51, 1.91, 1.43, 1.00, 0.74, 0.64]"))
    problems = tuple(
        Problem(
            code="study-missing",
            severity=Severity.ERROR,
            file=str(study.path),
            told=f"the gearing table needs {key} in [vehicle].",
            fix=f"Add the maker's figures, as in {example}",
        )
        for key, example in missing
    )
    if problems or study.vehicle.axle_ratio is None:
        raise GearingError(problems)
    return study.vehicle.axle_ratio


def _side(period: Period | None) -> TableSide | None:
    if period is None:
        return None
    if period.revolutions_per_km is not None:
        return TableSide(period.drive_tire, period.revolutions_per_km, PUBLISHED)
    return TableSide(period.drive_tire, parse_size(period.drive_tire).revolutions_per_km, SIZE)


def _highest_rpm(vehicle: Vehicle) -> tuple[float, str]:
    """Above which speed [rpm] no figure is given, and in words why."""
    engine = vehicle.engine
    if engine is not None and engine.governed_rpm is not None:
        return engine.governed_rpm, f"the governed {engine.governed_rpm:.0f} rpm."
    if engine is not None:
        end = engine.rpm[-1]
        return end, (
            f"{end:.0f} rpm, where the torque curve ends. If the engine turns faster, declare "
            "governed_rpm in [vehicle.engine]."
        )
    diesel = vehicle.fuel == "diesel"
    most, kind = (DIESEL_RPM, "diesel engine") if diesel else (OTHER_RPM, "engine")
    return most, (
        f"{most:.0f} rpm, faster than any such {kind} turns. For this engine's own end declare "
        "torque_curve and governed_rpm in [vehicle.engine]."
    )


def _gear(
    side: TableSide | None, axle_ratio: float, ratio: float, highest_rpm: float
) -> GearFigures | None:
    if side is None:
        return None
    turns = side.revolutions_per_km
    speeds = [engine_speed_rpm(kmh * KMH_MPS, turns, axle_ratio, ratio) for kmh in SPEEDS_KMH]
    return GearFigures(
        engine_revolutions_per_km=engine_revolutions_per_km(turns, axle_ratio, ratio),
        kmh_per_1000_rpm=road_speed_mps(1000.0, turns, axle_ratio, ratio) / KMH_MPS,
        engine_rpm=tuple(rpm if rpm <= highest_rpm else None for rpm in speeds),
    )


def _warnings(before: TableSide | None, after: TableSide | None) -> tuple[StudyWarning, ...]:
    if before is None or after is None:
        return ()
    if before.basis == after.basis:
        return ()
    published, size = ("before", "after") if before.basis == PUBLISHED else ("after", "before")
    return (
        StudyWarning(
            "mixed-basis",
            f"Revolutions are a published figure {published} and follow from the size {size}: "
            "the two may differ by 2.5 % on one and the same tire, and so may the change. Give "
            f"revolutions_per_mile in [{size}] too.",
        ),
    )


def as_text(table: GearingTable, units: str) -> str:
    """The table for the terminal, in US or metric units."""
    us = units == "us"
    unit = "mph" if us else "km/h"
    speeds = SPEEDS_MPH if us else SPEEDS_KMH
    lines = [_tire_line(name, side, us=us) for name, side in _sides(table)]
    lines.append(f"Axle ratio {table.axle_ratio:.2f}")
    head = f"{'gear':<6}{'ratio':>6}  {'tires':<8}{f'{unit}/1000 rpm':>14}"
    lines += ["", f"Engine speed in rpm, converter locked, at true {unit}:", ""]
    lines.append(head + "".join(f"{speed:>6}" for speed in speeds))
    left_out = False
    for row in table.gears:
        for name, figures in (("before", row.before), ("after", row.after)):
            if figures is None:
                continue
            first = name == "before" or row.before is None
            label = f"{row.gear:<6}{row.ratio:>6.2f}" if first else " " * 12
            per_1000 = convert(figures.kmh_per_1000_rpm, "km/h", unit)
            cells = [1000 * speed / per_1000 for speed in speeds]
            left_out = left_out or max(cells) > table.highest_rpm
            shown = "".join(f"{_cell(cell, table.highest_rpm):>6}" for cell in cells)
            lines.append(f"{label}  {name:<8}{per_1000:>14.1f}{shown}")
    lines.append("")
    if left_out:
        lines.append(textwrap.fill(f"- is above {table.highest_words}", TEXT_WIDTH))
    return "\n".join(lines + _closing(table))


def _sides(table: GearingTable) -> list[tuple[str, TableSide]]:
    sides = (("Before", table.before), ("After", table.after))
    return [(name, side) for name, side in sides if side is not None]


def _tire_line(name: str, side: TableSide, *, us: bool) -> str:
    turns = convert(side.revolutions_per_km, "1/km", "1/mi" if us else "1/km")
    basis = "published" if side.basis == PUBLISHED else "from the size; published is better"
    per = "mile" if us else "km"
    return f"{name:<7} {side.drive_tire}, {turns:.0f} revolutions per {per} ({basis})"


def _cell(rpm: float, highest_rpm: float) -> str:
    return f"{rpm:.0f}" if rpm <= highest_rpm else "-"


def _closing(table: GearingTable) -> list[str]:
    lines = []
    if table.engine_speed_change_percent is not None:
        change = f"{table.engine_speed_change_percent:+.1f}".replace("-", "\N{MINUS SIGN}")
        lines += [
            f"Engine speed at the same road speed and gear: {change} %.",
            f"The axle ratio of {table.axle_ratio:.2f} now acts as "
            f"{table.effective_axle_ratio:.2f}; an axle ratio of {table.restoring_axle_ratio:.2f} "
            "would bring the old gearing back.",
        ]
    else:
        lines.append("Declare both [before] and [after] to see what the change did.")
    lines += [warning.text for warning in table.warnings]
    return [textwrap.fill(line, TEXT_WIDTH) for line in lines]
