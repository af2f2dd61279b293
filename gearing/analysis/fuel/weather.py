"""The weather file at the moments driven, the wind brought down to the vehicle's height."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.vehicle.atmosphere import standard_pressure_pa
from gearing.vehicle.road_load import wind_at_vehicle_mps

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.statistics.arrays import Array

# a reading tells nothing of a moment further off than this
REACH_S = 2.5 * 3600
COVERED_LEAST = 0.9  # of each period's driving, for a file to count as covering it
# deviation of each part of a day's wind at the vehicle's height: about nothing where no file
# tells, for the mean wind of 3 m/s from all directions of EU 2017/2400 Annex VIII has parts of
# 2.1 m/s; and about a station's some way off (from memory), which the days' own contrast corrects
DAILY_WIND_MPS = 2.2
STATION_ERROR_MPS = 1.0


@dataclass(frozen=True, slots=True)
class Observed:
    """Weather at each moment; NaN (wind: 0) where the file does not reach.

    `from_east` and `from_north` [m/s] are the wind at the vehicle's height as a vector that
    points to where it comes from: along a course's unit vector it is the headwind.
    """

    from_east: Array
    from_north: Array
    temperature_c: Array
    pressure_pa: Array
    windy: NDArray[np.bool_]  # whether the file tells the wind
    covered: float  # share of the moments with wind


def at_times(weather: pl.DataFrame | None, start_s: Array) -> Observed:
    """Readings drawn linearly between hours; wind as a vector, so that its mean is a wind's."""
    n = len(start_s)
    nothing = np.full(n, np.nan)
    if weather is None or weather.is_empty():
        calm = np.zeros(n)
        return Observed(calm, calm, nothing, nothing, np.zeros(n, dtype=bool), 0.0)
    ordered = weather.sort("time")
    clock = ordered["time"].dt.epoch("us").to_numpy() * 1e-6
    speed, toward = _column(ordered, "wind_speed_mps"), _column(ordered, "wind_from_deg")
    wind = np.asarray(wind_at_vehicle_mps(speed))
    # a calm has no direction, and needs none
    toward = np.where(wind == 0, 0.0, toward)
    east = _between(clock, wind * np.sin(np.radians(toward)), start_s)
    north = _between(clock, wind * np.cos(np.radians(toward)), start_s)
    known = np.isfinite(east) & np.isfinite(north)
    return Observed(
        np.where(known, east, 0.0),
        np.where(known, north, 0.0),
        _between(clock, _column(ordered, "ambient_temperature_c"), start_s),
        1000 * _between(clock, _column(ordered, "barometric_pressure_kpa"), start_s),
        known,
        float(known.mean()) if n else 0.0,
    )


def station_pa(weather: pl.DataFrame | None, altitude_m: float) -> float:
    """The standard's pressure [Pa] at the height the file's pressure is for.

    A station gives its pressure at its own height or brought to sea level; whichever of the two
    it must be, the ratio to the standard atmosphere carries over to the road, at `altitude_m`.
    """
    local, sea = float(standard_pressure_pa(altitude_m)), float(standard_pressure_pa(0.0))
    if weather is None or "barometric_pressure_kpa" not in weather.columns:
        return sea
    middle = weather["barometric_pressure_kpa"].median()
    if not isinstance(middle, float):
        return sea
    return min((local, sea), key=lambda one: abs(1000 * middle - one))


def _column(frame: pl.DataFrame, name: str) -> Array:
    if name not in frame.columns:
        return np.full(frame.height, np.nan)
    return frame[name].cast(pl.Float64).to_numpy()


def _between(clock: Array, values: Array, moments: Array) -> Array:
    """Linear between readings, held beyond them, NaN further than `REACH_S` from any."""
    known = np.isfinite(values)
    if not known.any():
        return np.full(len(moments), np.nan)
    t, v = clock[known], values[known]
    right = np.clip(np.searchsorted(t, moments), 0, len(t) - 1)
    gap = np.minimum(np.abs(t[right] - moments), np.abs(moments - t[np.maximum(right - 1, 0)]))
    return np.where(gap <= REACH_S, np.interp(moments, t, v), np.nan)
