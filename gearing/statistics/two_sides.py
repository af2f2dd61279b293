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
from gearing.statistics.estimate import Estimate
from gearing.statistics.intervals import CONFIDENCE, t_quantile

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

_SIGMA_STEPS = 30
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
    probability_below_zero: float
    n_before: int
    n_after: int

    def widened(self, error: float) -> SideChange:
        """The same value with an independent standard error that no further unit takes away."""
        if not error:
            return self
        wider = Estimate(self.value, self.low, self.high).widened(error)
        assert wider.low is not None
        assert wider.high is not None
        return replace(
            self,
            low=wider.low,
            high=wider.high,
            standard_error=math.hypot(self.standard_error, error),
            known_error=math.hypot(self.known_error, error),
        )

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
    after_gap = np.minimum(np.array(grid.persistence)[:, None] ** gaps[np.isfinite(gaps)], 1.0)
    persistence = np.tile(after_gap.mean(axis=1), len(whitened))
    ratios = np.repeat(np.array(grid.log_ratio), len(shares) * len(grid.persistence))
    weight = jacobian - 0.5 * (ratios / _RATIO_DEVIATION) ** 2
    mixture = _mixture(equations, weight, a, b)
    return _told(mixture, persistence, back, (len(a), len(b)), confidence)


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


@dataclass(frozen=True, slots=True)
class _Mixture:
    """Normals the posterior is a mixture of, by shape of the noise and its size: `weight`,
    `centre` and `variance` of the change (k, s), `noise` the part of the variance that more
    values take away, `nuisance` their posterior means (k, s, p), `sigma` (s,)."""

    weight: Array
    centre: Array
    variance: Array
    noise: Array
    nuisance: Array
    sigma: Array

    def mean(self, each: Array) -> float:
        return float(np.sum(self.weight * each))


def _mixture(equations: Array, log_weight: Array, before: Array, after: Array) -> _Mixture:
    """Level and change have flat priors, nuisances unit normal ones; all but the noise's size is
    solved for once a shape, where the nuisances' equations are made diagonal."""
    n, q = len(before) + len(after), equations.shape[1] - 1
    spread = math.sqrt((np.var(before) * len(before) + np.var(after) * len(after)) / (n - 2))
    sigma = max(spread, 1e-9) * np.exp(np.linspace(math.log(0.15), math.log(6.0), _SIGMA_STEPS))
    flat = slice(0, 2)
    known = np.linalg.inv(equations[:, flat, flat])
    crossed = known @ equations[:, flat, 2:]  # what nuisances and value ask of level and change
    reduced = equations[:, 2:, 2:] - equations[:, 2:, flat] @ crossed
    size, turn = np.linalg.eigh(reduced[:, : q - 2, : q - 2])
    moved = (turn.transpose(0, 2, 1) @ reduced[:, : q - 2, q - 2 :])[..., 0]
    held = np.maximum(size, 0.0)[:, None] + sigma[None, :, None] ** 2
    effect = moved[:, None] / held  # (k, s, p), in the turned nuisances
    lever = (crossed[:, 1:2, : q - 2] @ turn)[:, 0]
    noise = sigma**2 * known[:, 1, 1][:, None]
    misfit = reduced[:, q - 2, q - 2][:, None] - np.sum(effect * moved[:, None], axis=2)
    # (n - q) noise rows and p prior rows share sigma
    logs = (
        log_weight[:, None]
        + 0.5 * np.linalg.slogdet(known)[1][:, None]
        - 0.5 * np.log(held).sum(axis=2)
        - (n - q) * np.log(sigma)
        - 0.5 * np.maximum(misfit, 0.0) / sigma**2
    )
    weight = np.exp(logs - logs.max())
    return _Mixture(
        weight / weight.sum(),
        crossed[:, 1, q - 2][:, None] - np.sum(effect * lever[:, None], axis=2),
        noise + sigma**2 * np.sum(lever[:, None] ** 2 / held, axis=2),
        noise,
        np.asarray(effect @ turn.transpose(0, 2, 1)),
        sigma,
    )


def _told(
    mixture: _Mixture, persistence: Array, back: Array, counts: tuple[int, int], confidence: float
) -> SideChange:
    """The change, its interval and what that is made of."""
    weight, centre, variance = mixture.weight, mixture.centre, mixture.variance
    mean = mixture.mean(centre)
    tails = ((1 - confidence) / 2, (1 + confidence) / 2)
    low, high = (_quantile(weight, centre, variance, tail) for tail in tails)
    return SideChange(
        mean,
        low,
        high,
        math.sqrt(mixture.mean(variance + (centre - mean) ** 2)),
        # with the noise known and without end of units, what is left is the nuisances' share
        math.sqrt(mixture.mean(variance - mixture.noise)),
        mixture.mean(mixture.sigma),
        mixture.mean(persistence[:, None]),
        np.asarray(back @ np.einsum("ks,ksi->i", weight, mixture.nuisance)),
        _below(weight, centre, variance, 0.0),
        *counts,
    )


def _below(weight: Array, centre: Array, variance: Array, at: float) -> float:
    from scipy.special import ndtr

    return float(np.sum(weight * ndtr((at - centre) / np.sqrt(variance))))


def _quantile(weight: Array, centre: Array, variance: Array, probability: float) -> float:
    """Quantile of a mixture of normals by bisection."""
    kept = weight > 1e-9
    w, c, v = weight[kept], centre[kept], variance[kept]
    reach = 12 * float(np.sqrt(v.max()))
    low, high = float(c.min()) - reach, float(c.max()) + reach
    for _ in range(60):
        middle = (low + high) / 2
        if _below(w, c, v, middle) < probability:
            low = middle
        else:
            high = middle
    return (low + high) / 2
