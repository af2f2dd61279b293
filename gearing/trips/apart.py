"""A receiver's log and a bus's that were not joined but show one drive, by clocks far apart.

    find_apart(receivers, buses, samples) -> [Apart]

Nothing is joined by this: it is for telling the owner which clock is off and by how much. Speeds
minute by minute name who may be whose; the samples themselves decide, and a pair must be more
alike than is asked of logs whose clocks agree.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from gearing.statistics.arrays import Array
from gearing.trips.join import (
    LARGEST_ZONE_S,
    MIN_ROWS,
    MIN_TRACE_CORRELATION,
    MINUTE_S,
    OFFSET_LIMIT_S,
    Recording,
    clock_offset,
    moved,
)

# two drives, at the best offset, are 0.6 alike, and 0.78 where one keeps the other's speeds to a
# few seconds; what a receiver and a bus show of one drive is 0.95
MIN_CORRELATION = 0.85
MIN_SHARED = 0.8  # of the shorter log
MIN_MINUTES = 10
MIN_SPREAD_MPS = 1.0
MAX_BUSES = 60
MAX_BESIDE = 12  # receivers' logs looked at for one bus's


@dataclass(frozen=True, slots=True)
class Apart:
    """The bus's log is of the receiver's drive, its clock `ahead_s` seconds ahead: further than the
    clocks of logs that are joined may differ."""

    receiver: str
    bus: str
    ahead_s: float
    correlation: float


def find_apart(
    receivers: Sequence[Recording],
    buses: Sequence[Recording],
    samples: Callable[[str], pl.DataFrame],
) -> list[Apart]:
    """Pairs that are one drive for sure, each log in one pair, in order of the bus's start.

    `samples` gives a file's, and is asked for few.
    """
    found: list[tuple[Apart, Recording]] = []
    for bus in sorted(buses, key=lambda one: one.start)[:MAX_BUSES]:
        near = sorted(receivers, key=lambda one: abs((one.start - bus.start).total_seconds()))
        for receiver in near[:MAX_BESIDE]:
            pair = _apart(receiver, bus, samples)
            if pair is not None:
                found.append((pair, bus))
    used: set[str] = set()
    kept = []
    for pair, bus in sorted(found, key=lambda one: -one[0].correlation):
        if not {pair.receiver, pair.bus} & used:
            used |= {pair.receiver, pair.bus}
            kept.append((bus.start, pair))
    return [pair for _, pair in sorted(kept, key=lambda one: one[0])]


def _apart(
    receiver: Recording, bus: Recording, samples: Callable[[str], pl.DataFrame]
) -> Apart | None:
    if abs((receiver.start - bus.start).total_seconds()) > LARGEST_ZONE_S or not receiver.trace:
        return None
    if "speed" not in bus.traced or not bus.trace:
        return None
    minutes = _best_minutes(_dense(receiver), _dense(bus))
    if minutes is None:
        return None
    rough_s = float(minutes + bus.minutes[0] - receiver.minutes[0]) * MINUTE_S
    first, second = samples(receiver.file), samples(bus.file)
    if min(_rows(first, receiver), _rows(second, bus)) <= MIN_ROWS:
        return None
    offset_s, correlation = clock_offset(first, moved(second, -rough_s))
    if correlation < MIN_CORRELATION or abs(rough_s - offset_s) <= OFFSET_LIMIT_S:
        return None
    return Apart(receiver.file, bus.file, rough_s - offset_s, correlation)


def _rows(samples: pl.DataFrame, one: Recording) -> int:
    return samples[one.traced].count() if one.traced in samples.columns else 0


def _dense(one: Recording) -> Array:
    """Minute by minute from the first, NaN where nothing is known."""
    values = np.full(one.minutes[-1] - one.minutes[0] + 1, np.nan)
    values[np.array(one.minutes) - one.minutes[0]] = one.trace
    return values


def _best_minutes(one: Array, other: Array) -> int | None:
    """Minutes at which `other` begins too late to lie on `one`, None where none makes them alike.
    Of either no more than `MIN_SHARED` of the shorter may be left over."""
    shared = max(int(np.ceil(MIN_SHARED * min(len(one), len(other)))), MIN_MINUTES)
    best, minutes = MIN_TRACE_CORRELATION, None
    for late in range(shared - len(one), len(other) - shared + 1):
        x, y = one[max(-late, 0) :], other[max(late, 0) :]
        length = min(len(x), len(y))
        x, y = x[:length], y[:length]
        known = np.isfinite(x) & np.isfinite(y)
        if np.count_nonzero(known) < shared:
            continue
        x, y = x[known], y[known]
        if min(x.std(), y.std()) < MIN_SPREAD_MPS:
            continue
        correlation = float(np.corrcoef(x, y)[0, 1])
        if correlation > best:
            best, minutes = correlation, late
    return minutes
