"""Location and slope that a few wild values do not move."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from gearing.statistics.arrays import Array, as_vector

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

# of the normal law: makes the median absolute deviation a standard deviation
MAD_TO_DEVIATION = 1.482602218505602


def median_deviation(values: ArrayLike) -> float:
    """Median absolute deviation from the median, scaled to a standard deviation."""
    vector = as_vector(values)
    return MAD_TO_DEVIATION * float(np.median(np.abs(vector - np.median(vector))))


def hodges_lehmann(values: ArrayLike) -> float:
    """Median of the means of all pairs (each value with itself too): a robust mean."""
    vector = as_vector(values)
    i, j = np.triu_indices(len(vector))
    return float(np.median((vector[i] + vector[j]) / 2))


def huber_location(
    values: ArrayLike, *, tuning: float = 1.345, weights: ArrayLike | None = None
) -> float:
    """Huber's location with the scale from the median deviation (Huber 1964).

    `tuning` 1.345 keeps 95 % of the mean's efficiency on normal data.
    """
    vector = as_vector(values)
    given = np.ones_like(vector) if weights is None else as_vector(weights)
    scale = median_deviation(vector)
    centre = float(np.median(vector))
    if scale == 0:
        return centre
    for _ in range(100):
        distance = np.abs(vector - centre) / scale
        weight = given * np.minimum(1.0, tuning / np.maximum(distance, 1e-12))
        moved = float(np.sum(weight * vector) / weight.sum())
        if abs(moved - centre) < 1e-12 * scale:
            break
        centre = moved
    return centre


def theil_sen(x: ArrayLike, y: ArrayLike) -> tuple[float, float]:
    """Slope and intercept: the median slope of all pairs with different x (Sen 1968).

    Raises
    ------
    ValueError
        all x alike.
    """
    a, b = as_vector(x), as_vector(y)
    slope = float(np.median(_pair_slopes(a, b)))
    return slope, float(np.median(b) - slope * np.median(a))


def _pair_slopes(x: Array, y: Array) -> Array:
    i, j = np.triu_indices(len(x), k=1)
    run = x[j] - x[i]
    apart = run != 0
    if not apart.any():
        raise ValueError("a slope needs two different x")
    return np.asarray((y[j] - y[i])[apart] / run[apart], dtype=np.float64)
