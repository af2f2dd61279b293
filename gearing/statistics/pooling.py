"""Figures with errors of their own, pooled: random effects."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.statistics.arrays import as_vector
from gearing.statistics.estimate import Estimate
from gearing.statistics.intervals import CONFIDENCE, t_quantile
from gearing.statistics.mixed_effects import mixed_effects

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
        """Lower and upper end of the t interval that holds the true mean with `confidence`."""
        reach = t_quantile(0.5 + confidence / 2, self.degrees) * self.standard_error
        return self.value - reach, self.value + reach

    def estimate(self, method: str = "random effects") -> Estimate:
        """The pooled value as an estimate with its 95 % interval."""
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
    fit = mixed_effects(y, s, np.ones((len(y), 1)))
    return Pooled(
        value=fit.coefficients[0],
        standard_error=fit.standard_errors[0],
        degrees=fit.degrees,
        between=fit.between,
        heterogeneity=fit.heterogeneity,
        q=fit.q,
        n=fit.n,
    )
