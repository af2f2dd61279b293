"""The saving to be expected from the gearing alone: fewer revolutions for the same road.

A Willans line (fuel against crank work and engine revolutions) fitted to the logs: overhead is
what the engine burns to turn itself, and the share of it that goes with revolutions is what a
taller tire can save. Rolling resistance, mass and shape of the new tires are not in it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.fuel.physics import demand
from gearing.messages import message
from gearing.statistics.comparison import percent
from gearing.statistics.estimate import NORMAL_95, Estimate, unknown

if TYPE_CHECKING:
    from gearing.analysis.fuel.learn import Learned
    from gearing.analysis.fuel.rows import Rows
    from gearing.statistics.arrays import Array

# friction grows faster than engine speed; between in proportion and with the square
POWER_OF_SPEED = 1.5
POWER_DEVIATION = 0.3


def expected_from_gearing(
    rows: Rows, learned: Learned, final_drive_change: float | None
) -> Estimate:
    """Change of consumption [%] if engine speed changes by `final_drive_change` (logarithm) at
    the same road speed and nothing else does."""
    if final_drive_change is None:
        return unknown(message("needs-engine-speed"))
    ranges = learned.ranges
    names = [one.name for one in ranges.each]
    overhead, split = names.index("overhead"), names.index("overhead_with_revolutions")

    def asked(theta: Array) -> float:
        return float(demand(rows, ranges, theta).sum())

    def saving(theta: Array, power: float, base: float) -> float:
        """ln of the fuel [-] with the final drive changed, over that without: `base` [L]."""
        less = theta.copy()
        p = ranges.values(theta)
        share = p["overhead_with_revolutions"]
        kept = 1 - share + share * math.exp(power * final_drive_change)
        less[overhead] += math.log(max(kept, 0.05))
        less[split] += share * math.exp(power * final_drive_change) / max(kept, 0.05) - share
        return math.log(asked(less) / base)

    base = asked(learned.theta)
    value = saving(learned.theta, POWER_OF_SPEED, base)
    variance = (saving(learned.theta, POWER_OF_SPEED + POWER_DEVIATION, base) - value) ** 2
    gradient = np.zeros(len(names))
    for index in (overhead, split):
        moved = learned.theta.copy()
        step = 0.3 * ranges.deviations[index]
        moved[index] += step
        gradient[index] = (saving(moved, POWER_OF_SPEED, asked(moved)) - value) / step
    error = math.sqrt(variance + float(gradient @ learned.covariance @ gradient))
    ends = sorted((value - NORMAL_95 * error, value + NORMAL_95 * error))
    # fewer revolutions never cost fuel, nor more save it
    low, high = (
        (min(ends[0], 0.0), min(ends[1], 0.0)) if value < 0 else (max(ends[0], 0.0), ends[1])
    )
    return Estimate(value, low, high, len(np.unique(rows.day)), "willans-line").map(percent)


def final_drive_change(trips: pl.DataFrame) -> float | None:
    """Logarithm of the effective axle ratio after over before, medians of trips in use."""
    used = trips.filter(pl.col("used") & pl.col("final_drive").is_not_null())
    middle = {
        side: used.filter(pl.col("side") == side)["final_drive"].median()
        for side in ("before", "after")
    }
    before, after = middle["before"], middle["after"]
    if not isinstance(before, float) or not isinstance(after, float) or min(before, after) <= 0:
        return None
    return math.log(after / before)
