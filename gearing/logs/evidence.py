"""The unit of a column that names none, where the values leave one possibility.

A speed is held against the positions of the same file, a temperature or a pressure against
what its channel can be. Where two units remain possible the answer is None: a question.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import polars as pl

from gearing.logs.headings import dimensions_of, quantity_of
from gearing.units import BY_NAME

COUNTS, COUNTED_FROM = "counts above -40 degC", 118
DEGREE_M = 111_320.0
WINDOW_S = 20.0
MOVING_MPS = 5.0
MIN_WINDOWS = 20
FIXES, LONGEST_WINDOW_S = 2, 60.0  # in a window; fixes that change more seldom tell no speed
MIN_WAY_M = 500.0  # in each of four parts, of which one may stand still
PARTS, MAX_STEP_SHARE, MOSTLY_ALIKE = 4, 0.25, 0.6
# Of air, from 5,000 m down to the sea
_PRESSURES = (
    ("kPa", 55, 106), ("hPa", 550, 1060), ("mmHg", 412, 795), ("inHg", 16, 31.5), ("psi", 8, 15.5),
    ("bar", 0.55, 1.06),
)  # fmt: skip
# steps of 10, 100 and 1000 ms, minutes, hours and days, taken for one another; the way along fixes
# is too long by their noise, never by a quarter
_TIME_STEPS = (10.0, 60.0, 100.0, 1000.0, 3600.0, 86_400.0)
TIME_SCALES = tuple(f for one in _TIME_STEPS for f in (one, 1 / one))
SCALE_WITHIN = 0.25
_WARM = (("degC", 70, 112), (COUNTS, COUNTED_FROM, 152), ("degF", 158, 234), ("K", 343, 385))
# No tires hold more than one g; counted in minutes a truck's changes of 0.2 m/s2 seem more
MIN_STEP_S = 0.001
MAX_CHANGE_MPS2, OFTEN = 10.0, 0.9
FEW_ROWS, MIN_ROWS = 10, 100
MIN_FRACTIONS = 10  # different values
MAX_SPREAD = 1.6  # of the middle half of the ratios: the nearest units are 1.61 apart
# Receivers agree with their own positions; a vehicle's computer may be off by its tires
RECEIVER_SHARE, BUS_SHARE = 0.06, 0.12
RECEIVER_UNITS = ("m/s", "km/h", "mph", "kn")
BUS_UNITS = ("m/s", "km/h", "mph")

# By quantity, else by dimension: no odometer counts in feet, and no road's height in miles
_UNITS_TO_ASK = {
    "altitude_m": ("m", "ft"),
    "distance_m": ("m", "km", "mi"),
    "indicated_distance_m": ("km", "mi", "m"),
    "volume_l": ("gal", "L"),
    "wind_speed_mps": ("mph", "km/h", "m/s", "kn"),
    "barometric_pressure_kpa": ("kPa", "hPa", "inHg", "mmHg", "psi"),
    "rotation": ("rpm", "0.25 rpm", "0.125 rpm"),
    "speed": ("km/h", "mph", "m/s"),
    "length": ("m", "ft", "km", "mi"),
    "temperature": ("degC", "degF"),
    "volume rate": ("L/h", "gal/h", "L/s"),
    "volume": ("L", "gal"),
    "mass rate": ("g/s", "kg/h"),
    "torque": ("N*m", "lbf*ft"),
}


def speed_unit(raw: pl.Series, true_mps: pl.Series | None, receiver: bool) -> str | None:
    """The unit in which `raw` fits a speed known from elsewhere in the file."""
    if true_mps is None:
        return None
    both = pl.DataFrame({"r": raw, "t": true_mps}).drop_nulls().filter(pl.col("t") > MOVING_MPS)
    if both.height < MIN_WINDOWS:
        return None
    return fitting_unit((both["r"] / both["t"]).to_numpy(), receiver)


def fitting_unit(written_by_true: np.ndarray, receiver: bool) -> str | None:
    """The one unit in which a speed is what is known of it, by numbers written over m/s."""
    low, ratio, high = np.quantile(written_by_true, (0.25, 0.5, 0.75)).tolist()
    if low <= 0 or high > MAX_SPREAD * low:  # fixes too coarse, or a road too winding for them
        return None
    share = RECEIVER_SHARE if receiver else BUS_SHARE
    fits = [
        name
        for name in (RECEIVER_UNITS if receiver else BUS_UNITS)
        if abs(ratio * BY_NAME[name].factor - 1) < share
    ]
    return fits[0] if len(fits) == 1 else None


def speed_from_positions(
    seconds: np.ndarray, latitude: np.ndarray, longitude: np.ndarray
) -> pl.Series:
    """Speed over ground [m/s] between fixes some 20 s apart, at each row; null where unknown.

    Good to a few percent, which is enough to tell units apart and nothing else. A fix that is
    held counts where it changes; what lies between a change and the next is not looked at, or
    windows that show a move would show too fast a one.
    """
    out = np.full(len(seconds), np.nan)
    have = np.flatnonzero(np.isfinite(latitude) & np.isfinite(longitude) & np.isfinite(seconds))
    have = have[np.argsort(seconds[have], kind="stable")]
    lat, lon = latitude[have], longitude[have]
    if len(have):
        moved = np.concatenate(([True], (np.diff(lat) != 0) | (np.diff(lon) != 0)))
        have, lat, lon = have[moved], lat[moved], lon[moved]
    if len(have) < 3:
        return pl.Series(out).fill_nan(None)
    t = seconds[have]
    window_s = max(WINDOW_S, FIXES * float(np.median(np.diff(t))))
    if window_s > LONGEST_WINDOW_S:
        return pl.Series(out).fill_nan(None)
    left = np.clip(np.searchsorted(t, t - window_s / 2), 0, len(t) - 1)
    right = np.clip(np.searchsorted(t, t + window_s / 2), 0, len(t) - 1)
    span = t[right] - t[left]
    north = lat[right] - lat[left]
    east = (lon[right] - lon[left]) * np.cos(np.radians(lat))
    fine = (span > window_s / 4) & (span < 3 * window_s)
    out[have] = np.hypot(north, east) * DEGREE_M / np.where(fine, span, np.nan)
    return pl.Series(out).fill_nan(None)


def is_fraction(values: pl.Series) -> bool:
    """Whether a load or a pedal is written from 0 to 1: it varies, and never leaves that."""
    low, high = values.min(), values.max()
    if not (isinstance(low, float) and isinstance(high, float) and 0 <= low < high <= 1):
        return False
    return values.drop_nulls().n_unique() >= MIN_FRACTIONS


def time_scale(
    seconds: np.ndarray, latitude: np.ndarray, longitude: np.ndarray, speed_mps: np.ndarray
) -> float | None:
    """By how much a count of time must be stretched for the way between positions to be what the
    speed drives in it: as often as one unit of time goes into another; None where it fits, or
    nothing tells."""
    known = np.isfinite(seconds) & np.isfinite(latitude) & np.isfinite(longitude)
    known &= np.isfinite(speed_mps)
    lat, lon = latitude[known], longitude[known]
    step_m = np.hypot(np.diff(lat), np.diff(lon) * np.cos(np.radians(lat[1:]))) * DEGREE_M
    driven_m = speed_mps[known][1:] * np.diff(seconds[known])
    parts = zip(np.array_split(step_m, PARTS), np.array_split(driven_m, PARTS), strict=True)
    found = [_scale_of(way, driven) for way, driven in parts if way.sum() > MIN_WAY_M]
    return found[0] if len(found) >= PARTS - 1 and len(set(found)) == 1 else None


def are_no_seconds(seconds: np.ndarray, speeds_mps: Iterable[np.ndarray]) -> bool:
    """Whether no recorder is as quick as the rows of a count in seconds would come, or a speed
    changes in them as that of no vehicle does."""
    steps = np.diff(seconds[np.isfinite(seconds)])
    steps = steps[steps > 0]
    if len(steps) and float(np.median(steps)) < MIN_STEP_S:
        return True
    return any(_changes_too_fast(seconds, speed) for speed in speeds_mps)


def _changes_too_fast(seconds: np.ndarray, speed_mps: np.ndarray) -> bool:
    known = np.isfinite(seconds) & np.isfinite(speed_mps)
    time, speed = seconds[known], speed_mps[known]
    if len(time) < MIN_ROWS:
        return False
    took = time[FEW_ROWS:] - time[:-FEW_ROWS]
    change = np.abs(speed[FEW_ROWS:] - speed[:-FEW_ROWS])[took > 0] / took[took > 0]
    return len(change) > 0 and float(np.quantile(change, OFTEN)) > MAX_CHANGE_MPS2


def _scale_of(way_m: np.ndarray, driven_m: np.ndarray) -> float | None:
    """The one of a stretch, row by row and as a whole: neither a fix that jumps nor one that is
    held makes it."""
    if driven_m.sum() <= 0 or way_m.max() > MAX_STEP_SHARE * way_m.sum():
        return None
    found = float(way_m.sum() / driven_m.sum())
    fits = [one for one in TIME_SCALES if abs(np.log(found / one)) < SCALE_WITHIN]
    driving = driven_m > 0
    ratio = way_m[driving] / driven_m[driving]
    alike = [one for one in fits if np.mean((ratio > one / 2) & (ratio < one * 2)) > MOSTLY_ALIKE]
    return alike[0] if alike else None


def _warm_engine(values: np.ndarray) -> str | None:
    """An engine that has warmed up holds 70 to 112 degC, which is 158 to 234 degF or 343 to 385 K;
    118 counts above -40 degC and more are no engine's degrees. One still warming tells nothing."""
    tail = values[-len(values) // 3 :]
    low, middle, high = np.quantile(tail, (0.1, 0.5, 0.9)).tolist()
    held = (unit for unit, least, most in _WARM if least < middle < most)
    unit = next(held, None)
    return unit if high - low < (22 if unit == "degF" else 12) else None


def unit_by_size(channel: str, raw: pl.Series) -> str | None:
    """The unit in which the values can be what the channel is, where only one serves."""
    given = raw.drop_nulls()
    if len(given) < 5:
        return None
    low, middle, high = np.quantile(given.to_numpy(), (0.0, 0.5, 1.0)).tolist()
    if channel in ("coolant_temperature_c", "transmission_oil_temperature_c"):
        unit = _warm_engine(given.to_numpy())
        # a transmission may be so hot, and is not written in a byte
        return None if unit == COUNTS and channel != "coolant_temperature_c" else unit
    if channel == "ambient_temperature_c":
        if low > 230 and high < 330:
            return "K"
        if 62 < middle < 125:
            return "degF"  # no air is 62 degC warm
        if low < -25 and middle < 0:
            return "degC" if low > -50 else None
    if channel == "barometric_pressure_kpa":
        fits = [unit for unit, bottom, top in _PRESSURES if bottom < middle < top]
        return fits[0] if len(fits) == 1 else None
    return None


def units_to_ask(name: str) -> tuple[str, ...]:
    """The units a quantity may be written in, as a question offers them."""
    own = (quantity_of(name).unit,)
    return _UNITS_TO_ASK.get(name) or _UNITS_TO_ASK.get(dimensions_of(name)[0], own)
