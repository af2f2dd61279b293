"""What the change did to the gearing: effective axle ratio, change, gears."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gearing.findings.final_drive.cruise import CruiseRow, cruise_rows
from gearing.findings.final_drive.gears import GearRow, gear_rows, no_gear_share
from gearing.findings.levels import Level, in_level
from gearing.findings.pooling import PooledLog, difference, pool_side
from gearing.findings.sides import BySide, by_side
from gearing.findings.trip_figures import TripFigures
from gearing.problems import StudyWarning
from gearing.statistics.estimate import Estimate, unknown
from gearing.study.model import Study

NO_ENGINE = (
    "no trip shows engine or output-shaft speed beside a receiver's true speed: log engine speed "
    "(parameter 0C) together with position"
)


@dataclass(frozen=True, slots=True)
class FinalDriveFinding:
    """`effective`: the declared axle ratio and that ratio as the engine now feels it;
    `change_percent`: engine speed at the same true speed and gear, after against before;
    `turns_per_km`: of the output shaft where ratios are declared, else of the engine in the
    highest gear seen; `no_gear_time_share`: of the time on the move with engine speed, what no
    gear holds: neutral, shifting, converter unlocked."""

    effective: BySide[Estimate]
    change_percent: Estimate
    restoring_axle_ratio: Estimate
    turns_per_km: BySide[Estimate]
    turns_of: str | None
    creep_percent_per_mps2: float | None
    gears: tuple[GearRow, ...]
    no_gear_time_share: BySide[float | None]
    cruise: tuple[CruiseRow, ...]
    warnings: tuple[StudyWarning, ...]


def pooled_shift(figures: TripFigures, side: str, level: Level | None = None) -> PooledLog | None:
    """ln turns a metre of one period as it ended, or of an earlier `level` of it."""
    slope = figures.verdicts.slopes.get((side, "shift"), 0.0)
    return pool_side(
        figures.trips.with_columns(in_level(level, "final_drive_used")),
        value="shift",
        error="shift_se",
        used="final_drive_used",
        side=side,
        slope_per_month=slope,
    )


def find_final_drive(study: Study, figures: TripFigures) -> FinalDriveFinding:
    """The answer on gearing from the trips' figures; what cannot be told says why."""
    pooled = by_side(lambda side: pooled_shift(figures, side))
    change = _change(study, pooled, figures.comb.why or NO_ENGINE)
    gears = gear_rows(study, figures, pooled)
    ratio = study.vehicle.axle_ratio
    return FinalDriveFinding(
        effective=_effective(ratio, change),
        change_percent=change,
        restoring_axle_ratio=_restoring(ratio, change),
        turns_per_km=by_side(lambda side: _turns(figures, pooled.of(side))),
        turns_of=_turns_of(figures),
        creep_percent_per_mps2=100 * figures.comb.creep if figures.comb.creep else None,
        gears=gears,
        no_gear_time_share=by_side(lambda side: no_gear_share(gears, side)),
        cruise=cruise_rows(study.units, gears, figures.driven),
        warnings=_warnings(figures),
    )


def _change(study: Study, pooled: BySide[PooledLog | None], nothing: str) -> Estimate:
    if pooled.before is None and pooled.after is None:
        return unknown(nothing)
    if pooled.before is None or pooled.after is None:
        missing = "before" if pooled.before is None else "after"
        declared = study.before if missing == "before" else study.after
        if declared is None:
            return unknown(f"the study has no [{missing}] period to compare with")
        return unknown(f"no trip of the {missing} period shows engine and true speed together")
    both = difference(pooled.after, pooled.before)
    return both.estimate().map(lambda factor: 100 * (factor - 1))


def _effective(ratio: float | None, change: Estimate) -> BySide[Estimate]:
    if ratio is None:
        why = unknown("the study gives no axle_ratio")
        return BySide(why, why)
    before = Estimate(ratio, ratio, ratio, None, "as declared")
    if not change.known:
        return BySide(before, unknown(change.why or "the change is not known"))
    return BySide(before, change.map(lambda percent: ratio * (1 + percent / 100)))


def _restoring(ratio: float | None, change: Estimate) -> Estimate:
    if ratio is None:
        return unknown("the study gives no axle_ratio")
    if not change.known:
        return unknown(change.why or "the change is not known")
    return change.map(lambda percent: ratio / (1 + percent / 100))


def _turns_of(figures: TripFigures) -> str | None:
    if figures.comb.source is None:
        return None
    return "output shaft" if figures.comb.absolute else "engine in the highest gear seen"


def _turns(figures: TripFigures, pooled: PooledLog | None) -> Estimate:
    if pooled is None:
        return unknown(NO_ENGINE)
    top = 0.0 if figures.comb.absolute else min(figures.comb.teeth)
    return pooled.estimate().map(lambda turns: 1000 * turns * float(np.exp(top)))


def _warnings(figures: TripFigures) -> tuple[StudyWarning, ...]:
    found = []
    if figures.comb.ratios_fit is False:
        found.append(
            StudyWarning(
                "gear-ratios-do-not-fit",
                "The engine's turns a distance do not fall on the gear ratios the study gives; "
                "they were laid aside and the gears numbered as found, lowest first. The change "
                "does not rest on the ratios.",
            )
        )
    return tuple(found)
