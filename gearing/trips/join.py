"""Files that are one recording, and files that are the same recording twice.

    describe(reading) -> Recording            small; made once when a file is read
    group_recordings(recordings) -> Groups    decided from these alone, no samples loaded
    join_readings(readings) -> [(samples, problems)]    one group's samples, clocks set alike

Files that overlap in time and carry different channels (the receiver's and the bus's) are one
recording. Files alike in time and channels and in what they show are one and the same: the
first is used, the others are told as duplicates. A copy in another time zone is known by its
trace.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.messages import Problem, Quantity, UserText, message, problem_of
from gearing.statistics.arrays import Array, distinct
from gearing.trips.clock import on_clock, seconds
from gearing.trips.geodesy import steps_m
from gearing.trips.lag import Lag, find_lag

if TYPE_CHECKING:
    from gearing.logs.model import Sampled


MINUTE_S = 60
SPEEDS = ("gps_speed_mps", "indicated_speed_mps", "engine_speed_rpm")
POSITIONS = ("latitude_deg", "longitude_deg")
OFFSET_LIMIT_S = 900.0
# a receiver and a bus on one drive are 0.95 alike, by positions seconds apart 0.75; on two drives,
# at the best offset, 0.6
MIN_CORRELATION = 0.75
# of the shorter file's time; less is a hand-over between files, not a second record
MIN_OVERLAP = 0.1
ZONE_STEP_S = 900.0
LONGEST_COMPARED_S = 24 * 3600.0
LARGEST_ZONE_S = 15 * 3600.0
# enough to try; the samples themselves decide when they are joined
MIN_TRACE_CORRELATION = 0.6
# with less in common, chance makes two drives alike at some offset
MIN_SHARED_S = 600.0
MIN_TRACE = 15
MIN_ROWS = 30
NO_LAG = Lag(0.0, 0.0, False)
BUS = frozenset({"indicated_speed_mps", "engine_speed_rpm", "output_shaft_rpm"})


@dataclass(frozen=True, slots=True)
class Recording:
    """What grouping needs to know of one file.

    `minutes` are epoch minutes, `trace` the mean speed (or engine speed) in each.
    """

    file: str
    start: datetime
    end: datetime
    channels: frozenset[str]
    minutes: tuple[int, ...]
    trace: tuple[float, ...]
    traced: str = ""

    @property
    def length_s(self) -> float:
        """Time from the first to the last sample [s]."""
        return (self.end - self.start).total_seconds()


@dataclass(frozen=True, slots=True)
class Groups:
    """`groups`: files of one recording each, the leading one first. `duplicates`: file, and the
    file that shows the same."""

    groups: tuple[tuple[str, ...], ...]
    duplicates: tuple[tuple[str, str], ...]


def describe(reading: Sampled) -> Recording | None:
    """The short description of a file, None where it gave no samples."""
    samples = reading.samples
    if samples.height < 2:
        return None
    channels = frozenset(
        name
        for name in samples.columns
        if name not in ("time", "line") and samples.get_column(name).null_count() < samples.height
    )
    traced = next((name for name in SPEEDS if name in channels), "")
    traced = traced or (POSITIONS[0] if channels >= {*POSITIONS} else "")
    minutes: tuple[int, ...] = ()
    trace: tuple[float, ...] = ()
    if traced:
        at_s, values = _speeds(samples, traced)
        minute = np.floor(at_s / MINUTE_S).astype(np.int64)
        seen, place = distinct(minute)
        mean = np.bincount(place, weights=values) / np.bincount(place)
        minutes = tuple(seen.tolist())
        trace = tuple(np.round(mean, 2).tolist())
    start, end = samples["time"][0], samples["time"][-1]
    return Recording(reading.file, start, end, channels, minutes, trace, traced)


def group_recordings(recordings: Sequence[Recording]) -> Groups:
    """Which files belong together and which are copies. Order of files within time is kept."""
    duplicates: dict[str, str] = {}
    groups: list[list[Recording]] = []
    by_trace: dict[tuple[int, ...], Recording] = {}
    for one in sorted(recordings, key=lambda r: (r.start, -r.length_s, r.file)):
        key = _trace_key(one)
        twin = by_trace.get(key) if key else None
        if twin is None:
            twin = next(
                (r for g in groups[-40:] for r in g if _overlap(r, one) > 0.9 and _alike(r, one)),
                None,
            )
        if twin is not None:
            duplicates[one.file] = twin.file
            continue
        if key:
            by_trace[key] = one
        home = next((g for g in reversed(groups[-40:]) if _belongs(one, g)), None)
        if home is None:
            groups.append([one])
        else:
            home.append(one)
    ordered = (sorted(group, key=_leading) for group in _across_zones(groups))
    return Groups(
        tuple(tuple(one.file for one in group) for group in ordered),
        tuple(sorted(duplicates.items())),
    )


def _across_zones(groups: list[list[Recording]]) -> list[list[Recording]]:
    """Lone receiver and bus files that show one drive by clocks whole quarter hours apart: one
    of them wrote local time. Their minute-by-minute speeds must rise and fall together."""
    receivers = [g for g in groups if len(g) == 1 and receives(g[0]) and not has_bus(g[0])]
    buses = [g for g in groups if len(g) == 1 and has_bus(g[0]) and not receives(g[0])]
    taken: set[int] = set()
    for receiver in receivers:
        correlation = [
            0.0 if id(bus) in taken else _correlation_across(receiver[0], bus[0]) for bus in buses
        ]
        best = int(np.argmax(correlation)) if correlation else 0
        if correlation and correlation[best] > MIN_TRACE_CORRELATION:
            taken.add(id(buses[best]))
            receiver.append(buses[best][0])
    return [group for group in groups if id(group) not in taken]


def has_bus(one: Recording) -> bool:
    """Whether a file carries a channel that only the vehicle's own bus gives."""
    return bool(BUS & one.channels)


def zone_offset_s(first: datetime, second: datetime) -> float:
    """Whole quarter hours nearest to how much later the second begins."""
    return round((second - first).total_seconds() / ZONE_STEP_S) * ZONE_STEP_S


def _correlation_across(receiver: Recording, bus: Recording) -> float:
    """Correlation of the two traces once the bus's clock is moved by whole quarter hours."""
    offset_s = zone_offset_s(receiver.start, bus.start)
    if not 0 < abs(offset_s) <= LARGEST_ZONE_S or "speed" not in bus.traced:
        return 0.0
    if min(receiver.length_s, bus.length_s) < 0.8 * max(receiver.length_s, bus.length_s):
        return 0.0
    minutes = round(offset_s / MINUTE_S)
    shifted = {m - minutes: v for m, v in zip(bus.minutes, bus.trace, strict=True)}
    pairs = [(v, shifted[m]) for m, v in zip(receiver.minutes, receiver.trace, strict=True)
             if m in shifted]  # fmt: skip
    if len(pairs) < MIN_TRACE:
        return 0.0
    one, other = np.array(pairs).T
    if one.std() < 1.0 or other.std() < 1.0:
        return 0.0
    return float(np.corrcoef(one, other)[0, 1])


def _leading(one: Recording) -> tuple[bool, datetime]:
    """The receiver's file leads, for its clock is the best."""
    return not receives(one), one.start


def receives(one: Recording) -> bool:
    """Whether a file carries a receiver's speed or positions."""
    return bool({"gps_speed_mps", "latitude_deg"} & one.channels)


def _trace_key(one: Recording) -> tuple[int, ...]:
    """The trace without its hour: equal for a copy written in another time zone."""
    trace = np.array(one.trace)
    if np.count_nonzero(trace > 3) < 5:
        return ()
    return (one.minutes[0] % 15, *np.rint(trace * 20).astype(np.int64).tolist())


def _overlap(a: Recording, b: Recording) -> float:
    if a.end <= b.start or b.end <= a.start:
        return 0.0
    shared = (min(a.end, b.end) - max(a.start, b.start)).total_seconds()
    return shared / max(min(a.length_s, b.length_s), 1.0)


def _alike(a: Recording, b: Recording) -> bool:
    """Same channels and, minute by minute, the same trace."""
    if not (a.channels <= b.channels or b.channels <= a.channels):
        return False
    if a.traced != b.traced or not a.traced:
        return False
    first = dict(zip(a.minutes, a.trace, strict=True))
    pairs = [(first[m], v) for m, v in zip(b.minutes, b.trace, strict=True) if m in first]
    if len(pairs) < 2:
        return False
    scale = 30.0 if a.traced == "engine_speed_rpm" else 0.5
    close = sum(abs(x - y) <= scale for x, y in pairs)
    return close >= 0.9 * len(pairs)


def _belongs(one: Recording, group: list[Recording]) -> bool:
    """Overlaps a group in time and brings what it lacks."""
    if not any(_overlap(one, other) > MIN_OVERLAP for other in group):
        return False
    has = frozenset[str]().union(*(other.channels for other in group))
    return bool(one.channels - has) and not _same_kind(one, group)


def _same_kind(one: Recording, group: list[Recording]) -> bool:
    """Both carry receiver and bus: two whole records of one time, not two halves of one."""
    whole = receives(one) and has_bus(one)
    return whole and any(receives(r) and has_bus(r) for r in group)


def join_readings(
    readings: Sequence[Sampled],
) -> list[tuple[pl.DataFrame, tuple[Problem, ...]]]:
    """Samples of one recording. Where a file cannot be laid onto the first it stays by itself."""
    usable = [reading for reading in readings if reading.samples.height]
    if not usable:
        return []
    joined, told = usable[0].samples, []
    apart: list[tuple[pl.DataFrame, tuple[Problem, ...]]] = []
    for reading in usable[1:]:
        zone_s = _zone_apart_s(joined, reading.samples)
        offset_s, correlation = clock_offset(joined, moved(reading.samples, -zone_s))
        offset_s -= zone_s
        if correlation < MIN_CORRELATION:
            apart.append((reading.samples, (_refused(reading.file, usable[0].file, correlation),)))
            continue
        told.append(_offset_note(reading.file, usable[0].file, offset_s, correlation))
        joined = _merge(joined, moved(reading.samples, offset_s))
    return [(joined, tuple(told)), *apart]


def _speeds(samples: pl.DataFrame, traced: str) -> tuple[Array, Array]:
    """Times and values of a speed a file has, or of the speed between its positions."""
    if traced != POSITIONS[0]:
        values = samples[traced].to_numpy()
        known = np.isfinite(values)
        return seconds(samples)[known], values[known]
    known = samples.select("time", *POSITIONS).drop_nulls()
    time_s = seconds(known)
    north, east = steps_m(*(known[name].to_numpy() for name in POSITIONS))
    speed = np.hypot(north, east) / np.maximum(np.diff(time_s), 1e-3)
    return 0.5 * (time_s[1:] + time_s[:-1]), speed


def _speed_on_clock(samples: pl.DataFrame, clock_s: Array) -> Array | None:
    """Any speed a file has, for laying its clock onto another's."""
    both = {*POSITIONS} <= {*samples.columns}
    for name in (*SPEEDS, *POSITIONS[:both]):
        if name in samples.columns and samples[name].count() > MIN_ROWS:
            at_s, values = _speeds(samples, name)
            scale = 100.0 if name == "engine_speed_rpm" else 1.0
            return on_clock(at_s, values / scale, clock_s, 1.0, name.replace(POSITIONS[0], "speed"))
    return None


def _zone_apart_s(first: pl.DataFrame, second: pl.DataFrame) -> float:
    """Whole quarter hours between two files that do not overlap; 0 where they do."""
    if second["time"][0] <= first["time"][-1] and first["time"][0] <= second["time"][-1]:
        return 0.0
    return zone_offset_s(first["time"][0], second["time"][0])


def clock_offset(first: pl.DataFrame, second: pl.DataFrame) -> tuple[float, float]:
    """Seconds to add to the second file's clock, and how alike the two then are."""
    begins = max(seconds(first)[0], seconds(second)[0])
    ends = min(seconds(first)[-1], seconds(second)[-1])
    found = []
    # where both run, and no more: a clock that jumped years must not stretch the search. Of files
    # that share a part only, what lies beside it is in one alone and would hide how alike they are
    for beside_s in (OFFSET_LIMIT_S, 0.0):
        length_s = min(ends - begins + 2 * beside_s, LONGEST_COMPARED_S)
        if length_s < (MINUTE_S if beside_s else MIN_SHARED_S):
            continue
        clock_s = begins - beside_s + np.arange(int(length_s) + 2, dtype=np.float64)
        one, other = _speed_on_clock(first, clock_s), _speed_on_clock(second, clock_s)
        if one is None or other is None:
            return 0.0, 1.0  # nothing to tell by: the clocks are believed
        found.append(find_lag(one, other, 1.0, OFFSET_LIMIT_S))
    lag = max(found, key=lambda lag: (lag.found, lag.correlation), default=NO_LAG)
    return (lag.seconds, lag.correlation) if lag.found else (0.0, lag.correlation)


def moved(samples: pl.DataFrame, offset_s: float) -> pl.DataFrame:
    """The samples with `offset_s` [s] added to their times, to the microsecond."""
    return samples.with_columns(pl.col("time") + pl.duration(microseconds=round(offset_s * 1e6)))


def _merge(first: pl.DataFrame, second: pl.DataFrame) -> pl.DataFrame:
    """Both files' rows in time; a channel both carry is the first file's while that runs."""
    start, end = first["time"][0], first["time"][-1]
    shared = [n for n in second.columns if n in first.columns and n not in ("time", "line")]
    inside = pl.col("time").is_between(start, end)
    own = second.with_columns(pl.when(~inside).then(pl.col(name)).alias(name) for name in shared)
    return pl.concat([first, own], how="diagonal").sort("time", maintain_order=True)


def _offset_note(file: str, onto: str, offset_s: float, correlation: float) -> Problem:
    told = message(
        "clock-offset",
        file=UserText(onto, "file"),
        offset=Quantity(offset_s, "s", 1, sign=True),
        correlation=Quantity(correlation, "-", 2),
    )
    return problem_of(
        told,
        file=file,
        value=f"{offset_s:.1f}",
    )


def _refused(file: str, onto: str, correlation: float) -> Problem:
    told = message(
        "join-refused",
        file=UserText(onto, "file"),
        correlation=Quantity(correlation, "-", 2),
        minutes=round(OFFSET_LIMIT_S / 60),
    )
    return problem_of(told, file=file)
