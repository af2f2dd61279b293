"""Least squares by QR: weighted, pooled, with standard errors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.statistics.arrays import Array, as_vector

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True)
class Fit:
    """Coefficients, their covariance, residuals (unweighted) and residual deviation."""

    coefficients: Array
    covariance: Array
    residuals: Array
    residual_deviation: float
    degrees: int
    r_squared: float

    @property
    def standard_errors(self) -> Array:
        return np.sqrt(np.diag(self.covariance))


def least_squares(design: ArrayLike, response: ArrayLike, weights: ArrayLike | None = None) -> Fit:
    """Weighted linear least squares, columns scaled and then QR with column pivoting.

    Parameters
    ----------
    design : (n, p)
    response : (n,)
    weights : (n,)
        inverse variances up to one common factor; None: all alike.

    `r_squared` is about the mean where the design holds a constant, else about zero, as NIST
    StRD has it.

    Raises
    ------
    ValueError
        fewer rows than columns, or columns that say the same.
    """
    from scipy.linalg import qr, solve_triangular

    x, y = np.atleast_2d(np.asarray(design, dtype=np.float64)), as_vector(response)
    if x.shape[0] != len(y):
        x = x.T
    n, p = x.shape
    if n < p:
        raise ValueError(f"{p} coefficients need at least {p} rows, there are {n}")
    root = np.ones(n) if weights is None else np.sqrt(as_vector(weights))
    scale = np.sqrt(np.sum((x * root[:, None]) ** 2, axis=0))
    if np.any(scale == 0):
        raise ValueError("a column of the design is zero throughout")
    q, r, order = qr(x * root[:, None] / scale, mode="economic", pivoting=True)
    if abs(r[-1, -1]) < abs(r[0, 0]) * n * np.finfo(np.float64).eps:
        raise ValueError("columns of the design say the same")
    solution = solve_triangular(r, q.T @ (y * root))
    # one step of refinement: what the rounding of the first solve left behind
    back = np.argsort(order)
    coefficients = solution[back] / scale
    correction = solve_triangular(r, q.T @ ((y - x @ coefficients) * root))
    coefficients = coefficients + correction[back] / scale
    residuals = y - x @ coefficients
    squares = float(np.sum((residuals * root) ** 2))
    variance = squares / (n - p) if n > p else float("nan")
    inverse = solve_triangular(r, np.eye(p))
    unscaled = (inverse @ inverse.T)[np.ix_(back, back)] / np.outer(scale, scale)
    return Fit(
        coefficients,
        unscaled * variance,
        residuals,
        float(np.sqrt(variance)),
        n - p,
        1 - squares / _spread(x, y, root**2),
    )


def _spread(x: Array, y: Array, weight: Array) -> float:
    has_constant = bool(np.any(np.all(x == x[:1], axis=0)))
    centre = float(np.sum(weight * y) / np.sum(weight)) if has_constant else 0.0
    return float(np.sum(weight * (y - centre) ** 2))
