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
from gearing.analysis.fuel.model import Physics
from gearing.analysis.fuel.physics import DAY_WIND, slopes
from gearing.analysis.fuel.ranges import NO_DOUBT, ON_TRIAL, ranges_of
from gearing.analysis.fuel.wind import with_wind
from gearing.statistics.arrays import sum_by
from gearing.statistics.two_sides import Nuisance, SideChange, change_between
from gearing.units import STANDARD_GRAVITY_MPS2

if TYPE_CHECKING:
    from gearing.analysis.fuel.rows import Rows
    from gearing.analysis.fuel.temperature import AirTemperature
    from gearing.statistics.arrays import Array, Index
    from gearing.study.model import Study


# One deviation of what a road that ends higher than it began asks for, over what its rise does:
# of the demo's drives, none of which changed tires, those out and those home lean by 13 and 22 %
# of that where neither shares a road with the other.
CLIMB_LAW = 0.15


@dataclass(frozen=True, slots=True)
class Adjusted:
    """The change in logarithms with all it rests on; `levels` (days,) NaN where not compared."""

    change: SideChange
    learned: Learned
    levels: Array
    sensitivity: Array  # (days, p), of log demand
    compared: Index  # numbers of the days compared
    rows: Rows  # with the wind as it was taken
    physics_error: float  # of the change, in logarithms, however many days there were

    @property
    def sides(self) -> tuple[Array, Array]:
        """Levels of the days compared, before and after, in order of time."""
        count = self.change.n_before
        return self.levels[self.compared[:count]], self.levels[self.compared[count:]]

    @property
    def physics(self) -> tuple[Physics, ...]:
        """Each range, what the logs made of it, and the points it may move the answer by."""
        count, learned = self.change.n_before, self.learned
        seen = self.sensitivity[self.compared]
        lever = seen[count:].mean(axis=0) - seen[:count].mean(axis=0)
        deviation = np.sqrt(np.diag(learned.covariance))
        points = np.abs(100 * lever * deviation)
        return tuple(
            Physics(
                one.name,
                one.at(float(learned.theta[i])),
                float(deviation[i]) * (one.at(float(learned.theta[i])) if one.relative else 1.0),
                one.unit,
                float(points[i]),
                float(np.clip(learned.learned[i], 0.0, 1.0)),
                one.source,
            )
            for i, one in enumerate(learned.ranges.each)
            if one.name not in ON_TRIAL and one.deviation > NO_DOUBT
        )


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

    What physics and wind leave open of each day's demand is carried on, the winds following what
    is assumed of the rest.
    """
    after = rows.is_after
    counts = (int((~after[days]).sum()), int(after[days].sum()))
    learned = learn(
        rows,
        lambda left, trust: ranges_of(
            study, days=counts, wind_known=trust * weather_covered, air=air, wind_left=left
        ),
    )
    blown = with_wind(rows, learned.wind)
    names = tuple(one.name for one in learned.ranges.each)
    asked, slope = slopes(
        blown, learned.ranges, learned.theta, table.row_pair, len(table.cell),
        names=(*names, *DAY_WIND),
    )  # fmt: skip
    by_wind = np.einsum("ik,ikj->ij", slope[:, len(names) :], learned.following[table.day])
    slope = slope[:, : len(names)]
    slope[:, learned.ranges.on_trial] = 0.0
    slope += by_wind
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
        times=rows.dates[order],
        lengths=lengths[order],
    ).widened(CLIMB_LAW * abs(_climb_apart(rows, table, asked)))
    return Adjusted(change, learned, levels, sensitivity, order, blown, change.known_error)


def _climb_apart(rows: Rows, table: Table, asked: Array) -> float:
    """What rises from end to end make up of the work asked, after less before: nothing where roads
    are driven out and back."""
    rise_j = rows.mass_kg * STANDARD_GRAVITY_MPS2 * rows.grade * rows.distance_m
    climbed = sum_by((rows.after > 0).astype(np.int64), rise_j, 2)
    work = sum_by(rows.is_after[table.day].astype(np.int64), asked, 2)
    return float(climbed[1] / work[1] - climbed[0] / work[0])
