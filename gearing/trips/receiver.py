"""What the receiver says of true horizontal speed, on an even clock.

Doppler speed is preferred, for it does not grow with the noise of positions; positions serve
where it is missing or plainly something else. Positions far apart cut the corners of the road;
by how much is told by leaving out every second of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gearing.problems import Problem, Severity
from gearing.trips.clock import Channels, drop_held, on_clock, own_interval_s
from gearing.trips.geodesy import steps_m

Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

FASTEST_MPS = 70.0
LEAST_FIXES = 10
FINEST = 0.01  # of the steps between fixes: their smallest, but for a stray
# further apart than this over a long way, the speed channel is not the receiver's
DOPPLER_DISAGREES = 0.03
LEAST_COMPARED_M = 5_000.0
STANDING_MPS = 0.5
MAX_LENGTHENED = 0.03  # by the steps positions are written in
SURE_OF_LENGTH = 0.01  # more, and positions do not contradict the receiver's speed
SLOW_S = 2.5  # positions further apart than this may cut corners


@dataclass(frozen=True, slots=True)
class Receiver:
    """Horizontal speed in m/s on the clock (NaN unknown) and what it rests on."""

    speed_mps: Array
    source: str | None  # "doppler" | "positions" | None
    doppler_over_positions: float | None
    problems: tuple[Problem, ...]
    way_error: float = 0.0  # relative standard error of distance, alike all along


def read_receiver(logged: Channels, clock_s: Array, interval_s: float, file: str) -> Receiver:
    """True horizontal speed from one trip's channels at the moments of `clock_s`."""
    doppler = _doppler(logged, clock_s, interval_s)
    positions = _from_positions(logged, clock_s, interval_s)
    lengthened = _lengthened(logged)
    if doppler is None and positions is None:
        return Receiver(np.full(len(clock_s), np.nan), None, None, ())
    if doppler is None or positions is None:
        speed = positions if doppler is None else doppler
        assert speed is not None
        if doppler is None and lengthened > MAX_LENGTHENED:
            return Receiver(np.full(len(clock_s), np.nan), None, None, (_coarse(file),))
        if doppler is None:
            way_error = float(np.hypot(_cut_corners(logged), lengthened))
            return Receiver(_still(speed), "positions", None, (), way_error)
        return Receiver(_still(speed), "doppler", None, ())
    if lengthened > SURE_OF_LENGTH:
        return Receiver(_still(doppler), "doppler", None, ())
    ratio = _compared(doppler, positions, interval_s)
    way_error = _cut_corners(logged)
    if (
        ratio is not None
        and not -DOPPLER_DISAGREES <= ratio - 1 <= DOPPLER_DISAGREES + 2 * way_error
    ):
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
        return Receiver(_still(filled), "positions", ratio, (problem,), way_error)
    return Receiver(
        _still(np.where(np.isfinite(doppler), doppler, positions)), "doppler", ratio, ()
    )


def _doppler(logged: Channels, clock_s: Array, interval_s: float) -> Array | None:
    time_s, speed = logged.known("gps_speed_mps")
    if len(speed) < LEAST_FIXES:
        return None
    bus_s, bus_mps = logged.known("indicated_speed_mps")
    if len(bus_mps) >= LEAST_FIXES:
        time_s, speed = drop_held(time_s, speed, np.interp(time_s, bus_s, bus_mps))
    time_s, speed = _without_spikes(time_s, speed)
    return on_clock(time_s, speed, clock_s, interval_s, "gps_speed_mps")


def _from_positions(logged: Channels, clock_s: Array, interval_s: float) -> Array | None:
    time_s, latitude, longitude = logged.known("latitude_deg", "longitude_deg")
    if len(time_s) < LEAST_FIXES:
        return None
    north, east = steps_m(latitude, longitude)
    moved = np.concatenate(([True], (north != 0) | (east != 0)))
    driven = moved | _drives(logged, time_s)
    if np.count_nonzero(moved) < 0.4 * np.count_nonzero(driven):
        time_s, latitude, longitude = time_s[moved], latitude[moved], longitude[moved]
        if len(time_s) < LEAST_FIXES:
            return None
        north, east = steps_m(latitude, longitude)
    took_s = np.diff(time_s)
    reach = max(3.0, 2.2 * own_interval_s(time_s))
    speed = np.hypot(north, east) * _arc(north, east) / np.maximum(took_s, 1e-3)
    known = (took_s <= reach) & (took_s > 1e-3) & (speed < FASTEST_MPS)
    middle = 0.5 * (time_s[1:] + time_s[:-1])
    kept_time, kept = _without_spikes(middle[known], speed[known])
    if len(kept) < LEAST_FIXES:
        return None
    return on_clock(kept_time, kept, clock_s, interval_s, "gps_speed_mps")


def _lengthened(logged: Channels) -> float:
    """By how much of it the steps that positions are written in lengthen the way.

    An end rounded to steps of q has a variance of q^2 / 12 along each axis; two of them across a
    chord d lengthen it by q^2 / (12 d).
    """
    time_s, latitude, longitude = logged.known("latitude_deg", "longitude_deg")
    if len(time_s) < LEAST_FIXES:
        return 0.0
    north, east = steps_m(latitude, longitude)
    chord, across = np.hypot(north, east), np.abs(np.concatenate((north, east)))
    if not chord.any():
        return 0.0
    step_m = float(np.quantile(across[across > 0], FINEST))
    return step_m**2 / (12 * float(np.median(chord[chord > 0])) ** 2)


def _coarse(file: str) -> Problem:
    return Problem(
        code="positions-coarse",
        severity=Severity.WARNING,
        message="the positions are written too coarsely to measure a way by, and the log has no "
        "GPS speed; no true speed was taken from it",
        remedy="Record positions with five decimals of a degree or more, or the GPS speed.",
        file=file,
        column="latitude",
    )


def _cut_corners(logged: Channels) -> float:
    """By how much of it the way grows shorter when every second position is left out.

    What positions as far apart as these leave out themselves, or their jitter adds, is of that
    size; which of the two is more, the positions do not tell.
    """
    time_s, latitude, longitude = logged.known("latitude_deg", "longitude_deg")
    interval_s = own_interval_s(time_s) if len(time_s) >= LEAST_FIXES else 0.0
    if interval_s <= SLOW_S:
        return 0.0
    chord = _arc_length(latitude, longitude)
    driven = (np.diff(time_s) < 1.5 * interval_s) & (chord > 3.0 * interval_s)
    each = over = 0.0
    for first in (0, 1):
        double = _arc_length(latitude[first::2], longitude[first::2])
        halves = [chord[first + half :: 2][: len(double)] for half in (0, 1)]
        both = driven[first::2][: len(double)] & driven[first + 1 :: 2][: len(double)]
        each += float((halves[0] + halves[1])[both].sum())
        over += float(double[both].sum())
    return abs(each / over - 1) if over > 0 else 0.0


def _arc_length(latitude: Array, longitude: Array) -> Array:
    north, east = steps_m(latitude, longitude)
    return np.hypot(north, east) * _arc(north, east)


def _drives(logged: Channels, at_s: Array) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Whether another record says the vehicle moves: a fix that stands still then is held."""
    for name in ("indicated_speed_mps", "gps_speed_mps"):
        time_s, speed = logged.known(name)
        if len(speed):
            return np.asarray(np.interp(at_s, time_s, speed) > 2.0)
    return np.zeros(len(at_s), dtype=bool)


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


def median_of_five(values: Array) -> Array:
    """Median of each value and two neighbours to either side, of those there are at the ends.

    Five values or more, shape (n,). Of the smaller in each of two pairs the larger, and of the
    larger the smaller: with the fifth, their median is that of all five.
    """
    a, b, c, d, e = (values[i : len(values) - 4 + i] for i in range(5))
    low = np.maximum(np.minimum(a, b), np.minimum(c, d))
    high = np.minimum(np.maximum(a, b), np.maximum(c, d))
    middle = np.maximum(np.minimum(e, low), np.minimum(np.maximum(e, low), high))
    begin = [np.median(values[:3]), np.median(values[:4])]
    end = [np.median(values[-4:]), np.median(values[-3:])]
    return np.concatenate([begin, middle, end])


def _without_spikes(time_s: Array, speed: Array) -> tuple[Array, Array]:
    """Lone values far from the median of their neighbours taken out."""
    if len(speed) < 5:
        return time_s, speed
    allowed = 4.0 + 3.0 * own_interval_s(time_s)
    good = (np.abs(speed - median_of_five(speed)) <= allowed) & (speed < FASTEST_MPS) & (speed >= 0)
    return time_s[good], speed[good]


def _still(speed: Array) -> Array:
    """Jitter of a receiver that stands is worth nothing."""
    with np.errstate(invalid="ignore"):
        return np.where(speed < STANDING_MPS, 0.0, speed)


def _compared(doppler: Array, positions: Array, interval_s: float) -> float | None:
    both = np.isfinite(doppler) & np.isfinite(positions) & (doppler + positions > 6.0)
    way = float(positions[both].sum()) * interval_s
    return float(doppler[both].sum()) * interval_s / way if way > LEAST_COMPARED_M else None
