"""The change between two runs of units in time, with what is not known carried through.

The model, on whatever scale the values have (logarithms, for ratios):

    value = level + change (after only) + sensitivity x nuisance + noise

The noise persists from one unit to the next, the less the more time lies between (first-order,
restarted between the sides), may differ in size between the sides, and may grow for units with
less in them. The nuisances are what physics knows only within a range: each has a normal prior,
and the values themselves may narrow it. Level and change have flat priors, the noise's size a
flat one in its logarithm. Everything but the change is integrated out on a grid, so that the
interval needs no plug-in for persistence: with no nuisance, no persistence and equal variances
it is Student's two-sample interval.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from gearing.statistics.arrays import Array, as_vector
from gearing.statistics.comparison import percent
from gearing.statistics.estimate import Estimate
from gearing.statistics.intervals import CONFIDENCE, t_quantile
from gearing.statistics.linear_posterior import LinearPosterior, mixture_of

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

_SIGMAS = np.geomspace(0.15, 6.0, 30)  # of the noise's size over the values' spread
# How long noise lasts, in days: from hours to a week, each octave as likely; over that time its
# correlation falls by e. What lasts longer than a period cannot be told from a change. Measured
# (gearing/guide/methods.md): a longer reach widens every interval by more than it gains where
# days hang together for weeks.
_LASTING = np.geomspace(0.3, 7.0, 10)
_SMALL = 1e-3  # nuisances that move values by less than this share of the largest are left out
_MAX_KEPT = 0.999
_RATIO_DEVIATION = 0.4  # of the logarithm of one side's noise over the other's
_RATIOS = np.array([-0.6, -0.3, 0.0, 0.3, 0.6])
_SHARES = np.array([0.0, 0.3, 0.7])


@dataclass(frozen=True, slots=True)
class Nuisance:
    """What is known only within a range.

    `sensitivity` (n, p): by how much each unit's value falls short of the truth per unit of each
    nuisance; `covariance` (p, p): the prior's.
    """

    sensitivity: Array
    covariance: Array


@dataclass(frozen=True, slots=True)
class Assumed:
    """Grids the noise's shape is integrated over; a grid of one value assumes that value.

    `persistence` is the correlation over one unit of time, `log_ratio` the logarithm of one
    side's noise over the other's, `length_share` the part of the variance that falls with length.
    """

    persistence: tuple[float, ...] = tuple(np.exp(-1 / _LASTING))
    log_ratio: tuple[float, ...] = tuple(_RATIOS)
    length_share: tuple[float, ...] = tuple(_SHARES)


@dataclass(frozen=True, slots=True)
class SideChange:
    """The change with its interval, and what the interval is made of.

    `standard_error` is the posterior's deviation; `known_error` the part of it that no further
    unit takes away (the nuisances'); `deviation` the noise of one unit, `persistence` its lag-1
    correlation (posterior means); `nuisance` the nuisances' posterior means.
    """

    value: float
    low: float
    high: float
    standard_error: float
    known_error: float
    deviation: float
    persistence: float
    nuisance: Array
    n_before: int
    n_after: int

    def widened(self, error: float) -> SideChange:
        """The same value with an independent standard error that no further unit takes away."""
        if not error:
            return self
        ends = Estimate(self.value, self.low, self.high).widened(error).ends
        assert ends is not None
        return replace(
            self,
            low=ends[0],
            high=ends[1],
            standard_error=math.hypot(self.standard_error, error),
            known_error=math.hypot(self.known_error, error),
        )

    def percent(self, method: str) -> Estimate:
        """The change in percent, the values being logarithms."""
        count = self.n_before + self.n_after
        return Estimate(self.value, self.low, self.high, count, method).map(percent)

    @property
    def degrees(self) -> float:
        """Degrees of freedom of two means: units of both periods less two."""
        return float(self.n_before + self.n_after - 2)

    @property
    def smallest_detectable(self) -> float:
        """True change found with 80 % power (5 %, two-sided): the interval's half width, and
        as much again as four fifths of studies need."""
        half = (self.high - self.low) / 2
        degrees = max(self.degrees, 1.0)
        return half * (1 + t_quantile(0.8, degrees) / t_quantile(0.975, degrees))


def change_between(
    before: ArrayLike,
    after: ArrayLike,
    *,
    nuisance: Nuisance | None = None,
    times: ArrayLike | None = None,
    lengths: ArrayLike | None = None,
    assumed: Assumed | None = None,
    confidence: float = CONFIDENCE,
) -> SideChange:
    """Change of `after` against `before`, each in order of time.

    Parameters
    ----------
    nuisance
        rows for the values of `before`, then of `after`.
    times
        of each value, in the same order, in units that `persistence` is of; one apart without.
    lengths
        how much lies in each unit (distance, say), in the same order: noise may fall with it.

    Raises
    ------
    ValueError
        under two values on a side.
    """
    a, b = as_vector(before), as_vector(after)
    if min(len(a), len(b)) < 2:
        raise ValueError("each side needs at least two values")
    grid = assumed or Assumed()
    y = np.concatenate([a, b])
    side = np.concatenate([np.zeros(len(a)), np.ones(len(b))])
    effects, back = _nuisance(nuisance, len(y))
    rows = np.column_stack([np.ones(len(y)), side, effects, y])
    gaps = _gaps(side, np.arange(float(len(y))) if times is None else as_vector(times))
    relative = np.ones(len(y)) if lengths is None else _relative(as_vector(lengths))
    shares = grid.length_share if lengths is not None else (0.0,)
    whitened = [
        _whiten(rows, side, gaps, relative, ratio, share, grid)
        for ratio in grid.log_ratio
        for share in shares
    ]
    equations, jacobian = (np.concatenate(each) for each in zip(*whitened, strict=True))
    spread = math.sqrt((np.var(a) * len(a) + np.var(b) * len(b)) / (len(y) - 2))
    ratios = np.repeat(grid.log_ratio, len(equations) // len(grid.log_ratio))
    found = mixture_of(
        equations,
        jacobian - 0.5 * (ratios / _RATIO_DEVIATION) ** 2,
        len(y),
        np.concatenate([np.zeros(2), np.ones(effects.shape[1])]),
        max(spread, 1e-9) * _SIGMAS,
        np.zeros(len(_SIGMAS)),
    )
    near = (np.array(grid.persistence)[:, None] ** gaps[np.isfinite(gaps)]).mean(axis=1)
    return _told(found, equations, near, back, (len(a), len(b)), confidence)


def _told(
    found: LinearPosterior,
    equations: Array,
    near: Array,
    back: Array,
    counts: tuple[int, int],
    confidence: float,
) -> SideChange:
    """The change, its interval and what that is made of; `near` is the correlation of neighbours
    by persistence, which goes round fastest among the shapes."""
    change = np.eye(len(found.mean[0]))[1]
    value, error = found.moments(change)
    low, high = (found.quantile(change, (1 + side * confidence) / 2) for side in (-1, 1))
    # with the noise known and without end of units, what is left is the nuisances' share
    noise = found.sigma**2 * np.linalg.inv(equations[:, :2, :2])[found.shape, 1, 1]
    return SideChange(
        value,
        low,
        high,
        error,
        math.sqrt(max(float(found.weight @ (found.covariance[:, 1, 1] - noise)), 0.0)),
        float(found.weight @ found.sigma),
        float(found.weight @ near[found.shape % len(near)]),
        np.asarray(back @ (found.weight @ found.mean[:, 2:])),
        *counts,
    )


def _nuisance(nuisance: Nuisance | None, n: int) -> tuple[Array, Array]:
    """What independent nuisances of unit variance do to each value (n, k), and what each stands
    for in the nuisances given (p, k); those that hardly move any value are left out."""
    if nuisance is None:
        return np.zeros((n, 0)), np.zeros((0, 0))
    values, vectors = np.linalg.eigh(nuisance.covariance)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    left, size, right = np.linalg.svd(nuisance.sensitivity @ root, full_matrices=False)
    kept = size > max(float(size.max(initial=0.0)), 1e-12) * _SMALL
    return np.asarray(left[:, kept] * size[kept]), np.asarray(root @ right[kept].T)


def _gaps(side: Array, times: Array) -> Array:
    """Time from the value before on the same side; endless for a side's first."""
    gap = np.maximum(np.diff(times, prepend=times[0]), 0.0)
    return np.where(np.diff(side, prepend=-1.0) != 0, np.inf, gap)


def _relative(lengths: Array) -> Array:
    """Median length over each length, kept from running away."""
    return np.asarray(np.clip(np.median(lengths) / np.maximum(lengths, 1e-12), 0.1, 20.0))


def _whiten(
    rows: Array,
    side: Array,
    gaps: Array,
    relative: Array,
    ratio: float,
    share: float,
    grid: Assumed,
) -> tuple[Array, Array]:
    """For each persistence: normal equations of rows made independent and of equal variance (the
    value as the last column), and the logarithm of the Jacobian.

    A value less the persistence's share of the one before it, `gaps` ago, is independent of all
    before.
    """
    scale = np.sqrt(1 - share + share * relative) * np.exp((side - 0.5) * ratio)
    scaled = rows / scale[:, None]
    earlier = np.concatenate([scaled[:1], scaled[:-1]])
    kept = np.minimum(np.array(grid.persistence)[:, None] ** gaps, _MAX_KEPT)  # (persistences, n)
    left = np.sqrt(1 - kept**2)
    white = (scaled - kept[..., None] * earlier) / left[..., None]
    return (
        np.asarray(white.transpose(0, 2, 1) @ white),
        -float(np.sum(np.log(scale))) - np.log(left).sum(axis=1),
    )
