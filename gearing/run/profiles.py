"""A route's profile from whatever the owner has: a table, a GPX track, or a recorded trip."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl

from gearing.logs.archives import LogFileError
from gearing.logs.column_rule import ColumnRule
from gearing.logs.companions import Companion
from gearing.logs.endings import file_name
from gearing.logs.gpx import read_points
from gearing.logs.profiles import read_profile
from gearing.logs.read import read_log
from gearing.logs.text import load_text
from gearing.messages import Message, message, problem_of
from gearing.statistics.arrays import Array
from gearing.trips.geodesy import steps_m
from gearing.trips.motion import make_trip
from gearing.trips.split import split_at_pauses

MIN_POINTS = 3
UNTOLD_M = 100.0  # more than this is no noise of two fixes


def read_route(path: Path, time_zone: str, rules: tuple[ColumnRule, ...] = ()) -> Companion:
    """`distance_m` from the start and `altitude_m`; of a table also limits and stops, of a track
    or trip also positions.

    Points of a GPX track need no times. Of a recorded trip the longest drive is taken. Where
    nothing gives a profile the frame is empty and the problems say why.
    """
    if path.name.lower().endswith(".gpx"):
        return _from_gpx(path)
    table = read_profile(path, rules)
    if table.frame.height:
        return table
    driven = _from_trip(path, time_zone, rules)
    return table if driven is None else driven


def _from_gpx(path: Path) -> Companion:
    try:
        data = load_text(path).data
        points, damaged = read_points(data, "trkpt")
        if not points.height:
            points, damaged = read_points(data, "rtept")
        if damaged is not None:
            raise damaged
    except LogFileError as fault:
        return _nothing(fault.told, path)
    numbers = points.select(pl.col("lat", "lon", "ele").cast(pl.Float64, strict=False))
    points = numbers.drop_nulls(("lat", "lon"))
    if points["ele"].count() < MIN_POINTS:
        return _nothing(message("no-values/no-elevation"), path)
    # points without an elevation still show the way
    latitude, longitude, altitude = (points[name].to_numpy() for name in ("lat", "lon", "ele"))
    north, east = steps_m(latitude, longitude)
    along = np.concatenate(([0.0], np.cumsum(np.hypot(north, east))))
    return Companion(_profile(along, altitude, latitude, longitude), ())


def _from_trip(path: Path, time_zone: str, rules: tuple[ColumnRule, ...]) -> Companion | None:
    samples = read_log(path, rules=rules, time_zone=time_zone).samples
    if not {"altitude_m", "latitude_deg", "longitude_deg"} <= set(samples.columns):
        return None
    longest = max(split_at_pauses(samples), key=lambda part: part.height)
    shown = file_name(path)
    motion = make_trip(longest, name=shown, files=(shown,), time_zone=time_zone).motion
    measured = _where_measured(motion, longest)
    driven = measured.filter(pl.col("altitude_m").is_not_null())
    if driven.height < MIN_POINTS:
        return None
    columns = ("altitude_m", "latitude_deg", "longitude_deg")
    along = _along(*(driven[c].to_numpy() for c in ("way_m", "latitude_deg", "longitude_deg")))
    return Companion(_profile(along, *(driven[c].to_numpy() for c in columns)), ())


def _where_measured(motion: pl.DataFrame, samples: pl.DataFrame) -> pl.DataFrame:
    """The ticks nearest to a logged altitude, with the way up to each as `way_m`.

    Between two logged altitudes `motion` draws its own straight on, however far they are apart.
    """
    motion = motion.with_columns(way_m=pl.col("true_step_m").fill_null(0.0).cum_sum())
    seen = samples.filter(pl.col("altitude_m").is_not_null())["time"]
    ticks, logged = (times.dt.epoch("us").to_numpy() for times in (motion["time"], seen))
    after = np.clip(np.searchsorted(ticks, logged), 1, ticks.size - 1)
    earlier = logged - ticks[after - 1] < ticks[after] - logged
    nearest = pl.Series(np.unique(np.where(earlier, after - 1, after)))
    return motion.select(pl.all().gather(nearest))


def _along(way_m: Array, latitude_deg: Array, longitude_deg: Array) -> Array:
    """Distance from the start: the way driven, or the line across where its record has a hole."""
    north, east = steps_m(latitude_deg, longitude_deg)
    across, driven = np.hypot(north, east), np.diff(way_m)
    step = np.where(across > driven + UNTOLD_M, across, driven)
    return np.concatenate(([0.0], np.cumsum(step)))


def _profile(
    distance_m: Array, altitude_m: Array, latitude_deg: Array, longitude_deg: Array
) -> pl.DataFrame:
    frame = pl.DataFrame(
        {
            "distance_m": distance_m,
            "altitude_m": altitude_m,
            "latitude_deg": latitude_deg,
            "longitude_deg": longitude_deg,
        },
        nan_to_null=True,
    )
    known = frame.drop_nulls(["distance_m", "altitude_m"])
    return known.unique("distance_m", keep="first", maintain_order=True)


def _nothing(told: Message, path: Path) -> Companion:
    empty = pl.DataFrame(schema={"distance_m": pl.Float64, "altitude_m": pl.Float64})
    return Companion(empty, (problem_of(told, file=file_name(path)),))
