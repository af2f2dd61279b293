"""Each gear: engine turns a km before and after, and the share of time and distance in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from gearing.analysis.pooling import PooledLog
from gearing.analysis.sides import BySide, by_side
from gearing.analysis.trip_figures import TripFigures
from gearing.statistics.arrays import Array
from gearing.trips.gear_clusters import BIN, MIN_LOG

HALF_WIDTH = 0.016  # of a gear, in the log ratio
# shares seen below this are chance meetings, not a gear
MIN_SHARE = 0.002


@dataclass(frozen=True, slots=True)
class GearUse:
    """Engine turns a true km, and shares of the time and distance driven with engine speed."""

    rev_per_km: float | None
    time_share: float | None
    distance_share: float | None


@dataclass(frozen=True, slots=True)
class GearRow:
    """`ratio` as declared, None where the gear was found and numbered from the lowest."""

    gear: int
    ratio: float | None
    before: GearUse
    after: GearUse
    labelled: bool


def gear_rows(figures: TripFigures, pooled: BySide[PooledLog | None]) -> tuple[GearRow, ...]:
    """One row a gear, lowest first; empty where no engine speed was seen with true speed."""
    gears = figures.identification.gears
    places = np.array([gear.log_ratio for gear in gears])
    use = by_side(lambda side: _use(figures, side, places, pooled.of(side)))
    return tuple(
        GearRow(gear.number, gear.ratio, before, after, gear.ratio is not None)
        for gear, before, after in zip(gears, use.before, use.after, strict=True)
    )


def no_gear_share(gears: tuple[GearRow, ...], side: str) -> float | None:
    """Share of time on the move in which no gear holds: neutral, shifting, converter unlocked."""
    shares = [(row.before if side == "before" else row.after).time_share for row in gears]
    known = [share for share in shares if share is not None]
    return max(0.0, 1 - sum(known)) if known else None


def _use(figures: TripFigures, side: str, places: Array, pooled: PooledLog | None) -> list[GearUse]:
    if pooled is None:
        return [GearUse(None, None, None)] * len(places)
    rows = figures.trips.filter((pl.col("side") == side) & pl.col("used"))
    time_s, way = np.zeros(len(places)), np.zeros(len(places))
    all_time, all_way = 0.0, 0.0
    for name, turns in rows.select("trip", "log_axle_turns").drop_nulls().iter_rows():
        histogram = figures.histograms[name]
        at = MIN_LOG + (histogram["bin"].to_numpy() + 0.5) * BIN - turns
        near = np.abs(at[:, None] - places[None, :])
        gear = near.argmin(axis=1)
        on = near[np.arange(len(at)), gear] < HALF_WIDTH
        seconds, metres = histogram["time_s"].to_numpy(), histogram["distance_m"].to_numpy()
        time_s += np.bincount(gear[on], weights=seconds[on], minlength=len(places))
        way += np.bincount(gear[on], weights=metres[on], minlength=len(places))
        all_time, all_way = all_time + float(seconds.sum()), all_way + float(metres.sum())
    revolutions = 1000 * np.exp(pooled.value + places)
    return [
        GearUse(
            float(revolutions[i]),
            float(time_s[i] / all_time) if all_time else None,
            float(way[i] / all_way) if all_way else None,
        )
        for i in range(len(places))
    ]
