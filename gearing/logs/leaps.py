"""Values that leap away and back, as nothing does that moves or burns: for a row or two or, of
altitude, as long as they stand."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import polars as pl

# By how much a value leaps, at least, and as much again each further second between rows: twice
# what a heavy vehicle's brakes do, several times a receiver's noise (common practice, no source)
LIMITS = {"indicated_speed_mps": 4.0, "altitude_m": 25.0}
MAX_ROWS = 2
MAX_STEP_S = 5.0  # rows further apart tell nothing of one another
RATE, ALTITUDE = "fuel_rate_lph", "altitude_m"
MAX_RATE_STEP_S = 2.0
OVER_PEAK = 1.5  # over the highest rate that lasts for three rows
MAX_OVER_PEAK = 0.05  # of the rows
LOADED = 0.25  # of that rate: what an engine burns between whose rows a zero is none
SHIFT = 0.08  # a change of engine speed that a change of gear makes, which does cut the fuel

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]


def leaps(samples: pl.DataFrame) -> dict[str, pl.Series]:
    """The rows, by channel, whose value leaps away from those on both sides; only channels that
    have any."""
    seconds = samples["time"].cast(pl.Int64).to_numpy() / 1e6
    found = {
        name: _away_and_back(samples[name].to_numpy(), seconds, limit)
        for name, limit in LIMITS.items()
        if name in samples.columns
    }
    if ALTITUDE in found:
        found[ALTITUDE] |= _stands(samples[ALTITUDE].to_numpy(), seconds, LIMITS[ALTITUDE])
    if RATE in samples.columns:
        engine = "engine_speed_rpm"
        rpm = samples[engine].to_numpy() if engine in samples.columns else None
        found[RATE] = _of_rate(samples[RATE].to_numpy(), seconds, rpm)
    return {name: pl.Series(mask) for name, mask in found.items() if mask.any()}


def _away_and_back(values: Floats, seconds: Floats, limit: float) -> Mask:
    index, x, t = _known(values, seconds)
    found = np.zeros(len(values), np.bool_)
    begins = np.flatnonzero(np.abs(np.diff(x)) > limit)
    for rows in range(1, MAX_ROWS + 1):
        at, low, high, before, after, step = _runs(x, t, begins, rows)
        most = limit * np.maximum(step, 1.0)
        away = np.maximum(low - np.maximum(before, after), np.minimum(before, after) - high)
        leap = (away > most) & (np.abs(after - before) < away) & (step <= MAX_STEP_S)
        _mark(found, index, at[leap], rows)
    return found


def _stands(values: Floats, seconds: Floats, limit: float) -> Mask:
    """Runs of one value, between two leaps or between one and an end of the log."""
    index, x, t = _known(values, seconds)
    found = np.zeros(len(values), np.bool_)
    leap = np.abs(np.diff(x)) > limit * np.maximum(np.diff(t), 1.0)
    if not leap.any():
        return found
    begins = np.flatnonzero(np.diff(x, prepend=np.nan) != 0)
    ends = np.append(begins[1:], len(x))
    border = np.concatenate(([True], leap, [True]))
    marks = np.repeat(border[begins] & border[ends], ends - begins)
    found[index[marks]] = True
    return found


def _of_rate(rate: Floats, seconds: Floats, rpm: Floats | None) -> Mask:
    """Fuel rates over what the engine ever burns for longer, and zeros between rows of load."""
    index, x, t = _known(rate, seconds)
    found = np.zeros(len(rate), np.bool_)
    if len(x) < 5 or np.median(np.diff(t)) > MAX_RATE_STEP_S:
        return found
    peak = float(np.minimum(np.minimum(x[2:], x[1:-1]), x[:-2]).max())
    if np.mean(x > OVER_PEAK * peak) > MAX_OVER_PEAK:
        return found  # it often goes up and down within three rows
    away = (x > OVER_PEAK * peak) | (x == 0)
    begins = np.flatnonzero(away[1:])
    for rows in range(1, MAX_ROWS + 1):
        at, low, high, before, after, step = _runs(x, t, begins, rows)
        above = (low > OVER_PEAK * peak) & (np.maximum(before, after) <= OVER_PEAK * peak)
        cut = (high == 0) & (np.minimum(before, after) > LOADED * peak)
        if rpm is None:
            cut[:] = False
        else:
            first, last = rpm[index[at]], rpm[index[at + rows + 1]]
            cut &= np.abs(last - first) < SHIFT * np.maximum(first, last)
        _mark(found, index, at[(above | cut) & (step <= MAX_RATE_STEP_S)], rows)
    return found


def _known(values: Floats, seconds: Floats) -> tuple[Ints, Floats, Floats]:
    """The rows that have a value, the values and their times."""
    index = np.flatnonzero(np.isfinite(values))
    return index, values[index], seconds[index]


def _runs(
    x: Floats, t: Floats, begins: Ints, rows: int
) -> tuple[Ints, Floats, Floats, Floats, Floats, Floats]:
    """Of runs of so many values behind those that begin them, with one on the other side as well:
    where they begin, their lowest and highest, those on both sides, and the longest step in time.
    """
    at = begins[begins < len(x) - rows - 1]
    inner = [x[at + k] for k in range(1, rows + 1)]
    steps = [t[at + k + 1] - t[at + k] for k in range(rows + 1)]
    low, high = np.minimum.reduce(inner), np.maximum.reduce(inner)
    return at, low, high, x[at], x[at + rows + 1], np.maximum.reduce(steps)


def _mark(found: Mask, index: Ints, begins: Ints, rows: int) -> None:
    for k in range(1, rows + 1):
        found[index[begins + k]] = True
