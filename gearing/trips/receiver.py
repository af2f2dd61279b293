"""What the receiver says of true horizontal speed, on an even clock.

Doppler speed is preferred, for it does not grow with the noise of positions; positions serve
where it is missing or plainly something else.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from gearing.problems import Problem, Severity
from gearing.trips.clock import drop_held, on_clock, own_interval_s, seconds
from gearing.trips.geodesy import steps_m

Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

FASTEST_MPS = 70.0
# further apart than this over a long way, the speed channel is not the receiver's
DOPPLER_DISAGREES = 0.03
LEAST_COMPARED_M = 5_000.0
STANDING_MPS = 0.5


@dataclass(frozen=True, slots=True)
class Receiver:
    """Horizontal speed in m/s on the clock (NaN unknown) and what it rests on."""

    speed_mps: Array
    source: str | None  # "doppler" | "positions" | None
    doppler_over_positions: float | None
    problems: tuple[Problem, ...]


def read_receiver(samples: pl.DataFrame, clock_s: Array, interval_s: float, file: str) -> Receiver:
    """True horizontal speed from one trip's samples at the moments of `clock_s`."""
    doppler = _doppler(samples, clock_s, interval_s)
    positions = _from_positions(samples, clock_s, interval_s)
    if doppler is None and positions is None:
        return Receiver(np.full(len(clock_s), np.nan), None, None, ())
    if doppler is None or positions is None:
        speed = positions if doppler is None else doppler
        source = "positions" if doppler is None else "doppler"
        assert speed is not None
        return Receiver(_still(speed), source, None, ())
    ratio = _compared(doppler, positions, interval_s)
    if ratio is not None and abs(ratio - 1) > DOPPLER_DISAGREES:
        problem = Problem(
            code="gps-speed-disagrees",
            severity=Severity.WARNING,
            message=f"the GPS speed is {(ratio - 1) * 100:+.1f} % from what the positions show; "
            "positions were used",
            remedy="Check the unit of the GPS speed column in [columns].",
            file=file,
            column="gps_speed",
        )
        filled = np.where(np.isfinite(positions), positions, np.nan)
        return Receiver(_still(filled), "positions", ratio, (problem,))
    return Receiver(
        _still(np.where(np.isfinite(doppler), doppler, positions)), "doppler", ratio, ()
    )


def _doppler(samples: pl.DataFrame, clock_s: Array, interval_s: float) -> Array | None:
    if "gps_speed_mps" not in samples.columns:
        return None
    rows = samples.filter(pl.col("gps_speed_mps").is_not_null())
    if rows.height < 10:
        return None
    time_s, speed = seconds(rows), rows["gps_speed_mps"].to_numpy()
    if "indicated_speed_mps" in rows.columns:
        other = rows["indicated_speed_mps"].fill_null(strategy="forward").fill_null(0.0).to_numpy()
        time_s, speed = drop_held(time_s, speed, other)
    time_s, speed = _without_spikes(time_s, speed)
    return on_clock(time_s, speed, clock_s, interval_s, "gps_speed_mps")


def _from_positions(samples: pl.DataFrame, clock_s: Array, interval_s: float) -> Array | None:
    if not {"latitude_deg", "longitude_deg"} <= set(samples.columns):
        return None
    rows = samples.filter(
        pl.col("latitude_deg").is_not_null() & pl.col("longitude_deg").is_not_null()
    )
    if rows.height < 10:
        return None
    time_s = seconds(rows)
    north, east = steps_m(rows["latitude_deg"].to_numpy(), rows["longitude_deg"].to_numpy())
    moved = np.concatenate(([True], (north != 0) | (east != 0)))
    if np.count_nonzero(moved) < 0.4 * np.count_nonzero(moved | _drives(rows)):
        rows, time_s = rows.filter(pl.Series(moved)), time_s[moved]
        if len(time_s) < 10:
            return None
        north, east = steps_m(rows["latitude_deg"].to_numpy(), rows["longitude_deg"].to_numpy())
    took_s = np.diff(time_s)
    reach = max(3.0, 2.2 * own_interval_s(time_s))
    speed = np.hypot(north, east) * _arc(north, east) / np.maximum(took_s, 1e-3)
    known = (took_s <= reach) & (took_s > 1e-3) & (speed < FASTEST_MPS)
    middle = 0.5 * (time_s[1:] + time_s[:-1])
    kept_time, kept = _without_spikes(middle[known], speed[known])
    if len(kept) < 10:
        return None
    return on_clock(kept_time, kept, clock_s, interval_s, "gps_speed_mps")


def _drives(rows: pl.DataFrame) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Rows where another record says the vehicle moves: a fix that stands still there is held."""
    for name in ("indicated_speed_mps", "gps_speed_mps"):
        if name in rows.columns:
            return (rows[name].fill_null(strategy="forward").fill_null(0.0) > 2.0).to_numpy()
    return np.zeros(rows.height, dtype=bool)


def _arc(north: Array, east: Array) -> Array:
    """Arc over chord from how much the course turns from chord to chord.

    A circle's arc over its chord is (angle / 2) / sin(angle / 2); only where the chord is long
    against the noise of a fix does the turn mean anything.
    """
    course = np.arctan2(east, north)
    turn = np.abs(np.angle(np.exp(1j * np.diff(course))))
    padded = np.concatenate((turn[:1], turn, turn[-1:]))
    mean_turn = 0.5 * (padded[1:] + padded[:-1])
    long = np.hypot(north, east) > 20.0
    half = np.where(long & (mean_turn < 1.2), 0.5 * mean_turn, 0.0)
    return np.where(half > 1e-4, half / np.sin(np.maximum(half, 1e-4)), 1.0)


def _without_spikes(time_s: Array, speed: Array) -> tuple[Array, Array]:
    """Lone values far from the median of their neighbours taken out."""
    if len(speed) < 5:
        return time_s, speed
    series = pl.Series(speed)
    median = series.rolling_median(5, center=True, min_samples=3).to_numpy()
    allowed = 4.0 + 3.0 * own_interval_s(time_s)
    good = (np.abs(speed - median) <= allowed) & (speed < FASTEST_MPS) & (speed >= 0)
    return time_s[good], speed[good]


def _still(speed: Array) -> Array:
    """Jitter of a receiver that stands is worth nothing."""
    with np.errstate(invalid="ignore"):
        return np.where(speed < STANDING_MPS, 0.0, speed)


def _compared(doppler: Array, positions: Array, interval_s: float) -> float | None:
    both = np.isfinite(doppler) & np.isfinite(positions) & (doppler + positions > 6.0)
    way = float(positions[both].sum()) * interval_s
    return float(doppler[both].sum()) * interval_s / way if way > LEAST_COMPARED_M else None
