"""Whether the engine keeps pulling while a higher gear comes in, and whether the foot is lifted.

A gearbox behind a torque converter shifts under load; one with a clutch interrupts the pull for a
second or so, in which a driver who shifts lifts the foot and an automated gearbox does not (common
practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable

    from gearing.statistics.arrays import Array, Index, Mask
    from gearing.trips.ticks import Ticks

MIN_MPS = 3.0
PULLS_PERCENT = 50.0  # of load before and after a shift
MAX_SHIFT_S = 5.0
MAX_INTERVAL_S = 1.2  # of the clock: slower ones pass over the break in pull
DIP = 0.35  # of the load about it


@dataclass(frozen=True, slots=True)
class Upshifts:
    """Shifts up under load: how many, in how many the load broke off, of how many the pedal is
    known, and in how many of these it was lifted. `lockup_s`: for how long a converter was said to
    be open on the move, and locked."""

    count: int = 0
    breaks: int = 0
    pedal_known: int = 0
    lifted: int = 0
    open_s: float = 0.0
    locked_s: float = 0.0


NO_UPSHIFTS = Upshifts()


def upshifts(ticks: Ticks, gear: Array | None) -> Upshifts:
    """The shifts up of a trip; `gear` tick by tick, NaN where none holds."""
    speed = np.nan_to_num(ticks["true_speed_mps"])
    lockup = ticks["lockup_engaged"]
    moving = speed >= MIN_MPS
    open_s, locked_s = (
        float(np.count_nonzero(moving & (lockup == state)) * ticks.interval_s) for state in (0, 1)
    )
    if gear is None or ticks.interval_s > MAX_INTERVAL_S:
        return Upshifts(open_s=open_s, locked_s=locked_s)
    held = np.flatnonzero(np.isfinite(gear))
    first, last = held[:-1], held[1:]
    apart = ticks.time_s[last] - ticks.time_s[first]
    higher = (gear[last] > gear[first]) & (apart <= MAX_SHIFT_S) & moving[first]
    low, high = first[higher], last[higher]
    known, breaks = _dips(ticks["engine_load_percent"], low, high)
    pedal_known, lifted = _dips(ticks["accelerator_percent"], low[breaks], high[breaks])
    told = {"count": known, "breaks": breaks, "pedal_known": pedal_known, "lifted": lifted}
    counts = {name: int(np.count_nonzero(one)) for name, one in told.items()}
    return Upshifts(**counts, open_s=open_s, locked_s=locked_s)


def _dips(values: Array, low: Index, high: Index) -> tuple[Mask, Mask]:
    """Of shifts from tick `low` to tick `high`, shapes (shifts,), whether a share [%] is known and
    high about each, and of these whether it breaks off within."""
    if not len(low):
        return np.zeros(0, np.bool_), np.zeros(0, np.bool_)
    before = values[np.stack((np.maximum(low - 1, 0), low))]
    after = values[np.stack((high, np.minimum(high + 1, len(values) - 1)))]
    about = np.minimum(before.max(axis=0), after.max(axis=0))  # NaN where one of the four is
    known = about >= PULLS_PERCENT
    # from each shift's beginning to its end; what lies between two shifts is passed over
    ends = np.stack((low, high + 1), axis=1).ravel()
    within = np.fmin.reduceat(np.append(values, np.nan), ends)[::2]
    return known, known & (within < DIP * about)


def together(trips: Iterable[Upshifts]) -> Upshifts:
    """The shifts of several trips."""
    rows = list(trips)
    return Upshifts(*(sum(getattr(row, field.name) for row in rows) for field in fields(Upshifts)))
