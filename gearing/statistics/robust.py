"""Spread that a few wild values do not move."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from gearing.statistics.arrays import as_vector

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

# of the normal law: makes the median absolute deviation a standard deviation
MAD_TO_DEVIATION = 1.482602218505602


def median_deviation(values: ArrayLike) -> float:
    """Median absolute deviation from the median, scaled to a standard deviation."""
    vector = as_vector(values)
    return MAD_TO_DEVIATION * float(np.median(np.abs(vector - np.median(vector))))
