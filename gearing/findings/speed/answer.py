"""All parts of the speed answer put together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gearing.findings.outliers import ChangePoint, Drift
from gearing.findings.rounding import Rounding
from gearing.findings.sides import BySide, by_side
from gearing.findings.speed.factor import ADVICE, odometer_factor
from gearing.findings.speed.rules import Rule, rule_rows
from gearing.findings.speed.turns import Programmed, Turns, programmed, tire_turns
from gearing.findings.trip_figures import TripFigures
from gearing.problems import StudyWarning
from gearing.statistics.estimate import Estimate
from gearing.study.model import Study
from gearing.trips.record import TripRecord
from gearing.units import KMH_MPS, MILE_M


@dataclass(frozen=True, slots=True)
class SpeedRow:
    """What an indicated speed means."""

    indicated_kmh: float
    true_kmh: BySide[float | None]


@dataclass(frozen=True, slots=True)
class SpeedFinding:
    odometer_factor: BySide[Estimate]
    rounding: BySide[Rounding]
    table: tuple[SpeedRow, ...]
    revolutions_per_km: BySide[Turns]
    programmed_revolutions_per_km: Programmed
    rules: tuple[Rule, ...]
    misfiled: tuple[str, ...]
    change_points: tuple[ChangePoint, ...]
    drifts: tuple[Drift, ...]
    warnings: tuple[StudyWarning, ...]


def find_speed(study: Study, records: Sequence[TripRecord], figures: TripFigures) -> SpeedFinding:
    """The speed answer; what cannot be told says why."""
    factor = by_side(lambda side: odometer_factor(study, figures, side))
    turns = by_side(lambda side: tire_turns(study, figures, side))
    return SpeedFinding(
        odometer_factor=factor,
        rounding=figures.rounding.sides,
        table=_table(study, factor),
        revolutions_per_km=turns,
        programmed_revolutions_per_km=programmed(study, factor, turns),
        rules=rule_rows(study, records, factor),
        misfiled=figures.verdicts.misfiled,
        change_points=figures.verdicts.change_points,
        drifts=figures.verdicts.drifts,
        warnings=(*figures.warnings, *_warnings(figures, factor)),
    )


def _table(study: Study, factor: BySide[Estimate]) -> tuple[SpeedRow, ...]:
    """Every 10 km/h, or every 5 mph for readers who have miles."""
    if study.units == "us":
        speeds = [5 * i * MILE_M / 1000 for i in range(4, 17)]
    else:
        speeds = [10.0 * i for i in range(3, 13)]

    def true(speed: float, side: str) -> float | None:
        value = factor.of(side).value
        return None if value is None else speed * value

    return tuple(SpeedRow(v, BySide(true(v, "before"), true(v, "after"))) for v in speeds)


def _warnings(figures: TripFigures, factor: BySide[Estimate]) -> list[StudyWarning]:
    found = []
    for side in ("before", "after"):
        rounding = figures.rounding.of(side)
        if not rounding.settled and factor.of(side).known:
            found.append(StudyWarning("rounding-unsettled", f"Period {side}: {ADVICE}."))
    return found


def kmh(speed_mps: float) -> float:
    return speed_mps / KMH_MPS
