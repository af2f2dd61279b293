"""Road steps made ready for the comparison: what each step's physics needs, side by side."""

from __future__ import annotations

import functools
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields
from datetime import date
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
import polars as pl

from gearing.analysis.fuel import weather as air
from gearing.analysis.fuel.road import (
    cell_codes,
    numbered,
    own_grade,
    place_codes,
    pooled_grade,
)
from gearing.analysis.fuel.temperature import AirTemperature, air_temperature
from gearing.analysis.fuel.weather import DAILY_WIND_MPS, STATION_ERROR_MPS
from gearing.statistics.arrays import distinct
from gearing.vehicle.atmosphere import density_kgpm3, standard_pressure_pa

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from numpy.typing import NDArray

    from gearing.statistics.arrays import Array, Index
    from gearing.study.model import Load, Study

CAR_MASS_KG = 1500.0
HEAVY_MASS_KG = 12_000.0
REFERENCE_SPEED_MPS = 22.0
STANDING_S = 1.0
# What the force along the road may swing by, of the weight, for each second between two rows:
# 0.03 m/s2, of the order of what heavy vehicles' speeds do (common practice, no source)
UNSEEN_SHARE_PER_S = 0.003
SPEED_BAND_MPS = 1.5
BLOCK = 1 << 16
_SIDE = 2**32  # more than there are days
Found = TypeVar("Found")


@dataclass(frozen=True, slots=True)
class Day:
    """The unit of comparison: one local day on one side."""

    after: bool
    day: date


@dataclass(frozen=True, slots=True)
class Rows:
    """One entry a step. `day` numbers into `days`, `trip` the trips in order of time.

    `fuel_l` is what moving took. Speeds are true; `temperature_c` where only the climate tells
    it (`unlogged` 1) has the `season`, -1 coldest to 1 warmest, as its range's lever; `head_mps`
    and `cross_mps` the wind at the vehicle's height along and across the course (0 without a
    weather file), `wind_spread` the variance each way of what is not known of it [m2/s2];
    `unseen` the share of the weight that the force may swing by between two rows of the log;
    `east`, `north` the course's unit vector; `usual_revolutions` the engine speed usual at that
    road speed on the before tires, over that at the reference speed; `cell` numbers stretches of
    road passed in one direction (-1: no position).
    """

    day: Index
    trip: Index
    after: Array
    distance_m: Array
    moving_s: Array
    fuel_l: Array
    speed_mps: Array
    speed_squared: Array
    start_square: Array
    end_square: Array
    grade: Array
    temperature_c: Array
    unlogged: Array
    season: Array
    density: Array
    mass_kg: Array
    unseen: Array
    head_mps: Array
    cross_mps: Array
    wind_spread: Array
    east: Array
    north: Array
    usual_revolutions: Array
    cell: Index
    days: tuple[Day, ...]

    def take(self, kept: NDArray[np.bool_] | Index | slice) -> Rows:
        """The rows kept, days and trips numbered as before."""
        if isinstance(kept, np.ndarray) and kept.dtype == np.bool_:
            kept = np.flatnonzero(kept)  # once, not for each column
        arrays: dict[str, Any] = {name: getattr(self, name)[kept] for name in _arrays()}
        return Rows(**arrays, days=self.days)

    @property
    def is_after(self) -> NDArray[np.bool_]:
        """For each of `days`, whether it is one of the after side."""
        return np.array([day.after for day in self.days], dtype=bool)

    @property
    def dates(self) -> Array:
        """For each of `days`, the number of its date [d]."""
        return np.array([day.day.toordinal() for day in self.days], dtype=float)

    @property
    def count(self) -> int:
        """How many."""
        return len(self.distance_m)


@functools.cache
def _arrays() -> tuple[str, ...]:
    return tuple(field.name for field in fields(Rows) if field.name != "days")


def usual_revolutions(joined: pl.DataFrame) -> tuple[Array, Array]:
    """Road speeds [m/s], and the engine speed usual there on the before tires over that at the
    reference speed.

    Medians in bands of road speed. Without engine speed on the before side: constant below
    16 m/s (gears are shifted), in proportion above (top gear).
    """
    band = (pl.col("speed_mps") / SPEED_BAND_MPS).floor()
    table = (
        joined.select("side", "mark", "engine_speed_rpm", "speed_mps")
        .filter((pl.col("side") == "before") & pl.col("mark").is_null())
        .drop_nulls(["engine_speed_rpm", "speed_mps"])
        .rechunk()  # one chunk, one order of sums, however many threads filtered
        .lazy()
        .group_by(band.alias("band"), maintain_order=True)
        .agg(
            pl.col("engine_speed_rpm").median().cast(pl.Float64).alias("rpm"),
            pl.col("speed_mps").mean().cast(pl.Float64).alias("speed"),
            pl.len().alias("n"),
        )
        .filter(pl.col("n") >= 10)
        .sort("band")
        .collect()
    )
    at, rpm = np.array([0.0, 16.0, 60.0]), np.array([16.0, 16.0, 60.0])
    if table.height >= 4:
        at, rpm = table["speed"].to_numpy(), table["rpm"].to_numpy()
        # top gear goes on beyond the fastest band seen
        at, rpm = np.append(at, 2 * at[-1]), np.append(rpm, 2 * rpm[-1])
    return at, rpm / np.interp(REFERENCE_SPEED_MPS, at, rpm)


def masses(study: Study, start_s: Array) -> Array:
    """Weight at each moment [kg]: the study's, a declared load's, or a stated default."""
    usual = study.vehicle.mass_kg or (
        CAR_MASS_KG if study.vehicle.fuel == "gasoline" else HEAVY_MASS_KG
    )
    mass = np.full(len(start_s), usual)
    for load in study.loads:
        mass = np.where(_during(load, start_s), load.mass_kg or usual, mass)
    return mass


def _during(load: Load, start_s: Array) -> NDArray[np.bool_]:
    return np.asarray(
        (start_s >= load.start.timestamp()) & (start_s < load.end.timestamp()), dtype=np.bool_
    )


NUMBERS = (
    "start_s", "duration_s", "stopped_s", "distance_m", "latitude_deg", "longitude_deg",
    "end_latitude_deg", "end_longitude_deg", "course_deg", "altitude_m", "end_altitude_m",
    "speed_mps", "speed_squared_m2ps2", "start_speed_mps", "end_speed_mps", "fuel_l",
    "fuel_stopped_l", "barometric_pressure_kpa", "steps_s",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Whole:
    """What all steps together tell each; `station_pa` is the standard's pressure where the
    weather file's counts, `altitude_m` the median."""

    study: Study
    weather: pl.DataFrame | None
    station_pa: float
    altitude_m: float
    revolutions: tuple[Array, Array]


def make_rows(
    study: Study, joined: pl.DataFrame, weather: pl.DataFrame | None
) -> tuple[Rows, AirTemperature] | None:
    """Rows of the steps without a mark, and how their temperature was told; None where there
    are none. `joined` is `marked` output."""
    if joined["distance_m"].null_count():
        joined = joined.filter(pl.col("distance_m").is_not_null())
    if joined.is_empty():
        return None
    days, day = _numbered_days(joined)
    moments = joined["start_s"].to_numpy()
    told = air_temperature(joined, air.at_times(weather, moments).temperature_c)
    median = joined["altitude_m"].median()
    altitude = median if isinstance(median, float) else 0.0
    whole = _Whole(
        study,
        weather,
        air.station_pa(weather, altitude),
        altitude,
        usual_revolutions(joined),
    )
    blocks = list(_whole_trips(joined["trip"].to_numpy()))
    moving = pl.col("duration_s") > pl.col("stopped_s").fill_null(0.0)
    kept = joined.select(pl.col("mark").is_null() & moving).to_series().to_numpy()
    if not kept.any():
        return None
    ends = np.cumsum([np.count_nonzero(kept[block]) for block in blocks])
    # filled block by block: two copies of a lifetime would be most of the memory
    first = slice(0, 1)
    kinds = {name: one.dtype for name, one in _rows_of(whole, joined, day, told, first).items()}
    arrays = {name: np.empty(ends[-1], kind) for name, kind in kinds.items()}

    def fill(block: slice, end: int) -> None:
        rows = np.flatnonzero(kept[block])
        for name, array in _rows_of(whole, joined, day, told, block).items():
            arrays[name][end - len(rows) : end] = array[rows]

    in_threads(fill, blocks, ends)
    arrays["grade"] = pooled_grade(arrays["grade"], arrays.pop("sign"), arrays.pop("place"))
    arrays["cell"] = numbered(arrays["cell"])
    return Rows(**arrays, days=days), told


def in_threads(function: Callable[..., Found], *blocks: Iterable[Any]) -> list[Found]:
    """`function` of each block, in their order, in threads: numpy releases the interpreter lock."""
    with ThreadPoolExecutor(os.cpu_count()) as threads:
        return list(threads.map(function, *blocks))


def _whole_trips(trip: Index) -> Iterator[slice]:
    """Blocks of whole trips, of `BLOCK` steps or so: what is worked out on the way to their rows
    stays in the processor's cache."""
    new = np.flatnonzero(trip[1:] != trip[:-1]) + 1
    start = 0
    while start < len(trip):
        later = new[np.searchsorted(new, start + BLOCK) :]
        end = int(later[0]) if len(later) else len(trip)
        yield slice(start, end)
        start = end


def _rows_of(
    whole: _Whole, all_steps: pl.DataFrame, day: Index, told: AirTemperature, block: slice
) -> dict[str, Any]:
    """The arrays of `Rows` of a block of trips; grades are each pass's own yet, with their `sign`
    and `place`, and cells are codes."""
    joined = all_steps[block]
    numbers = joined.select(pl.col(NUMBERS).cast(pl.Float64))
    own = {name: numbers[name].to_numpy() for name in NUMBERS}
    trip = joined["trip"].cast(pl.Int64).to_numpy()
    observed = air.at_times(whole.weather, own["start_s"])
    temperature = told.celsius[block]
    altitude = _filled_within_trip(trip, own["altitude_m"])
    speed = own["speed_mps"]
    start = _known_or(own["start_speed_mps"], speed)
    end = _known_or(own["end_speed_mps"], speed)
    standing = np.nan_to_num(own["stopped_s"])
    latitude = (own["latitude_deg"] + own["end_latitude_deg"]) / 2
    longitude = (own["longitude_deg"] + own["end_longitude_deg"]) / 2
    position = (latitude, longitude, own["course_deg"])
    place, sign = place_codes(*position)
    course = np.radians(own["course_deg"])
    east, north = np.nan_to_num(np.sin(course)), np.nan_to_num(np.cos(course))
    logged = _filled_within_trip(trip, 1000 * own["barometric_pressure_kpa"])
    ratio = observed.pressure_pa / whole.station_pa
    pressure = _pressure_pa(altitude, whole.altitude_m, logged, ratio)
    return {
        "day": day[block],
        "trip": trip,
        "after": (joined["side"] == "after").cast(pl.Float64).to_numpy(),
        "distance_m": own["distance_m"],
        "moving_s": own["duration_s"] - standing,
        "fuel_l": np.maximum(own["fuel_l"] - np.nan_to_num(own["fuel_stopped_l"]), 0.0),
        "speed_mps": speed,
        "speed_squared": _known_or(own["speed_squared_m2ps2"], speed**2),
        # a stop within the step: what was braked is lost, and the engine starts from nothing
        "start_square": np.where(standing > STANDING_S, 0.0, start**2),
        "end_square": end**2,
        "grade": own_grade(trip, own["distance_m"], own["end_altitude_m"] - own["altitude_m"]),
        "sign": sign,
        "place": place,
        "temperature_c": temperature,
        "unlogged": told.unlogged[block],
        "season": told.season[block],
        "density": density_kgpm3(pressure, temperature),
        "mass_kg": masses(whole.study, own["start_s"]),
        "unseen": UNSEEN_SHARE_PER_S * np.maximum(own["steps_s"], 1.0),
        "head_mps": observed.from_east * east + observed.from_north * north,
        "cross_mps": observed.from_east * north - observed.from_north * east,
        "wind_spread": np.where(observed.windy, STATION_ERROR_MPS, DAILY_WIND_MPS) ** 2,
        "east": east,
        "north": north,
        "usual_revolutions": np.interp(_known_or(speed, REFERENCE_SPEED_MPS), *whole.revolutions),
        "cell": cell_codes(*position),
    }


def _known_or(values: Array, otherwise: Array | float) -> Array:
    return np.where(np.isfinite(values), values, otherwise)


def _filled_within_trip(trip: Index, values: Array) -> Array:
    """Missing values drawn on from the trip's last and, at its start, from its first."""
    if np.isfinite(values).all():
        return values
    filled = pl.DataFrame({"trip": trip, "value": values}).select(
        pl.col("value").fill_nan(None).forward_fill().backward_fill().over("trip")
    )
    return filled["value"].to_numpy()


def _pressure_pa(
    altitude_m: Array, usual_m: float, logged_pa: Array, station_ratio: Array
) -> Array:
    """Air pressure at each step [Pa]: logged, else the standard's times how far the weather file's
    departs from the standard, else the standard's; at the usual altitude where none is known."""
    standard = np.asarray(standard_pressure_pa(_known_or(altitude_m, usual_m)))
    near = np.abs(logged_pa / standard - 1) < 0.07
    sound = np.where(np.isfinite(altitude_m), near, (logged_pa > 5e4) & (logged_pa < 1.08e5))
    return np.where(sound, logged_pa, standard * np.clip(_known_or(station_ratio, 1.0), 0.93, 1.07))


def _numbered_days(joined: pl.DataFrame) -> tuple[tuple[Day, ...], Index]:
    """The days of each side, before and then after, and the number of each step's."""
    side = (joined["side"] == "after").cast(pl.Int64).to_numpy()
    keys, number = distinct(side * _SIDE + joined["local_day"].cast(pl.Int64).to_numpy())
    late = (keys + _SIDE // 2) // _SIDE
    days = pl.Series(keys - late * _SIDE).cast(pl.Int32).cast(pl.Date).to_list()
    return tuple(Day(bool(after), day) for after, day in zip(late, days, strict=True)), number
