"""Posterior of a linear model whose noise is known only in outline.

    y = design @ coefficients + noise,   noise ~ N(0, sigma^2 shape)

Each coefficient has a normal prior (flat where its deviation is infinite). The shape of the
noise's covariance is one of several, sigma lies on a grid with a log-normal prior; both are
integrated out, so that an interval of few values knows that their scatter is not known either.
With one shape, a flat prior everywhere and a wide one of sigma it is Student's (Gelman et al.,
Bayesian Data Analysis, 3rd ed., section 14.2).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from gearing.statistics.arrays import Array, Index

_STEPS = 33
_SPAN = 3.0  # of sigma's prior, standard deviations either way
_BISECTIONS = 60


@dataclass(frozen=True, slots=True)
class Shape:
    """One form the noise may have: its covariance at sigma 1 (n, n), and its weight beforehand."""

    covariance: Array
    log_prior: float


@dataclass(frozen=True, slots=True)
class Scale:
    """Prior of sigma: log-normal about `median`, `log_deviation` wide."""

    median: float
    log_deviation: float

    @property
    def grid(self) -> Array:
        """Values of sigma the posterior is summed over."""
        steps = np.linspace(-_SPAN, _SPAN, _STEPS)
        return np.asarray(self.median * np.exp(self.log_deviation * steps))

    @property
    def log_density(self) -> Array:
        """Logarithm of the prior there, but for a constant."""
        return np.asarray(-0.5 * np.linspace(-_SPAN, _SPAN, _STEPS) ** 2)


@dataclass(frozen=True, slots=True)
class LinearPosterior:
    """Mixture of normals: `weight` (k,), `mean` (k, p), `covariance` (k, p, p), with the `sigma`
    (k,) and the number of the `shape` (k,) of each."""

    weight: Array
    mean: Array
    covariance: Array
    sigma: Array
    shape: Index

    def moments(self, contrast: Array) -> tuple[float, float]:
        """Mean and standard deviation of a linear combination of the coefficients."""
        centre, variance = self._normals(contrast)
        mean = float(np.sum(self.weight * centre))
        return mean, math.sqrt(float(np.sum(self.weight * (variance + (centre - mean) ** 2))))

    def below(self, contrast: Array, limit: float = 0.0) -> float:
        """Probability that a linear combination lies under a limit."""
        return _below(self.weight, *self._normals(contrast), limit)

    def quantile(self, contrast: Array, probability: float) -> float:
        """Quantile of a linear combination."""
        mean, deviation = self.moments(contrast)
        normals = self._normals(contrast)
        return root_of_rising(
            lambda x: _below(self.weight, *normals, x) - probability,
            mean - 12 * deviation,
            mean + 12 * deviation,
        )

    def ratio_quantile(
        self, over: Array, under: Array, probability: float, low: float, high: float
    ) -> float:
        """Quantile of (over @ b) / (under @ b), the denominator being positive for sure.

        The ratio is below x where over @ b - x under @ b is below nothing, a linear combination
        again: Fieller's argument (J. R. Stat. Soc. B 16, 1954).
        """
        return root_of_rising(lambda x: self.below(over - x * under) - probability, low, high)

    def _normals(self, contrast: Array) -> tuple[Array, Array]:
        variance = np.einsum("i,kij,j->k", contrast, self.covariance, contrast)
        return self.mean @ contrast, np.maximum(variance, 1e-30)


def _below(weight: Array, centre: Array, variance: Array, limit: float) -> float:
    from scipy.special import ndtr

    return float(np.sum(weight * ndtr((limit - centre) / np.sqrt(variance))))


def root_of_rising(off: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising function crosses nothing, between two ends."""
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        if off(middle) < 0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def linear_posterior(
    y: Array,
    design: Array,
    prior_mean: Array,
    prior_deviation: Array,
    shapes: Sequence[Shape],
    scale: Scale,
) -> LinearPosterior:
    """The posterior of the coefficients.

    Parameters
    ----------
    y, design
        (n,) values and (n, p) columns.
    prior_mean, prior_deviation
        (p,) of the coefficients; an infinite deviation is a flat prior.
    shapes
        forms the noise may have.
    scale
        prior of sigma.

    Raises
    ------
    numpy.linalg.LinAlgError
        the values do not tell a coefficient whose prior is flat.
    """
    precision = np.where(np.isinf(prior_deviation), 0.0, 1 / np.square(prior_deviation))
    rows = np.column_stack([design, y - design @ prior_mean])
    roots = [np.linalg.cholesky(shape.covariance) for shape in shapes]
    white = np.array([np.linalg.solve(root, rows) for root in roots])
    logs = [s.log_prior - np.log(np.diag(r)).sum() for s, r in zip(shapes, roots, strict=True)]
    found = mixture_of(
        white.transpose(0, 2, 1) @ white, np.array(logs), len(y), precision, scale.grid,
        scale.log_density,
    )  # fmt: skip
    return replace(found, mean=found.mean + prior_mean)


def mixture_of(
    equations: Array,
    log_weight: Array,
    count: int,
    precision: Array,
    sigma: Array,
    log_density: Array,
) -> LinearPosterior:
    """The posterior from normal equations, one a shape of the noise.

    Parameters
    ----------
    equations
        (k, p + 1, p + 1): products of the columns, the value as the last, of rows made
        independent and of equal variance.
    log_weight
        (k,) of each shape beforehand, with the Jacobian of that.
    count
        of the values.
    precision
        (p,) of the coefficients' priors about zero; 0 is a flat one.
    sigma, log_density
        (s,) the grid of the noise's size, and its prior there.
    """
    p = len(precision)
    scaled = (sigma**-2)[:, None, None] * equations[:, None]  # (k, s, p + 1, p + 1)
    normal = scaled[..., :p, :p] + np.diag(precision)
    covariance = np.linalg.inv(normal)
    right = scaled[..., :p, p]
    mean = np.einsum("ksij,ksj->ksi", covariance, right)
    misfit = scaled[..., p, p] - np.sum(mean * right, axis=-1)
    logs = (
        log_weight[:, None]
        + log_density
        - count * np.log(sigma)
        - 0.5 * np.linalg.slogdet(normal)[1]
        - 0.5 * np.maximum(misfit, 0.0)
    )
    weight = np.exp(logs - logs.max())
    kept = weight > 1e-8
    number, size = np.nonzero(kept)
    return LinearPosterior(
        weight[kept] / weight[kept].sum(), mean[kept], covariance[kept], sigma[size], number
    )


def planned_deviation(
    design: Array,
    prior_deviation: Array,
    covariance: Array,
    contrast: Array,
) -> float:
    """Standard deviation a linear combination will have once values at these rows are known.

    `covariance` (n, n) is the noise's; what the values will be does not matter.
    """
    precision = np.where(np.isinf(prior_deviation), 0.0, 1 / np.square(prior_deviation))
    white = np.linalg.solve(np.linalg.cholesky(covariance), design)
    inverse = np.linalg.inv(white.T @ white + np.diag(precision))
    return math.sqrt(float(contrast @ inverse @ contrast))
