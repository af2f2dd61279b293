"""Sums over a trip's motion that later answers rest on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import polars as pl

from gearing.statistics.arrays import Array, Index, Mask
from gearing.trips.declared import Declared, noted_within
from gearing.trips.ticks import Ticks

BLOCK_S = 300.0
SLOWEST_MPS = 3.0
POOR_HDOP = 2.0
CLIPPED_S = 5.0  # by which a log may begin late or end early on a declared stretch
BIN_KMH = 5.0

READ_FOR = timedelta(milliseconds=2500)  # either side of a moment


@dataclass(frozen=True, slots=True)
class Counted:
    """The running count of distance against true road between its first and last step.

    `step_m` is the count's resolution; `first_m`, `last_m` the readings at the trip's ends.
    """

    first_m: float
    last_m: float
    step_m: float
    counted_m: float
    true_m: float
    blind_m: float  # of true_m, bridged


@dataclass(frozen=True, slots=True)
class Stretch:
    """Sums of one trip inside a stretch the study declares (`[[measured]]`, by its place there)."""

    index: int
    true_m: float | None
    indicated_m: float | None
    indicated_s: float  # seconds moving with indicated speed: what an undone rounding adds to
    counter_m: float | None
    complete: bool  # the trip covers the whole stretch


@dataclass(frozen=True, slots=True)
class Shown:
    """True speed at a moment a dash reading was taken (`[[dash]]`, by its place), and its standard
    deviation over the time that moment may have been [m/s]."""

    index: int
    true_mps: float | None
    unsteady_mps: float = 0.0


def _steady(ticks: Ticks) -> Mask:
    """Ticks fit for the odometer factor: both records there, not crawling. However hard speed
    changes: a computer's filter gives back later what it kept, and ticks left out in between
    would keep that. Between samples far apart a drawn speed cuts off the bend where a vehicle has
    gathered speed, and the opposite bend, at walking pace, is left out."""
    with np.errstate(invalid="ignore"):
        driven = (ticks["true_speed_mps"] > SLOWEST_MPS) & (ticks["indicated_speed_mps"] > 0)
    return np.asarray(driven & ~ticks.bridged & ~ticks.drawn)


def factor_blocks(ticks: Ticks) -> pl.DataFrame:
    """Five-minute sums of what the odometer factor is found from; see `TripRecord.blocks`.

    Minutes count from the first tick that is driven: how long a recorder had been on before moves
    no sum. A receiver with poor HDOP counts less, by the square of how poor it is.
    """
    steady = np.flatnonzero(_steady(ticks))
    indicated, true = (ticks[name][steady] for name in ("indicated_speed_mps", "true_speed_mps"))
    time_us = ticks.time_us[steady]
    block = np.floor((time_us - time_us[:1]) * (1e-6 / BLOCK_S)).astype(np.int64)
    new = np.diff(block, prepend=-1) > 0
    weight = np.full(len(steady), ticks.interval_s)
    if "hdop" in ticks:
        weight *= (POOR_HDOP / np.fmax(ticks["hdop"][steady], POOR_HDOP)) ** 2
    changed = (np.abs(np.diff(indicated, prepend=np.nan)) > 0.05) & ~new
    summed = {
        "time_s": np.full(len(steady), ticks.interval_s),
        "changes": changed.astype(np.int64),
        "true_m": true * weight,
        "indicated_m": indicated * weight,
        "weight": weight,
    }
    begins = np.flatnonzero(new)
    if len(begins):
        summed = {name: np.add.reduceat(values, begins) for name, values in summed.items()}
    return pl.DataFrame({"block": block[begins].astype(np.int32), **summed})


def speed_bins(ticks: Ticks) -> pl.DataFrame:
    """True and indicated distance by indicated speed, in bins of 5 km/h."""
    steady = np.flatnonzero(_steady(ticks))
    bins = np.floor(ticks["indicated_speed_mps"][steady] * (3.6 / BIN_KMH) + 1e-6).astype(np.int32)
    count = np.bincount(bins)
    met = np.flatnonzero(count)
    true, indicated = (
        np.bincount(bins, ticks[name][steady])[met] for name in ("true_step_m", "indicated_step_m")
    )
    return pl.DataFrame(
        {
            "bin": met.astype(np.int32),
            "time_s": count[met] * ticks.interval_s,
            "true_m": true,
            "indicated_m": indicated,
        }
    )


def counted(ticks: Ticks) -> Counted | None:
    """The running count of distance, or None where it is missing, falls or hardly moves."""
    if "indicated_distance_m" not in ticks:
        return None
    rows = np.flatnonzero(np.isfinite(ticks["indicated_distance_m"]))
    if len(rows) < 10:
        return None
    count = ticks["indicated_distance_m"][rows]
    rise = np.diff(count)
    up = np.flatnonzero(rise > 1e-6)
    if len(up) < 3 or (rise < -1e-6).any():
        return None
    step = ticks["true_step_m"][rows]
    between = slice(int(up[0]) + 1, int(up[-1]) + 1)
    blind = np.where(ticks.bridged[rows], step, 0.0)[between]
    # a row's way is driven from it to the next
    whole = np.diff(ticks.time_us[rows], append=0) < 1.5e6 * ticks.interval_s
    return Counted(
        first_m=float(count[0]),
        last_m=float(count[-1]),
        step_m=float(np.median(rise[up])),
        blind_m=float(np.nansum(blind)),
        **_both(step, np.isfinite(step) & whole, up + 1, count),
    )


def _both(step: Array, known: Mask, ticks: Index, count: Array) -> dict[str, float]:
    """Counted and true way from tick to tick, those left out between which true speed is missing:
    the count runs on there."""
    blind = np.cumsum(~known)[ticks - 1]
    way = np.cumsum(np.nan_to_num(step))[ticks - 1]
    # what the count rose over a blind row was no single step, and its end none of its moments
    whole = (np.diff(blind) == 0) & known[ticks[:-1] - 1]
    return {
        "counted_m": float(np.diff(count[ticks])[whole].sum()),
        "true_m": float(np.diff(way)[whole].sum()),
    }


def declared_sums(
    ticks: Ticks, declared: Declared
) -> tuple[tuple[Stretch, ...], tuple[Shown, ...]]:
    """What the trip shows in the study's measured stretches, and at its dash readings, where it
    was under way then."""
    if not len(ticks) or not (declared.measured or declared.dash):
        return (), ()
    motion = ticks.frame()
    first, last = motion["time"][0], motion["time"][-1]
    stretches = [
        _stretch(motion, index, start, end)
        for index, (start, end) in enumerate(declared.measured)
        if start <= last and end >= first
    ]
    shown = [
        _moment(motion, index, at) for index, at in enumerate(declared.dash) if first <= at <= last
    ]
    return tuple(stretches), tuple(shown)


def _stretch(motion: pl.DataFrame, index: int, start: datetime, end: datetime) -> Stretch:
    rows = motion.filter(pl.col("time").is_between(start, end))
    # a moment missing at an end is driven at the speed that follows or goes before
    head_s = max((motion["time"][0] - start).total_seconds(), 0.0)
    tail_s = max((end - motion["time"][-1]).total_seconds(), 0.0)
    complete = max(head_s, tail_s) <= CLIPPED_S
    if rows.height and complete and head_s + tail_s > 0:
        rows = _drawn_out(rows, head_s, tail_s)
    seen = rows.filter(~pl.col("bridged"))
    indicated = rows["indicated_step_m"]
    count = rows["indicated_distance_m"] if "indicated_distance_m" in rows.columns else None
    blind = rows.height == 0 or seen.height < 0.98 * rows.height
    return Stretch(
        index,
        None if blind else float(rows["true_step_m"].sum()),
        float(indicated.sum()) if indicated.count() else None,
        float(rows.filter(pl.col("indicated_speed_mps") > 0)["dt_s"].sum()),
        _rise(count),
        complete,
    )


def _drawn_out(rows: pl.DataFrame, head_s: float, tail_s: float) -> pl.DataFrame:
    """Rows with the first and the last standing for so many seconds more."""
    steps = [n for n in ("true_step_m", "indicated_step_m", "dt_s") if n in rows.columns]
    longer = np.ones(rows.height)
    longer[0] += head_s / float(rows["dt_s"][0])
    longer[-1] += tail_s / float(rows["dt_s"][0])
    return rows.with_columns(pl.col(name) * pl.Series(longer) for name in steps)


def _rise(count: pl.Series | None) -> float | None:
    known = count.drop_nulls() if count is not None else None
    return float(known[-1] - known[0]) if known is not None and len(known) > 1 else None


def _moment(motion: pl.DataFrame, index: int, at: datetime) -> Shown:
    """Means over the five seconds around a moment, or around the minute it is noted by: a needle
    is read no quicker than that.

    True speed is the receiver's alone: one bridged by the indicated speed would hold the needle
    against the vehicle's own count.
    """
    begin, end = noted_within(at)
    near = motion.filter(pl.col("time").is_between(begin - READ_FOR, end + READ_FOR))
    true = near.filter(~pl.col("bridged"))["true_speed_mps"]
    mean, spread = true.mean(), true.std() if true.count() > 1 else None
    return Shown(
        index,
        float(mean) if isinstance(mean, float) else None,
        float(spread) if isinstance(spread, float) else 0.0,
    )
