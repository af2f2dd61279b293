"""The answer on gearing, put together."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from gearing.analysis.final_drive.cruise import CruiseRow, cruise_rows
from gearing.analysis.final_drive.gears import GearRow, gear_rows, no_gear_share
from gearing.analysis.identification import Identification
from gearing.analysis.levels import Level, in_level
from gearing.analysis.pooling import PooledLog, cut_or_rounded, difference, pool_side
from gearing.analysis.sides import BySide, by_side
from gearing.analysis.trip_figures import TripFigures
from gearing.messages import Items, Message, Quantity, Span, StudyWarning, Text, message, warning
from gearing.statistics.estimate import NORMAL_95, Estimate, product, unknown
from gearing.study.model import Study

SURE, MAX_AXLE_OPEN = 0.99, 0.02  # of an axle ratio, in logs, what logs may leave open
MAX_WIDTH = 0.03  # of what the readings of the gears leave open, in logs; wider is no answer
NO_ENGINE = message("final-drive-unknown/no-engine")


@dataclass(frozen=True, slots=True)
class FinalDriveFinding:
    """`effective`: the declared axle ratio and that ratio as the engine now feels it;
    `change_percent`: engine speed at the same true speed and gear, after against before;
    `revolutions_per_km`: of the output shaft where ratios are declared, else of the engine in the
    highest gear seen; `no_gear_time_share`: of the time on the move with engine speed, what no
    gear holds: neutral, shifting, converter unlocked."""

    effective: BySide[Estimate]
    change_percent: Estimate
    restoring_axle_ratio: Estimate
    revolutions_per_km: BySide[Estimate]
    revolutions_of: Message | None
    wheel_slip_percent_per_mps2: float | None
    gears: tuple[GearRow, ...]
    no_gear_time_share: BySide[float | None]
    cruise: tuple[CruiseRow, ...]
    warnings: tuple[StudyWarning, ...]
    told: Text | None = None  # the change, where declared figures alone tell it


def pooled_axle_turns(
    figures: TripFigures, side: str, level: Level | None = None
) -> PooledLog | None:
    """log_axle_turns of one period as it ended, or of an earlier `level` of it."""
    slope = figures.verdicts.slopes.get((side, "log_axle_turns"), 0.0)
    return pool_side(
        figures.trips.with_columns(in_level(level, "final_drive_used")),
        value="log_axle_turns",
        error="log_axle_turns_se",
        used="final_drive_used",
        side=side,
        slope_per_month=slope,
    )


def find_final_drive(study: Study, figures: TripFigures) -> FinalDriveFinding:
    """The answer on gearing from the trips' figures; what cannot be told says why."""
    pooled = by_side(lambda side: pooled_axle_turns(figures, side))
    change = _change(study, figures, pooled)
    gears = gear_rows(figures, pooled)
    axle = by_side(lambda side: _axle(study, figures.identification, side))
    return FinalDriveFinding(
        effective=_effective(axle.before, change),
        change_percent=change,
        restoring_axle_ratio=restoring_ratio(axle.after, change),
        revolutions_per_km=by_side(lambda side: _turns(figures, pooled.of(side))),
        revolutions_of=_turns_of(figures),
        wheel_slip_percent_per_mps2=100 * figures.identification.slip or None,
        gears=gears,
        no_gear_time_share=by_side(lambda side: no_gear_share(gears, side)),
        cruise=cruise_rows(study.units, gears, figures.driven),
        warnings=_warnings(figures),
    )


def _change(study: Study, figures: TripFigures, pooled: BySide[PooledLog | None]) -> Estimate:
    found = figures.identification
    if pooled.before is None and pooled.after is None:
        return unknown(found.why or NO_ENGINE)
    if pooled.before is None or pooled.after is None:
        missing = "before" if pooled.before is None else "after"
        if study.period(missing) is None:
            return unknown(message("no-period/to-compare", after=missing == "after"))
        return unknown(message("final-drive-unknown/one-period", after=missing == "after"))
    both = difference(pooled.after, pooled.before)
    half_width = np.hypot(0.5 * float(np.diff(both.interval())[0]), NORMAL_95 * found.link_error)
    used = figures.trips.filter(pl.col("used") & pl.col("final_drive_used"))
    half_width += cut_or_rounded(used, "turns_coarse")
    # trips tell where the gears stand by now; what else is known of the change moves that as it
    # moved the gears, and every reading of them that is likely enough lies in the interval
    moved = both.value - _between(found.level)
    value = found.judgement.change.value + moved
    ends = [end + moved for end in found.judgement.change.interval()]
    low, high = min(value - half_width, ends[0]), max(value + half_width, ends[1])
    if ends[1] - ends[0] > MAX_WIDTH:
        likely = [value, *(rival + moved for rival in found.rivals[:2])]
        changes = tuple(Quantity(100 * float(np.expm1(x)), "%", 1, sign=True) for x in likely)
        return unknown(message("final-drive-unknown/gears", changes=Items(changes, "or")))
    value, low, high = (100 * float(np.expm1(x)) for x in (value, low, high))
    return Estimate(value, low, high, both.n, both.method)


def _between(level: BySide[float | None]) -> float:
    """How far the level of the gears moved between the periods."""
    assert level.before is not None
    assert level.after is not None
    return level.after - level.before


def declared_axle(study: Study, found: Identification, side: str) -> Estimate:
    """The axle ratio of a period as declared; unknown where the logs speak against it."""
    axle, ratio = found.declared.axle.of(side), study.axle_ratio(side)
    if axle is None or ratio is None:
        return unknown(message("no-axle-ratio"))
    doubtful = {axle.key, "after.axle_ratio"} if side == "after" else {axle.key}
    if doubtful & set(found.judgement.contradicted):
        return unknown(message("axle-unknown/contradicted", ratio=Quantity(ratio, "-", 2)))
    if found.ratios_fit is False:
        return unknown(message("axle-unknown/gears", ratio=Quantity(ratio, "-", 2)))
    half = float(np.sqrt(3)) * axle.error * ratio
    return Estimate(ratio, ratio - half, ratio + half, None, "declared")


def _axle(study: Study, found: Identification, side: str) -> Estimate:
    """The declared axle ratio with what the logs leave open of it; unknown where they cannot bear
    it out."""
    declared = declared_axle(study, found, side)
    if declared.value is None or declared.low is None or declared.high is None:
        return declared
    ends = found.judgement.axle[0 if side == "before" else 1].interval(SURE)
    low, high = (float(np.exp(end)) for end in ends)
    if ends[1] - ends[0] > MAX_AXLE_OPEN:
        ratio = Quantity(declared.value, "-", 2)
        span = Span(low, high, "-", 2)
        return unknown(message("axle-unknown/open", ratio=ratio, range=span))
    return replace(declared, low=min(declared.low, low), high=max(declared.high, high))


def _effective(axle: Estimate, change: Estimate) -> BySide[Estimate]:
    if axle.value is None:
        return BySide(axle, axle)
    declared = Estimate(axle.value, axle.value, axle.value, None, "declared")
    return BySide(declared, product(axle, change.map(lambda percent: 1 + percent / 100)))


def restoring_ratio(axle: Estimate, change: Estimate) -> Estimate:
    """The axle ratio that undoes a change of engine speed [%] of vehicles with this one."""
    return product(axle, change.map(lambda percent: 1 / (1 + percent / 100)))


def _turns_of(figures: TripFigures) -> Message | None:
    if figures.identification.source is None:
        return None
    named = figures.identification.named
    return message("turns-of/output-shaft" if named else "turns-of/engine")


def _turns(figures: TripFigures, pooled: PooledLog | None) -> Estimate:
    if pooled is None:
        return unknown(NO_ENGINE)
    found = figures.identification
    top = 0.0 if found.named else min((gear.log_ratio for gear in found.gears), default=0.0)
    return pooled.estimate().map(lambda turns: 1000 * turns * float(np.exp(top)))


def _warnings(figures: TripFigures) -> tuple[StudyWarning, ...]:
    if figures.identification.ratios_fit is not False:
        return ()
    return (warning(message("gear-ratios-do-not-fit"), keys=("vehicle.gear_ratios",)),)
