"""Road steps made ready for the comparison: what each step's physics needs, side by side."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from gearing.findings.fuel import weather as air
from gearing.findings.fuel.road import cell_numbers, pooled_grade
from gearing.vehicle.atmosphere import density_kgpm3, standard_pressure_pa

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.statistics.arrays import Array
    from gearing.study.model import Load, Study

    Index = NDArray[np.int64]

CAR_MASS_KG = 1500.0
HEAVY_MASS_KG = 12_000.0
REFERENCE_SPEED_MPS = 22.0
STANDING_S = 1.0
SPEED_BAND_MPS = 1.5
BLOCK = 1 << 16


@dataclass(frozen=True, slots=True)
class Day:
    """The unit of comparison: one local day on one side."""

    after: bool
    day: date


@dataclass(frozen=True, slots=True)
class Rows:
    """One entry a step. `day` numbers into `days`, `trip` the trips in order of time.

    `fuel_l` is what moving took. Speeds are true; `head_mps` and `cross_mps` the wind at the
    vehicle's height along and across the course (0 without a weather file), `wind_spread` the
    variance each way of what is not known of it [m2/s2]; `east`, `north` the course's unit
    vector; `usual_revolutions` the engine speed usual at that road speed on the before tires,
    over that at the reference speed; `cell` numbers stretches of road passed in one direction
    (-1: no position).
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
    density: Array
    mass_kg: Array
    head_mps: Array
    cross_mps: Array
    wind_spread: Array
    east: Array
    north: Array
    altitude_m: Array
    usual_revolutions: Array
    cell: Index
    days: tuple[Day, ...]

    def take(self, kept: NDArray[np.bool_] | Index | slice) -> Rows:
        """The rows kept, days and trips numbered as before."""
        if isinstance(kept, np.ndarray) and kept.dtype == np.bool_:
            kept = np.flatnonzero(kept)  # once, not for each column
        arrays = {
            field.name: getattr(self, field.name)[kept]
            for field in fields(self)
            if field.name != "days"
        }
        return replace(self, **arrays)

    @property
    def count(self) -> int:
        return len(self.distance_m)


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


def _numbers(frame: pl.DataFrame, column: str) -> Array:
    return frame[column].cast(pl.Float64).fill_null(float("nan")).to_numpy()


def _next_in_trip(frame: pl.DataFrame, column: str, otherwise: str) -> Array:
    """A step's end as the next step's start, so that sums over a trip close."""
    trip, step = frame["trip"].to_numpy(), frame["step"].to_numpy()
    follows = (trip[1:] == trip[:-1]) & (step[1:] == step[:-1] + 1)
    value = _numbers(frame, otherwise).copy()
    start = _numbers(frame, column)[1:]
    known = follows & np.isfinite(start)
    value[:-1][known] = start[known]
    return value


def make_rows(study: Study, joined: pl.DataFrame, weather: pl.DataFrame | None) -> Rows | None:
    """Rows of the steps without a mark, or None where none has a temperature.

    `joined` is `marked` output. Steps without a temperature of their own take the weather
    file's; those with neither are left out.
    """
    days, day = _numbered_days(joined)
    beyond = _beyond(joined, weather) | {"day": day}
    revolutions = usual_revolutions(joined)
    blocks = [slice(at, at + BLOCK) for at in range(0, joined.height, BLOCK)]
    parts = [
        _rows_of(study, joined[block], {name: a[block] for name, a in beyond.items()}, revolutions)
        for block in blocks
    ]
    together = {
        name: np.concatenate([part[name] for part in parts]) for name in (parts[0] if parts else ())
    }
    return Rows(**together, days=days) if together and len(together["day"]) else None


def _beyond(joined: pl.DataFrame, weather: pl.DataFrame | None) -> dict[str, Any]:
    """Of each step, what is known only from steps before and behind it, or all of them."""
    observed = air.at_times(weather, _numbers(joined, "start_s"))
    temperature = _numbers(joined, "ambient_temperature_c")
    temperature = np.where(np.isfinite(temperature), temperature, observed.temperature_c)
    altitude = _filled_within_trip(joined, _numbers(joined, "altitude_m"))
    altitude = np.where(np.isfinite(altitude), altitude, 0.0)
    end = _next_in_trip(joined, "altitude_m", "end_altitude_m")
    return {
        "cell": cell_numbers(joined),
        "altitude": altitude,
        "grade": pooled_grade(joined, altitude, np.where(np.isfinite(end), end, altitude)),
        "pressure": _pressure_pa(joined, altitude, observed.pressure_pa),
        "temperature": _filled_within_trip(joined, temperature),
        "end_speed": _next_in_trip(joined, "start_speed_mps", "end_speed_mps"),
        "from_east": observed.from_east,
        "from_north": observed.from_north,
    }


def _rows_of(
    study: Study, joined: pl.DataFrame, beyond: dict[str, Any], revolutions: tuple[Array, Array]
) -> dict[str, Any]:
    """The arrays of `Rows` of a block of steps: small enough for its way to stay in the cache."""
    numbers = joined.select(
        pl.col(
            "start_s", "duration_s", "stopped_s", "distance_m", "speed_mps", "speed_squared_m2ps2",
            "start_speed_mps", "course_deg", "fuel_l", "fuel_stopped_l",
        ).cast(pl.Float64).fill_null(float("nan"))
    )  # fmt: skip
    own = {name: numbers[name].to_numpy() for name in numbers.columns}
    speed, start, end = own["speed_mps"], own["start_speed_mps"], beyond["end_speed"]
    squared = own["speed_squared_m2ps2"]
    standing = np.nan_to_num(own["stopped_s"])
    course = np.radians(own["course_deg"])
    east, north = np.nan_to_num(np.sin(course)), np.nan_to_num(np.cos(course))
    from_east, from_north = beyond["from_east"], beyond["from_north"]
    arrays = {
        "day": beyond["day"],
        "trip": joined["trip"].cast(pl.Int64).to_numpy(),
        "after": (joined["side"] == "after").cast(pl.Float64).to_numpy(),
        "distance_m": own["distance_m"],
        "moving_s": own["duration_s"] - standing,
        "fuel_l": np.maximum(own["fuel_l"] - np.nan_to_num(own["fuel_stopped_l"]), 0.0),
        "speed_mps": speed,
        "speed_squared": np.where(np.isfinite(squared), squared, speed**2),
        # a stop within the step: what was braked is lost, and the engine starts from nothing
        "start_square": np.where(
            standing > STANDING_S, 0.0, np.where(np.isfinite(start), start, speed) ** 2
        ),
        "end_square": np.where(np.isfinite(end), end, speed) ** 2,
        "grade": beyond["grade"],
        "temperature_c": beyond["temperature"],
        "density": density_kgpm3(beyond["pressure"], beyond["temperature"]),
        "mass_kg": masses(study, own["start_s"]),
        "head_mps": from_east * east + from_north * north,
        "cross_mps": from_east * north - from_north * east,
        "wind_spread": np.zeros(len(speed)),
        "east": east,
        "north": north,
        "altitude_m": beyond["altitude"],
        "usual_revolutions": np.interp(
            np.where(np.isfinite(speed), speed, REFERENCE_SPEED_MPS), *revolutions
        ),
        "cell": beyond["cell"],
    }
    fit = joined["mark"].is_null().to_numpy() & np.isfinite(beyond["temperature"])
    kept = np.flatnonzero(fit & (arrays["moving_s"] > 0))
    return {name: array[kept] for name, array in arrays.items()}


def _filled_within_trip(joined: pl.DataFrame, values: Array) -> Array:
    """Missing values drawn on from the trip's last and, at its start, from its first."""
    if np.isfinite(values).all():
        return values
    filled = pl.DataFrame({"trip": joined["trip"], "value": values}).select(
        pl.col("value").fill_nan(None).forward_fill().backward_fill().over("trip")
    )
    return filled["value"].fill_null(float("nan")).to_numpy()


def _pressure_pa(joined: pl.DataFrame, altitude_m: Array, weather_pa: Array) -> Array:
    """Air pressure at each step [Pa]: logged, else the weather file's, else the standard's.

    A station gives its pressure at its own height or brought to sea level; whichever of the two
    it must be, the ratio to the standard atmosphere carries over to the road.
    """
    standard = np.asarray(standard_pressure_pa(altitude_m))
    ratio = np.ones(len(standard))
    known = np.isfinite(weather_pa)
    if known.any():
        middle, local = float(np.median(weather_pa[known])), float(np.median(standard[known]))
        base = local if abs(middle - local) < abs(middle - 101_325.0) else 101_325.0
        ratio = np.where(known, np.clip(weather_pa / base, 0.93, 1.07), 1.0)
    logged = _filled_within_trip(joined, 1000 * _numbers(joined, "barometric_pressure_kpa"))
    sound = np.isfinite(logged) & (np.abs(logged / standard - 1) < 0.07)
    return np.where(sound, logged, standard * ratio)


def _numbered_days(joined: pl.DataFrame) -> tuple[tuple[Day, ...], Index]:
    keys = joined.select(after=pl.col("side") == "after", day=pl.col("local_day"))
    unique = keys.unique(maintain_order=True).sort("after", "day").with_row_index("number")
    number = keys.join(unique, on=["after", "day"], how="left", maintain_order="left")["number"]
    days = tuple(Day(after, day) for after, day in unique.select("after", "day").iter_rows())
    return days, number.cast(pl.Int64).to_numpy()
