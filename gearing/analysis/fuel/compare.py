"""Days of the two periods compared: as indicated, by true distance, matched and adjusted."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.fuel import rules
from gearing.analysis.fuel.adjust import Adjusted, adjust
from gearing.analysis.fuel.days import (
    Table,
    day_levels,
    joined_roads,
    level_errors,
    shared_cells,
)
from gearing.messages import Items, Text, message
from gearing.statistics.arrays import sum_by
from gearing.statistics.estimate import Estimate, unknown
from gearing.statistics.two_sides import Nuisance, SideChange, change_between

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.analysis.fuel.facts import Facts
    from gearing.analysis.fuel.rows import Rows
    from gearing.analysis.fuel.temperature import AirTemperature
    from gearing.statistics.arrays import Array
    from gearing.study.model import Study

MIN_SHARED_M = 2000.0
_PERIODS = (message("period/before"), message("period/after"))


@dataclass(frozen=True, slots=True)
class Compared:
    """Everything the comparison of days came to; changes in logarithms."""

    indicated: SideChange | None
    true_distance: SideChange | None
    moving: SideChange | None
    matched: Estimate
    matched_levels: Array | None
    adjusted: Adjusted | None
    adjusted_estimate: Estimate


def compare(
    study: Study,
    days: pl.DataFrame,
    rows: Rows | None,
    table: Table | None,
    facts: Facts,
    *,
    air: AirTemperature | None,
    no_days: Text,
    distance_doubt: float,
) -> Compared:
    """`no_days` is the reason where there is no day at all; `distance_doubt` the standard error of
    the change by true distance from how that was told, in logarithms."""
    indicated = _by_day(days, "indicated_liters", "indicated_m")
    true = _by_day(days, "liters", "true_m")
    moving = _by_day(
        days.with_columns(moving_l=pl.col("liters") - pl.col("idle_liters")), "moving_l", "true_m"
    )
    why = why_not(days, "true_m", no_days)
    if why is not None or rows is None or table is None:
        nothing = unknown(why or message("no-step-to-compare"))
        return Compared(indicated, true, moving, nothing, None, None, nothing)
    assert air is not None
    forbidden = [w for w in rules.told(facts) if w.code in rules.FORBIDS_COMPARING]
    if forbidden:
        nothing = unknown(forbidden[0].told)
        return Compared(indicated, true, moving, nothing, None, None, nothing)
    matched, levels = _matched(rows, table, _long_days(days, rows), distance_doubt)
    unseen = rules.acceleration_doubt(facts), rules.seldom_doubt(facts)
    doubt = math.hypot(distance_doubt, *(points / 100 for points in unseen))
    adjusted, estimate = _adjusted(study, days, rows, table, facts, air, doubt)
    return Compared(indicated, true, moving, matched, levels, adjusted, estimate)


def _long_days(days: pl.DataFrame, rows: Rows) -> NDArray[np.int64]:
    """Numbers of the days that have road enough among the rows."""
    numbers = _numbers_of(days, rows)
    way = sum_by(rows.day, rows.distance_m, len(rows.days))
    return numbers[way[numbers] >= MIN_SHARED_M]


def _by_day(days: pl.DataFrame, liters: str, distance: str) -> SideChange | None:
    """Log ratio per day of two columns, sides compared."""
    known = days.drop_nulls([liters, distance]).filter(
        (pl.col(liters) > 0) & (pl.col(distance) > 0)
    )
    sides = [known.filter(pl.col("side") == side) for side in ("before", "after")]
    if min(side.height for side in sides) < 2:
        return None
    logs = [np.log(s[liters].to_numpy() / s[distance].to_numpy()) for s in sides]
    both = pl.concat(sides)
    return change_between(
        *logs, times=both["local_day"].cast(pl.Int32).to_numpy(), lengths=both[distance].to_numpy()
    )


def why_not(days: pl.DataFrame, distance: str, no_days: Text) -> Text | None:
    """Why no comparison of days is possible, or None."""
    if days.is_empty():
        return no_days
    sides = [days.filter(pl.col("side") == side) for side in ("before", "after")]
    counts = [side.height for side in sides]
    known = [side.drop_nulls(distance).height for side in sides]
    if min(known) >= 2:
        return None
    untold = Items(
        tuple(
            period
            for period, count, told in zip(_PERIODS, counts, known, strict=True)
            if count >= 2 > told
        )
    )
    if untold.items and distance == "indicated_m":
        return message("indicated-not-logged", periods=untold)
    if untold.items:
        return message("distance-not-known", periods=untold)
    return message("days-to-compare", before=counts[0], after=counts[1])


def change_of(change: SideChange | None, why: Text | None, method: str) -> Estimate:
    """A change in logarithms as an estimate [%], or why there is none."""
    if change is None:
        return unknown(why or message("under-two-days"))
    return change.percent(method)


def _numbers_of(days: pl.DataFrame, rows: Rows) -> NDArray[np.int64]:
    """Numbers, in `rows.days`, of the days compared; before, then after, in order of time."""
    index = {(day.after, day.day): number for number, day in enumerate(rows.days)}
    keys = [(side == "after", day) for side, day in days.select("side", "local_day").iter_rows()]
    return np.array([index[key] for key in keys if key in index], dtype=np.int64)


def _fewest(after: NDArray[np.bool_], days: NDArray[np.int64]) -> int:
    return min(int((~after[days]).sum()), int(after[days].sum()))


def _matched(
    rows: Rows, table: Table, numbers: NDArray[np.int64], doubt: float
) -> tuple[Estimate, Array | None]:
    after = rows.is_after
    used = shared_cells(table, after)
    shared = np.bincount(
        table.day, weights=np.where(used[table.cell], table.distance_m, 0.0), minlength=table.days
    )
    kept = numbers[shared[numbers] >= MIN_SHARED_M]
    if _fewest(after, kept) < 2:
        return unknown(message("too-little-shared-road")), None
    groups = joined_roads(table, used)
    joined = np.intersect1d(groups[kept[after[kept]]], groups[kept[~after[kept]]])
    kept = kept[np.isin(groups[kept], joined)]
    if _fewest(after, kept) < 2:
        return unknown(message("no-road-joins")), None
    levels = day_levels(table, table.distance_m, shrinkage=0.0, used=used)
    lever, variance = level_errors(table, table.distance_m, levels, used)
    before_days, after_days = kept[~after[kept]], kept[after[kept]]
    order = np.concatenate([before_days, after_days])
    # between days that no road joins the level is anything: near nothing, so that it is no scatter
    mean = sum_by(groups[order], levels[order]) / np.maximum(np.bincount(groups[order]), 1)
    levels[order] -= mean[groups[order]]
    change = change_between(
        levels[before_days],
        levels[after_days],
        nuisance=Nuisance(lever[order], np.diag(variance)) if len(variance) else None,
        times=rows.dates[order],
        lengths=shared[order],
    ).widened(doubt)
    shown = np.full(len(levels), np.nan)
    shown[order] = levels[order] - (lever[order] @ change.nuisance if len(variance) else 0.0)
    return change.percent("matched-days"), shown


def _adjusted(
    study: Study,
    days: pl.DataFrame,
    rows: Rows,
    table: Table,
    facts: Facts,
    air: AirTemperature,
    doubt: float,
) -> tuple[Adjusted | None, Estimate]:
    numbers = _long_days(days, rows)
    if _fewest(rows.is_after, numbers) < 2:
        return None, unknown(message("under-two-long-days"))
    way = sum_by(rows.day, rows.distance_m, len(rows.days))
    adjusted = adjust(
        study, rows, table, numbers, way, air=air, weather_covered=facts.weather_covered
    )
    adjusted = replace(adjusted, change=adjusted.change.widened(doubt))
    return adjusted, adjusted.change.percent("adjusted-days")
