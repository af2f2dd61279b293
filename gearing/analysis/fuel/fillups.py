"""Tanks from the fill-up log, and the engine computer's scale against it.

Between two fills to the brim lies what was bought since the first: partial fills are added, a
fill marked missed, or one whose tank cannot have lasted so far, opens a new stretch. A fill that
nobody marked as partial, or whose odometer was misread, shows in two tanks, one too thrifty and
one too thirsty, that are sound together. Distance is the odometer's, times the period's own factor.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.fuel.tank_model import TankUnits
from gearing.analysis.levels import OTHER_LEVEL
from gearing.analysis.sides import SIDES, BySide
from gearing.messages import Items, Message, Moment, StudyWarning, message, warning
from gearing.statistics.estimate import Estimate, unknown
from gearing.statistics.intervals import half_width
from gearing.statistics.robust import median_deviation

if TYPE_CHECKING:
    from gearing.statistics.arrays import Array

# a stretch this far in logarithms from its side's median, and this many deviations, has a fill
# missing or one entered twice
IMPLAUSIBLE_LOG = 0.35
IMPLAUSIBLE_DEVIATIONS = 5.0
MIN_TANKS = 4  # to tell what is usual
MAX_NAMED = 5
FULL_COVER = 0.97  # of a stretch's distance must be in the logs for the engine computer's scale


SideOf = Callable[[datetime, datetime], bool | None]


@dataclass(frozen=True, slots=True)
class Tanks:
    """Stretches from one full tank to the next; `sound` false where a fill must be missing."""

    start: tuple[datetime, ...]
    end: tuple[datetime, ...]
    after: Array
    distance_m: Array  # true
    volume_l: Array
    sound: Array

    def units(self) -> TankUnits:
        """The sound ones, for the model."""
        kept = np.flatnonzero(self.sound > 0)
        begin = np.array([self.start[i].timestamp() for i in kept])
        end = np.array([self.end[i].timestamp() for i in kept])
        follows = np.append(False, begin[1:] == end[:-1]) if len(kept) else np.zeros(0)
        return TankUnits(
            begin,
            end,
            self.after[kept],
            self.distance_m[kept],
            self.volume_l[kept],
            follows.astype(np.float64),
        )


def full_to_full(
    fillups: pl.DataFrame,
    odometer: BySide[Estimate],
    side_of: SideOf,
    trips: pl.DataFrame | None = None,
) -> Tanks:
    """Tanks of the log. `side_of` tells whether a span of time is after the change (False:
    before); a tank that may span it (None) is left out. Other uses of the tank (generator,
    heater) are taken off. Where the odometer factor stepped inside a period, a tank goes by that
    of its own `trips` (the trips table)."""
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
        stood = opened is not None and counted == opened[1]  # or its old reading was noted again
        if row.get("full") is False or counted is None or stood:
            continue
        if opened is not None and counted > opened[1] and bought > 0:
            side = side_of(opened[0], at)
            factor = None if side is None else (odometer.after if side else odometer.before).value
            if side in stepped and factor is not None:
                factor = _factor_between(stepped[side], opened[0], at)
            if side is not None and factor is not None:
                starts.append(opened[0])
                ends.append(at)
                rows.append((float(side), (counted - opened[1]) * factor, bought))
        opened, bought = (at, counted), 0.0
    table = np.array(rows, dtype=np.float64).reshape(-1, 3)
    starts, ends, table = _without_partial(starts, ends, table)
    return Tanks(tuple(starts), tuple(ends), table[:, 0], table[:, 1], table[:, 2], _sound(table))


def _without_partial(
    starts: list[datetime], ends: list[datetime], table: Array
) -> tuple[list[datetime], list[datetime], Array]:
    """Neighbours taken together where the fill between them cannot have been full, or its odometer
    right: one used far too little, the other too much, both together what is usual."""
    sound = _sound(table)
    if sound.all():
        return starts, ends, table
    usual = float(np.median(np.log(table[:, 2] / table[:, 1])))
    bound = _bound(np.log(table[:, 2] / table[:, 1]))
    kept: list[int] = []
    out = table.copy()
    ends = list(ends)
    skip = False
    for i in range(len(table)):
        if skip:
            skip = False
            continue
        kept.append(i)
        if i + 1 == len(table) or ends[i] != starts[i + 1] or table[i, 0] != table[i + 1, 0]:
            continue
        first, second = (math.log(table[j, 2] / table[j, 1]) - usual for j in (i, i + 1))
        both = math.log((table[i, 2] + table[i + 1, 2]) / (table[i, 1] + table[i + 1, 1])) - usual
        opposed = first * second < 0 and min(sound[i], sound[i + 1]) == 0
        if opposed and abs(both) < bound / 2:
            out[i, 1:] += table[i + 1, 1:]
            ends[i] = ends[i + 1]
            skip = True
    return [starts[i] for i in kept], [ends[i] for i in kept], out[kept]


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


def _sound(table: Array) -> Array:
    """1 where a tank's consumption is plausible against all others of its side, or against all
    where those are few."""
    if len(table) < MIN_TANKS:
        return np.ones(len(table))
    log = np.log(table[:, 2] / table[:, 1])
    middle, bound = np.full(len(log), np.median(log)), np.full(len(log), _bound(log))
    for side in (0.0, 1.0):
        own = table[:, 0] == side
        if np.count_nonzero(own) >= MIN_TANKS:
            middle[own], bound[own] = np.median(log[own]), _bound(log[own])
    return np.where(np.abs(log - middle) <= bound, 1.0, 0.0)


def _bound(log: Array) -> float:
    return max(IMPLAUSIBLE_LOG, IMPLAUSIBLE_DEVIATIONS * median_deviation(log))


def doubted(tanks: Tanks) -> tuple[StudyWarning, ...]:
    """Tanks left out because no vehicle can have used so much or so little."""
    ends = [end for end, sound in zip(tanks.end, tanks.sound, strict=True) if not sound]
    if not ends:
        return ()
    told: list[Moment | Message] = [Moment.day(end) for end in ends[:MAX_NAMED]]
    if len(ends) > MAX_NAMED:
        told.append(message("tanks-doubted/more", more=len(ends) - MAX_NAMED))
    return (warning(message("tanks-doubted", dates=Items(tuple(told)))),)


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
