"""Student's t: quantiles, tail probabilities, the interval of one mean."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from gearing.statistics.arrays import as_vector, standard_deviation
from gearing.statistics.estimate import Estimate, unknown

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

CONFIDENCE = 0.95


def t_quantile(probability: float, degrees: float) -> float:
    """Quantile of Student's t; `degrees` need not be whole, infinity is the normal law."""
    from scipy.special import ndtri, stdtrit

    if math.isinf(degrees):
        return float(ndtri(probability))
    return float(stdtrit(degrees, probability))


def t_two_sided(statistic: float, degrees: float) -> float:
    """Probability of a |t| at least this large by chance."""
    from scipy.special import ndtr, stdtr

    if math.isinf(degrees):
        return float(2 * ndtr(-abs(statistic)))
    return float(2 * stdtr(degrees, -abs(statistic)))


def half_width(standard_error: float, degrees: float, confidence: float = CONFIDENCE) -> float:
    """Half the width of a t interval."""
    return t_quantile(0.5 + confidence / 2, degrees) * standard_error


def mean_interval(
    values: ArrayLike, *, confidence: float = CONFIDENCE, method: str = "mean, Student's t"
) -> Estimate:
    """Mean of independent values with its t interval; unknown under two values."""
    vector = as_vector(values)
    n = len(vector)
    if n < 2:
        return unknown(f"an interval needs at least two values, there is {n}")
    mean = float(vector[0] + (vector - vector[0]).mean())
    reach = half_width(standard_deviation(vector) / math.sqrt(n), n - 1, confidence)
    return Estimate(mean, mean - reach, mean + reach, n, method)
