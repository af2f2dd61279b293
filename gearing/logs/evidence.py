"""The unit of a column that names none, where the values leave one possibility.

A speed is held against the positions of the same file, a temperature or a pressure against
what its channel can be. Where two units remain possible the answer is None: a question.
"""

from __future__ import annotations

import numpy as np
import polars as pl

from gearing.units import BY_NAME

DEGREE_M = 111_320.0
WINDOW_S = 20.0
MOVING_MPS = 5.0
LEAST_WINDOWS = 20
LONGEST_HOLD_S = WINDOW_S / 3  # fixes that stand longer while driving tell no speed
# Receivers agree with their own positions; a vehicle's computer may be off by its tires
RECEIVER_SHARE, BUS_SHARE = 0.06, 0.12
RECEIVER_UNITS = ("m/s", "km/h", "mph", "kn")
BUS_UNITS = ("m/s", "km/h", "mph")


def speed_unit(raw: pl.Series, true_mps: pl.Series | None, receiver: bool) -> str | None:
    """The unit in which `raw` fits a speed known from elsewhere in the file."""
    if true_mps is None:
        return None
    both = pl.DataFrame({"r": raw, "t": true_mps}).drop_nulls().filter(pl.col("t") > MOVING_MPS)
    if both.height < LEAST_WINDOWS:
        return None
    ratio = both.select((pl.col("r") / pl.col("t")).median()).item()
    if ratio is None or ratio <= 0:
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

    Good to a few percent, which is enough to tell units apart and nothing else. Nothing is known
    where fixes are too coarse, or held too long: windows that show a move would then show too
    fast a one.
    """
    out = np.full(len(seconds), np.nan)
    have = np.flatnonzero(np.isfinite(latitude) & np.isfinite(longitude) & np.isfinite(seconds))
    if len(have) >= 3:
        t, lat, lon = seconds[have], latitude[have], longitude[have]
        order = np.argsort(t, kind="stable")
        have, t, lat, lon = have[order], t[order], lat[order], lon[order]
        moves = t[1:][(np.diff(lat) != 0) | (np.diff(lon) != 0)]
        longest = max(LONGEST_HOLD_S, 1.5 * float(np.median(np.diff(t))))
        if len(moves) < 2 or np.median(np.diff(moves)) > longest:
            return pl.Series(out).fill_nan(None)
        left = np.clip(np.searchsorted(t, t - WINDOW_S / 2), 0, len(t) - 1)
        right = np.clip(np.searchsorted(t, t + WINDOW_S / 2), 0, len(t) - 1)
        span = t[right] - t[left]
        north = lat[right] - lat[left]
        east = (lon[right] - lon[left]) * np.cos(np.radians(lat))
        fine = (span > WINDOW_S / 4) & (span < 3 * WINDOW_S)
        speed = np.hypot(north, east) * DEGREE_M / np.where(fine, span, np.nan)
        out[have] = speed
    return pl.Series(out).fill_nan(None)


def _warm_engine(values: np.ndarray) -> str | None:
    """An engine that has warmed up holds 70 to 112 degC, which is 158 to 234 degF or 343 to 385
    K; one that is still warming tells nothing."""
    tail = values[-len(values) // 3 :]
    low, middle, high = np.quantile(tail, (0.1, 0.5, 0.9)).tolist()
    for unit, least, most, spread in (("degC", 70, 112, 12), ("degF", 158, 234, 22)):
        if least < middle < most and high - low < spread:
            return unit
    return "K" if 343 < middle < 385 and high - low < 12 else None


def unit_by_size(channel: str, raw: pl.Series) -> str | None:
    """The unit in which the values can be what the channel is, where only one serves."""
    given = raw.drop_nulls()
    if len(given) < 5:
        return None
    low, middle, high = np.quantile(given.to_numpy(), (0.0, 0.5, 1.0)).tolist()
    if channel in ("coolant_temperature_c", "transmission_oil_temperature_c"):
        return _warm_engine(given.to_numpy())
    if channel == "ambient_temperature_c":
        if low > 230 and high < 330:
            return "K"
        if 62 < middle < 125:
            return "degF"  # no air is 62 degC warm
        if low < -25 and middle < 0:
            return "degC" if low > -50 else None
    if channel == "barometric_pressure_kpa":
        sizes = (("kPa", 55, 106), ("hPa", 550, 1060), ("inHg", 16, 31.5), ("psi", 8, 15.5))
        for unit, bottom, top in sizes:
            if bottom < middle < top:
                return unit
    return None
