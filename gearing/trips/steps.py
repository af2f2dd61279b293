"""Motion -> one row for each 100 m of true road: all that later answers keep of a trip."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.statistics.arrays import distinct
from gearing.trips.ticks import STOPPED_MPS, Ticks, counts, means, sums

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.statistics.arrays import Array, Index, Mask
    from gearing.trips.motion import Trip

STEP_M = 100.0
# Engine load of a foot off the pedal; common practice, no source.
OVERRUN_LOAD_PERCENT = 10.0

_MEANS = (
    "engine_speed_rpm", "accelerator_percent", "engine_torque_percent", "engine_load_percent",
    "retarder_torque_percent", "ambient_temperature_c", "barometric_pressure_kpa",
    "coolant_temperature_c", "transmission_oil_temperature_c", "intake_air_temperature_c",
)  # fmt: skip
POSITIONS = ("latitude_deg", "longitude_deg")
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
    "overrun_s": pl.Float32,
    "gear": pl.Float32,
    "regeneration_s": pl.Float32,
}


def with_all_columns(steps: pl.DataFrame | None) -> pl.DataFrame:
    """The steps with every column of `SCHEMA`, null where they lack it; none of them for None."""
    if steps is None or steps.is_empty():
        return pl.DataFrame(schema=SCHEMA)
    return steps.with_columns(
        pl.lit(None, kind).alias(name) for name, kind in SCHEMA.items() if name not in steps.columns
    )


def road_steps(
    trip: Trip, gear: Array | None = None, unlocked: NDArray[np.bool_] | None = None
) -> pl.DataFrame:
    """One row each ~100 m of true road, null where a channel is missing; columns of `SCHEMA`.

    A step takes in the standing before it moves on, and ends where the next begins; where
    nothing was logged between the two, at its own last row, and their numbers are not
    consecutive. Sums are null where nothing of the step was measured. `gear` (NaN where none
    holds) and `unlocked` come tick by tick.
    """
    ticks = trip.ticks
    if not len(ticks):
        return pl.DataFrame(schema=SCHEMA)
    number = _numbers(ticks)
    begins = np.flatnonzero(np.diff(number, prepend=-1) != 0)
    if gear is None and "gear" in ticks:
        gear = ticks["gear"]
    if unlocked is None and "lockup_engaged" in ticks:
        unlocked = ticks["lockup_engaged"] == 0
    columns = {
        **_way(ticks, begins),
        **_ends(ticks, begins, number[begins]),
        **_fuel(ticks, begins),
        **{name: means(ticks[name], begins) for name in _MEANS if name in ticks},
    }
    if unlocked is not None:
        columns["unlocked_s"] = ticks.seconds(unlocked, begins)
    if "engine_load_percent" in ticks:
        overrun = ticks["engine_load_percent"] < OVERRUN_LOAD_PERCENT
        columns["overrun_s"] = ticks.seconds(overrun, begins)
    if "regeneration_active" in ticks:
        columns["regeneration_s"] = ticks.seconds(ticks["regeneration_active"] > 0, begins)
    if gear is not None:
        columns["gear"] = _usual_gear(gear, begins)
    columns |= _course(columns)
    made = [_column(name, columns.get(name), len(begins)) for name in list(SCHEMA)[2:]]
    names = pl.Series("trip", [trip.name]).new_from_index(0, len(begins))
    return pl.DataFrame([names, pl.Series("step", number[begins], pl.UInt32), *made])


def _column(name: str, values: Array | None, rows: int) -> pl.Series:
    if values is None:
        return pl.Series(name, [None], SCHEMA[name]).new_from_index(0, rows)
    kind = np.float32 if SCHEMA[name] is pl.Float32 else np.float64
    return pl.Series(name, values.astype(kind, copy=False), nan_to_null=True)


def _numbers(ticks: Ticks) -> Index:
    """The number of the step each tick is of; one is left out where the log has a hole."""
    way = np.cumsum(np.nan_to_num(ticks["true_step_m"]))
    # the last bit of road joins the step before it, so that no step is a stub
    last = max(int(way[-1] / STEP_M) - 1, 0)
    along = np.clip(((way - 1e-9) / STEP_M).astype(np.int64), 0, last)
    clock_s = ticks.time_s
    hole = np.diff(clock_s, prepend=clock_s[0]) > 1.5 * ticks.interval_s
    # ticks far apart, of a slow log, pass over places: steps are counted all the same
    new = np.diff(along, prepend=along[0]) + hole > 0
    return np.asarray(np.cumsum(new) + np.cumsum(hole), dtype=np.int64)


def _way(ticks: Ticks, begins: Index) -> dict[str, Array]:
    """Time, way and speed of each step."""
    way, speed, indicated = (
        ticks[name] for name in ("true_step_m", "true_speed_mps", "indicated_step_m")
    )
    stopped, rows = speed < STOPPED_MPS, np.diff(begins, append=len(ticks))
    distance = sums(way, begins)
    with np.errstate(invalid="ignore", divide="ignore"):
        square = sums(speed**2 * way, begins) / distance
    return {
        "start_s": ticks.time_s[begins],
        "duration_s": rows * ticks.interval_s,
        "stopped_s": ticks.seconds(stopped, begins),
        "distance_m": distance,
        # drawn up for ticks that were not measured
        "indicated_m": means(indicated, begins) * rows,
        "bridged_m": sums(np.where(ticks.bridged, way, 0.0), begins),
        "speed_mps": means(np.where(stopped, np.nan, speed), begins),
        "speed_squared_m2ps2": square,
    }


def _ends(ticks: Ticks, begins: Index, number: Index) -> dict[str, Array]:
    """What each step begins and ends with: its end is the beginning of the next, where that
    follows."""
    ends = np.append(begins[1:], len(ticks))
    follows = np.append(np.diff(number) == 1, False)
    joined = np.append(False, follows[:-1])
    found: dict[str, Array] = {}
    for begin, end in BORDERS:
        source = begin.replace("start_", "true_")
        if source not in ticks:
            continue
        values = ticks[source]
        first, last = values[begins], values[ends - 1]
        if begin in POSITIONS:
            first, last = _first_and_last(values, begins, ends)
        first = _half_a_tick_before(values, first, begins, joined)
        after = np.append(first[1:], np.nan)
        found[begin], found[end] = first, np.where(follows & ~np.isnan(after), after, last)
    return found


def _half_a_tick_before(values: Array, first: Array, begins: Index, joined: Mask) -> Array:
    """What each step begins with, where it is `joined` to the one before: a tick's way and fuel
    are of the time half a tick to either side of it, and between two ticks is where a step ends."""
    halfway = (values[begins - 1] + values[begins]) / 2
    return np.where(joined & ~np.isnan(halfway), halfway, first)


def _first_and_last(values: Array, begins: Index, ends: Index) -> tuple[Array, Array]:
    """The first and the last known value of each step, NaN where none is."""
    known = np.flatnonzero(~np.isnan(values))
    if not len(known):
        nothing = np.full(len(begins), np.nan)
        return nothing, nothing
    after, before = np.searchsorted(known, begins), np.searchsorted(known, ends) - 1
    first, last = (values[known[np.clip(one, 0, len(known) - 1)]] for one in (after, before))
    some = before >= after
    return np.where(some, first, np.nan), np.where(some, last, np.nan)


def _fuel(ticks: Ticks, begins: Index) -> dict[str, Array]:
    """Fuel of each step: ticks without burn as the others of it; where they are most, nobody
    knows."""
    if "fuel_step_l" not in ticks:
        return {}
    burnt, rows = ticks["fuel_step_l"], np.diff(begins, append=len(ticks))
    standing = np.where(ticks["true_speed_mps"] < STOPPED_MPS, burnt, 0.0)
    known = counts(~np.isnan(burnt), begins)
    with np.errstate(divide="ignore"):
        whole = np.where(2 * known >= rows, rows / known, np.nan)
    return {"fuel_l": sums(burnt, begins) * whole, "fuel_stopped_l": sums(standing, begins) * whole}


def _usual_gear(gear: Array, begins: Index) -> Array:
    """The gear of most ticks of each step, NaN where none is known; of two held as long as each
    other, the lower."""
    step = np.repeat(np.arange(len(begins)), np.diff(begins, append=len(gear)))
    known = np.isfinite(gear)
    kinds, kind = distinct(gear[known])
    if not len(kinds):
        return np.full(len(begins), np.nan)
    rows = np.bincount(step[known] * len(kinds) + kind, minlength=len(begins) * len(kinds))
    rows = rows.reshape(len(begins), len(kinds))
    return np.where(rows.any(axis=1), kinds[rows.argmax(axis=1)], np.nan)


def _course(columns: dict[str, Array]) -> dict[str, Array]:
    """Direction from each step's beginning to its end, clockwise from north in degrees."""
    if not set(POSITIONS) <= set(columns):
        return {}
    latitude, longitude = (columns[name] for name in POSITIONS)
    north = columns["end_latitude_deg"] - latitude
    east = (columns["end_longitude_deg"] - longitude) * np.cos(np.radians(latitude))
    course = (np.degrees(np.arctan2(east, north)) + 360.0) % 360.0
    return {"course_deg": np.where((north != 0) | (east != 0), course, np.nan)}
