"""One recording's rows -> the rows of each drive in it.

A drive ends where the wheels stand with the engine off, at ten minutes' standstill, and where
nothing was written for long or the vehicle moved meanwhile. Idling stays with its drive. Rows of
a parked vehicle, and of one that is carried (a ferry), are of no drive.
"""

from __future__ import annotations

import functools
import itertools
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from gearing.messages import Problem, Quantity, message, problem_of
from gearing.statistics.arrays import Array, Mask
from gearing.trips.clock import own_interval_s, seconds
from gearing.trips.geodesy import steps_m

SPLIT_GAP_S = 30 * 60.0
BURST_GAP_S = 120.0
EMPTIEST = 50.0
STANDSTILL_S = 600.0
ENGINE_OFF_S = 180.0  # shorter, and it may be one that stops at lights
LONGEST_IDLE_S = 3600.0  # a jam; longer, and the drive ended before it
KEPT_S = 30.0  # of standing, at either end of a drive
MOVED_M = 300.0  # between two rows far apart in time; less is a car park
FAR_APART_S = 120.0
CARRIED_S, CARRIED_MPS = 60.0, 3.0
STILL_MPS = 1.0  # of a receiver
JITTER_S, JITTER_M = 30.0, 30.0
RUNNING_RPM = 200.0
REACH_S = 10.0  # how long a value stands for rows that do not carry it
COUNTED_SHARE, COUNTED_M = 0.3, 3_000.0  # of a way, so little on the odometer was not driven


@dataclass(frozen=True, slots=True)
class Drives:
    """The rows of each drive, in time, and what is to be told of those that are of none."""

    parts: list[pl.DataFrame]
    problems: tuple[Problem, ...]


@dataclass(frozen=True)
class _Place:
    """Where each row was, worked out once it is asked for."""

    latitude_deg: Array
    longitude_deg: Array

    @functools.cached_property
    def metres(self) -> tuple[Array, Array]:
        """North and east of the first fix, NaN where a row has none."""
        known = np.flatnonzero(np.isfinite(self.latitude_deg) & np.isfinite(self.longitude_deg))
        north, east = (np.full(len(self.latitude_deg), np.nan) for _ in range(2))
        if len(known):
            steps = steps_m(self.latitude_deg[known], self.longitude_deg[known])
            north[known], east[known] = (np.concatenate(([0.0], np.cumsum(d))) for d in steps)
        return north, east


@dataclass(frozen=True, slots=True)
class _State:
    """Row by row, NaN where it is not known: seconds, speed of the receiver [m/s], whether the
    wheels turn and whether the engine runs (1 or 0), and the place."""

    time_s: Array
    receiver_mps: Array
    wheels: Array
    engine: Array
    place: _Place

    def apart_m(self, first: int, last: int) -> float:
        """How far apart two rows are; NaN where a position is missing."""
        north, east = self.place.metres
        return float(np.hypot(north[last] - north[first], east[last] - east[first]))


def split_rows(samples: pl.DataFrame, file: str = "") -> Drives:
    """The drives in one recording. `samples` in ascending time, shape (rows, channels)."""
    if samples.height < 2:
        return Drives([samples], ())
    state = _state(samples)
    gaps, dropped = _gaps(state), np.zeros(samples.height, np.bool_)
    cut = gaps.copy()
    still = _still(state)
    parked = still & (state.engine != 1)
    carried: list[tuple[int, int]] = []
    for first, last in _runs(parked, state, gaps):
        is_carried = _is_carried(state, first, last)
        if not (is_carried or _ends_drive(state, first, last)):
            continue
        carried += [(first, last)] * is_carried
        begin, end = _without_ends(state.time_s, first, last, gaps)
        dropped[begin:end] = True
        cut[begin] = True
    for first, last in _runs(still & (state.engine == 1), state, gaps):
        if state.time_s[last] - state.time_s[first] > LONGEST_IDLE_S and last + 1 < len(cut):
            cut[last + 1] = True
    edges = [0, *np.flatnonzero(cut).tolist(), samples.height]
    parts = [
        samples.slice(a, b - a).filter(pl.Series(~dropped[a:b]))
        if dropped[a:b].any()
        else samples.slice(a, b - a)
        for a, b in itertools.pairwise(edges)
    ]
    told = (_carried_note(state, carried, file),) if carried else ()
    return Drives([part for part in parts if part.height], told)


def _without_ends(time_s: Array, first: int, last: int, gaps: Mask) -> tuple[int, int]:
    """The rows of a standstill that are of no drive: all but some standing beside each drive."""
    begin, end = first, last + 1
    if first > 0 and not gaps[first]:
        begin = max(first, int(np.searchsorted(time_s, time_s[first - 1] + KEPT_S, side="right")))
    if end < len(time_s) and not gaps[end]:
        end = min(end, int(np.searchsorted(time_s, time_s[end] - KEPT_S, side="left")))
    return begin, end


def _state(samples: pl.DataFrame) -> _State:
    time_s = seconds(samples)

    def at_rows(name: str) -> Array:
        """A channel at each row, carried on where rows lack it; all NaN where there is none."""
        if name not in samples.columns:
            return np.full(len(time_s), np.nan)
        return _carried_on(time_s, samples[name].to_numpy())

    place = _Place(at_rows("latitude_deg"), at_rows("longitude_deg"))
    receiver = at_rows("gps_speed_mps")
    if np.isnan(receiver).any():
        receiver = np.where(np.isnan(receiver), _speed_between(time_s, place), receiver)
    speed, shaft = at_rows("indicated_speed_mps"), at_rows("output_shaft_rpm")
    turning = np.where(np.isnan(speed), shaft, speed)
    wheels = np.where(np.isnan(turning), np.nan, turning > 0)
    rpm, rate = at_rows("engine_speed_rpm"), at_rows("fuel_rate_lph")
    engine = np.where(np.isnan(rpm), np.where(rate > 0, 1.0, np.nan), rpm > RUNNING_RPM)
    state = _State(time_s, receiver, wheels, engine, place)
    return replace(state, wheels=_silent_bus(state, at_rows("indicated_distance_m")))


def _carried_on(time_s: Array, values: Array) -> Array:
    """Each value to the rows behind it that lack one, for `REACH_S`."""
    known = np.isfinite(values)
    if known.all():
        return np.asarray(values, dtype=np.float64)
    at = np.maximum.accumulate(np.where(known, np.arange(len(values)), -1))
    near = (at >= 0) & (time_s - time_s[np.maximum(at, 0)] <= REACH_S)
    return np.where(near, values[np.maximum(at, 0)], np.nan)


def _speed_between(time_s: Array, place: _Place) -> Array:
    """Speed from fixes some `JITTER_S` apart, or one row apart where rows come more seldom."""
    north, east = place.metres
    later = np.searchsorted(time_s, time_s + JITTER_S)
    later = np.minimum(np.maximum(later, np.arange(len(time_s)) + 1), len(time_s) - 1)
    took = np.maximum(time_s[later] - time_s, 1.0)
    return np.asarray(np.hypot(north[later] - north, east[later] - east) / took)


def _silent_bus(state: _State, odometer: Array) -> Array:
    """`wheels`, standing too where the bus fell silent at rest with the engine off, or where the
    odometer says that the way meanwhile was not driven."""
    wheels = state.wheels
    known = np.flatnonzero(np.isfinite(wheels))
    counted = np.flatnonzero(np.isfinite(odometer))
    filled = wheels.copy()
    for i in np.flatnonzero(np.diff(state.time_s[known]) > CARRIED_S).tolist():
        before, after = int(known[i]), int(known[i + 1])
        if after == before + 1 or wheels[before] != 0 or wheels[after] != 0:
            continue
        quiet = state.engine[before] == 0 and state.engine[after] == 0
        way_m = state.apart_m(before, after)
        b, a = np.searchsorted(counted, (before, after), side="right") - 1
        if b >= 0 and way_m > COUNTED_M:
            on = odometer[counted[a]] - odometer[counted[b]]
            quiet |= bool(0 <= on < COUNTED_SHARE * way_m)
        if quiet:
            filled[before + 1 : after] = 0.0
    return filled


def _still(state: _State) -> Mask:
    """Whether the vehicle stands: by its wheels, else by the receiver; unknown rows as before."""
    slow = np.where(np.isnan(state.receiver_mps), np.nan, state.receiver_mps < STILL_MPS)
    still = np.where(np.isnan(state.wheels), slow, state.wheels == 0)
    known = np.isfinite(still)
    if not known.all():
        at = np.maximum.accumulate(np.where(known, np.arange(len(still)), 0))
        still = np.where(np.isnan(still[at]), 0.0, still[at])
    found = still > 0
    by_receiver = np.isnan(state.wheels)
    for first, last in _stretches(~found):
        inside = first > 0 and last + 1 < len(found)
        if inside and by_receiver[first : last + 1].all() and _is_jitter(state, first, last):
            found[first : last + 1] = True
    return found


def _is_jitter(state: _State, first: int, last: int) -> bool:
    """A receiver at rest that seems to move for a moment: it ends where it began."""
    if state.time_s[last + 1] - state.time_s[first - 1] > JITTER_S:
        return False
    apart = state.apart_m(first - 1, last + 1)
    if np.isnan(apart):
        step = np.diff(state.time_s[first - 1 : last + 2])
        apart = float(np.nansum(state.receiver_mps[first : last + 2] * step))
    return apart < JITTER_M


def _stretches(mask: Mask) -> list[tuple[int, int]]:
    """First and last row of each run of true rows."""
    edges = np.flatnonzero(np.diff(mask.astype(np.int8), prepend=0, append=0))
    return list(zip(edges[::2].tolist(), (edges[1::2] - 1).tolist(), strict=True))


def _runs(mask: Mask, state: _State, cut: Mask) -> list[tuple[int, int]]:
    """Runs that can matter, parted at `cut` rows and where nobody knows what the vehicle did
    between two rows."""
    long = np.diff(state.time_s) > max(FAR_APART_S / 2, 3 * own_interval_s(state.time_s))
    # a row far from both its neighbours is written by a recorder that only keeps awake
    alone = np.concatenate(([False], long[:-1] & long[1:], [False]))
    found = []
    for first, last in _stretches(mask):
        if state.time_s[last] - state.time_s[first] < min(CARRIED_S, ENGINE_OFF_S):
            continue
        far = np.flatnonzero(long[first:last]) + first
        breaks = [
            i + 1
            for i in far.tolist()
            if cut[i + 1] or not (_stood_between(state, i) or alone[i] or alone[i + 1])
        ]
        edges = [first, *breaks, last + 1]
        found += [(a, b - 1) for a, b in itertools.pairwise(edges)]
    return found


def _stood_between(state: _State, row: int) -> bool:
    """Whether nothing moved from one row to the next, however long that took."""
    apart = state.apart_m(row, row + 1)
    if np.isnan(apart):
        return bool(state.engine[row] == 0 and state.engine[row + 1] == 0)
    return apart < MOVED_M or bool(state.wheels[row] == 0 and state.wheels[row + 1] == 0)


def _ends_drive(state: _State, first: int, last: int) -> bool:
    stood_s = state.time_s[last] - state.time_s[first]
    off = np.mean(state.engine[first : last + 1] == 0) > 0.9
    return bool(stood_s >= (ENGINE_OFF_S if off else STANDSTILL_S))


def _is_carried(state: _State, first: int, last: int) -> bool:
    """The receiver moves for long while the wheels are known to stand, and both stood when it
    began and when it ended; a wheel sensor that fails does so in mid-drive."""
    rows = slice(first, last + 1)
    moving = state.receiver_mps[rows] > CARRIED_MPS
    if not moving.any() or not (state.wheels[rows] == 0).all():
        return False
    time_s = state.time_s[rows]
    step = np.diff(time_s, append=time_s[-1])
    if step[moving].sum() < CARRIED_S:
        return False
    ends = (time_s <= time_s[0] + CARRIED_S, time_s >= time_s[-1] - CARRIED_S)
    slowest = (np.nanmin(np.where(end, state.receiver_mps[rows], np.inf)) for end in ends)
    return all(speed < STILL_MPS for speed in slowest)


def _gaps(state: _State) -> Mask:
    """Rows before which nothing was recorded for long, or for a while in which the vehicle moved.

    Where that leaves a clock of far more ticks than rows (bursts of rows every few minutes) the
    bursts are cut apart too, for an even clock over them would be empty.
    """
    cut, own_s = _pauses(state.time_s), own_interval_s(state.time_s)
    far = np.flatnonzero(np.diff(state.time_s) > max(FAR_APART_S, 5 * own_s))
    for i in far.tolist():
        cut[i + 1] |= state.apart_m(i, i + 1) > MOVED_M
    return cut


def _pauses(time_s: Array) -> Mask:
    steps, gap_s = np.diff(time_s), SPLIT_GAP_S
    if np.minimum(steps, gap_s).sum() / max(own_interval_s(time_s), 1.0) > EMPTIEST * len(time_s):
        gap_s = BURST_GAP_S
    return np.concatenate(([False], steps > gap_s))


def split_at_pauses(samples: pl.DataFrame) -> list[pl.DataFrame]:
    """The rows cut at long pauses alone: a road is one, whatever was lost or waited on the way."""
    edges = [0, *np.flatnonzero(_pauses(seconds(samples))).tolist(), samples.height]
    return [samples.slice(a, b - a) for a, b in itertools.pairwise(edges)]


def _carried_note(state: _State, runs: list[tuple[int, int]], file: str) -> Problem:
    way_m = 0.0
    for first, last in runs:
        step = np.diff(state.time_s[first : last + 1], append=state.time_s[last])
        way_m += float(np.nansum(state.receiver_mps[first : last + 1] * step))
    told = message("carried", distance=Quantity(way_m / 1000, "km", 1))
    return problem_of(told, file=file, count=len(runs))
