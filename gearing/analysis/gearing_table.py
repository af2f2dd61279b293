"""Engine speed by gear and road speed, before and after, from what the study declares alone."""

from __future__ import annotations

from dataclasses import dataclass

from gearing.messages import (
    GearingError,
    Message,
    Quantity,
    StudyWarning,
    message,
    problem_of,
    warning,
)
from gearing.study.model import Period, Study, Vehicle
from gearing.units import KMH_MPS
from gearing.vehicle.drivetrain import (
    effective_axle_ratio,
    engine_revolutions_per_km,
    engine_speed_rpm,
    final_drive_change_percent,
    restoring_axle_ratio,
    road_speed_mps,
)
from gearing.vehicle.tire import parse_size

SPEEDS_KMH = (15, 30, 50, 60, 70, 80, 90, 100, 110, 120)
PUBLISHED, SIZE = "published", "size"
# No engine of a heavy road vehicle turns faster: common practice, no source.
DIESEL_RPM, OTHER_RPM = 5000.0, 7000.0


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
    highest_words: Message
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
        missing.append(message("study-missing/axle-ratio"))
    if not study.vehicle.gear_ratios:
        missing.append(message("study-missing/gear-ratios"))
    problems = tuple(problem_of(told, file=str(study.path)) for told in missing)
    if problems or study.vehicle.axle_ratio is None:
        raise GearingError(problems)
    return study.vehicle.axle_ratio


def _side(period: Period | None) -> TableSide | None:
    if period is None:
        return None
    if period.revolutions_per_km is not None:
        return TableSide(period.drive_tire, period.revolutions_per_km, PUBLISHED)
    return TableSide(period.drive_tire, parse_size(period.drive_tire).revolutions_per_km, SIZE)


def _highest_rpm(vehicle: Vehicle) -> tuple[float, Message]:
    """Above which speed [rpm] no figure is given, and why."""
    engine = vehicle.engine
    if engine is not None and engine.governed_rpm is not None:
        governed = engine.governed_rpm
        return governed, message("highest-speed/governed", speed=Quantity(governed, "rpm"))
    if engine is not None:
        end = engine.rpm[-1]
        return end, message("highest-speed/torque-curve", speed=Quantity(end, "rpm"))
    diesel = vehicle.fuel == "diesel"
    most = DIESEL_RPM if diesel else OTHER_RPM
    speed = Quantity(most, "rpm")
    return most, message("highest-speed/any-engine", speed=speed, diesel=diesel)


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
    return (warning(message("mixed-basis", after=after.basis == PUBLISHED)),)
