"""Two samples against each other: Welch's and Student's t, paired t, ratios through logarithms."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.statistics.arrays import as_vector, standard_deviation
from gearing.statistics.intervals import CONFIDENCE, half_width, t_two_sided

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True)
class Difference:
    """A difference of means, its standard error and the degrees of freedom behind it."""

    value: float
    standard_error: float
    degrees: float
    n_first: int
    n_second: int

    @property
    def t(self) -> float:
        """The difference over its standard error [-]; where that is zero, 0 for no difference
        and else infinite with its sign."""
        if self.standard_error == 0:
            return math.copysign(math.inf, self.value) if self.value else 0.0
        return self.value / self.standard_error

    @property
    def p(self) -> float:
        """Two-sided probability of a difference this large where there is none."""
        return t_two_sided(self.t, self.degrees)

    def interval(self, confidence: float = CONFIDENCE) -> tuple[float, float]:
        """Lower and upper end of the t interval that holds the true difference with
        `confidence`."""
        reach = half_width(self.standard_error, self.degrees, confidence)
        return self.value - reach, self.value + reach

    def widened(self, standard_error: float) -> Difference:
        """With an independent, well-known error added in squares.

        The degrees of freedom grow by Satterthwaite's rule, the added part counting as known.
        """
        total = math.hypot(self.standard_error, standard_error)
        if self.standard_error == 0 or total == 0:
            return Difference(self.value, total, math.inf, self.n_first, self.n_second)
        degrees = self.degrees * (total / self.standard_error) ** 4
        return Difference(self.value, total, degrees, self.n_first, self.n_second)


def satterthwaite(variances: ArrayLike, degrees: ArrayLike) -> float:
    """Degrees of freedom of a sum of independent variance estimates (Satterthwaite 1946)."""
    variance, degree = as_vector(variances), np.asarray(degrees, dtype=np.float64)
    return float(variance.sum() ** 2 / np.sum(variance**2 / degree))


def welch(
    first: ArrayLike,
    second: ArrayLike,
    *,
    effective_first: float | None = None,
    effective_second: float | None = None,
) -> Difference:
    """Mean of `second` less mean of `first`, variances not taken as equal (Welch 1947).

    `effective_first` and `effective_second` are the counts of independent values where
    neighbours resemble each other; they take the place of the counts, in the error and in the
    degrees of freedom.

    Raises
    ------
    ValueError
        under two values in a sample.
    """
    a, b = as_vector(first), as_vector(second)
    if min(len(a), len(b)) < 2:
        raise ValueError("each sample needs at least two values")
    n_a = float(len(a)) if effective_first is None else effective_first
    n_b = float(len(b)) if effective_second is None else effective_second
    n_a, n_b = max(n_a, 1.5), max(n_b, 1.5)
    variance_a = standard_deviation(a) ** 2 / n_a
    variance_b = standard_deviation(b) ** 2 / n_b
    total = variance_a + variance_b
    if total == 0:
        degrees = n_a + n_b - 2
    else:
        degrees = satterthwaite([variance_a, variance_b], [n_a - 1, n_b - 1])
    difference = float((b - a[0]).mean() - (a - a[0]).mean())
    return Difference(difference, math.sqrt(total), degrees, len(a), len(b))


def pooled(first: ArrayLike, second: ArrayLike) -> Difference:
    """Mean of `second` less mean of `first`, one variance for both (Student 1908)."""
    a, b = as_vector(first), as_vector(second)
    degrees = len(a) + len(b) - 2
    if min(len(a), len(b)) < 1 or degrees < 1:
        raise ValueError("each sample needs a value, and both together three")
    squares = float(np.sum((a - a.mean()) ** 2) + np.sum((b - b.mean()) ** 2))
    error = math.sqrt(squares / degrees * (1 / len(a) + 1 / len(b)))
    return Difference(float(b.mean() - a.mean()), error, float(degrees), len(a), len(b))


def paired(first: ArrayLike, second: ArrayLike) -> Difference:
    """Mean of the differences `second` less `first` of pairs."""
    a, b = as_vector(first), as_vector(second)
    if len(a) != len(b) or len(a) < 2:
        raise ValueError("pairs need two samples of one length, two pairs at least")
    d = b - a
    error = standard_deviation(d) / math.sqrt(len(d))
    return Difference(float(d.mean()), error, float(len(d) - 1), len(a), len(b))


def log_ratio(
    first: ArrayLike,
    second: ArrayLike,
    *,
    effective_first: float | None = None,
    effective_second: float | None = None,
) -> Difference:
    """`welch` on logarithms: `percent` of its value is the change of second against first."""
    a, b = as_vector(first), as_vector(second)
    if min(a.min(initial=1.0), b.min(initial=1.0)) <= 0:
        raise ValueError("a ratio needs positive values")
    return welch(
        np.log(a), np.log(b), effective_first=effective_first, effective_second=effective_second
    )


def percent(log: float) -> float:
    """A difference of logarithms as a change in percent."""
    return 100 * math.expm1(log)


def log_of_percent(change: float) -> float:
    """The inverse of `percent`."""
    return math.log1p(change / 100)
