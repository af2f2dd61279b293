"""What the logs themselves say of rolling, drag and overhead: stretches within a day compared.

Stretches of a day against each other tell how fuel goes with grade, speed and start-stop, and
hence narrow the ranges of physics. Each day has its own level here, so nothing is learned from
one side against the other: what is on trial stays untouched.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.fuel.physics import slopes
from gearing.analysis.fuel.ranges import Ranges
from gearing.statistics.arrays import sum_by
from gearing.statistics.posterior import Linear, robust_posterior

if TYPE_CHECKING:
    from gearing.analysis.fuel.rows import Rows
    from gearing.statistics.arrays import Array, Index

STRETCH_STEPS = 20
EVEN_RUNS = 6  # a stretch has at least so many runs of fuel spread evenly
FIRST_ROUNDS, LATER_ROUNDS = 4, 2


@dataclass(frozen=True, slots=True)
class Learned:
    """`theta` and its covariance once estimated from the logs.

    `fitted` is `theta` with the effect on trial still in it.
    """

    ranges: Ranges
    theta: Array
    covariance: Array
    fitted: Array

    @property
    def learned(self) -> Array:
        """Share of each range's deviation the logs took away."""
        return 1 - np.sqrt(np.diag(self.covariance)) / self.ranges.deviations


def learn(rows: Rows, ranges: Ranges, start: Learned | None = None) -> Learned:
    """Posterior of `theta` from stretches of about 2 km, day levels taken out.

    `start`: where an earlier round left off.
    """
    stretch, day_of, place = _stretches(rows)
    fuel = sum_by(stretch, rows.fuel_l)
    theta = np.zeros(len(ranges.each)) if start is None else start.fitted
    if len(fuel) < 3 * len(theta) or fuel.sum() <= 0:
        return _without_trial(ranges, theta, np.diag(ranges.deviations**2))

    def about(theta: Array) -> Linear:
        asked, slope = slopes(rows, ranges, theta, stretch, len(fuel))
        scale = asked + 0.5 * asked.mean()
        level = sum_by(day_of, fuel * asked / scale**2) / sum_by(day_of, (asked / scale) ** 2)
        expected = level[day_of]
        z = (fuel - expected * asked) / (expected * scale)
        z = without_day(z[:, None], asked / scale, day_of)[:, 0]
        return Linear(
            z,
            without_day(slope / scale[:, None], asked / scale, day_of),
            len(level),
            lambda weight, fitted: _design_effect(z, weight, (day_of, place), fitted),
        )

    rounds = FIRST_ROUNDS if start is None else LATER_ROUNDS
    found = robust_posterior(about, ranges.deviations, start=theta, rounds=rounds)
    return _without_trial(ranges, found.theta, found.covariance)


def _without_trial(ranges: Ranges, fitted: Array, covariance: Array) -> Learned:
    """The effect on trial let go again: nothing may be adjusted for it."""
    theta, covariance = fitted.copy(), covariance.copy()
    trial = ranges.on_trial
    theta[trial] = 0.0
    covariance[trial, :] = 0.0
    covariance[:, trial] = 0.0
    return Learned(ranges, theta, covariance, fitted)


def _stretches(rows: Rows) -> tuple[Index, Index, Index]:
    """Number of the stretch each row lies in, and of each stretch the day and the place, numbered
    anew; without a position a stretch is a place of its own."""
    new_trip = np.concatenate([[True], rows.trip[1:] != rows.trip[:-1]])
    begin = np.flatnonzero(new_trip)
    along = np.arange(rows.count) - begin[np.cumsum(new_trip) - 1]
    new = new_trip | (along % max(STRETCH_STEPS, EVEN_RUNS * even_run(rows)) == 0)
    _, day = np.unique(rows.day[new], return_inverse=True)
    cell = rows.cell[new]
    _, place = np.unique(np.where(cell < 0, -1 - np.arange(len(cell)), cell), return_inverse=True)
    return np.asarray(np.cumsum(new) - 1), np.asarray(day), np.asarray(place)


def even_run(rows: Rows) -> int:
    """Over how many rows fuel is spread evenly, on the mean: 1 where a rate is logged, and as many
    as a step of a counter takes, within which it tells nothing of hills and speeds."""
    rate = rows.fuel_l / rows.moving_s
    even = (np.abs(np.diff(rate)) < 1e-3 * rate[1:]) & (np.diff(rows.trip) == 0)
    begin = np.concatenate([[0], np.flatnonzero(~even) + 1, [rows.count]])
    length = np.diff(begin).astype(float)  # of the run that a row lies in, mean of rows
    return max(1, round(float(length @ length / length.sum())))


def without_day(values: Array, regressor: Array, day: Index) -> Array:
    """Each column less its day's multiple of `regressor`."""
    squares = sum_by(day, regressor**2)
    squares = np.where(squares > 0, squares, 1.0)  # of a day that nothing is of
    out = np.empty_like(values)
    for index in range(values.shape[1]):
        share = sum_by(day, values[:, index] * regressor) / squares
        out[:, index] = values[:, index] - share[day] * regressor
    return out


def _design_effect(z: Array, weight: Array, clusters: tuple[Index, Index], fitted: float) -> float:
    """How much less the stretches tell than as many independent ones.

    Passes of a place have in common what the model misses there, and stretches of a day that
    day's weather: by how much residuals agree within either, as the ratio of mean squares between
    and within, with `fitted` parameters taken from the clusters' number.
    """
    effect = -1.0
    for cluster in clusters:
        mass = sum_by(cluster, weight)
        mean = sum_by(cluster, weight * z) / np.maximum(mass, 1e-12)
        between = float(mass @ mean**2) / max(len(mass) - fitted, 1.0)
        within = float(weight @ (z - mean[cluster]) ** 2) / max(len(z) - len(mass), 1)
        effect += max(between / within, 1.0) if within > 0 else 1.0
    return effect
