"""A mixture of normal laws: its mean and central intervals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gearing.statistics.arrays import Array
from gearing.statistics.intervals import CONFIDENCE

WIDEST = 9.0  # standard deviations beyond which a component holds nothing


@dataclass(frozen=True, slots=True)
class Mixture:
    """Components of shape (n,): `weight` (sums to one), `mean` and `sd`."""

    weight: Array
    mean: Array
    sd: Array

    @property
    def value(self) -> float:
        """The likeliest component's mean."""
        return float(self.mean[int(np.argmax(self.weight))])

    def quantile(self, probability: float) -> float:
        """Value below which the mixture lies with this probability, by bisection."""
        from scipy.special import ndtr

        low = float((self.mean - WIDEST * self.sd).min())
        high = float((self.mean + WIDEST * self.sd).max())
        for _ in range(80):
            middle = 0.5 * (low + high)
            below = float(self.weight @ ndtr((middle - self.mean) / np.maximum(self.sd, 1e-12)))
            low, high = (middle, high) if below < probability else (low, middle)
        return 0.5 * (low + high)

    def interval(self, confidence: float = CONFIDENCE) -> tuple[float, float]:
        """Central interval of the given probability."""
        tail = 0.5 * (1 - confidence)
        return self.quantile(tail), self.quantile(1 - tail)
