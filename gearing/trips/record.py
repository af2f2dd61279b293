"""What is kept of one trip once its samples are let go: small, frozen, picklable.

    records_of(readings, study, *, side=None, name=None, headings=()) -> list[TripRecord]

takes the one or several files of one recording (as grouped by `gearing.trips.join`) and gives
one record per trip in it. Everything later (per-trip table, findings, road steps) is made from
records alone, so memory grows with the road driven and not with the rows read.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import PurePath
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.messages import Problem, message, problem_of
from gearing.statistics.arrays import Array
from gearing.study.model import Period, Side, Study
from gearing.trips.gear_clusters import GearClusters, find_gear_clusters, log_ratio_of
from gearing.trips.join import join_readings
from gearing.trips.motion import STOPPED_MPS, Trip, make_trip
from gearing.trips.quantization_cells import quantization_cells
from gearing.trips.rounding import Grid
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
from gearing.vehicle.tire import parse_size

if TYPE_CHECKING:
    from gearing.logs.model import Sampled

MIN_ROWS = 30
# a coolant above this is one that an engine warmed lately; one that stood for hours has the
# temperature of its intake within a few kelvin (common practice, no source)
COLD_C, ALIKE_K = 35.0, 8.0
_OF_SEASON = ("coolant_temperature_c", "intake_air_temperature_c")


@dataclass(frozen=True, slots=True, kw_only=True)
class TripRecord:
    """One trip. Distances in m, times in s, volumes in L; None where the channel is missing.

    `indicated_m` and the sums in `blocks` and `by_speed` are of the logged channel as it is,
    rounding still in; `indicated_s` is the time it was above zero, so that an undone rounding of
    q m/s adds q x `indicated_s`.
    `cold_start_c` [degC] tells the season where no outside temperature is logged.
    `headings` of its files, which tell one recorder's logs from another's.
    `blocks`: rows of five minutes fit for the odometer factor: `block`, `time_s`, `changes` (of
    the indicated speed from row to row), `true_m`, `indicated_m`, `weight` (seconds, less where
    HDOP is poor; the distances are weighted alike).
    `cells`: what shows how the speed was quantized, see `gearing.trips.quantization_cells`.
    `way_error`: relative standard error of true distance, shared by all trips told alike.
    `by_speed`: `bin` of 5 km/h indicated, `time_s`, `true_m`, `indicated_m`.
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
    coverage: dict[str, float]
    blocks: pl.DataFrame
    by_speed: pl.DataFrame
    gear_clusters: GearClusters
    cells: pl.DataFrame
    stretches: tuple[Stretch, ...]
    shown: tuple[Shown, ...]
    steps: pl.DataFrame
    problems: tuple[Problem, ...]
    headings: frozenset[str] = frozenset()
    cold_start_c: float | None = None

    @property
    def has_receiver(self) -> bool:
        return self.speed_from is not None


def stem(file: str) -> str:
    """The name of a trip from its file's: without folders and endings."""
    name = PurePath(file).name
    for ending in (".gz", ".zip"):
        name = name.removesuffix(ending)
    return PurePath(name).stem or name


def records_of(
    readings: Sequence[Sampled],
    study: Study,
    *,
    side: Side | None = None,
    name: str | None = None,
    headings: Iterable[str] = (),
) -> list[TripRecord]:
    """One record for each trip in one recording.

    Parameters
    ----------
    readings
        one file, or several that overlap in time and are one recording.
    side
        which period the files were filed under; None: by the date `[after] from`.
    name
        of the trips, `-2`, `-3` added where the recording is split; None: the first file's stem.
    headings
        of all the files.
    """
    base = name or stem(readings[0].file)
    files = tuple(reading.file for reading in readings)
    found: list[TripRecord] = []
    for samples, told in join_readings(readings):
        drives = split_rows(samples, files[0])
        problems = (*told, *drives.problems, *_too_short(drives.parts, files[0]))
        for part in (one for one in drives.parts if one.height >= MIN_ROWS):
            number = len(found) + 1
            trip = make_trip(
                part,
                name=base if number == 1 else f"{base}-{number}",
                files=files,
                time_zone=study.time_zone,
                gasoline=study.vehicle.fuel == "gasoline",
                problems=problems,
            )
            if trip.motion.height >= MIN_ROWS:
                record = record_of(trip, study, side or _side_by_date(trip, study))
                found.append(replace(record, headings=frozenset(headings)))
    return found


def _too_short(parts: Sequence[pl.DataFrame], file: str) -> tuple[Problem, ...]:
    """Drives of a log with too few rows to tell anything."""
    rows = [part.height for part in parts if part.height < MIN_ROWS]
    if not rows:
        return ()
    return (problem_of(message("short-drive", rows=MIN_ROWS), file=file, count=sum(rows)),)


def _side_by_date(trip: Trip, study: Study) -> Side:
    if study.after is not None and study.after.start is not None:
        return "after" if trip.start >= study.after.start else "before"
    return "before" if study.before is not None else "after"


def record_of(trip: Trip, study: Study, side: Side) -> TripRecord:
    """The record of one trip's motion."""
    found = find_gear_clusters(trip.motion)
    engine = found.of_engine()
    gear, unlocked = _gear_rows(trip.motion, engine)
    steps = road_steps(trip, gear, unlocked)
    moving = trip.motion["true_speed_mps"].fill_null(0.0) >= STOPPED_MPS
    duration_s = trip.motion.height * trip.interval_s
    moving_s = float(moving.sum()) * trip.interval_s
    stretches, shown = declared_sums(trip.motion, study)
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
        duration_s=duration_s,
        moving_s=moving_s,
        stopped_s=duration_s - moving_s,
        true_m=float(steps["distance_m"].sum()),
        bridged_m=float(steps["bridged_m"].sum()),
        indicated_m=_total(steps["indicated_m"]),
        indicated_s=float((trip.motion["indicated_speed_mps"].fill_null(0.0) > 0).sum())
        * trip.interval_s,
        liters=_total(steps["fuel_l"]),
        idle_liters=_total(steps["fuel_stopped_l"]),
        ambient_temperature_c=_mean(trip.motion.filter(moving), "ambient_temperature_c"),
        counter=counted(trip.motion),
        coverage=trip.coverage,
        blocks=factor_blocks(trip.motion),
        by_speed=speed_bins(trip.motion),
        gear_clusters=found,
        cells=quantization_cells(trip, engine),
        stretches=stretches,
        shown=shown,
        steps=steps,
        problems=trip.problems,
        cold_start_c=cold_start_c(trip.motion),
    )


def cold_start_c(motion: pl.DataFrame) -> float | None:
    """What an engine that stood for long shows of the season [degC]: the lower of coolant and
    intake air in the first minute; None where it was still warm, or neither is logged."""
    first = motion.filter(pl.col("time") <= motion["time"][0] + timedelta(seconds=60))
    seen = {name: _mean(first, name) for name in _OF_SEASON}
    given = [value for value in seen.values() if value is not None]
    coolant = seen["coolant_temperature_c"]
    warm = coolant is None or coolant > COLD_C or max(given) - min(given) > ALIKE_K
    return None if warm else min(given)


def _total(column: pl.Series) -> float | None:
    return float(column.sum()) if column.count() else None


def _mean(frame: pl.DataFrame, name: str) -> float | None:
    if name not in frame.columns:
        return None
    mean = frame[name].mean()
    return float(mean) if isinstance(mean, float) else None


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


def _gear_rows(motion: pl.DataFrame, clusters: Array) -> tuple[pl.Series | None, pl.Series | None]:
    """Row by row the cluster a gear holds (1 the first of `clusters`), and whether none does."""
    if "engine_speed_rpm" not in motion.columns or len(clusters) == 0:
        return None, None
    ratio = log_ratio_of(motion, "engine_speed_rpm")
    off = np.abs(ratio[:, None] - clusters[None, :])
    nearest = off.argmin(axis=1)
    speed = motion["true_speed_mps"].fill_null(0.0).to_numpy()
    allowed = np.maximum(0.012, 0.15 / np.maximum(speed, 1.0))
    with np.errstate(invalid="ignore"):
        mesh = off[np.arange(len(off)), nearest] < allowed
        loose = np.isfinite(ratio) & ~mesh
    if "lockup_engaged" in motion.columns:
        loose |= (motion["lockup_engaged"].fill_null(1.0) == 0).to_numpy() & (speed > STOPPED_MPS)
    return pl.Series(np.where(mesh, nearest + 1.0, np.nan), nan_to_null=True), pl.Series(loose)
