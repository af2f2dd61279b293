"""What the receiver says of true horizontal speed, on an even clock.

Doppler speed is preferred, for it does not grow with the noise of positions; positions serve
where it is missing or plainly something else. Positions far apart cut the corners of the road;
by how much is told by leaving out every second of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gearing.messages import Message, Problem, Quantity, message, problem_of
from gearing.statistics.arrays import Array, Mask
from gearing.trips.clock import (
    Channels,
    between_samples,
    drop_held,
    is_held,
    on_clock,
    own_interval_s,
)
from gearing.trips.geodesy import steps_m
from gearing.trips.rounding import FINE, find_grid

FASTEST_MPS = 70.0
MIN_FIXES = 10
FINEST = 0.01  # of the steps between fixes: their smallest, but for a stray
# moves up to so many steps must be whole ones, this nearly, in this share
MAX_STEPS, OFF_STEP, ON_STEPS, STANDING_SHARE = 8.0, 0.03, 0.9, 0.2
MIN_LENGTHENED = 1e-4
# speed and positions of one receiver agree this well; further apart, nobody knows which is right
AGREES = 0.005
# unless their ratio is that of two units, this nearly
UNIT_RATIOS = (3.6, 1.609344, 1.943844, 2.236936, 1.852, 1.150779)
NEAR_UNIT = 0.03
MIN_COMPARED_M = 5_000.0
STANDING_MPS = 0.5
COURSE_S = 5.0  # to either side, over which a course is told
STRAIGHT_RAD = 0.15  # turned between the two halves, at most
MAX_LENGTHENED = 0.03  # by the steps positions are written in
SURE_OF_LENGTH = 0.01  # more, and positions do not contradict the receiver's speed
# different values of a speed in whole units, among the first ones
MIN_WHOLE, MAX_WHOLE, FIRST = 10, 200, 2000
SLOW_S = 2.5  # positions further apart than this may cut corners


@dataclass(frozen=True, slots=True)
class Receiver:
    """Horizontal speed in m/s on the clock (NaN unknown) and what it rests on; `drawn` where it
    falls between measured moments several ticks apart."""

    speed_mps: Array
    drawn: Mask
    source: str | None  # "doppler" | "positions" | None
    problems: tuple[Problem, ...] = ()
    way_error: float = 0.0  # relative standard error of distance, alike all along

    @classmethod
    def nothing(cls, clock_s: Array, *problems: Problem) -> Receiver:
        """Nothing known at any moment of the clock."""
        return cls(np.full(len(clock_s), np.nan), np.zeros(len(clock_s), bool), None, problems)


@dataclass(frozen=True, slots=True)
class _Speed:
    """One source's speed on the clock, None where it tells too little, where it is `drawn`, and
    the relative standard error of all of it; `step_mps` that it comes in, 0 if fine."""

    mps: Array | None
    drawn: Mask
    error: float = 0.0
    step_mps: float = 0.0


@dataclass(frozen=True, slots=True)
class _Fixes:
    """Positions with their moments; metres north, east and straight from each to the next."""

    time_s: Array
    latitude: Array
    longitude: Array
    north: Array
    east: Array
    chord: Array

    @classmethod
    def of(cls, time_s: Array, latitude: Array, longitude: Array) -> _Fixes:
        """Fixes at `time_s` [s] with the steps between them [m]."""
        north, east = steps_m(latitude, longitude)
        return cls(time_s, latitude, longitude, north, east, np.hypot(north, east))

    def take(self, kept: Mask | slice) -> _Fixes:
        """The fixes that are kept, the steps between them made anew."""
        return _Fixes.of(self.time_s[kept], self.latitude[kept], self.longitude[kept])

    @property
    def arc(self) -> Array:
        """The way along the bend from each to the next."""
        return np.asarray(self.chord * _arc(self.north, self.east, self.chord))


def read_receiver(logged: Channels, clock_s: Array, interval_s: float, file: str) -> Receiver:
    """True horizontal speed from one trip's channels at the moments of `clock_s`."""
    own = _doppler(logged, clock_s, interval_s)
    fixes = _fixes_of(logged)
    by_fixes = _from_positions(fixes, clock_s, interval_s)
    lengthened = _lengthened(fixes)
    doppler, positions = own.mps, by_fixes.mps
    if doppler is None:
        if positions is None:
            return Receiver.nothing(clock_s)
        if lengthened > MAX_LENGTHENED:
            return Receiver.nothing(clock_s, _coarse(file))
        way_error = float(np.hypot(_cut_corners(fixes), lengthened))
        return Receiver(_still(positions), by_fixes.drawn, "positions", (), way_error)
    whole = _whole(own, file)
    if positions is None or lengthened > SURE_OF_LENGTH:
        return Receiver(_still(doppler), own.drawn, "doppler", whole, own.error)
    way_error = _cut_corners(fixes)
    ratio = _over_positions(doppler, positions, fixes, clock_s, interval_s)
    if ratio is None or _agrees(ratio, way_error):
        speed = np.where(np.isfinite(doppler), doppler, positions)
        return Receiver(_still(speed), own.drawn, "doppler", whole, own.error)
    off = Quantity((ratio - 1) * 100, "%", 1, sign=True)
    if _of_units(ratio):
        problem = _disagrees(file, message("gps-speed-disagrees/unit", off=off))
        return Receiver(_still(positions), by_fixes.drawn, "positions", (problem,), way_error)
    problem = _disagrees(file, message("gps-speed-disagrees/either", off=off))
    # half-way between, wide enough for both
    middle = np.where(np.isfinite(doppler), doppler / np.sqrt(ratio), positions * np.sqrt(ratio))
    error = float(np.hypot(0.55 * np.log(ratio), own.error))
    return Receiver(_still(middle), own.drawn, "doppler", (problem, *whole), error)


def speed_over_positions(logged: Channels, clock_s: Array, interval_s: float) -> float | None:
    """The way by the receiver's own speed over that by its positions, 1 where they agree; None
    where one of them tells too little."""
    doppler = _doppler(logged, clock_s, interval_s).mps
    fixes = _fixes_of(logged)
    positions = _from_positions(fixes, clock_s, interval_s).mps
    if doppler is None or positions is None or _lengthened(fixes) > SURE_OF_LENGTH:
        return None
    ratio = _over_positions(doppler, positions, fixes, clock_s, interval_s)
    return 1.0 if ratio is not None and _agrees(ratio, _cut_corners(fixes)) else ratio


def _over_positions(
    doppler: Array, positions: Array, fixes: _Fixes, clock_s: Array, interval_s: float
) -> float | None:
    """Where leaving out every second fix hardly shortens the way, none scatter, and it is told
    from fix to fix; along the course, bends would take from it."""
    ratio = _compared(doppler, positions, interval_s)
    if ratio is not None and (_agrees(ratio, _cut_corners(fixes)) or _shortens(fixes) < AGREES):
        return ratio
    return _nearer_one(ratio, _compared(doppler, _along(fixes, clock_s, interval_s), interval_s))


def _agrees(ratio: float, way_error: float) -> bool:
    return 1 - AGREES <= ratio <= 1 + AGREES + 2 * way_error


def _nearer_one(*told: float | None) -> float | None:
    """Doppler speed over that of positions, the nearer to one of two ways to see it: from fix to
    fix, to which scatter adds, and along the course, from which bends take."""
    ratios = [ratio for ratio in told if ratio is not None]
    if not ratios:
        return None
    if min(ratios) <= 1 <= max(ratios):
        return 1.0
    return min(ratios, key=lambda ratio: abs(np.log(ratio)))


def _of_units(ratio: float) -> bool:
    """Whether a ratio is that of two units of speed."""
    return (
        any(abs(abs(np.log(ratio)) - np.log(unit)) < NEAR_UNIT for unit in UNIT_RATIOS)
        and abs(ratio - 1) > 2 * NEAR_UNIT
    )


def _disagrees(file: str, told: Message) -> Problem:
    return problem_of(told, file=file, column="gps_speed")


def _doppler(logged: Channels, clock_s: Array, interval_s: float) -> _Speed:
    """The receiver's own speed. Whole units may be cut or rounded: half-way between is taken."""
    time_s, speed = logged.known("gps_speed_mps")
    if len(speed) < MIN_FIXES:
        return _Speed(None, np.zeros(len(clock_s), bool))
    bus_s, bus_mps = logged.known("indicated_speed_mps")
    if len(bus_mps) >= MIN_FIXES:
        time_s, speed = drop_held(time_s, speed, np.interp(time_s, bus_s, bus_mps))
    time_s, speed = _without_spikes(time_s, speed)
    few = MIN_WHOLE <= len(np.unique(speed[:FIRST])) <= MAX_WHOLE
    grid = find_grid(speed) if few else FINE
    step, error = 0.0 if grid.drawn else grid.step_mps, 0.0
    if step:
        speed = np.where(speed > 0, speed + step / 4, speed)
        error = step / 4 / max(float(speed[speed > 0].mean()), STANDING_MPS)
    on = on_clock(time_s, speed, clock_s, interval_s, "gps_speed_mps")
    return _Speed(on, between_samples(time_s, clock_s, interval_s), error, step)


def _whole(told: _Speed, file: str) -> tuple[Problem, ...]:
    """That a receiver's speed comes in whole units, where so."""
    if not told.step_mps:
        return ()
    step = Quantity(told.step_mps * 3.6, "km/h", 1)
    return (problem_of(message("gps-speed-whole", step=step), file=file, column="gps_speed"),)


def _fixes_of(logged: Channels) -> _Fixes:
    """The positions, without those that a recorder says again until the next one comes."""
    fixes = _Fixes.of(*logged.known("latitude_deg", "longitude_deg"))
    if len(fixes.time_s) < MIN_FIXES:
        return fixes
    moved = (fixes.north != 0) | (fixes.east != 0)
    held = is_held(moved, moved | _drives(logged, fixes.time_s)[1:])
    return fixes.take(np.concatenate(([True], moved))) if held else fixes


def _from_positions(fixes: _Fixes, clock_s: Array, interval_s: float) -> _Speed:
    """Speed from one position to the next."""
    nothing = _Speed(None, np.zeros(len(clock_s), bool))
    if len(fixes.time_s) < MIN_FIXES:
        return nothing
    time_s = fixes.time_s
    took_s = np.diff(time_s)
    reach = max(3.0, 2.2 * own_interval_s(time_s))
    speed = fixes.arc / np.maximum(took_s, 1e-3)
    known = (took_s <= reach) & (took_s > 1e-3) & (speed < FASTEST_MPS)
    middle = 0.5 * (time_s[1:] + time_s[:-1])
    kept_time, kept = _without_spikes(middle[known], speed[known])
    if len(kept) < MIN_FIXES:
        return nothing
    on = on_clock(kept_time, kept, clock_s, interval_s, "gps_speed_mps")
    return _Speed(on, between_samples(kept_time, clock_s, interval_s))


def _lengthened(fixes: _Fixes) -> float:
    """By how much of it the steps that positions are written in lengthen the way.

    An end rounded to steps of q has a variance of q^2 / 12 along each axis; two of them across a
    chord d lengthen it by q^2 / (12 d).
    """
    chord = fixes.chord
    if len(fixes.time_s) < MIN_FIXES or not chord.any():
        return 0.0
    square_m2 = 0.5 * (_step_m(fixes.north) ** 2 + _step_m(fixes.east) ** 2)
    longer = square_m2 / (12 * float(np.median(chord[chord > 0])) ** 2)
    return longer if longer > MIN_LENGTHENED else 0.0


def _step_m(moved_m: Array) -> float:
    """The step that positions along one axis are written in, 0 where they come in no steps."""
    moved = np.abs(moved_m[moved_m != 0])
    if len(moved) < MIN_FIXES:
        return 0.0
    step = float(np.quantile(moved, FINEST))
    few = moved[moved < MAX_STEPS * step] / step
    on = np.abs(few - np.round(few)) < OFF_STEP * np.round(few)
    # moves all of one size are steps where the rest stand still, and else a steady speed
    several = few.max() > 1.5 or np.mean(moved_m == 0) > STANDING_SHARE
    return step if np.mean(on) > ON_STEPS and several else 0.0


def _coarse(file: str) -> Problem:
    return problem_of(message("positions-coarse"), file=file, column="latitude")


def _cut_corners(fixes: _Fixes) -> float:
    """By how much of it the way grows shorter when every second position is left out.

    What positions as far apart as these leave out themselves, or their jitter adds, is of that
    size; which of the two is more, the positions do not tell.
    """
    slow = len(fixes.time_s) >= MIN_FIXES and own_interval_s(fixes.time_s) > SLOW_S
    return _shortens(fixes) if slow else 0.0


def _shortens(fixes: _Fixes) -> float:
    """By how much of it the way is another when every second position is left out."""
    time_s = fixes.time_s
    if len(time_s) < MIN_FIXES:
        return 0.0
    interval_s, chord = own_interval_s(time_s), fixes.arc
    driven = (np.diff(time_s) < 1.5 * interval_s) & (chord > 3.0 * interval_s)
    each = over = 0.0
    for first in (0, 1):
        double = fixes.take(slice(first, None, 2)).arc
        halves = [chord[first + half :: 2][: len(double)] for half in (0, 1)]
        both = driven[first::2][: len(double)] & driven[first + 1 :: 2][: len(double)]
        each += float((halves[0] + halves[1])[both].sum())
        over += float(double[both].sum())
    return abs(each / over - 1) if over > 0 else 0.0


def _drives(logged: Channels, at_s: Array) -> Mask:
    """Whether another record says the vehicle moves: a fix that stands still then is held."""
    for name in ("indicated_speed_mps", "gps_speed_mps"):
        time_s, speed = logged.known(name)
        if len(speed):
            return np.asarray(np.interp(at_s, time_s, speed) > 2.0)
    return np.zeros(len(at_s), dtype=bool)


def _arc(north: Array, east: Array, chord: Array) -> Array:
    """Arc over chord from how much the course turns from chord to chord.

    A circle's arc over its chord is (angle / 2) / sin(angle / 2); only where the chord is long
    against the noise of a fix does the turn mean anything.
    """
    course = np.arctan2(east, north)
    turn = _turn(np.diff(course))
    padded = np.concatenate((turn[:1], turn, turn[-1:]))
    mean_turn = 0.5 * (padded[1:] + padded[:-1])
    half = np.where((chord > 20.0) & (mean_turn < 1.2), 0.5 * mean_turn, 0.0)
    return np.where(half > 1e-4, half / np.sin(np.maximum(half, 1e-4)), 1.0)


def _turn(angle: Array) -> Array:
    """The size of an angle between two courses, at most half a circle."""
    return np.asarray(np.abs(angle - 2 * np.pi * np.rint(angle / (2 * np.pi))))


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


def _along(fixes: _Fixes, clock_s: Array, interval_s: float) -> Array | None:
    """Speed along the course that positions some seconds to either side give: scatter of the
    fixes, or a coarse grid they stand on, adds nothing to it on the mean."""
    time_s = fixes.time_s
    half = max(int(np.ceil(COURSE_S / max(own_interval_s(time_s), 1e-3))), 1)
    if len(time_s) < 2 * half + MIN_FIXES:
        return None
    north, east = (np.concatenate(([0.0], np.cumsum(step))) for step in (fixes.north, fixes.east))
    ahead = slice(2 * half + 1, None)
    chord_n, chord_e = (way[ahead] - way[: -2 * half - 1] for way in (north, east))
    length = np.maximum(np.hypot(chord_n, chord_e), 1e-6)
    step_n, step_e = (np.diff(way)[half : half + len(chord_n)] for way in (north, east))
    took = np.diff(time_s)[half : half + len(chord_n)]
    speed = (step_n * chord_n + step_e * chord_e) / length / np.maximum(took, 1e-3)
    # in a bend the chord is not the course
    (first_n, second_n), (first_e, second_e) = (
        [way[a + half : a + half + len(chord_n)] - way[a : a + len(chord_n)] for a in (0, half + 1)]
        for way in (north, east)
    )
    aside = np.abs(first_n * second_e - first_e * second_n)
    along = first_n * second_n + first_e * second_e
    known = (took < 1.5 * own_interval_s(time_s)) & (np.abs(speed) < FASTEST_MPS)
    known &= aside <= np.tan(STRAIGHT_RAD) * along
    middle = (0.5 * (time_s[1:] + time_s[:-1]))[half : half + len(chord_n)]
    if np.count_nonzero(known) < MIN_FIXES:
        return None
    return on_clock(middle[known], speed[known], clock_s, interval_s, "gps_speed_mps")


def _compared(doppler: Array, positions: Array | None, interval_s: float) -> float | None:
    if positions is None:
        return None
    both = np.isfinite(doppler) & np.isfinite(positions) & (doppler + positions > 6.0)
    way = float(positions[both].sum()) * interval_s
    return float(doppler[both].sum()) * interval_s / way if way > MIN_COMPARED_M else None
