"""Both periods at one logging interval: what a slow row misses of speeding up and slowing down, it
then misses in both.

A row each five seconds sees a twelfth less of the work of speeding up than a row a second, which
passes for some 2 % more fuel at equal driving: more than most changes of tires make.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from gearing.statistics.arrays import Array
    from gearing.trips.record import TripRecord

SELDOM_S = 2.0  # intervals below it miss too little to matter
ALIKE = 1.25  # intervals that differ by less are alike
MOST = 0.75  # of a period's road is logged at its interval or oftener


def every(samples: pl.DataFrame, interval_s: float) -> pl.DataFrame:
    """One row in each `interval_s`, as a recorder that writes so seldom has it: the first known
    value of each channel, for two recorders' rows may lie between one another."""
    number = pl.col("time").dt.epoch("us") // round(1e6 * interval_s)
    return (
        samples.group_by(number.alias("number"), maintain_order=True)
        .agg(pl.all().drop_nulls().first())
        .drop("number")
    )


def common_interval_s(records: Sequence[TripRecord]) -> float:
    """The interval at which the periods' drives with fuel are alike; 0 where they are as logged.

    The longer of the two periods' own, which is the one that three quarters of the road are
    logged at or oftener.
    """
    own: list[float] = []
    for side in ("before", "after"):
        driven = [r for r in records if r.side == side and r.liters is not None and r.true_m > 0]
        if not driven:
            return 0.0
        intervals, ways = np.array([(r.interval_s, r.true_m) for r in driven]).T
        own.append(interval_of(intervals, ways, share=MOST))
    longer = max(own)
    finer = any(r.interval_s * ALIKE < longer for r in records if r.liters is not None)
    return longer if longer >= SELDOM_S and finer else 0.0


def interval_of(intervals: Array, weights: Array, *, share: float) -> float:
    """The interval that so much of the weight is logged at or oftener; 0 without any weight."""
    if not weights.sum() > 0:
        return 0.0
    return float(np.quantile(intervals, share, weights=weights, method="inverted_cdf"))
