"""The adjusted change: days at the same road work, speed, weather and load."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from gearing.findings.fuel.days import (
    Table,
    day_levels,
    level_slopes,
    loyalty_of,
    make_table,
)
from gearing.findings.fuel.learn import Learned, learn, whole_days
from gearing.findings.fuel.physics import demand, slopes
from gearing.findings.fuel.ranges import DAILY_WIND_MPS, Ranges, ranges_of
from gearing.findings.fuel.wind import (
    STATION_ERROR_MPS,
    daily_wind,
    with_wind,
    without_side_difference,
)
from gearing.statistics.two_sides import Nuisance, SideChange, change_between

if TYPE_CHECKING:
    from gearing.findings.fuel.rows import Rows
    from gearing.statistics.arrays import Array, Index
    from gearing.study.model import Study

WIND_ROUNDS = 2
MOST_ROWS = 200_000  # beyond, all but the levels themselves is found from every n-th row
COVERED_LEAST = 0.9  # of each side's driving, for the weather file's wind to be tried


@dataclass(frozen=True, slots=True)
class Adjusted:
    """The change in logarithms with all it rests on; `levels` (days,) NaN where not compared.

    `held_out` is the root mean square of what a day departs by from the mean of the other days
    of its side, in logarithms; `held_out_otherwise` the same with the wind file's other use
    (None where there was no choice); `file_wind` whether the file's wind was taken.
    """

    change: SideChange
    learned: Learned
    levels: Array
    sensitivity: Array  # (days, p), of log demand
    compared: Index  # numbers of the days compared
    loyalty: float
    held_out: float
    file_wind: bool
    rows: Rows  # with the wind as it was taken; of very many, every n-th
    held_out_otherwise: float | None = None

    @property
    def sides(self) -> tuple[Array, Array]:
        """Levels of the days compared, before and after, in order of time."""
        count = self.change.n_before
        return self.levels[self.compared[:count]], self.levels[self.compared[count:]]


def adjust(
    study: Study, rows: Rows, table: Table, days: Index, lengths: Array, *, weather_covered: float
) -> Adjusted:
    """Compare the `days` (numbers, before then after, in order of time).

    A weather file's wind is used where the held-out error of a day is smaller with it.
    """
    nothing = np.zeros(rows.count)
    unknown = replace(
        rows, head_mps=nothing, cross_mps=nothing, wind_spread=nothing + DAILY_WIND_MPS**2
    )
    after = int(rows.is_after[days].sum())
    counts = (len(days) - after, after)
    assumed = ranges_of(study, wind_known=False, days=counts)
    without = _adjust(unknown, table, assumed, days, lengths)
    if weather_covered < COVERED_LEAST:
        return without
    assumed = ranges_of(study, wind_known=True, days=counts)
    told = replace(rows, wind_spread=nothing + STATION_ERROR_MPS**2)
    with_file = _adjust(told, table, assumed, days, lengths, file_wind=True)
    chosen, other = (
        (with_file, without) if with_file.held_out <= without.held_out else (without, with_file)
    )
    return replace(chosen, held_out_otherwise=other.held_out)


def _adjust(
    given: Rows,
    table: Table,
    ranges: Ranges,
    days: Index,
    lengths: Array,
    *,
    file_wind: bool = False,
) -> Adjusted:
    after = given.is_after
    thin, thin_table = _thinned(given, table)
    heard = whole_days(given)
    rows, learned, loyalty, told = thin, learn(heard, ranges), 1.0, None
    for _ in range(WIND_ROUNDS):
        loyalty = loyalty_of(thin_table, thin_table.sums(demand(rows, ranges, learned.theta)))
        told = daily_wind(
            thin,
            thin_table,
            ranges,
            learned.fitted,
            after=after,
            loyalty=loyalty,
            deviation_mps=STATION_ERROR_MPS if file_wind else DAILY_WIND_MPS,
            start=told,
        )
        wind = without_side_difference(told, after)
        rows = with_wind(thin, wind)
        learned = learn(with_wind(heard, wind), ranges, learned)
    asked = table.sums(demand(with_wind(given, wind), ranges, learned.theta))
    loyalty = loyalty_of(table, asked)
    levels = day_levels(table, asked, loyalty=loyalty)
    sensitivity = _sensitivity(rows, thin_table, ranges, learned, loyalty)
    compared = days[np.isfinite(levels[days]) & np.isfinite(sensitivity[days]).all(axis=1)]
    sides = [compared[~after[compared]], compared[after[compared]]]
    order = np.concatenate(sides)
    change = change_between(
        levels[sides[0]],
        levels[sides[1]],
        nuisance=Nuisance(sensitivity[order], learned.covariance),
        lengths=lengths[order],
    )
    held_out = _held_out([levels[side] for side in sides])
    return Adjusted(change, learned, levels, sensitivity, order, loyalty, held_out, file_wind, rows)


def _thinned(rows: Rows, table: Table) -> tuple[Rows, Table]:
    stride = int(np.ceil(rows.count / MOST_ROWS))
    if stride <= 1:
        return rows, table
    thin = rows.take(np.arange(0, rows.count, stride))
    return thin, make_table(thin)


def _sensitivity(
    rows: Rows, table: Table, ranges: Ranges, learned: Learned, loyalty: float
) -> Array:
    """How the logarithm of each day's demand moves with each range, cells' factors following."""
    base, columns = slopes(rows, ranges, learned.theta)
    asked = table.sums(base)
    levels = day_levels(table, asked, loyalty=loyalty)
    of_pairs = np.column_stack([table.sums(column) for column in columns.T])
    return -level_slopes(table, asked, levels, of_pairs, loyalty=loyalty)


def _held_out(sides: list[Array]) -> float:
    """Root mean square departure of each value from the mean of the others on its side."""
    squares = [((side - side.mean()) * len(side) / max(len(side) - 1, 1)) ** 2 for side in sides]
    return float(np.sqrt(np.mean(np.concatenate(squares))))
