"""Neighbours that resemble each other: lag-1 autocorrelation and what it leaves of a count."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from gearing.statistics.arrays import Array, as_vector

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


def effective_count(n: int, correlation: float) -> float:
    """n' = n (1 - r)/(1 + r): how many independent values tell as much of the mean.

    Source: ASHRAE Guideline 14 (2014), annex on uncertainty. A negative r is taken as 0, for
    it would let chance narrow an interval.
    """
    r = min(max(correlation, 0.0), 0.99)
    return n * (1 - r) / (1 + r)


def common_persistence(series: Sequence[ArrayLike]) -> float:
    """Lag-1 autocorrelation common to several series, each about its own mean, bias taken out.

    The sample figure is low by about (1 + 4 rho)/n per series (Marriott and Pope, Biometrika 41,
    1954), which for two weeks of days is most of it. The result is kept in [-0.95, 0.95].
    """
    products, squares, count, parts = 0.0, 0.0, 0, 0
    for one in series:
        vector = as_vector(one)
        if len(vector) < 3:
            continue
        of_neighbours, own = _lag1_sums(vector)
        products += of_neighbours
        squares += own
        count += len(vector)
        parts += 1
    if squares <= 0 or count == 0:
        return 0.0
    mean_length = count / parts
    raw = products / squares
    slope = 1 - 4 / mean_length
    corrected = (raw + 1 / mean_length) / slope if slope > 0.2 else raw + 1 / mean_length
    return float(min(max(corrected, -0.95), 0.95))


def _lag1_sums(vector: Array) -> tuple[float, float]:
    """Sum of products of neighbours and sum of squares, both about the mean.

    The first value is taken off before the mean: large numbers that differ little keep their
    digits.
    """
    deviation = vector - vector[0]
    deviation = deviation - deviation.mean()
    return float(np.sum(deviation[:-1] * deviation[1:])), float(np.sum(deviation**2))
