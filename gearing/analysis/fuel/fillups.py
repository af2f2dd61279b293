"""Consumption from the fill-up log alone, and the engine computer's scale against it.

Between two fills to the brim lies what was bought since the first: partial fills are added, a
fill marked missed, or one whose tank cannot have lasted so far, opens a new stretch. Distance
is the odometer's, times the period's own factor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.levels import OTHER_LEVEL
from gearing.analysis.sides import SIDES, BySide
from gearing.messages import Items, Message, Moment, StudyWarning, message, warning
from gearing.statistics.comparison import percent
from gearing.statistics.estimate import NORMAL_95, Estimate, unknown
from gearing.statistics.intervals import half_width
from gearing.statistics.robust import median_deviation
from gearing.statistics.two_sides import change_between

if TYPE_CHECKING:
    from gearing.statistics.arrays import Array

# a stretch this far in logarithms from its side's median, and this many deviations, has a fill
# missing or one entered twice
IMPLAUSIBLE_LOG = 0.35
IMPLAUSIBLE_DEVIATIONS = 5.0
MAX_NAMED = 5
FULL_COVER = 0.97  # of a stretch's distance must be in the logs for the engine computer's scale


@dataclass(frozen=True, slots=True)
class Tanks:
    """Stretches from one full tank to the next; `sound` false where a fill must be missing."""

    start: tuple[datetime, ...]
    end: tuple[datetime, ...]
    after: Array
    distance_m: Array  # true
    volume_l: Array
    sound: Array

    def log_rates(self, after: bool) -> Array:
        kept = (self.after == float(after)) & (self.sound > 0)
        return np.asarray(np.log(self.volume_l[kept] / self.distance_m[kept]))

    def lengths(self) -> Array:
        kept = [(self.after == side) & (self.sound > 0) for side in (0.0, 1.0)]
        return np.concatenate([self.distance_m[k] for k in kept])


def full_to_full(
    fillups: pl.DataFrame,
    odometer: BySide[Estimate],
    last_before: datetime | None,
    first_after: datetime | None,
    trips: pl.DataFrame | None = None,
) -> Tanks:
    """Tanks of the log. The change lies between the last drive on the old tires and the first
    on the new (None: no such side); a tank that may span it is left out. Other uses of the tank
    (generator, heater) are taken off. Where the odometer factor stepped inside a period, a tank
    goes by that of its own `trips` (the trips table)."""
    stepped = _stepped(trips)
    starts: list[datetime] = []
    ends: list[datetime] = []
    rows: list[tuple[float, float, float]] = []
    opened: tuple[datetime, float] | None = None
    bought = 0.0
    for row in fillups.sort("time", maintain_order=True).iter_rows(named=True):
        at, counted = row["time"], row.get("indicated_distance_m")
        volume = (row["volume_l"] or 0.0) - (row.get("other_l") or 0.0)
        if row.get("missed"):
            opened, bought = None, 0.0
        bought += volume
        if row.get("full") is False or counted is None:
            continue
        if opened is not None and counted > opened[1] and bought > 0:
            side = _side(opened[0], at, last_before, first_after)
            factor = None if side is None else (odometer.after if side else odometer.before).value
            if side in stepped and factor is not None:
                factor = _factor_between(stepped[side], opened[0], at)
            if side is not None and factor is not None:
                starts.append(opened[0])
                ends.append(at)
                rows.append((float(side), (counted - opened[1]) * factor, bought))
        opened, bought = (at, counted), 0.0
    table = np.array(rows, dtype=np.float64).reshape(-1, 3)
    return Tanks(tuple(starts), tuple(ends), table[:, 0], table[:, 1], table[:, 2], _sound(table))


def _stepped(trips: pl.DataFrame | None) -> dict[bool | None, pl.DataFrame]:
    """The trips with an odometer factor of the sides, after or not, on which it stepped."""
    if trips is None:
        return {}
    known = trips.filter(pl.col("odometer_factor").is_not_null(), pl.col("indicated_m") > 0)
    sides = {side == "after": known.filter(pl.col("side") == side) for side in SIDES}
    return {
        side: rows
        for side, rows in sides.items()
        if rows["flags"].list.contains(OTHER_LEVEL["factor"]).any()
    }


def _factor_between(trips: pl.DataFrame, start: datetime, end: datetime) -> float:
    """True over indicated distance of the trips in a tank; without any, of the nearest."""
    inside = trips.filter(pl.col("start").is_between(start, end))
    if inside.is_empty():
        middle = start + (end - start) / 2
        inside = trips.sort((pl.col("start") - middle).abs(), maintain_order=True).head(1)
    way = inside["indicated_m"]
    return float((inside["odometer_factor"] * way).sum()) / float(way.sum())


def _side(
    start: datetime, end: datetime, last_before: datetime | None, first_after: datetime | None
) -> bool | None:
    """True after, False before, None where the tank may span the change."""
    before = last_before is not None and (first_after is None or end <= first_after)
    after = first_after is not None and (last_before is None or start >= last_before)
    return None if before == after else after


def _sound(table: Array) -> Array:
    """1 where a tank's consumption is plausible against all others."""
    if len(table) < 4:
        return np.ones(len(table))
    log = np.log(table[:, 2] / table[:, 1])
    off = np.abs(log - np.median(log))
    bound = max(IMPLAUSIBLE_LOG, IMPLAUSIBLE_DEVIATIONS * median_deviation(log))
    return np.where(off <= bound, 1.0, 0.0)


def doubted(tanks: Tanks) -> tuple[StudyWarning, ...]:
    """Tanks left out because no vehicle can have used so much or so little."""
    ends = [end for end, sound in zip(tanks.end, tanks.sound, strict=True) if not sound]
    if not ends:
        return ()
    told: list[Moment | Message] = [Moment(f"{end:%Y-%m-%d}") for end in ends[:MAX_NAMED]]
    if len(ends) > MAX_NAMED:
        told.append(message("tanks-doubted/more", more=len(ends) - MAX_NAMED))
    return (warning(message("tanks-doubted", dates=Items(tuple(told)))),)


def change_from_fillups(tanks: Tanks, odometer: BySide[Estimate]) -> Estimate:
    """Change of consumption per true distance [%], the odometer factors' doubt included."""
    before, after = tanks.log_rates(False), tanks.log_rates(True)
    if min(len(before), len(after)) < 2:
        return unknown(message("too-few-tanks", before=len(before), after=len(after)))
    change = change_between(before, after, lengths=tanks.lengths())
    doubt = math.hypot(_relative_error(odometer.before), _relative_error(odometer.after))
    return (
        Estimate(
            change.value,
            change.low,
            change.high,
            len(before) + len(after),
            "full-tanks",
        )
        .widened(doubt)
        .map(percent)
    )


def _relative_error(factor: Estimate) -> float:
    if factor.value is None or factor.low is None or factor.high is None:
        return 0.0
    return (factor.high - factor.low) / (2 * NORMAL_95 * factor.value)


def engine_computer_scale(tanks: Tanks, joined: pl.DataFrame) -> BySide[Estimate]:
    """Fuel bought over fuel the engine computer counted, from tanks the logs cover whole.

    `joined` are the steps in use; a tank counts where they cover `FULL_COVER` of its distance,
    and what they miss is drawn up in proportion.
    """
    clock = joined["start_s"].to_numpy()
    order = np.argsort(clock)
    fuel = np.cumsum(joined["fuel_l"].fill_null(0.0).to_numpy()[order])
    way = np.cumsum(
        joined.select(pl.when(pl.col("fuel_l").is_not_null()).then("distance_m"))
        .to_series()
        .fill_null(0.0)
        .to_numpy()[order]
    )
    fuel, way, clock = np.append(0.0, fuel), np.append(0.0, way), clock[order]
    ratios: dict[bool, list[float]] = {False: [], True: []}
    for index, (start, end) in enumerate(zip(tanks.start, tanks.end, strict=True)):
        if not tanks.sound[index]:
            continue
        i, j = np.searchsorted(clock, [start.timestamp(), end.timestamp()])
        covered = (way[j] - way[i]) / tanks.distance_m[index]
        counted = fuel[j] - fuel[i]
        if FULL_COVER <= covered <= 2 - FULL_COVER and counted > 0:
            ratios[bool(tanks.after[index])].append(
                math.log(tanks.volume_l[index] * covered / counted)
            )
    return BySide(_scale(ratios[False]), _scale(ratios[True]))


def _scale(logs: list[float]) -> Estimate:
    if len(logs) < 2:
        return unknown(message("too-few-logged-tanks", tanks=len(logs)))
    centre = float(np.mean(logs))
    reach = half_width(float(np.std(logs, ddof=1)) / math.sqrt(len(logs)), len(logs) - 1)
    return Estimate(
        math.exp(centre),
        math.exp(centre - reach),
        math.exp(centre + reach),
        len(logs),
        "bought-over-counted",
    )
