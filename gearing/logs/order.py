"""Rows in order of time: strays, clocks set while recording, week rollover, repeats."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import polars as pl

from gearing.logs.ledger import Ledger
from gearing.messages import Quantity, message
from gearing.messages.display import places_of

Ints = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]

SECOND = 1_000_000
DAY = 86_400 * SECOND
WEEKS_1024 = 1024 * 7 * DAY
ERA = 300 * DAY  # a jump of this length within one log is a clock's doing
MAX_STRAYS = 0.2  # a smaller part of the file than this, in another era, is set aside
MAX_JUMPS = 50  # jumps back beyond this many are plain disorder
SET_BACK = 2 * SECOND
MIN_STEPS = 5  # of a clock, to say that it is coarse
ROWS_A_STANDING_STEP = 20  # with fewer steps, and so many rows in each, it tells nothing
ROWS_A_STEP = 1.5


def in_order(rows: pl.DataFrame, ledger: Ledger) -> pl.DataFrame:
    """Samples (`time`, `line` and channels, in ascending time) of rows in the order of the file:
    `line`, `us` (microseconds UTC, null where a row has no time) and channels. Rows that carry
    no value go to the ledger."""
    names = [c for c in rows.columns if c not in ("line", "us")]
    if rows["us"].null_count():
        rows = rows.filter(pl.col("us").is_not_null())
    if not any(rows[n].null_count() == 0 for n in names):
        empty = [pl.col(name).is_null() for name in names]
        rows = ledger.without(rows, pl.all_horizontal(pl.lit(True), *empty))
    us, keep = repair_clock(rows["us"].to_numpy(), rows, ledger)
    time = pl.Series("time", us).cast(pl.Datetime("us", "UTC"))
    samples = pl.DataFrame([time, *map(rows.get_column, ("line", *names))])
    return sort_rows(samples if keep.all() else samples.filter(pl.Series(keep)), ledger)


def repair_clock(us: Ints, samples: pl.DataFrame, ledger: Ledger) -> tuple[Ints, Mask]:
    """Times in file order, clock settings undone, and which rows to keep.

    `us` is microseconds since 1970, in the order of the file, none missing; `samples` are the
    rows they belong to, with `line` and the channels.
    """
    lines = samples["line"].to_numpy()
    keep = np.ones(len(us), np.bool_)
    if len(us) < 3:
        return us, keep
    steps = np.diff(us)
    if steps.min() >= 0 and steps.max() < 3600 * SECOND:
        return us, keep
    us = us.copy()
    keep &= ~_strays(us, lines, ledger)
    us, aside = _one_era(us, keep, lines, ledger)
    keep &= ~aside
    kept = np.flatnonzero(keep)
    us[kept] = _undo_set_back(us[kept], samples.filter(pl.Series(keep)), ledger)
    return us, keep


def _typical(us: Ints) -> int:
    steps = np.diff(us)
    steps = steps[steps > 0]
    return int(np.median(steps)) if len(steps) else SECOND


def _strays(us: Ints, lines: Ints, ledger: Ledger) -> Mask:
    """Single rows whose time leaves that of both neighbours, which agree with each other."""
    limit = max(60 * SECOND, 20 * _typical(us))
    step = np.diff(us)
    found = np.zeros(len(us), np.bool_)
    across = np.abs(us[2:] - us[:-2])
    found[1:-1] = (np.abs(step[:-1]) > limit) & (np.abs(step[1:]) > limit) & (across < limit)
    # a jump up and, rows later, down again is no stray: only where the two undo each other
    found[1:-1] &= np.sign(step[:-1]) != np.sign(step[1:])
    ledger.set_aside_rows(message("stray-time"), lines[found])
    return found


def _one_era(us: Ints, keep: Mask, lines: Ints, ledger: Ledger) -> tuple[Ints, Mask]:
    """Stretches parted by jumps of most of a year: the longest holds, the others are mended."""
    aside = np.zeros(len(us), np.bool_)
    index = np.flatnonzero(keep)
    jumps = np.flatnonzero(np.abs(np.diff(us[index])) > ERA)
    if len(jumps) == 0:
        return us, aside
    parts = np.split(index, jumps + 1)
    main = max(parts, key=len)
    centre = int(np.median(us[main]))
    for part in parts:
        away = int(np.median(us[part])) - centre
        if abs(away) < ERA:
            continue
        if abs(abs(away) - WEEKS_1024) < 2 * DAY:
            continue
        if len(part) <= MAX_STRAYS * len(index):
            aside[part] = True
        else:
            us[part] = _beside(us[part], us[main], part[0] < main[0])
            ledger.repair(message("clock-set"), len(part))
    ledger.set_aside_rows(message("clock-not-set"), lines[aside])
    _roll_over(us, parts, ledger)
    return us, aside


def _roll_over(us: Ints, parts: list[npt.NDArray[Any]], ledger: Ledger) -> None:
    """Parts 1024 weeks behind the latest are moved to it."""
    latest = max(int(np.median(us[part])) for part in parts)
    moved = 0
    for part in parts:
        if abs(latest - int(np.median(us[part])) - WEEKS_1024) < 2 * DAY:
            us[part] += WEEKS_1024
            moved += len(part)
    ledger.repair(message("week-rollover"), moved)


def _beside(part: Ints, main: Ints, before: bool) -> Ints:
    """`part` moved to lie one step before (or behind) `main`."""
    step = _typical(main)
    if before:
        return np.asarray(part - part[-1] + main[0] - step)
    return np.asarray(part - part[0] + main[-1] + step)


def _undo_set_back(us: Ints, samples: pl.DataFrame, ledger: Ledger) -> Ints:
    """A clock set back while recording: the shorter side is moved so that time runs on.

    Rows merely written late (the time soon jumps forward to where it was) and stretches that
    overlap no other rows are only put in order.
    """
    step = np.diff(us)
    jumps = np.flatnonzero(step < -SET_BACK) + 1
    if len(jumps) == 0 or len(jumps) > MAX_JUMPS:
        return us
    typical = _typical(us)
    us = us.copy()
    for at in jumps.tolist():
        back = int(us[at - 1] - us[at])
        if back <= SET_BACK:
            continue
        top = int(us[:at].max())
        later = np.flatnonzero(us[at:] > top)
        end = at + int(later[0]) if len(later) else len(us)
        if end - at <= 5 or (end < len(us) and us[end] - us[end - 1] > 5 * typical + SECOND):
            continue  # rows written late
        overlaps = bool(((us[:at] >= us[at]) & (us[:at] <= us[end - 1])).any())
        if not overlaps and not _whole_hours(back, typical):
            continue  # stretches filed in another order
        if _repeats(us, samples, at, end):
            continue  # the same rows once more
        if at < len(us) / 2:
            us[:at] -= back + typical
            ledger.repair(message("clock-set"), at)
        else:
            us[at:] += back + typical
            ledger.repair(message("clock-set"), len(us) - at)
    return us


def _whole_hours(back: int, typical: int) -> bool:
    """A jump back of whole hours is a zone or a summer time set while recording."""
    away = (back + typical) % (3600 * SECOND)
    return min(away, 3600 * SECOND - away) <= 2 * SECOND


def _repeats(us: Ints, samples: pl.DataFrame, at: int, end: int) -> bool:
    """Whether nearly all rows from `at` to `end` stand above already, time and values alike."""
    names = [n for n in samples.columns if n not in ("line", "us", "time")]
    marks = samples.with_columns(us=pl.Series(us)).select("us", *names).hash_rows().to_numpy()
    return bool(np.isin(marks[at:end], marks[:at]).mean() > 0.9)


def sort_rows(samples: pl.DataFrame, ledger: Ledger) -> pl.DataFrame:
    """Rows in ascending time; the same time with the same values is used once, and rows whose
    clock is coarser than they come are spread over its step."""
    steps = _steps(samples)
    if late := int((steps < 0).sum()):
        ledger.repair(message("out-of-order"), late)
        samples = samples.sort("time", maintain_order=True)
        steps = _steps(samples)
    same = steps == 0
    if not same.any():
        return samples
    channels = [c for c in samples.columns if c != "line"]
    near = np.append(False, same) | np.append(same, False)
    held = samples.filter(pl.Series(near))
    again = np.zeros(samples.height, np.bool_)  # by row: a line may hold all points of a track
    first = held.select(pl.struct(channels).is_first_distinct()).to_series()
    again[near] = ~first.to_numpy()
    once = samples.filter(pl.Series(~again))
    times = _steps_of_clock(once)
    if times and times < MIN_STEPS and once.height >= ROWS_A_STANDING_STEP * times:
        ledger.set_aside_rows(message("time-stands", times=times), samples["line"].to_numpy())
        return samples.clear()
    if times >= MIN_STEPS:
        return _spread(samples, ledger)
    if again.any():
        ledger.set_aside_rows(message("repeated-row"), samples["line"].to_numpy()[again])
    return once


def _steps(samples: pl.DataFrame) -> Ints:
    """Microseconds from each row to the next."""
    return np.diff(samples["time"].cast(pl.Int64).to_numpy())


def _steps_of_clock(samples: pl.DataFrame) -> int:
    """How many times there are, where most are given to several rows, and not because each row
    carries another channel; else 0."""
    names = [n for n in samples.columns if n not in ("time", "line")]
    each = samples.group_by("time").agg(pl.col(names).count())
    if samples.height < ROWS_A_STEP * each.height:
        return 0
    values = each.select(pl.max_horizontal(names).alias("most"))["most"]
    return each.height if int((values > 1).sum()) > each.height / 2 else 0


def _spread(samples: pl.DataFrame, ledger: Ledger) -> pl.DataFrame:
    """Rows of one time spread evenly up to the next; the first and last step may be cut short."""
    us = samples["time"].dt.epoch("us").to_numpy()
    begins = np.flatnonzero(np.diff(us, prepend=us[0] - 1) > 0)
    count = np.diff(np.append(begins, len(us)))
    usual_us, usual_rows = _typical(us), float(np.median(count))
    step = np.minimum(np.diff(us[begins], append=us[-1] + usual_us), usual_us)
    part = count.astype(np.float64)
    part[[0, -1]] = np.maximum(part[[0, -1]], usual_rows)
    within = np.arange(len(us)) - np.repeat(begins, count)
    within[: count[0]] += int(part[0]) - int(count[0])
    spread = us + (within * np.repeat(step / part, count)).astype(np.int64)
    step_s = Quantity(usual_us / SECOND, "s", places_of(usual_us / SECOND, figures=6))
    ledger.repair(message("coarse-clock", step=step_s), len(us))
    return samples.with_columns(pl.Series("time", spread).cast(samples["time"].dtype))
