"""Samples as recorded -> every channel on one even clock.

Rows come at any rate, jittered, polled one parameter at a time, or held. Each channel is put
on the clock by its own rows: a faster one is averaged, a slower one is drawn out between its
samples, and nothing is invented across a hole wider than the channel's own habit allows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from gearing.statistics.arrays import Array, Mask

# channels whose rate decides the clock
LEADING = ("gps_speed_mps", "latitude_deg", "indicated_speed_mps", "engine_speed_rpm")
# states and counters: the last value stands until the next
STEPWISE = frozenset({
    "gear", "lockup_engaged", "shift_in_process", "regeneration_active", "reference_torque_nm",
})  # fmt: skip
# what changes slowly may be carried further than what changes with the road
SLOW = frozenset({
    "coolant_temperature_c", "transmission_oil_temperature_c", "ambient_temperature_c",
    "intake_air_temperature_c",
    "barometric_pressure_kpa", "indicated_distance_m", "fuel_used_l", "engine_hours_h",
    "reference_torque_nm", "regeneration_active", "hdop",
})  # fmt: skip
SLOW_REACH_S = 600.0
QUICK_REACH_S = 3.0
TICKS_APART = 2.2
# of moving rows, those without a change that mean held; fewer do where of all rows that change no
# more than the last share follow one another
HELD_SHARE, HELD_TWICE, HELD_SINGLY = 0.6, 0.4, 0.05


def seconds(samples: pl.DataFrame) -> Array:
    """Epoch seconds of each row."""
    return samples["time"].cast(pl.Int64).to_numpy().astype(np.float64) * 1e-6


@dataclass(frozen=True, slots=True)
class Channels:
    """Samples as arrays: `time_s` of all rows (epoch), and by name each channel's values, NaN
    where a row does not carry it. Channels that no row carries are left out."""

    time_s: Array
    values: dict[str, Array]

    @classmethod
    def of(cls, samples: pl.DataFrame) -> Channels:
        """The channels of a frame of samples, a row each, but for `time` and `line`."""
        return cls(
            seconds(samples),
            {
                name: samples[name].to_numpy()
                for name in samples.columns
                if name not in ("time", "line") and samples[name].null_count() < samples.height
            },
        )

    def __contains__(self, name: str) -> bool:
        return name in self.values

    def without(self, name: str, rows: Mask) -> Channels:
        """Without the values of one channel in some of the rows that carry it."""
        values = self.values[name].copy()
        values[np.flatnonzero(np.isfinite(values))[rows]] = np.nan
        return Channels(self.time_s, self.values | {name: values})

    def known(self, *names: str) -> tuple[Array, ...]:
        """Times, then values of each name, of the rows that carry them all; empty where one is
        missing altogether."""
        if any(name not in self.values for name in names):
            return tuple(np.empty(0) for _ in range(len(names) + 1))
        found = [self.values[name] for name in names]
        known = np.isfinite(found[0])
        for more in found[1:]:
            known &= np.isfinite(more)
        if known.all():
            return (self.time_s, *found)
        return (self.time_s[known], *(values[known] for values in found))


def own_interval_s(time_s: Array) -> float:
    """The usual time between two samples; infinite where there are none."""
    if len(time_s) < 2:
        return float("inf")
    steps = np.diff(time_s)
    if steps[0] == steps.max() == steps.min() > 0:
        return float(steps[0])
    steps = steps[steps > 0]
    return float(np.median(steps)) if len(steps) else float("inf")


def clock_interval_s(channels: Channels) -> float:
    """1 s, or the log's own interval in whole seconds where that is longer."""
    found = [own_interval_s(channels.known(name)[0]) for name in LEADING if name in channels]
    quickest = min(found, default=1.0)
    return max(1.0, float(round(quickest))) if np.isfinite(quickest) else 1.0


def is_held(changed: Mask, moving: Mask) -> bool:
    """Whether a record says a fix again until the next one comes, from where it `changed` and
    where something else was `moving`, each from row to row, shapes (n,).

    Over 60 % of moving rows without a change mean held; less, as where each fix stands twice, do
    where hardly ever two rows on end change.
    """
    still = np.count_nonzero(moving & ~changed) / max(int(np.count_nonzero(moving)), 1)
    rows = np.diff(np.flatnonzero(changed))
    pairs = np.count_nonzero(rows == 1) < HELD_SINGLY * len(rows)
    return bool(still >= HELD_SHARE or (still >= HELD_TWICE and pairs))


def drop_held(time_s: Array, values: Array, other: Array) -> tuple[Array, Array]:
    """The first sample of each run of exactly equal ones, where a recorder holds its fixes.

    Holding is told from a truly constant or coarse value by `other`, which moves meanwhile.
    Shapes (n,).
    """
    if len(values) < 100:
        return time_s, values
    changed = np.diff(values) != 0
    if not is_held(changed, np.diff(other) != 0) or len(np.unique(values)) < 20:
        return time_s, values
    keep = np.concatenate(([True], changed))
    return time_s[keep], values[keep]


@dataclass(frozen=True, slots=True)
class Neighbours:
    """For each tick of a clock the samples before and after it; many channels share them."""

    own_s: float
    gap_s: Array  # from the sample before to the one after; infinite at the ends
    nearest_s: Array
    same: bool = False  # the samples stand on the ticks, as in most logs of a row a second

    @classmethod
    def of(cls, time_s: Array, clock_s: Array) -> Neighbours:
        """The neighbours of clock ticks `clock_s` among samples at `time_s`, both ascending
        epoch seconds [s]; the arrays have the shape of `clock_s`."""
        own_s = own_interval_s(time_s)
        if np.array_equal(time_s, clock_s):
            gap = np.diff(time_s, prepend=-np.inf)
            return cls(own_s, gap, np.zeros(len(clock_s)), same=True)
        right = np.searchsorted(time_s, clock_s)
        before = time_s[np.maximum(right - 1, 0)]
        after = time_s[np.minimum(right, len(time_s) - 1)]
        inside = (right > 0) & (right < len(time_s))
        nearest = np.minimum(np.abs(clock_s - before), np.abs(clock_s - after))
        gap = np.where(inside, after - before, np.inf)
        return cls(own_s, gap, nearest)


def between_samples(time_s: Array, clock_s: Array, interval_s: float) -> Mask:
    """Ticks of a clock that fall between samples several ticks apart: what the channel did there
    is drawn and not measured. Shape of the clock."""
    if not TICKS_APART * interval_s < own_interval_s(time_s) < np.inf:
        return np.zeros(len(clock_s), dtype=bool)
    return Neighbours.of(time_s, clock_s).nearest_s > 0.5 * interval_s + 1e-6


def on_clock(
    time_s: Array,
    values: Array,
    clock_s: Array,
    interval_s: float,
    name: str,
    beside: Neighbours | None = None,
) -> Array:
    """One channel at the moments of `clock_s`, NaN where it was not measured. Shape of the clock.

    Parameters
    ----------
    time_s, values
        the channel's own samples, ascending, without nulls, shape (n,).
    beside
        the neighbours of the clock's ticks among `time_s`, where they are known already.
    """
    if len(time_s) == 0:
        return np.full(len(clock_s), np.nan)
    beside = beside or Neighbours.of(time_s, clock_s)
    own = beside.own_s
    if name in STEPWISE:
        return _carried(time_s, values, clock_s, name, own)
    if own < 0.6 * interval_s:
        time_s, values = _averaged(time_s, values, clock_s[0], interval_s)
        beside, own = Neighbours.of(time_s, clock_s), interval_s
    if name == "gps_course_deg":
        values = np.rad2deg(np.unwrap(np.deg2rad(values)))
    drawn = values if beside.same else np.interp(clock_s, time_s, values)
    if name == "gps_course_deg":
        drawn = np.mod(drawn, 360.0)
    reach = SLOW_REACH_S if name in SLOW else max(QUICK_REACH_S, 2.2 * own, 2.2 * interval_s)
    near = beside.nearest_s <= (reach if name in SLOW else 0.5 * interval_s + 1e-6)
    return np.where((beside.gap_s <= reach) | near, drawn, np.nan)


def _carried(time_s: Array, values: Array, clock_s: Array, name: str, own: float) -> Array:
    index = np.searchsorted(time_s, clock_s + 1e-6, side="right") - 1
    age = clock_s - time_s[np.maximum(index, 0)]
    reach = SLOW_REACH_S if name in SLOW else max(QUICK_REACH_S, 2.2 * own)
    return np.where((index >= 0) & (age <= reach), values[np.maximum(index, 0)], np.nan)


def _averaged(
    time_s: Array, values: Array, start_s: float, interval_s: float
) -> tuple[Array, Array]:
    """Means over one interval around each tick, at the mean moment of what was averaged."""
    tick = np.round((time_s - start_s) / interval_s).astype(np.int64)
    tick -= tick[0]
    count = np.bincount(tick)
    used = count > 0
    mean_time = np.bincount(tick, weights=time_s - start_s)[used] / count[used] + start_s
    return mean_time, np.bincount(tick, weights=values)[used] / count[used]
