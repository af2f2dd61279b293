"""A robust Gaussian posterior: parameters with a normal prior, residuals with Huber's loss."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from gearing.statistics.arrays import sum_by
from gearing.statistics.persistence import common_persistence, effective_count
from gearing.statistics.robust import MAD_TO_DEVIATION

if TYPE_CHECKING:
    from collections.abc import Callable

    from gearing.statistics.arrays import Array, Index

HUBER_DEVIATIONS = 2.0
MAX_STEP, MAX_DISTANCE = 1.0, 2.5  # prior deviations a round may move by, and theta may lie at
TOLERANCE, MAX_ROUNDS = 0.01, 60  # posterior deviations that the last round moves by


@dataclass(frozen=True, slots=True)
class Effects:
    """Random effects: what the residuals of a group have in common, integrated out.

    `group` (n,) of each residual, `column` (n,) by how much a group's effect raises it,
    `shrinkage` the residuals' variance over that of the effects.
    """

    group: Index
    column: Array
    shrinkage: float


@dataclass(frozen=True, slots=True)
class Linear:
    """The model about one `theta`: residuals (n,) and how they fall with each parameter (n, q).

    `design` may be sparse; `precision` (q, q) is the inverse covariance of the prior about zero,
    `deviations` (q,) the prior's (infinite where flat). `series` (n,), rising, numbers runs of
    residuals whose neighbours may resemble each other: they tell as much less as their lag-1
    correlation says.
    """

    residuals: Array
    design: Any
    precision: Array
    deviations: Array
    effects: Effects | None = None
    series: Index | None = None


@dataclass(frozen=True, slots=True)
class Posterior:
    """`moved` is the last round's largest step, in posterior deviations."""

    theta: Array
    covariance: Array
    rounds: int = 0
    moved: float = np.inf


def huber_weights(residuals: Array) -> Array:
    """1 within two deviations, told from the median, and falling with the distance beyond."""
    scale = MAD_TO_DEVIATION * float(np.median(np.abs(residuals - np.median(residuals)))) or 1.0
    return np.minimum(1.0, HUBER_DEVIATIONS * scale / np.maximum(np.abs(residuals), 1e-12))


def robust_posterior(
    linearize: Callable[[Posterior], Linear],
    start: Posterior,
    *,
    tolerance: float = TOLERANCE,
    rounds: int = MAX_ROUNDS,
) -> Posterior:
    """Posterior of parameters with a normal prior about zero.

    `linearize` gives the model about a theta (q,) once a round; what the prior itself is made of
    may follow the posterior so far. Iteratively reweighted Gauss-Newton steps, the residuals'
    variance estimated in each, until no parameter moves by more than `tolerance` of its
    posterior deviation.
    """
    found, gain, last = start, np.ones(len(start.theta)), np.zeros(len(start.theta))
    for number in range(rounds):
        step, covariance = _step(linearize(found), found)
        # a parameter that is led back nearly as far as it came swings about its place, or sits on
        # an edge of the model: it goes half as far from then on
        swings = (step * last < 0) & (np.abs(step) > 0.5 * np.abs(last))
        gain = np.where(swings, 0.5 * gain, gain)
        last = step
        taken = gain * step
        moved = float(np.max(np.abs(taken) / np.sqrt(np.diag(covariance))))
        found = Posterior(found.theta + taken, covariance, number + 1, moved)
        if moved < tolerance:
            break
    return found


def _step(model: Linear, at: Posterior) -> tuple[Array, Array]:
    """A Gauss-Newton step and the posterior's covariance."""
    z, x = model.residuals, model.design
    weight = huber_weights(z)
    own = _effects(model.effects, z, weight)[0]
    weight = huber_weights(z - own)
    own, held = _effects(model.effects, z, weight)
    left = z - own
    weighted = (
        x.multiply(weight[:, None]).tocsr() if hasattr(x, "multiply") else x * weight[:, None]
    )
    normal, right = _dense(weighted.T @ x), weighted.T @ z
    if model.effects is not None:
        less, moved = _integrated(model.effects, weighted, z, weight, held)
        normal, right = normal - less, right - moved
    flat = np.isinf(model.deviations)
    fitted = np.where(
        flat, 1.0, 1 - np.diag(at.covariance) / np.where(flat, 1.0, model.deviations) ** 2
    )
    known = 0.0 if model.effects is None else float(np.sum(1 - model.effects.shrinkage / held))
    free = max(float(weight.sum()) - float(np.clip(fitted, 0.0, 1.0).sum()) - known, 1.0)
    variance = float(weight @ left**2) / free
    if model.series is not None:
        variance /= _share_told(np.sqrt(weight) * left, model.series)
    covariance = np.asarray(np.linalg.inv(normal / variance + model.precision))
    step = covariance @ (right / variance - model.precision @ at.theta)
    return _within(step, at.theta, covariance, model.deviations), covariance


def _within(step: Array, theta: Array, covariance: Array, deviations: Array) -> Array:
    """The step with no parameter led too far, at once or in all; the others follow those held."""
    reach, largest = MAX_DISTANCE * deviations, MAX_STEP * deviations
    low, high = np.maximum(-largest, -reach - theta), np.minimum(largest, reach - theta)
    held = (step < low) | (step > high)
    if held.any():
        off = (np.clip(step, low, high) - step)[held]
        step = step + covariance[:, held] @ np.linalg.solve(covariance[np.ix_(held, held)], off)
    return np.clip(step, low, high)


def _dense(matrix: Any) -> Array:
    return np.asarray(matrix.toarray() if hasattr(matrix, "toarray") else matrix)


def _effects(effects: Effects | None, z: Array, weight: Array) -> tuple[Array, Array]:
    """What the groups' effects make of each residual (n,), and what holds each group (groups,)."""
    if effects is None:
        return np.zeros(len(z)), np.ones(0)
    column = weight * effects.column
    held = sum_by(effects.group, column * effects.column) + effects.shrinkage
    effect = sum_by(effects.group, column * z) / held
    return effects.column * effect[effects.group], held


def _integrated(
    effects: Effects, weighted: Any, z: Array, weight: Array, held: Array
) -> tuple[Array, Array]:
    """What integrating the effects takes off the normal equations and their right side."""
    from scipy.sparse import coo_array

    n = len(z)
    of_group = coo_array((effects.column, (effects.group, np.arange(n))), shape=(len(held), n))
    crossed = of_group.tocsr() @ weighted  # (groups, q)
    scaled = (
        crossed.multiply(1 / held[:, None]).tocsr()
        if hasattr(crossed, "multiply")
        else (crossed / held[:, None])
    )
    total = sum_by(effects.group, weight * effects.column * z)
    return _dense(scaled.T @ crossed), np.asarray(scaled.T @ total)


def _share_told(residuals: Array, series: Index) -> float:
    """How much of independent residuals' number neighbours that resemble each other stand for."""
    runs = np.split(residuals, np.flatnonzero(np.diff(series)) + 1)
    return effective_count(1, common_persistence(runs))
