"""The change between two runs of units in time, with what is not known carried through.

The model, on whatever scale the values have (logarithms, for ratios):

    value = level + change (after only) + sensitivity x nuisance + noise

The noise persists from one unit to the next (first-order, restarted between the sides), may
differ in size between the sides, and may grow for units with less in them. The nuisances are
what physics knows only within a range: each has a normal prior, and the values themselves may
narrow it. Level and change have flat priors, the noise's size a flat one in its logarithm.
Everything but the change is integrated out on a grid, so that the interval needs no plug-in
for persistence: with no nuisance, no persistence and equal variances it is Student's two-sample
interval.
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
_PERSISTENCE = np.linspace(0.0, 0.9, 10)
# Prior of the persistence: in seven studies of ten that of weather's daily means, of which wind
# correlates by 0.3 to 0.4 from one day to the next and temperature by 0.65 (New York's airports
# 2013, Seattle 2012-2015), falling as the cube of 1 - r; in three of ten anything
_ANYTHING = 0.3
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
    """Grids the noise's shape is integrated over; a grid of one value assumes that value."""

    persistence: tuple[float, ...] = tuple(_PERSISTENCE)
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
    lengths: ArrayLike | None = None,
    assumed: Assumed | None = None,
    confidence: float = CONFIDENCE,
) -> SideChange:
    """Change of `after` against `before`, each in order of time.

    Parameters
    ----------
    nuisance
        rows for the values of `before`, then of `after`.
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
    design = [np.ones(len(y)), side]
    if nuisance is not None:
        root = _root(nuisance.covariance)
        design = [*design, *(nuisance.sensitivity @ root).T]
    else:
        root = np.zeros((0, 0))
    table = np.column_stack(design)
    relative = np.ones(len(y)) if lengths is None else _relative(as_vector(lengths))
    shares = grid.length_share if lengths is not None else (0.0,)
    shapes = [(q, k) for q in grid.log_ratio for k in shares]
    whitened = [
        equations
        for ratio, share in shapes
        for equations in _whiten(np.column_stack([table, y]), side, relative, ratio, share, grid)
    ]
    persistence = np.tile(np.array(grid.persistence), len(shapes))
    ratios = np.repeat(np.array([ratio for ratio, _ in shapes]), len(grid.persistence))
    prior = -0.5 * (ratios / _RATIO_DEVIATION) ** 2
    if len(grid.persistence) > 1:
        weather = 4 * (1 - persistence) ** 3
        prior = prior + np.log((1 - _ANYTHING) * weather + _ANYTHING / _PERSISTENCE[-1])
    return _mixture(whitened, prior, persistence, root, a, b, confidence)


def _root(covariance: Array) -> Array:
    """A square root of a covariance that may be singular, columns of nothing left out."""
    values, vectors = np.linalg.eigh(covariance)
    keep = values > max(float(values.max(initial=0.0)), 0.0) * 1e-12
    return np.asarray(vectors[:, keep] * np.sqrt(values[keep]))


def _relative(lengths: Array) -> Array:
    """Median length over each length, kept from running away."""
    return np.asarray(np.clip(np.median(lengths) / np.maximum(lengths, 1e-12), 0.1, 20.0))


def _whiten(
    rows: Array, side: Array, relative: Array, ratio: float, share: float, grid: Assumed
) -> list[tuple[Array, float]]:
    """For each persistence: normal equations of rows made independent and of equal variance (the
    value as the last column) and the logarithm of the Jacobian.

    The inverse of a first-order persistent covariance has three diagonals, so the equations at
    any persistence r come from sums over rows (all but the first of each side), over the rows
    before them, and over both together: first + (own + r^2 before - r both) / (1 - r^2).
    """
    scale = np.sqrt(1 - share + share * relative) * np.exp((side - 0.5) * ratio)
    scaled = rows / scale[:, None]
    size = rows.shape[1]
    first, own, before, both = (np.zeros((size, size)) for _ in range(4))
    for mine in (scaled[side == 0], scaled[side == 1]):
        first += np.outer(mine[0], mine[0])
        later, earlier = mine[1:], mine[:-1]
        own += later.T @ later
        before += earlier.T @ earlier
        cross = later.T @ earlier
        both += cross + cross.T
    jacobian = -float(np.sum(np.log(scale)))
    out = []
    for r in grid.persistence:
        left = 1 - r * r
        equations = first + (own + r * r * before - r * both) / left
        out.append((equations, jacobian - 0.5 * (len(side) - 2) * math.log(left)))
    return out


def _mixture(
    whitened: list[tuple[Array, float]],
    prior: Array,
    persistence: Array,
    root: Array,
    before: Array,
    after: Array,
    confidence: float,
) -> SideChange:
    equations = np.array([w[0] for w in whitened])
    jacobian = np.array([w[1] for w in whitened])
    n, q = len(before) + len(after), equations.shape[1] - 1
    p = q - 2
    squares, products = equations[:, :q, :q], equations[:, :q, q]
    totals = equations[:, q, q]
    spread = math.sqrt((np.var(before) * len(before) + np.var(after) * len(after)) / (n - 2))
    sigma = max(spread, 1e-9) * np.exp(np.linspace(math.log(0.15), math.log(6.0), _SIGMA_STEPS))
    penalty = np.diag(np.concatenate([np.zeros(2), np.ones(p)]))
    normal = squares[:, None] + sigma[None, :, None, None] ** 2 * penalty
    inverse = np.linalg.inv(normal)
    solution = np.einsum("ksij,kj->ksi", inverse, products)
    misfit = totals[:, None] - np.einsum("ksi,ki->ks", solution, products)
    # (n - q) noise rows and p prior rows share sigma
    log_weight = (
        prior[:, None]
        + jacobian[:, None]
        - (n - 2 - p) * np.log(sigma)
        - 0.5 * np.linalg.slogdet(normal)[1]
        - 0.5 * np.maximum(misfit, 0.0) / sigma**2
    )
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    centre = solution[..., 1]
    variance = sigma**2 * inverse[..., 1, 1]
    mean = float(np.sum(weight * centre))
    total = float(np.sum(weight * (variance + (centre - mean) ** 2)))
    # with the noise known and without end of units, what is left is the nuisances' share
    noise_only = sigma**2 * np.linalg.inv(squares[:, :2, :2])[:, None, 1, 1]
    known = float(np.sum(weight * np.maximum(variance - noise_only, 0.0)))
    low, high = (
        _quantile(weight, centre, variance, tail)
        for tail in ((1 - confidence) / 2, (1 + confidence) / 2)
    )
    return SideChange(
        mean,
        low,
        high,
        math.sqrt(total),
        math.sqrt(known),
        float(np.sum(weight * sigma)),
        float(np.sum(weight * persistence[:, None])),
        np.asarray(root @ np.einsum("ks,ksi->i", weight, solution[..., 2:])) if p else np.zeros(0),
        _below(weight, centre, variance, 0.0),
        len(before),
        len(after),
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
