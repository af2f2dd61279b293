"""Spread that a few wild values do not move."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from gearing.statistics.arrays import as_vector

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from gearing.statistics.arrays import Array

# of the normal law: makes the median absolute deviation a standard deviation
MAD_TO_DEVIATION = 1.482602218505602


def median_deviation(values: ArrayLike) -> float:
    """Median absolute deviation from the median, scaled to a standard deviation."""
    vector = as_vector(values)
    return MAD_TO_DEVIATION * float(np.median(np.abs(vector - np.median(vector))))


def weighted_median(values: Array, weights: Array) -> float:
    """The value, of ascending ones, at which half of the weights is reached; shapes (n,), n > 0."""
    order = np.argsort(values)
    reached = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(reached, 0.5 * reached[-1])])
