"""The adjusted change: days at the same road work, speed, weather and load."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.findings.fuel.days import Table, day_levels, loyalty_of
from gearing.findings.fuel.learn import Learned, learn
from gearing.findings.fuel.physics import Ranges, demand
from gearing.findings.fuel.wind import STATION_ERROR_MPS, UNKNOWN_MPS, daily_wind, with_wind
from gearing.statistics.two_sides import Nuisance, SideChange, change_between

if TYPE_CHECKING:
    from gearing.findings.fuel.rows import Rows
    from gearing.statistics.arrays import Array, Index


WIND_ROUNDS = 2


@dataclass(frozen=True, slots=True)
class Adjusted:
    """The change in logarithms with all it rests on; `levels` (days,) NaN where not compared."""

    change: SideChange
    learned: Learned
    levels: Array
    sensitivity: Array  # (days, p), of log demand
    compared: Index  # numbers of the days compared
    loyalty: float


def adjust(
    rows: Rows, table: Table, ranges: Ranges, days: Index, lengths: Array, *, wind_known: bool
) -> Adjusted:
    """Compare the `days` (numbers, before then after, in order of time)."""
    given = rows
    learned = learn(rows, ranges)
    for _ in range(WIND_ROUNDS):
        asked = table.sums(demand(rows, ranges, learned.theta))
        loyalty = loyalty_of(table, asked)
        vectors = daily_wind(
            given,
            table,
            ranges,
            learned.theta,
            loyalty=loyalty,
            deviation_mps=STATION_ERROR_MPS if wind_known else UNKNOWN_MPS,
        )
        rows = with_wind(given, vectors)
        learned = learn(rows, ranges)
    asked = table.sums(demand(rows, ranges, learned.theta))
    loyalty = loyalty_of(table, asked)
    levels = day_levels(table, asked, loyalty=loyalty)
    sensitivity = np.zeros((table.days, len(ranges.each)))
    for index, deviation in enumerate(ranges.deviations):
        moved = learned.theta.copy()
        moved[index] += 0.3 * deviation
        other = day_levels(table, table.sums(demand(rows, ranges, moved)), loyalty=loyalty)
        sensitivity[:, index] = (levels - other) / (0.3 * deviation)
    after = np.array([day.after for day in rows.days])
    compared = days[np.isfinite(levels[days])]
    before_days, after_days = compared[~after[compared]], compared[after[compared]]
    order = np.concatenate([before_days, after_days])
    change = change_between(
        levels[before_days],
        levels[after_days],
        nuisance=Nuisance(sensitivity[order], learned.covariance),
        lengths=lengths[order],
    )
    return Adjusted(change, learned, levels, sensitivity, order, loyalty)
