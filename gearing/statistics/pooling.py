"""Figures with errors of their own, pooled: random effects."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.statistics.arrays import Array, as_vector
from gearing.statistics.estimate import Estimate
from gearing.statistics.intervals import CONFIDENCE, t_quantile

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True)
class Pooled:
    """`value` with its error; `between` is the deviation from unit to unit beyond their own
    errors, `heterogeneity` (I squared) its share of the spread seen."""

    value: float
    standard_error: float
    degrees: float
    between: float
    heterogeneity: float
    q: float
    n: int

    def interval(self, confidence: float = CONFIDENCE) -> tuple[float, float]:
        reach = t_quantile(0.5 + confidence / 2, self.degrees) * self.standard_error
        return self.value - reach, self.value + reach

    def prediction(self, confidence: float = CONFIDENCE) -> tuple[float, float]:
        """Where one more unit's true figure is to be expected (Higgins and others 2009)."""
        degrees = max(self.n - 2, 1)
        reach = t_quantile(0.5 + confidence / 2, degrees) * math.hypot(
            self.standard_error, self.between
        )
        return self.value - reach, self.value + reach

    def estimate(self, method: str = "random effects") -> Estimate:
        low, high = self.interval()
        return Estimate(self.value, low, high, self.n, method)


def random_effects(values: ArrayLike, errors: ArrayLike) -> Pooled:
    """Pool `values` with standard `errors`, units differing among themselves.

    The between-unit variance is Paule and Mandel's (1982), the interval Hartung, Knapp, Sidik
    and Jonkman's, its factor never below one, so that agreement by chance narrows nothing.

    Raises
    ------
    ValueError
        under two units, or an error that is not positive.
    """
    y, s = as_vector(values), as_vector(errors)
    if len(y) != len(s) or len(y) < 2:
        raise ValueError("pooling needs two units at least, each with its error")
    if np.any(s <= 0):
        raise ValueError("errors must be positive")
    between = _paule_mandel(y, s**2)
    weight = 1 / (s**2 + between)
    value = float(np.sum(weight * y) / weight.sum())
    n = len(y)
    scale = max(1.0, float(np.sum(weight * (y - value) ** 2)) / (n - 1))
    fixed = 1 / s**2
    centre = np.sum(fixed * y) / fixed.sum()
    q = float(np.sum(fixed * (y - centre) ** 2))
    return Pooled(
        value,
        math.sqrt(scale / weight.sum()),
        n - 1,
        math.sqrt(between),
        max(0.0, 1 - (n - 1) / q) if q > 0 else 0.0,
        q,
        n,
    )


def _paule_mandel(y: Array, variance: Array) -> float:
    """The between-unit variance at which the weighted squares come to n - 1; 0 if below."""

    def excess(between: float) -> float:
        weight = 1 / (variance + between)
        centre = np.sum(weight * y) / weight.sum()
        return float(np.sum(weight * (y - centre) ** 2)) - (len(y) - 1)

    if excess(0.0) <= 0:
        return 0.0
    from scipy.optimize import brentq

    high = float(np.var(y, ddof=1)) + float(variance.max())
    while excess(high) > 0:
        high *= 4
    return float(brentq(excess, 0.0, high, xtol=1e-18, rtol=1e-12))
