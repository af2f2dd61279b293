"""What the data could have shown: smallest detectable change, and how much more would show it."""

from __future__ import annotations

import math

from gearing.statistics.intervals import t_quantile

POWER = 0.80
SIGNIFICANCE = 0.05


def smallest_detectable(standard_error: float, degrees: float, power: float = POWER) -> float:
    """The true difference found significant (5 %, two-sided) with probability `power`.

    (t at 1 - a/2 plus t at `power`) times the standard error: the usual approximation to the
    noncentral t, within 1 % from five degrees of freedom on.
    """
    reach = t_quantile(1 - SIGNIFICANCE / 2, degrees) + t_quantile(power, degrees)
    return reach * standard_error


def more_units(
    deviation_fixed: float,
    n_fixed: float,
    deviation_growing: float,
    n_growing: float,
    target: float,
    *,
    floor_error: float = 0.0,
    most: float = 1e5,
    power: float = POWER,
) -> float | None:
    """How many more units on the growing side until `target` is the smallest change detectable
    with `power`; with one of a half, until it is half the width of the 95 % interval.

    One side stays at `n_fixed` (the old tires are gone), `floor_error` is what no unit takes
    away. 0 where it is reached already; None where no number is enough.
    """

    def detectable(n: float) -> float:
        """Smallest detectable change with `n` units on the growing side, the degrees of freedom
        by Satterthwaite's rule, the floor counting as known."""
        fixed, growing = deviation_fixed**2 / n_fixed, deviation_growing**2 / n
        total = fixed + growing
        if total <= 0:
            return smallest_detectable(floor_error, math.inf, power)
        degrees = total**2 / (
            fixed**2 / max(n_fixed - 1, 0.5) + growing**2 / max(n - 1, 0.5) or math.inf
        )
        error = math.hypot(math.sqrt(total), floor_error)
        degrees *= (error**2 / total) ** 2
        return smallest_detectable(error, degrees, power)

    if detectable(n_growing) <= target:
        return 0.0
    if detectable(n_growing + most) > target:
        return None
    low, high = 0.0, most
    for _ in range(200):
        middle = (low + high) / 2
        if detectable(n_growing + middle) > target:
            low = middle
        else:
            high = middle
        if high - low < 1e-6 * max(1.0, high):
            break
    return high
