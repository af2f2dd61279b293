"""Where a recorder goes on writing one bus speed although the vehicle's speed changes.

A bus that falls silent leaves its last value standing, or none; a display ends at its highest.
The receiver beside it tells such a run from a speed held steady.
"""

from __future__ import annotations

import numpy as np

from gearing.statistics.arrays import Array, Index, Mask, moving_mean

MIN_RUN_S = 15.0
# By how much the receiver's speed, a mean over SMOOTHED_S, may move beside a steady value, besides
# one step of that value; what it does within half of that of the run's ends is not the run's
MOVES_MPS = 1.5
SMOOTHED_S = 9.0
# A fall to nothing, or a rise from it, that no brakes and no engine make (common practice, no
# source), between rows so near in time
LEAP_MPS, LEAP_S = 6.0, 1.5
DRIVES_MPS = 3.0


def stands_still(
    time_s: Array, speed_mps: Array, clock_s: Array, receiver_mps: Array, step_mps: float
) -> Mask:
    """The bus speeds at `time_s` [s] that are none, shape (n,): runs of one value along which the
    receiver's speed at `clock_s`, an even clock, NaN where it is unknown, moves by more than steps
    of `step_mps` explain, and all of the highest value where that is one of them."""
    found = np.zeros(len(speed_mps), dtype=bool)
    width = min(2 * round(SMOOTHED_S / (clock_s[1] - clock_s[0]) / 2) + 1, len(clock_s))
    smooth, seen = moving_mean(receiver_mps, width)
    smooth[seen <= width / 2] = np.nan
    begins, ends = _runs(speed_mps)
    long = (time_s[ends - 1] - time_s[begins] >= MIN_RUN_S) & (speed_mps[begins] > 0)
    within = np.array([SMOOTHED_S, -SMOOTHED_S]) / 2
    for begin, end in zip(begins[long], ends[long], strict=True):
        inner = time_s[[begin, end - 1]] + within
        moves = _most(smooth, clock_s, inner) + _most(-smooth, clock_s, inner)
        found[begin:end] = moves > MOVES_MPS + step_mps
    highest = speed_mps == speed_mps.max()
    return found | highest if (found & highest).any() else found


def falls_to_none(time_s: Array, speed_mps: Array, other_s: Array, other_mps: Array) -> Mask:
    """The speeds at `time_s` [s] that are none, shape (n,): zeros that the value leaps to or from
    while the other record drives (what a ferry carries comes to rest first)."""
    found = np.zeros(len(speed_mps), dtype=bool)
    begins, ends = _runs(speed_mps)
    leaps = np.append(_leaps(time_s, speed_mps), False)
    leaps = (leaps[begins] | leaps[ends]) & (speed_mps[begins] == 0)
    for begin, end in zip(begins[leaps], ends[leaps], strict=True):
        found[begin:end] = _most(other_mps, other_s, time_s[[begin, end - 1]]) > DRIVES_MPS
    return found


def _runs(values: Array) -> tuple[Index, Index]:
    """Where each run of one value begins, and the next."""
    begins = np.flatnonzero(np.diff(values, prepend=np.nan) != 0)
    return begins, np.append(begins[1:], len(values))


def _most(values: Array, clock_s: Array, span_s: Array) -> float:
    """The highest known value at a clock's ticks from one moment to another; -inf without any."""
    first, last = np.searchsorted(clock_s, span_s + np.array([0.0, 1e-6]))
    return float(np.max(values[first:last], initial=-np.inf, where=np.isfinite(values[first:last])))


def _leaps(time_s: Array, speed_mps: Array) -> Mask:
    """Whether a value leaps from the one before it."""
    change = np.abs(np.diff(speed_mps, prepend=speed_mps[0]))
    return (change > LEAP_MPS) & (np.diff(time_s, prepend=time_s[0]) <= LEAP_S)
