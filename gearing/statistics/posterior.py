"""A robust Gaussian posterior: parameters with a normal prior, residuals with Huber's loss."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.statistics.robust import MAD_TO_DEVIATION

if TYPE_CHECKING:
    from collections.abc import Callable

    from gearing.statistics.arrays import Array

HUBER_DEVIATIONS = 2.0
MAX_STEP, MAX_DISTANCE = 1.0, 2.5  # prior deviations a round may move by, and theta may lie at


@dataclass(frozen=True, slots=True)
class Linear:
    """The model about one `theta`: residuals (n,) and how they fall with each parameter (n, p).

    `absorbed` counts what the residuals were fitted by besides theta (levels taken out);
    `design_effect` how much less they tell than as many independent ones, from their weights and
    the number of parameters fitted.
    """

    residuals: Array
    design: Array
    absorbed: int = 0
    design_effect: Callable[[Array, float], float] | None = None


@dataclass(frozen=True, slots=True)
class Posterior:
    theta: Array
    covariance: Array


def huber_weights(residuals: Array) -> Array:
    """1 within two deviations, told from the median, and falling with the distance beyond."""
    scale = MAD_TO_DEVIATION * float(np.median(np.abs(residuals - np.median(residuals)))) or 1.0
    return np.minimum(1.0, HUBER_DEVIATIONS * scale / np.maximum(np.abs(residuals), 1e-12))


def robust_posterior(
    linearize: Callable[[Array], Linear], deviations: Array, *, start: Array, rounds: int
) -> Posterior:
    """Posterior of parameters with independent normal priors about zero.

    Parameters
    ----------
    linearize
        the model about a theta (p,); called once a round.
    deviations
        the priors' (p,).
    start
        theta to begin from.

    Iteratively reweighted Gauss-Newton steps, the residuals' variance estimated in each.
    """
    prior, theta = np.diag(1 / deviations**2), start
    covariance = np.diag(deviations**2)
    for _ in range(rounds):
        model = linearize(theta)
        z, x = model.residuals, model.design
        weight = huber_weights(z)
        free = max(float(weight.sum()) - model.absorbed - len(theta), 1.0)
        fitted = float(np.sum(1 - np.diag(covariance) / deviations**2))
        variance = float(weight @ z**2) / free
        if model.design_effect is not None:
            variance *= model.design_effect(weight, fitted)
        covariance = np.asarray(
            np.linalg.inv((x * weight[:, None]).T @ x / variance + prior), dtype=np.float64
        )
        step = covariance @ (x.T @ (z * weight) / variance - prior @ theta)
        theta = theta + np.clip(step, -MAX_STEP * deviations, MAX_STEP * deviations)
        theta = np.clip(theta, -MAX_DISTANCE * deviations, MAX_DISTANCE * deviations)
    return Posterior(theta, covariance)
