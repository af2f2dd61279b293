"""What is kept of one trip once its samples are let go: small, frozen, picklable.

    records_of(readings, declared, *, side=None, name=None, headings=()) -> list[TripRecord]

takes the one or several files of one recording (as grouped by `gearing.trips.join`) and gives
one record per trip in it. Everything later (per-trip table, findings, road steps) is made from
records alone, so memory grows with the road driven and not with the rows read.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.logs.endings import stem
from gearing.messages import Problem, message, problem_of
from gearing.statistics.arrays import Array, Mask
from gearing.study.model import Period, Side
from gearing.trips.declared import Declared
from gearing.trips.even_rows import every
from gearing.trips.gear_clusters import GearClusters, find_gear_clusters, log_ratio_of
from gearing.trips.join import join_readings
from gearing.trips.motion import Trip, make_trip
from gearing.trips.quantization_cells import quantization_cells
from gearing.trips.rounding import Grid, coarseness
from gearing.trips.shifts import NO_UPSHIFTS, Upshifts, upshifts
from gearing.trips.split import split_rows
from gearing.trips.steps import road_steps
from gearing.trips.sums import (
    Counted,
    Shown,
    Stretch,
    counted,
    declared_sums,
    factor_blocks,
    speed_bins,
)
from gearing.trips.ticks import STOPPED_MPS, Ticks, mean_of
from gearing.vehicle.tire import parse_size

if TYPE_CHECKING:
    from gearing.logs.model import Sampled


MIN_ROWS = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class TripRecord:
    """One trip. Distances in m, times in s, volumes in L; None where the channel is missing.

    `indicated_m` and the sums in `blocks` and `by_speed` are of the logged channel as it is,
    rounding still in; `indicated_s` is the time it was above zero, so that an undone rounding of
    q m/s adds q x `indicated_s`.
    `headings` of its files, which tell one recorder's logs from another's.
    `blocks`: rows of five minutes fit for the odometer factor: `block`, `time_s`, `changes` (of
    the indicated speed from row to row), `true_m`, `indicated_m`, `weight` (seconds, less where
    HDOP is poor; the distances are weighted alike).
    `cells`: what shows how the speed was quantized, see `gearing.trips.quantization_cells`.
    `way_error`: relative standard error of true distance, shared by all trips told alike.
    `turns_coarse`, `fuel_coarse`: half the unit of engine speed and of the fuel rate over the
    mean, which all trips of a recorder may be off by together, cut and not rounded.
    `by_speed`: `bin` of 5 km/h indicated, `time_s`, `true_m`, `indicated_m`.
    `steps` are of rows `steps_s` apart: `interval_s`, or more where the other period's logs hold
    a row more seldom.
    """

    name: str
    side: Side
    files: tuple[str, ...]
    start: datetime
    end: datetime
    local_day: date
    interval_s: float
    lag_s: float | None
    grid: Grid
    speed_from: str | None
    way_error: float
    turns_coarse: float
    fuel_coarse: float
    duration_s: float
    moving_s: float
    stopped_s: float
    true_m: float
    bridged_m: float
    indicated_m: float | None
    indicated_s: float
    liters: float | None
    idle_liters: float | None
    ambient_temperature_c: float | None
    counter: Counted | None
    blocks: pl.DataFrame
    by_speed: pl.DataFrame
    gear_clusters: GearClusters
    cells: pl.DataFrame
    stretches: tuple[Stretch, ...]
    shown: tuple[Shown, ...]
    steps: pl.DataFrame
    steps_s: float
    problems: tuple[Problem, ...]
    headings: frozenset[str] = frozenset()
    upshifts: Upshifts = NO_UPSHIFTS

    @property
    def has_receiver(self) -> bool:
        """Whether the trip's true speed is from a receiver."""
        return self.speed_from is not None


def records_of(
    readings: Sequence[Sampled],
    declared: Declared,
    *,
    side: Side | None = None,
    name: str | None = None,
    headings: Iterable[str] = (),
    every_s: float = 0.0,
) -> list[TripRecord]:
    """One record for each trip in one recording.

    Parameters
    ----------
    readings
        one file, or several that overlap in time and are one recording.
    declared
        what of a study its trips are made by.
    side
        which period the files were filed under; None: by the date `[after] from`.
    name
        of the trips, `-2`, `-3` added where the recording is split; None: the first file's stem.
    headings
        of all the files.
    every_s
        the road steps are made of rows so far apart, or farther where the log's own are.
    """
    base = name or stem(readings[0].file)
    files = tuple(reading.file for reading in readings)
    found: list[TripRecord] = []
    for samples, told in join_readings(readings):
        drives = split_rows(samples, files[0])
        problems = (*told, *drives.problems, *_too_short(drives.parts, files[0]))
        for part in (one for one in drives.parts if one.height >= MIN_ROWS):
            number = len(found) + 1
            trip_of = partial(
                make_trip,
                name=base if number == 1 else f"{base}-{number}",
                files=files,
                time_zone=declared.time_zone,
                gasoline=declared.gasoline,
                problems=problems,
            )
            trip = trip_of(part)
            if len(trip.ticks) >= MIN_ROWS:
                seldom = every(part, every_s) if trip.interval_s < every_s else part
                slower = trip_of(seldom) if MIN_ROWS <= seldom.height < part.height else None
                own = side or _side_by_date(trip, declared)
                record = record_of(trip, declared, own, slower=slower)
                found.append(replace(record, headings=frozenset(headings)))
    return found


def _too_short(parts: Sequence[pl.DataFrame], file: str) -> tuple[Problem, ...]:
    """Drives of a log with too few rows to tell anything."""
    rows = [part.height for part in parts if part.height < MIN_ROWS]
    if not rows:
        return ()
    return (problem_of(message("short-drive", rows=MIN_ROWS), file=file, count=sum(rows)),)


def _side_by_date(trip: Trip, declared: Declared) -> Side:
    if declared.after_from is not None:
        return "after" if trip.start >= declared.after_from else "before"
    return "before" if declared.has_before else "after"


def record_of(
    trip: Trip, declared: Declared, side: Side, *, slower: Trip | None = None
) -> TripRecord:
    """The record of one trip's motion; its road steps are `slower`'s where that is given."""
    ticks = trip.ticks
    found = find_gear_clusters(ticks)
    engine = found.of_engine()
    gear, loose = _gear_at_ticks(ticks, engine)
    steps = road_steps(trip, gear, loose)
    kept = steps
    if slower is not None:
        kept = road_steps(slower, *_gear_at_ticks(slower.ticks, engine))
    moving = ticks["true_speed_mps"] >= STOPPED_MPS
    duration_s = len(ticks) * trip.interval_s
    moving_s = float(np.count_nonzero(moving)) * trip.interval_s
    stretches, shown = declared_sums(ticks, declared)
    return TripRecord(
        name=trip.name,
        side=side,
        files=trip.files,
        start=trip.start,
        end=trip.end,
        local_day=trip.local_day,
        interval_s=trip.interval_s,
        lag_s=trip.lag_s if trip.lag_found else None,
        grid=trip.grid,
        speed_from=trip.speed_from,
        way_error=trip.way_error,
        turns_coarse=coarseness(trip.engine_rpm),
        fuel_coarse=coarseness(trip.fuel_rate),
        duration_s=duration_s,
        moving_s=moving_s,
        stopped_s=duration_s - moving_s,
        true_m=float(steps["distance_m"].sum()),
        bridged_m=float(steps["bridged_m"].sum()),
        indicated_m=_total(steps["indicated_m"]),
        indicated_s=float(np.count_nonzero(ticks["indicated_speed_mps"] > 0)) * trip.interval_s,
        liters=_total(steps["fuel_l"]),
        idle_liters=_total(steps["fuel_stopped_l"]),
        ambient_temperature_c=mean_of(ticks["ambient_temperature_c"][moving]),
        counter=counted(ticks),
        blocks=factor_blocks(ticks),
        by_speed=speed_bins(ticks),
        gear_clusters=found,
        cells=quantization_cells(trip, engine),
        stretches=stretches,
        shown=shown,
        steps=kept,
        steps_s=(slower or trip).interval_s,
        problems=trip.problems,
        upshifts=upshifts(ticks, gear),
    )


def _total(column: pl.Series) -> float | None:
    return float(column.sum()) if column.count() else None


def declared_revolutions_per_km(period: Period | None) -> float | None:
    """The published figure of a period's drive tire, else that of its size, else None."""
    if period is None:
        return None
    if period.revolutions_per_km is not None:
        return period.revolutions_per_km
    try:
        return parse_size(period.drive_tire).revolutions_per_km
    except ValueError:
        return None


def _gear_at_ticks(ticks: Ticks, clusters: Array) -> tuple[Array | None, Mask | None]:
    """Tick by tick the cluster a gear holds (1 the first of `clusters`), and whether none does."""
    if "engine_speed_rpm" not in ticks or len(clusters) == 0:
        return None, None
    ratio = log_ratio_of(ticks, "engine_speed_rpm")
    off = np.abs(ratio[:, None] - clusters[None, :])
    nearest = off.argmin(axis=1)
    speed = np.nan_to_num(ticks["true_speed_mps"])
    allowed = np.maximum(0.012, 0.15 / np.maximum(speed, 1.0))
    mesh = off[np.arange(len(off)), nearest] < allowed
    loose = np.isfinite(ratio) & ~mesh
    if "lockup_engaged" in ticks:
        loose |= (ticks["lockup_engaged"] == 0) & (speed > STOPPED_MPS)
    return np.where(mesh, nearest + 1.0, np.nan), loose
