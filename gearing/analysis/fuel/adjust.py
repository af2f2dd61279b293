"""The adjusted change: days at the same road work, speed, weather and load."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.fuel.days import (
    Table,
    day_levels,
    level_slopes,
    shrinkage_of,
)
from gearing.analysis.fuel.learn import Learned, learn
from gearing.analysis.fuel.physics import demand, slopes
from gearing.analysis.fuel.ranges import Ranges, ranges_of
from gearing.analysis.fuel.weather import DAILY_WIND_MPS, STATION_ERROR_MPS
from gearing.analysis.fuel.wind import DailyWind, daily_wind, with_wind, without_side_difference
from gearing.statistics.arrays import sum_by
from gearing.statistics.two_sides import Nuisance, SideChange, change_between

if TYPE_CHECKING:
    from gearing.analysis.fuel.rows import Rows
    from gearing.analysis.fuel.temperature import AirTemperature
    from gearing.statistics.arrays import Array, Index
    from gearing.study.model import Study

WIND_ROUNDS = 2


@dataclass(frozen=True, slots=True)
class Adjusted:
    """The change in logarithms with all it rests on; `levels` (days,) NaN where not compared.

    `station_error_mps` is by how much the days' winds depart from the weather file's, each way
    (None without one).
    """

    change: SideChange
    learned: Learned
    levels: Array
    sensitivity: Array  # (days, p), of log demand
    compared: Index  # numbers of the days compared
    rows: Rows  # with the wind as it was taken
    physics_error: float  # of the change, in logarithms, however many days there were
    station_error_mps: float | None = None

    @property
    def sides(self) -> tuple[Array, Array]:
        """Levels of the days compared, before and after, in order of time."""
        count = self.change.n_before
        return self.levels[self.compared[:count]], self.levels[self.compared[count:]]


def adjust(
    study: Study,
    rows: Rows,
    table: Table,
    days: Index,
    lengths: Array,
    *,
    air: AirTemperature,
    weather_covered: float,
) -> Adjusted:
    """Compare the `days` (numbers, before then after, in order of time).

    A weather file's wind, as far as it reaches, is where each day's begins; the contrast between
    courses corrects it, and tells how far such a file is to be trusted.
    """
    after = rows.is_after
    counts = (int((~after[days]).sum()), int(after[days].sum()))

    def assumed(known: float, left: Array) -> Ranges:
        variance = float(left[days].mean())
        return ranges_of(study, days=counts, wind_known=known, air=air, wind_left=variance)

    deviation, known = _wind_deviation(rows), weather_covered
    ranges = assumed(known, deviation**2)
    learned = learn(rows, ranges)
    blown, told, station_error = rows, None, None
    for _ in range(WIND_ROUNDS):
        shrinkage = shrinkage_of(table, table.sums(demand(blown, ranges, learned.theta)))
        told = daily_wind(
            rows, table, ranges, learned.fitted,
            after=after, shrinkage=shrinkage, deviation=deviation, start=told,
        )  # fmt: skip
        station_error, deviation = _trusted(told, deviation)
        if station_error is not None:
            left = DAILY_WIND_MPS**2 - station_error**2
            trust = left / (DAILY_WIND_MPS**2 - STATION_ERROR_MPS**2)
            known = weather_covered * float(np.clip(trust, 0.0, 1.0))
        ranges = assumed(known, told.spread)
        blown = with_wind(rows, without_side_difference(told, after))
        learned = learn(blown, ranges, learned)
    asked, slope = slopes(blown, ranges, learned.theta, table.row_pair, len(table.cell))
    shrinkage = shrinkage_of(table, asked)
    levels = day_levels(table, asked, shrinkage=shrinkage)
    # how the logarithm of each day's demand moves with each range, cells' factors following
    sensitivity = -level_slopes(table, asked, levels, slope, shrinkage=shrinkage)
    compared = days[np.isfinite(levels[days]) & np.isfinite(sensitivity[days]).all(axis=1)]
    sides = [compared[~after[compared]], compared[after[compared]]]
    order = np.concatenate(sides)
    change = change_between(
        levels[sides[0]],
        levels[sides[1]],
        nuisance=Nuisance(sensitivity[order], learned.covariance),
        lengths=lengths[order],
    )
    return Adjusted(
        change, learned, levels, sensitivity, order, blown, change.known_error, station_error
    )


def _wind_deviation(rows: Rows) -> Array:
    """Of each day's wind, each way, from what is taken of it; mean of the day's steps [m/s]."""
    count = np.maximum(np.bincount(rows.day, minlength=len(rows.days)), 1)
    variance = sum_by(rows.day, rows.wind_spread, len(rows.days)) / count
    return np.sqrt(np.where(variance > 0, variance, DAILY_WIND_MPS**2))


def _trusted(told: DailyWind, deviation: Array) -> tuple[float | None, Array]:
    """How far the days' winds depart from the file's, each way, and `deviation` with that for the
    days it tells of: the update of a variance by expectation and maximization."""
    filed = deviation < (DAILY_WIND_MPS + STATION_ERROR_MPS) / 2
    if not filed.any():
        return None, deviation
    each = (told.vectors[filed] ** 2).mean(axis=1) + told.spread[filed]
    error = float(np.clip(np.sqrt(each.mean()), STATION_ERROR_MPS / 2, DAILY_WIND_MPS))
    return error, np.where(filed, error, deviation)
