"""A robust Gaussian posterior: parameters with a normal prior, residuals with Huber's loss."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from gearing.statistics.arrays import sum_by
from gearing.statistics.persistence import common_persistence, effective_count
from gearing.statistics.robust import MAD_TO_DEVIATION

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any

    from gearing.statistics.arrays import Array, Index

HUBER_DEVIATIONS = 2.0
MAX_STEP, MAX_DISTANCE = 1.0, 2.5  # prior deviations a round may move by, and theta may lie at
TOLERANCE, MAX_ROUNDS = 0.002, 60  # posterior deviations that the last round moves by
NEAR, PATIENCE = 0.02, 5  # so near, the search ends after so many rounds that led no nearer
REMEMBERED = 5  # rounds whose steps tell where the next are led
ASTRAY = 2.0  # times the shortest step so far: what the earlier rounds tell is forgotten
EDGES_TRIED = 50
DENSE = 0.1  # share of a matrix from which products are no cheaper for its zeros
ONE_OF_MANY = 0.1


@dataclass(frozen=True, slots=True)
class Design:
    """How residuals fall with each parameter: `common` (n, p) of all, then `own` (n, k) of each
    `unit` (n,) of the residuals alone, one block of `units` parameters for each column."""

    common: Array
    own: Array
    unit: Index
    units: int

    @classmethod
    def of(cls, common: Array) -> Design:
        """One without parameters of units."""
        return cls(common, common[:, :0], np.zeros(len(common), dtype=np.int64), 0)

    @property
    def counted(self) -> Array:
        """How much a step of each parameter (q,) counts: of many units no one for much."""
        p, own = self.common.shape[1], self.own.shape[1] * self.units
        return np.concatenate([np.ones(p), np.full(own, ONE_OF_MANY)])

    def largest(self, step: Array) -> float:
        """Of a step (q,), the largest of a common parameter, or the root mean square of a block
        of units'."""
        p, k = self.common.shape[1], self.own.shape[1]
        own = (step[p:].reshape(k, -1) ** 2).mean(axis=1) if k else step[:0]
        return float(np.sqrt(np.append(step[:p] ** 2, own).max()))

    def right(self, values: Array) -> Array:
        """Products of the columns with `values` (n,), (q,)."""
        own = [sum_by(self.unit, column * values, self.units) for column in self.own.T]
        return np.concatenate([self.common.T @ values, *own])

    def products(self, weight: Array) -> Array:
        """Products of the columns, the residuals weighted by `weight` (n,); (q, q)."""
        p, k = self.common.shape[1], self.own.shape[1]
        order = np.argsort(self.unit, kind="stable")
        columns = np.hstack([self.common, self.own])[order]
        weighted = columns * weight[order, None]
        ends = np.searchsorted(self.unit[order], np.arange(max(self.units, 1) + 1))
        each = np.stack([columns[a:b].T @ weighted[a:b] for a, b in pairwise(ends)])
        out = np.zeros((p + k * self.units,) * 2)
        out[:p, :p] = each[:, :p, :p].sum(axis=0)
        at = p + np.arange(k)[:, None] * self.units + np.arange(self.units)  # (k, units)
        for i in range(k):
            out[:p, at[i]] = each[:, :p, p + i].T
            out[at[i], :p] = each[:, :p, p + i]
            for j in range(k):
                out[at[i], at[j]] = each[:, p + i, p + j]
        return out

    def summed(self, group: Index, groups: int, weight: Array) -> Any:
        """Sums of the weighted columns over each group of residuals, sparse; (groups, q)."""
        from scipy.sparse import coo_array, csr_array, hstack

        shape = (groups, self.units)
        common = [sum_by(group, column * weight, groups) for column in self.common.T]
        own = [coo_array((c * weight, (group, self.unit)), shape=shape) for c in self.own.T]
        return hstack([csr_array(np.array(common).T), *own], format="csr")


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

    `precision` (q, q) is the inverse covariance of the prior about zero,
    `deviations` (q,) the prior's (infinite where flat). `series` (n,), rising, numbers runs of
    residuals whose neighbours may resemble each other: they tell as much less as their lag-1
    correlation says.
    """

    residuals: Array
    design: Design
    precision: Array
    deviations: Array
    effects: Effects | None = None
    series: Index | None = None


@dataclass(frozen=True, slots=True)
class Posterior:
    """`moved` is what the last round still asked for, in posterior deviations."""

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
    variance estimated in each and the steps of earlier rounds heard, until a round asks of no
    parameter to move by more than `tolerance` of its posterior deviation, or, `NEAR` that, leads
    no nearer: where one unit of hundreds creeps along, all else stands.
    """
    found, earlier, nearest, since = start, _Earlier(), np.inf, 0
    for number in range(rounds):
        model = linearize(found)
        step, covariance = _step(model, found)
        scale = model.design.counted / np.sqrt(np.diag(covariance))
        moved = model.design.largest(scale * step)
        if moved >= tolerance:
            further = earlier.led(found.theta, step, scale)
            step = _within(further, found.theta, covariance, model.deviations)
        found = Posterior(found.theta + step, covariance, number + 1, moved)
        since = 0 if moved < nearest else since + 1
        nearest = min(nearest, moved)
        if moved < tolerance or (tolerance and moved < NEAR and since >= PATIENCE):
            break
    return found


@dataclass(slots=True)
class _Earlier:
    """Steps of the rounds so far: where on the way between them no step is left to take.

    Anderson's mixing (J. ACM 12, 1965) in posterior deviations.
    """

    thetas: deque[Array] = field(default_factory=lambda: deque(maxlen=REMEMBERED + 1))
    steps: deque[Array] = field(default_factory=lambda: deque(maxlen=REMEMBERED + 1))
    shortest: float = np.inf

    def led(self, theta: Array, step: Array, scale: Array) -> Array:
        """The step to take from `theta`, where by itself it would be `step`; `scale` times a
        step is its length."""
        length = float(np.linalg.norm(scale * step))
        if length > ASTRAY * self.shortest:
            self.thetas.clear()
            self.steps.clear()
            self.shortest = length
        self.shortest = min(self.shortest, length)
        self.thetas.append(theta)
        self.steps.append(step)
        if len(self.steps) < 2:
            return step
        less = np.diff(np.array(self.steps), axis=0)
        way = np.diff(np.array(self.thetas), axis=0)
        told = np.linalg.lstsq((scale * less).T, scale * step, rcond=0.01)[0]
        return np.asarray(step - told @ (way + less))


def _step(model: Linear, at: Posterior) -> tuple[Array, Array]:
    """A Gauss-Newton step and the posterior's covariance."""
    z = model.residuals
    weight = huber_weights(z)
    own = _effects(model.effects, z, weight)[0]
    weight = huber_weights(z - own)
    own, held = _effects(model.effects, z, weight)
    left = z - own
    normal, right = _equations(model, weight, held)
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
    """The step with no parameter led too far, at once or in all: of those allowed the likeliest,
    the others following the ones held at an edge.

    Edges are taken and let go until each held one pulls outward (Hintermueller, Ito and Kunisch,
    SIAM J. Optim. 13, 2002).
    """
    reach, largest = MAX_DISTANCE * deviations, MAX_STEP * deviations
    low = np.minimum(np.maximum(-largest, -reach - theta), 0.0)
    high = np.maximum(np.minimum(largest, reach - theta), 0.0)
    held, found = np.zeros(len(step), dtype=bool), step
    for _ in range(EDGES_TRIED):
        beyond = ~held & ((found < low) | (found > high))
        edge = np.clip(found, low, high)
        taken = held | beyond
        off = (edge - step)[taken]
        pull = np.zeros(len(step))
        pull[taken] = np.linalg.solve(covariance[np.ix_(taken, taken)], off)
        inward = taken & np.where(edge >= high, pull > 0, pull < 0)
        if not beyond.any() and not inward.any():
            break
        held = taken & ~inward
        found = step + covariance[:, held] @ np.linalg.solve(
            covariance[np.ix_(held, held)], (edge - step)[held]
        )
        found[held] = edge[held]
    return np.clip(found, low, high)


def _effects(effects: Effects | None, z: Array, weight: Array) -> tuple[Array, Array]:
    """What the groups' effects make of each residual (n,), and what holds each group (groups,)."""
    if effects is None:
        return np.zeros(len(z)), np.ones(0)
    column = weight * effects.column
    held = sum_by(effects.group, column * effects.column) + effects.shrinkage
    effect = sum_by(effects.group, column * z) / held
    return effects.column * effect[effects.group], held


def _equations(model: Linear, weight: Array, held: Array) -> tuple[Array, Array]:
    """Normal equations and their right side, the effects integrated out: what a group has in
    common tells nothing of the rest."""
    design, effects, z = model.design, model.effects, model.residuals
    if effects is None:
        return design.products(weight), design.right(weight * z)
    column = weight * effects.column
    alone = np.bincount(effects.group)[effects.group] == 1
    share = np.where(alone, column * effects.column / held[effects.group], 0.0)
    told = weight * (1 - share)
    normal, right = design.products(told), design.right(told * z)
    if not alone.all():
        column = np.where(alone, 0.0, column)
        crossed = design.summed(effects.group, len(held), column)
        shared = np.flatnonzero(np.diff(crossed.indptr))
        crossed = crossed[shared]
        if crossed.nnz > DENSE * crossed.shape[0] * crossed.shape[1]:
            crossed = crossed.toarray()
        scaled = crossed.T * (1 / held[shared])
        less = scaled @ crossed
        normal -= less if isinstance(less, np.ndarray) else less.toarray()
        right -= scaled @ sum_by(effects.group, column * z)[shared]
    return normal, right


def _share_told(residuals: Array, series: Index) -> float:
    """How much of independent residuals' number neighbours that resemble each other stand for."""
    runs = np.split(residuals, np.flatnonzero(np.diff(series)) + 1)
    return effective_count(1, common_persistence(runs))
