"""The odometer factor of a period: true distance over what the vehicle's computer counts."""

from __future__ import annotations

import numpy as np
import polars as pl

from gearing.findings.pooling import PooledLog, pool_side
from gearing.findings.trip_figures import TripFigures
from gearing.statistics.estimate import Estimate, unknown
from gearing.study.model import Study

NO_RECEIVER = (
    "no trip of this period has a receiver's speed or position beside the indicated speed: log "
    "both, or declare a measured distance"
)
ADVICE = (
    "whether the logged speed is cut or rounded to whole units cannot be told, and the two differ "
    "by half a unit: the interval covers both; ten minutes at three speeds 20 km/h apart settle it"
)


def pooled_factor(figures: TripFigures, side: str, which: str = "") -> PooledLog | None:
    """ln of the factor of one period; `which` "_cut" or "_rounded" for either way of rounding."""
    column = f"odometer_factor{which}"
    trips = figures.trips.with_columns(pl.col(column).log().alias("log_factor"))
    return pool_side(
        trips,
        value="log_factor",
        error="odometer_factor_se",
        used="factor_used",
        side=side,
        by_distance=True,
        slope_per_month=figures.verdicts.slopes.get((side, "factor"), 0.0),
    )


def odometer_factor(study: Study, figures: TripFigures, side: str) -> Estimate:
    """The period's factor; where rounding is unsettled its interval covers both ways."""
    if (study.before if side == "before" else study.after) is None:
        return unknown(f"the study has no [{side}] period")
    if figures.rounding.of(side).settled:
        pooled = pooled_factor(figures, side)
        return pooled.estimate() if pooled is not None else unknown(NO_RECEIVER)
    ends = [pooled_factor(figures, side, which) for which in ("_cut", "_rounded")]
    middle = pooled_factor(figures, side)
    if middle is None or ends[0] is None or ends[1] is None:
        return unknown(NO_RECEIVER)
    low = min(end.interval()[0] for end in ends if end is not None)
    high = max(end.interval()[1] for end in ends if end is not None)
    return Estimate(
        float(np.exp(middle.value)),
        float(np.exp(low)),
        float(np.exp(high)),
        middle.n,
        f"{middle.method}, cut or rounded",
    )
