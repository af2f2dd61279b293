"""Motion -> one row for each 100 m of true road: all that later answers keep of a trip."""

from __future__ import annotations

import numpy as np
import polars as pl

from gearing.statistics.arrays import Array, Index
from gearing.trips.motion import STOPPED_MPS, Trip

STEP_M = 100.0

_MEANS = (
    "engine_speed_rpm", "accelerator_percent", "engine_torque_percent", "engine_load_percent",
    "retarder_torque_percent", "ambient_temperature_c", "barometric_pressure_kpa",
    "coolant_temperature_c", "transmission_oil_temperature_c",
)  # fmt: skip
# what a step begins with, and under which name it ends with it
BORDERS = (
    ("start_speed_mps", "end_speed_mps"),
    ("altitude_m", "end_altitude_m"),
    ("latitude_deg", "end_latitude_deg"),
    ("longitude_deg", "end_longitude_deg"),
)
# columns in order; sums and places in float64, what is only looked at in float32
SCHEMA: dict[str, type[pl.DataType]] = {
    "trip": pl.String,
    "step": pl.UInt32,
    "start_s": pl.Float64,
    "duration_s": pl.Float64,
    "stopped_s": pl.Float64,
    "distance_m": pl.Float64,
    "indicated_m": pl.Float64,
    "bridged_m": pl.Float64,
    "latitude_deg": pl.Float64,
    "longitude_deg": pl.Float64,
    "end_latitude_deg": pl.Float64,
    "end_longitude_deg": pl.Float64,
    "course_deg": pl.Float32,
    "altitude_m": pl.Float64,
    "end_altitude_m": pl.Float64,
    "speed_mps": pl.Float32,
    "speed_squared_m2ps2": pl.Float32,
    "start_speed_mps": pl.Float32,
    "end_speed_mps": pl.Float32,
    "fuel_l": pl.Float64,
    "fuel_stopped_l": pl.Float64,
    **dict.fromkeys(_MEANS, pl.Float32),
    "unlocked_s": pl.Float32,
    "gear": pl.Float32,
    "regeneration_s": pl.Float32,
}


def road_steps(
    trip: Trip, gear: pl.Series | None = None, unlocked: pl.Series | None = None
) -> pl.DataFrame:
    """One row each ~100 m of true road, null where a channel is missing; columns of `SCHEMA`.

    A step takes in the standing before it moves on, and ends where the next begins; where
    nothing was logged between the two, at its own last row, and their numbers are not
    consecutive. Sums are null where nothing of the step was measured. `gear` and `unlocked` come
    row by row with the trip's motion.
    """
    motion = trip.motion
    if motion.height == 0:
        return pl.DataFrame(schema=SCHEMA)
    added = {"step": pl.Series(_numbers(motion, trip.interval_s)).cast(pl.UInt32)}
    if gear is not None:
        added["gear_row"] = gear
    elif "gear" in motion.columns:
        added["gear_row"] = motion["gear"]
    if unlocked is not None:
        added["unlocked_row"] = unlocked
    frame = motion.with_columns(**added)
    steps = frame.lazy().group_by("step", maintain_order=True).agg(*_aggregates(frame)).collect()
    steps = _with_course(_to_the_border(steps))
    if "gear_row" in frame.columns:
        usual = _usual_gear(frame)[steps["step"].to_numpy()]
        steps = steps.with_columns(gear=pl.Series(usual, nan_to_null=True))
    have = {name: pl.col(name) for name in steps.columns} | {"trip": pl.lit(trip.name)}
    steps = steps.select(
        have.get(name, pl.lit(None)).cast(dtype).alias(name) for name, dtype in SCHEMA.items()
    )
    # a grouped frame has a chunk a thread, and sums go chunk by chunk: their last digit must not
    # hang on how many threads there were
    return steps.rechunk()


def _numbers(motion: pl.DataFrame, interval_s: float) -> Index:
    """The number of the step each row is of; one is left out where the log has a hole."""
    way = motion["true_step_m"].fill_null(0.0).cum_sum().to_numpy()
    # the last bit of road joins the step before it, so that no step is a stub
    last = max(int(way[-1] / STEP_M) - 1, 0)
    along = np.clip(((way - 1e-9) / STEP_M).astype(np.int64), 0, last)
    clock_s = motion["time"].dt.epoch("us").to_numpy() * 1e-6
    hole = np.diff(clock_s, prepend=clock_s[0]) > 1.5 * interval_s
    # rows far apart, of a slow log, pass over places: steps are counted all the same
    new = np.diff(along, prepend=along[0]) + hole > 0
    return np.asarray(np.cumsum(new) + np.cumsum(hole), dtype=np.int64)


def _to_the_border(steps: pl.DataFrame) -> pl.DataFrame:
    """Each step's end values from the beginning of the next, where that follows."""
    follows = pl.col("step").shift(-1) == pl.col("step") + 1
    return steps.with_columns(
        pl.when(follows & pl.col(begin).shift(-1).is_not_null())
        .then(pl.col(begin).shift(-1))
        .otherwise(pl.col(end))
        .alias(end)
        for begin, end in BORDERS
        if begin in steps.columns
    )


def _aggregates(frame: pl.DataFrame) -> list[pl.Expr]:
    have = set(frame.columns)
    way, dt, speed = pl.col("true_step_m"), pl.col("dt_s"), pl.col("true_speed_mps")
    stopped = speed < STOPPED_MPS
    found = [
        (pl.col("time").first().dt.epoch("us") * 1e-6).alias("start_s"),
        dt.sum().alias("duration_s"),
        dt.filter(stopped).sum().alias("stopped_s"),
        way.sum().alias("distance_m"),
        _sum("indicated_step_m").alias("indicated_m"),
        way.filter(pl.col("bridged")).sum().alias("bridged_m"),
        speed.filter(~stopped).mean().alias("speed_mps"),
        ((speed**2 * way).sum() / way.sum()).fill_nan(None).alias("speed_squared_m2ps2"),
        speed.first().alias("start_speed_mps"),
        speed.last().alias("end_speed_mps"),
        pl.col("altitude_m").first(),
        pl.col("altitude_m").last().alias("end_altitude_m"),
    ]
    if {"latitude_deg", "longitude_deg"} <= have:
        for name in ("latitude_deg", "longitude_deg"):
            found += [
                pl.col(name).drop_nulls().first().alias(name),
                pl.col(name).drop_nulls().last().alias(f"end_{name}"),
            ]
    if "fuel_step_l" in have:
        burnt = pl.col("fuel_step_l")
        # rows without fuel burn as the others of their step; where they are most, nobody knows
        known = pl.when(2 * burnt.count() >= pl.len())
        whole = pl.len() / burnt.count()
        found.append(known.then(burnt.sum() * whole).alias("fuel_l"))
        found.append(known.then(burnt.filter(stopped).sum() * whole).alias("fuel_stopped_l"))
    found += [pl.col(name).mean() for name in _MEANS if name in have]
    if "unlocked_row" in have:
        found.append(dt.filter(pl.col("unlocked_row")).sum().alias("unlocked_s"))
    elif "lockup_engaged" in have:
        found.append(dt.filter(pl.col("lockup_engaged") == 0).sum().alias("unlocked_s"))
    if "regeneration_active" in have:
        found.append(dt.filter(pl.col("regeneration_active") > 0).sum().alias("regeneration_s"))
    return found


def _usual_gear(frame: pl.DataFrame) -> Array:
    """The gear of most rows of each step number, NaN where none is known; of two held as long as
    each other, the lower."""
    step, gear = frame["step"].to_numpy().astype(np.int64), frame["gear_row"].to_numpy()
    known = np.isfinite(gear)
    kinds, kind = np.unique(gear[known], return_inverse=True)
    count = int(step[-1]) + 1
    if not len(kinds):
        return np.full(count, np.nan)
    rows = np.bincount(step[known] * len(kinds) + kind, minlength=count * len(kinds))
    rows = rows.reshape(count, len(kinds))
    return np.where(rows.any(axis=1), kinds[rows.argmax(axis=1)], np.nan)


def _sum(name: str) -> pl.Expr:
    """Sum over what was measured, drawn up for rows that were not; null where none was."""
    value = pl.col(name)
    return pl.when(value.count() > 0).then(value.mean() * pl.len())


def _with_course(steps: pl.DataFrame) -> pl.DataFrame:
    """Direction from each step's beginning to its end, clockwise from north in degrees."""
    if "latitude_deg" not in steps.columns:
        return steps
    latitude, longitude = pl.col("latitude_deg"), pl.col("longitude_deg")
    north = pl.col("end_latitude_deg") - latitude
    east = (pl.col("end_longitude_deg") - longitude) * latitude.radians().cos()
    course = (pl.arctan2(east, north).degrees() + 360.0) % 360.0
    return steps.with_columns(pl.when((north != 0) | (east != 0)).then(course).alias("course_deg"))
