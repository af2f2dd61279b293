"""Each day's wind, told from the fuel itself: what it adds one way it takes off the other.

A road driven out and back, or any trip that turns, shows the day's wind in the contrast
between courses. The wind of a day is a vector with a normal prior about the weather file's (or
about none); each day has its own level and each stretch of road its own factor, so that the
contrast alone is used and nothing of what is on trial. What all days of a side share in how
their fuel goes with the road (a tire that rolls easier, fewer revolutions, a drag area assumed
too small) is taken out first: it is no day's wind.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.fuel.learn import without_day
from gearing.analysis.fuel.physics import slopes, wind_slopes
from gearing.analysis.fuel.ranges import Ranges
from gearing.statistics.arrays import sum_by
from gearing.statistics.posterior import huber_weights

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.analysis.fuel.days import Table
    from gearing.analysis.fuel.rows import Rows
    from gearing.statistics.arrays import Array, Index

DESIGN_EFFECT = 3.0  # pairs of cell and day are not independent
LARGEST_MPS = 8.0
FIRST_ROUNDS, LATER_ROUNDS = 4, 2
# in these a side may depart from what was assumed: rolling, engine and air
SHARED = ("rolling", "overhead", "drag_area")


@dataclass(frozen=True, slots=True)
class DailyWind:
    """`vectors` (days, 2: from east, from north) to be added to each day's wind [m/s];
    `spread` (days,) the variance each way of what is still not known of it."""

    vectors: Array
    spread: Array


def with_wind(rows: Rows, wind: DailyWind) -> Rows:
    """Rows with each day's wind added, and what is not known of it."""
    east, north = wind.vectors[rows.day, 0], wind.vectors[rows.day, 1]
    return replace(
        rows,
        wind_spread=wind.spread[rows.day],
        head_mps=rows.head_mps + east * rows.east + north * rows.north,
        cross_mps=rows.cross_mps + east * rows.north - north * rows.east,
    )


def without_side_difference(wind: DailyWind, after: NDArray[np.bool_]) -> DailyWind:
    """Winds with one mean for both sides.

    On roads driven one way a tire that rolls easier looks like a tailwind on every day after the
    change. What the sides' mean winds differ by is therefore not taken from here: it is one of
    the ranges of physics, learned beside the effect on trial.
    """
    vectors = wind.vectors.copy()
    means = [vectors[side].mean(axis=0) for side in (after, ~after)]
    for side, mean in zip((after, ~after), means, strict=True):
        vectors[side] += 0.5 * sum(means) - mean
    return replace(wind, vectors=vectors)


def daily_wind(
    rows: Rows,
    table: Table,
    ranges: Ranges,
    theta: Array,
    *,
    after: NDArray[np.bool_],
    shrinkage: float,
    deviation: Array,
    start: DailyWind | None = None,
) -> DailyWind:
    """What the fuel of each day tells of its wind beyond that of `rows`.

    `after` and `deviation` (days,): how far each day's wind may be from that of `rows`, each way
    [m/s]; `start`: where an earlier round left off.
    """
    shared = slopes(rows, ranges, theta, table.row_pair, len(table.cell), names=SHARED)[1]
    vectors = np.zeros((table.days, 2)) if start is None else start.vectors
    level = np.zeros(table.days)
    factor = np.ones(table.cells)
    spread = deviation**2 if start is None else start.spread
    for _ in range(FIRST_ROUNDS if start is None else LATER_ROUNDS):
        blown = with_wind(rows, DailyWind(vectors, spread))
        asked, by_east, by_north = (table.sums(x) for x in wind_slopes(blown, ranges, theta))
        level, factor = _levels(table, asked, level, factor, shrinkage)
        expected = np.exp(level)[table.day] * factor[table.cell]
        scale = asked + 0.3 * float(asked.mean())
        z = (table.fuel - expected * asked) / (expected * scale)
        x = np.column_stack([asked, by_east, by_north]) / scale[:, None]
        weight = huber_weights(z)
        z = z - _of_side(z, weight, x[:, 0], shared / scale[:, None], table.day, after)
        variance = DESIGN_EFFECT * float(np.sum(weight * z**2) / max(weight.sum(), 1.0))
        moved, spread = _each_day(table, x, z, weight / variance, vectors, deviation)
        level = level + moved[:, 0]
        vectors = np.clip(vectors + moved[:, 1:], -LARGEST_MPS, LARGEST_MPS)
    return DailyWind(vectors, spread)


def _of_side(
    z: Array, weight: Array, own: Array, shared: Array, day: Index, after: NDArray[np.bool_]
) -> Array:
    """What of `z` (pairs,) goes with `shared` (pairs, 3) on all days of a side alike.

    Each day's own level, its multiple of `own`, is left out of it.
    """
    flat = without_day(np.column_stack([z, shared]), own, day)
    out = np.zeros(len(z))
    for side in (after[day], ~after[day]):
        root = np.sqrt(weight[side])[:, None]
        share = np.linalg.lstsq(root * flat[side, 1:], root[:, 0] * flat[side, 0], rcond=None)[0]
        out[side] = flat[side, 1:] @ share
    return out


def _levels(
    table: Table, asked: Array, level: Array, factor: Array, shrinkage: float
) -> tuple[Array, Array]:
    """Day levels and cell factors in turn, a few times."""
    fuel_of_day = sum_by(table.day, table.fuel, table.days)
    fuel_of_cell = sum_by(table.cell, table.fuel, table.cells)
    pull = shrinkage * float(table.fuel.mean())
    for _ in range(8):
        usual = sum_by(table.day, factor[table.cell] * asked, table.days)
        level = np.log(np.maximum(fuel_of_day, 1e-12) / np.maximum(usual, 1e-12))
        usual = sum_by(table.cell, np.exp(level)[table.day] * asked, table.cells)
        factor = (fuel_of_cell + pull) / np.maximum(usual + pull, 1e-12)
    return level, factor


def _each_day(
    table: Table, x: Array, z: Array, weight: Array, vectors: Array, deviation: Array
) -> tuple[Array, Array]:
    """Change of (level, east, north) for each day, and the variance left of its wind, mean of
    both ways; the wind's prior holds it back."""
    normal = np.empty((table.days, 3, 3))
    right = np.empty((table.days, 3))
    for i in range(3):
        right[:, i] = sum_by(table.day, weight * x[:, i] * z, table.days)
        for j in range(i, 3):
            normal[:, i, j] = normal[:, j, i] = sum_by(
                table.day, weight * x[:, i] * x[:, j], table.days
            )
    precision = 1 / deviation**2
    normal[:, 0, 0] += 1e-9
    for i in (1, 2):
        normal[:, i, i] += precision
        right[:, i] -= precision * vectors[:, i - 1]
    inverse = np.linalg.inv(normal)
    left = 0.5 * (inverse[:, 1, 1] + inverse[:, 2, 2])
    return np.einsum("dij,dj->di", inverse, right), left
