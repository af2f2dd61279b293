"""What the logs themselves say of rolling, drag, overhead and wind: stretches of a day compared.

Stretches of a day against each other tell how fuel goes with grade, speed and start-stop, and
hence narrow the ranges of physics; courses of a day against each other tell its wind, which adds
one way what it takes off the other. All stand in one posterior: the ranges, each day's wind (a
vector about the weather file's, or about none), each day's level and each place's factor.

Each day has its own level, so nothing is learned from one side against the other: what is on
trial stays untouched. It stands beside the rest while they are learned, and is then let go. The
days' own winds have no mean on either side: what the sides' mean winds differ by is one of the
ranges, for on roads driven one way a tire that rolls easier looks like a tailwind on every day.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.fuel.days import Table, shrinkage_of
from gearing.analysis.fuel.physics import DAY_WIND, slopes
from gearing.analysis.fuel.ranges import Ranges
from gearing.analysis.fuel.weather import DAILY_WIND_MPS, STATION_ERROR_MPS
from gearing.analysis.fuel.wind import DailyWind, with_wind
from gearing.statistics.arrays import sum_by
from gearing.statistics.posterior import Design, Effects, Linear, Posterior, robust_posterior

if TYPE_CHECKING:
    from gearing.analysis.fuel.rows import Rows
    from gearing.statistics.arrays import Array, Index

# The ranges by the variance left of a day's wind, each way, and the share of what a weather file
# could tell of it that it does tell
Assume = Callable[[float, float], Ranges]

STRETCH_STEPS = 20
EVEN_RUNS = 6  # a stretch has at least so many runs of fuel spread evenly
NO_MEAN = 1e4  # how much surer than a day's wind it is that a side's have no mean
MAX_WINDY_DAYS = 700  # of more days the winds average out, and a matrix of them all is large


@dataclass(frozen=True, slots=True)
class Learned:
    """`theta`, the effect on trial let go, and its covariance, with that effect's.

    `wind` is each day's own beyond the file's, `following` (days, 2, p) how that moves with
    theta; `station_error_mps` by how much the days' winds depart from the weather file's, each
    way (None without one).
    """

    ranges: Ranges
    theta: Array
    covariance: Array
    wind: DailyWind
    following: Array
    station_error_mps: float | None = None
    rounds: int = 0
    moved: float = 0.0

    @property
    def learned(self) -> Array:
        """Share of each range's deviation the logs took away."""
        return 1 - np.sqrt(np.diag(self.covariance)) / self.ranges.deviations


def learn(rows: Rows, assume: Assume, *, rounds: int | None = None) -> Learned:
    """Posterior of the ranges and of each day's wind from stretches of about 2 km.

    `rounds`: at most so many, for tests; else until nothing moves.
    """
    model = _Model(rows, assume)
    start = model.start()
    if len(model.fuel) < 3 * model.count or model.fuel.sum() <= 0:
        return model.found(start)
    if rounds is not None:
        return model.found(robust_posterior(model.about, start, tolerance=0.0, rounds=rounds))
    return model.found(robust_posterior(model.about, start))


class _Model:
    """Fuel of each stretch: day's level x place's factor x what physics asks for.

    Parameters in order: theta, the days' levels, their winds from east, from north.
    """

    def __init__(self, rows: Rows, assume: Assume) -> None:
        self.rows, self.assume = rows, assume
        self.stretch, self.day, self.place = _stretches(rows)
        self.fuel = sum_by(self.stretch, rows.fuel_l)
        self.days, self.deviation = len(rows.days), _wind_deviation(rows)
        self.filed = self.deviation < (DAILY_WIND_MPS + STATION_ERROR_MPS) / 2
        self.windy = len(rows.days) <= MAX_WINDY_DAYS
        self.ranges = assume(self._left(self.deviation**2), 1.0)
        self.count = len(self.ranges.each)
        self.names = (*(one.name for one in self.ranges.each), *DAY_WIND)

    def start(self) -> Posterior:
        """Nothing learned: theta at zero, no wind, each day's level as its fuel has it."""
        nothing, groups = np.zeros(self.count), len(self.fuel)
        asked = slopes(self.rows, self.ranges, nothing, self.stretch, groups, names=())[0]
        burnt, usual = (sum_by(self.day, one, self.days) for one in (self.fuel, asked))
        level = np.log(np.maximum(burnt, 1e-12) / np.maximum(usual, 1e-12))
        theta = np.concatenate([np.zeros(self.count), level, np.zeros(2 * self.winds)])
        own = np.tile(self.deviation**2, 2) if self.windy else np.zeros(0)
        variance = np.concatenate([self.ranges.deviations**2, np.zeros(self.days), own])
        return Posterior(theta, np.diag(variance))

    @property
    def winds(self) -> int:
        """Days whose winds are parameters."""
        return self.days if self.windy else 0

    def about(self, at: Posterior) -> Linear:
        """The model about a theta, what is assumed of the wind told by the posterior so far."""
        theta, level, wind = self._parts(at)
        self._trust(at, wind)
        blown = with_wind(self.rows, wind)
        asked, slope = slopes(
            blown, self.ranges, theta, self.stretch, len(self.fuel), names=self.names
        )
        scale = asked + 0.5 * asked.mean()
        expected = np.exp(level)[self.day]
        z = (self.fuel - expected * asked) / (expected * scale)
        own, p = asked / scale, self.count
        each = [own, *(slope[:, p:].T / scale if self.windy else ())]
        table = Table(
            self.place,
            self.day,
            self.fuel,
            asked,
            self.stretch,
            int(self.place.max()) + 1,
            self.days,
        )
        return Linear(
            z,
            Design(slope[:, :p] / scale[:, None], np.column_stack(each), self.day, self.days),
            self._precision(),
            np.concatenate([
                self.ranges.deviations,
                np.full(self.days, np.inf),
                np.tile(self.deviation, 2)[: 2 * self.winds],
            ]),
            Effects(self.place, own, shrinkage_of(table, asked) * float(np.mean(own**2))),
            self.day,
        )  # fmt: skip

    def found(self, at: Posterior) -> Learned:
        """What was learned, the effect on trial let go again: nothing may be adjusted for it."""
        theta, _, wind = self._parts(at)
        theta[self.ranges.on_trial] = 0.0
        p, n = self.count, self.days
        covariance = at.covariance[:p, :p]
        following = np.zeros((n, 2, p))
        if self.windy:
            crossed = at.covariance[p + n :, :p] @ np.linalg.inv(covariance)
            following = crossed.reshape(2, n, p).transpose(1, 0, 2)
        error = float(self.deviation[self.filed][0]) if self.filed.any() else None
        return Learned(self.ranges, theta, covariance, wind, following, error, at.rounds, at.moved)

    def _parts(self, at: Posterior) -> tuple[Array, Array, DailyWind]:
        p, n = self.count, self.days
        own = at.theta[p + n :].reshape(2, -1).T if self.windy else np.zeros((n, 2))
        left = (
            np.diag(at.covariance)[p + n :].reshape(2, -1)
            if self.windy
            else (np.tile(self.deviation**2, (2, 1)))
        )
        return at.theta[:p].copy(), at.theta[p : p + n], DailyWind(own, left.mean(axis=0))

    def _trust(self, at: Posterior, wind: DailyWind) -> None:
        """How far the days' winds depart from the file's, and what follows from that and from
        what is left of them: MacKay's update of a prior's deviation, half way."""
        trust = 1.0
        if self.filed.any() and at.rounds and self.windy:
            was = float(self.deviation[self.filed][0])
            told = float(np.sum(1 - wind.spread[self.filed] / was**2))
            now = np.sqrt(
                float((wind.vectors[self.filed] ** 2).mean(axis=1).sum()) / max(told, 0.5)
            )
            error = float(np.clip(now, STATION_ERROR_MPS / 2, DAILY_WIND_MPS))
            self.deviation = np.where(self.filed, error, self.deviation)
            known = DAILY_WIND_MPS**2 - error**2
            trust = float(np.clip(known / (DAILY_WIND_MPS**2 - STATION_ERROR_MPS**2), 0.0, 1.0))
        self.ranges = self.assume(self._left(wind.spread), trust)

    def _left(self, spread: Array) -> float:
        driven = np.unique(self.day)
        return float(spread[driven].mean()) if len(driven) else DAILY_WIND_MPS**2

    def _precision(self) -> Array:
        size = self.count + self.days + 2 * self.winds
        out = np.zeros((size, size))
        p, n = self.count, self.days
        out[range(p), range(p)] = 1 / self.ranges.deviations**2
        out[range(p, p + n), range(p, p + n)] = 1e-6
        after = self.rows.is_after
        for begin in (p + n, p + 2 * n) if self.windy else ():
            block = np.diag(1 / self.deviation**2)
            for side in (after, ~after):
                if side.any():
                    mean = side / side.sum()
                    block += NO_MEAN / self.deviation[side].mean() ** 2 * np.outer(mean, mean)
            out[begin : begin + n, begin : begin + n] = block
        return out


def _wind_deviation(rows: Rows) -> Array:
    """Of each day's wind, each way, from what is taken of it; mean of the day's steps [m/s]."""
    count = np.maximum(np.bincount(rows.day, minlength=len(rows.days)), 1)
    variance = sum_by(rows.day, rows.wind_spread, len(rows.days)) / count
    return np.sqrt(np.where(variance > 0, variance, DAILY_WIND_MPS**2))


def _stretches(rows: Rows) -> tuple[Index, Index, Index]:
    """Number of the stretch each row lies in, and of each stretch the day and the place, numbered
    anew; without a position a stretch is a place of its own."""
    new_trip = np.concatenate([[True], rows.trip[1:] != rows.trip[:-1]])
    begin = np.flatnonzero(new_trip)
    along = np.arange(rows.count) - begin[np.cumsum(new_trip) - 1]
    new = new_trip | (along % max(STRETCH_STEPS, EVEN_RUNS * even_run(rows)) == 0)
    cell = rows.cell[new]
    _, place = np.unique(np.where(cell < 0, -1 - np.arange(len(cell)), cell), return_inverse=True)
    return np.asarray(np.cumsum(new) - 1), rows.day[new], np.asarray(place)


def even_run(rows: Rows) -> int:
    """Over how many rows fuel is spread evenly, on the mean: 1 where a rate is logged, and as many
    as a step of a counter takes, within which it tells nothing of hills and speeds."""
    rate = rows.fuel_l / rows.moving_s
    even = (np.abs(np.diff(rate)) < 1e-3 * rate[1:]) & (np.diff(rows.trip) == 0)
    begin = np.concatenate([[0], np.flatnonzero(~even) + 1, [rows.count]])
    length = np.diff(begin).astype(float)  # of the run that a row lies in, mean of rows
    return max(1, round(float(length @ length / length.sum())))
