"""Whole miles an hour that a recorder made of whole kilometres an hour.

SAE J1979 parameter 0D comes in whole km/h. Made whole mph, 100 km/h become 62 values: some
stand for two km/h and some for one, so that they are met in turn twice as often and once. That
pattern is told from the times each value was met, and it is another where the miles were cut
than where they were rounded.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import polars as pl

from gearing.trips.record import TripRecord
from gearing.units import KMH_MPS, MPH_MPS

Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
Ways = tuple[float, float]

KMH_MPH = KMH_MPS / MPH_MPS
ONCE: Ways = (0.0, 0.5)  # share of a unit hidden by rounding, by a cut
# the same of miles, and what km/h that were cut hid before
ROUNDED_OF_KMH: Ways = (0.0, KMH_MPH / 2)
CUT_OF_KMH: Ways = (0.5, 0.5 + KMH_MPH / 2)
# variance within such a mile, to that within one: 0.76 of km/h share it with another
SPREAD_OF_KMH = KMH_MPH**2 * (1 + 3 * 2 * (1 - KMH_MPH))
LEAST_VALUES = 12
LEAST_ROWS = 20.0  # at a value, to say how often it was met
DECIDED = np.log(200.0)


def ways_of(records: Sequence[TripRecord]) -> Ways:
    """The least and the most of a unit that records on one grid can hide."""
    if records[0].grid.unit != "mph":
        return ONCE
    met = (
        pl.concat([record.lines for record in records], rechunk=True)
        .filter(pl.col("tooth") < 0)
        .group_by("whole", maintain_order=True)
        .agg(pl.col("count").sum())
        .sort("whole")
    )
    return ways_by_rows(met["whole"].to_numpy(), met["count"].to_numpy())


def ways_by_rows(whole: np.ndarray, rows: Array) -> Ways:
    """`rows` is how many were logged at each whole mph: shapes (n,), ascending.

    A smooth run of speeds leaves neighbours about alike; each value is held against the two
    beside it, and the pattern that leaves the least, by odds of 200, is the one. Where a driver
    holds speeds it may be seen once in ten times where it is not; what miles made at once hide
    is among its two ways all the same.
    """
    often = np.zeros(int(whole.max(initial=0)) + 2)
    often[whole] = rows
    inner = np.arange(1, len(often) - 1)
    known = np.minimum(np.minimum(often[inner - 1], often[inner]), often[inner + 1]) >= LEAST_ROWS
    if np.count_nonzero(known) < LEAST_VALUES:
        return ONCE
    seen = _bend(np.log(np.maximum(often, 1e-9)))[known]
    left = {ONCE: float(seen @ seen)}
    for ways in (CUT_OF_KMH, ROUNDED_OF_KMH):
        each, _ = _kmh_in(ways, len(often))
        off = seen - _bend(np.log(each))[known]
        left[ways] = float(off @ off)
    best, second = sorted(left, key=lambda ways: left[ways])[:2]
    sure = np.count_nonzero(known) / 2 * np.log(left[second] / max(left[best], 1e-12)) > DECIDED
    return best if sure else ONCE


def of_kmh(lines: pl.DataFrame, ways: Ways) -> pl.DataFrame:
    """A record's `lines`, `whole` where the km/h lie that a value was made of, less the least that
    is hidden: up to a fifth of a mile off the whole number, and the same wherever that is met."""
    if ways == ONCE:
        return lines
    whole = lines["whole"].to_numpy()
    _, middle = _kmh_in(ways, int(whole.max(initial=0)) + 1)
    return lines.with_columns(pl.Series("whole", middle[whole] - ways[0], dtype=pl.Float64))


def off_whole(lines: pl.DataFrame) -> float:
    """How far off its whole numbers a trip was on the mean, in miles: 0 but for `of_kmh`."""
    met = lines.filter(pl.col("tooth") < 0)
    if met.height == 0:
        return 0.0
    whole, rows = met["whole"].to_numpy(), met["count"].to_numpy()
    return float(((whole - np.round(whole)) * rows).sum() / rows.sum())


def _kmh_in(ways: Ways, values: int) -> tuple[Array, Array]:
    """How many whole km/h become each whole mph from 0 on, and their mean in mph."""
    mph = np.arange(int(values / KMH_MPH) + 3) * KMH_MPH
    made = (mph + (0.5 if ways == ROUNDED_OF_KMH else 0.0)).astype(np.int64)
    each = np.bincount(made)[:values].astype(np.float64)
    return each, np.bincount(made, mph)[:values] / each


def _bend(values: Array) -> Array:
    return np.asarray(values[1:-1] - (values[:-2] + values[2:]) / 2)
