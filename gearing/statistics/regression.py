"""Weighted least squares."""

from __future__ import annotations

import numpy as np

from gearing.statistics.arrays import Array


def weighted_fit(y: Array, weight: Array, x: Array) -> tuple[Array, Array, float]:
    """Coefficients (p,), inverse of X'WX (p, p) and the weighted sum of squared residuals.

    `y` and `weight` are (n,), `x` (n, p); weights are inverse variances up to one common factor,
    0 for a row that does not count. A column that says nothing gets 0.
    """
    root = np.sqrt(weight)
    rooted = x * root[:, None]
    # columns of like length: powers of a large x would else drown one another
    length = np.sqrt(np.sum(rooted**2, axis=0))
    length = np.where(length > 0, length, 1.0)
    inverse = np.linalg.pinv(rooted / length)
    beta = inverse @ (y * root) / length
    # one step of refinement: what the rounding of the first solve left behind
    beta = beta + inverse @ ((y - x @ beta) * root) / length
    residual = y - x @ beta
    covariance = (inverse @ inverse.T) / np.outer(length, length)
    return beta, covariance, float(np.sum(weight * residual**2))
