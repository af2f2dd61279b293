"""Student's t: quantiles, tail probabilities, half-widths."""

from __future__ import annotations

import math

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
