"""Figures with errors of their own, explained by what is known of each: mixed effects.

Sources
-------
[1] Paule and Mandel (1982), the between-unit variance, carried over to a regression by
    DerSimonian and Kacker (2007): weighted squares of the residuals come to their degrees.
[2] Knapp and Hartung (2003): the error of a coefficient, with Student's t; of a mean it is that
    of Hartung and Knapp and of Sidik and Jonkman.
[3] Berkey and others (1995), a random-effects regression model.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.statistics.arrays import Array, as_vector
from gearing.statistics.estimate import Estimate
from gearing.statistics.intervals import CONFIDENCE, half_width
from gearing.statistics.regression import weighted_fit

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


MAX_STEPS, CLOSE = 100, 1e-12


@dataclass(frozen=True, slots=True)
class MixedEffects:
    """Coefficients of the design's columns with their errors.

    `between` is the deviation from unit to unit that neither the design nor the units' own
    errors explain, `heterogeneity` (I squared) its share of the spread the design leaves, `q`
    the weighted squares of the residuals with `between` left out.
    """

    coefficients: tuple[float, ...]
    standard_errors: tuple[float, ...]
    degrees: int
    between: float
    heterogeneity: float
    q: float
    n: int

    def interval(self, column: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
        """Lower and upper end of a column's t interval, which holds the truth with `confidence`."""
        reach = half_width(self.standard_errors[column], self.degrees, confidence)
        return self.coefficients[column] - reach, self.coefficients[column] + reach

    def estimate(self, column: int, method: str = "mixed effects") -> Estimate:
        """A column's coefficient as an estimate with its 95 % interval."""
        low, high = self.interval(column)
        return Estimate(self.coefficients[column], low, high, self.n, method)


def mixed_effects(
    values: ArrayLike,
    errors: ArrayLike,
    design: ArrayLike | None = None,
    *,
    least_scale: float = 1.0,
) -> MixedEffects:
    """Regress `values` with standard `errors` on the columns of `design` (units x columns), or
    pool them where there is none: random effects.

    The factor of [2] never falls below `least_scale`: with 1 agreement by chance narrows
    nothing; with 0 the spread of the units alone makes the interval, and `errors` only weigh.

    Raises
    ------
    ValueError
        no more units than columns, columns that depend on one another, or an error that is
        not positive.
    """
    y, s = as_vector(values), as_vector(errors)
    x = np.ones((len(y), 1)) if design is None else np.asarray(design, dtype=np.float64)
    if x.ndim != 2 or len(y) != len(s) or len(y) != len(x) or len(y) <= x.shape[1]:
        raise ValueError("the design needs a row a unit, and fewer columns than units")
    if np.any(s <= 0):
        raise ValueError("errors must be positive")
    if np.linalg.matrix_rank(x) < x.shape[1]:
        raise ValueError("the design's columns depend on one another")
    degrees = len(y) - x.shape[1]
    between = _between(y, s**2, x, degrees)
    beta, covariance, squares = weighted_fit(y, 1 / (s**2 + between), x)
    scale = max(least_scale, squares / degrees)
    q = weighted_fit(y, 1 / s**2, x)[2]
    return MixedEffects(
        coefficients=tuple(map(float, beta)),
        standard_errors=tuple(float(math.sqrt(scale * v)) for v in np.diag(covariance)),
        degrees=degrees,
        between=math.sqrt(between),
        heterogeneity=max(0.0, 1 - degrees / q) if q > 0 else 0.0,
        q=q,
        n=len(y),
    )


def _between(y: Array, variance: Array, x: Array, degrees: int) -> float:
    """The between-unit variance of [1]; 0 where the units' own errors explain all.

    The weighted squares fall with it, ever more slowly: Newton's steps from 0 come to the root from
    below. Their slope needs no other fit, for the coefficients are those of least squares.
    """
    between = 0.0
    for _ in range(MAX_STEPS):
        weight = 1 / (variance + between)
        beta, _covariance, squares = weighted_fit(y, weight, x)
        if squares <= degrees:
            break
        step = (squares - degrees) / float(np.sum((weight * (y - x @ beta)) ** 2))
        between += step
        if step <= CLOSE * between:
            break
    return between
