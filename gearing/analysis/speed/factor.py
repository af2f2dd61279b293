"""The odometer factor of a period: true distance over what the vehicle's computer counts.

Where the computer was reprogrammed, or the tires changed again, inside a period, the factor
stood at one level after another: the period's factor is that of the last, which is in effect
when the period ends, and each level is told beside it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
import polars as pl

from gearing.analysis.levels import Level, in_level
from gearing.analysis.pooling import PooledLog, pool_side
from gearing.analysis.trip_figures import TripFigures
from gearing.messages import message
from gearing.statistics.estimate import Estimate, unknown
from gearing.study.model import Study

NO_RECEIVER = message("factor-unknown/no-receiver")
NOT_DRIVEN = message("not-driven")


@dataclass(frozen=True, slots=True)
class FactorLevel:
    """The factor from trip `since` (at `at`) to the next level or the period's end."""

    since: str
    at: datetime
    trips: int
    odometer_factor: Estimate


def factor_levels(study: Study, figures: TripFigures, side: str) -> tuple[FactorLevel, ...]:
    """In order of time: one where the factor never stepped, none where it is not known."""
    return tuple(
        FactorLevel(
            level.since, level.at, len(level.trips), odometer_factor(study, figures, side, level)
        )
        for level in figures.verdicts.levels_of(side, "factor")
    )


def first_level(figures: TripFigures, side: str, figure: str) -> Level | None:
    """The first of several levels; None where the figure never stepped."""
    levels = figures.verdicts.levels_of(side, figure)
    return levels[0] if len(levels) > 1 else None


def pooled_factor(
    figures: TripFigures, side: str, which: str = "", level: Level | None = None
) -> PooledLog | None:
    """ln of the factor of one period, or of a `level` of it no longer in effect; `which` "_cut"
    or "_rounded" for either way of rounding."""
    column = f"odometer_factor{which}"
    trips = figures.trips.with_columns(
        pl.col(column).log().alias("log_factor"),
        in_level(level, "factor_used"),
    )
    pooled = pool_side(
        trips,
        value="log_factor",
        error="odometer_factor_se",
        used="factor_used",
        side=side,
        by_distance=True,
        slope_per_month=figures.verdicts.slopes.get((side, "factor"), 0.0),
    )
    if pooled is None:
        return None
    used = trips.filter((pl.col("side") == side) & pl.col("used") & pl.col("factor_used"))["trip"]
    common = figures.rounding.shared_error(used.to_list())
    return replace(pooled, shared=float(np.hypot(pooled.shared, common)))


def odometer_factor(
    study: Study, figures: TripFigures, side: str, level: Level | None = None
) -> Estimate:
    """The period's factor, or a level's; where rounding is unsettled its interval covers both."""
    if study.period(side) is None:
        return unknown(message("no-period", after=side == "after"))
    driven = figures.trips["side"]
    if not (driven == side).any() and not driven.is_empty():
        return unknown(NOT_DRIVEN)
    if figures.rounding.of(side).settled:
        pooled = pooled_factor(figures, side, level=level)
        return pooled.estimate() if pooled is not None else unknown(NO_RECEIVER)
    ends = [pooled_factor(figures, side, which, level) for which in ("_cut", "_rounded")]
    middle = pooled_factor(figures, side, level=level)
    if middle is None or ends[0] is None or ends[1] is None:
        return unknown(NO_RECEIVER)
    low = min(end.interval()[0] for end in ends if end is not None)
    high = max(end.interval()[1] for end in ends if end is not None)
    return Estimate(
        float(np.exp(middle.value)),
        float(np.exp(low)),
        float(np.exp(high)),
        middle.n,
        f"both-quantizations-{middle.unit}",
    )
