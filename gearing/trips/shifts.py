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

    from gearing.statistics.arrays import Array
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
    load, pedal = ticks["engine_load_percent"], ticks["accelerator_percent"]
    held = np.flatnonzero(np.isfinite(gear))
    first, last = held[:-1], held[1:]
    apart = ticks.time_s[last] - ticks.time_s[first]
    higher = (gear[last] > gear[first]) & (apart <= MAX_SHIFT_S) & moving[first]
    count = breaks = pedal_known = lifted = 0
    for low, high in zip(first[higher].tolist(), last[higher].tolist(), strict=True):
        dips = _dips(load, low, high)
        if dips is None:
            continue
        count, breaks = count + 1, breaks + dips
        if dips and (foot := _dips(pedal, low, high)) is not None:
            pedal_known, lifted = pedal_known + 1, lifted + foot
    return Upshifts(count, breaks, pedal_known, lifted, open_s, locked_s)


def _dips(values: Array, low: int, high: int) -> bool | None:
    """Whether a share [%] breaks off within a shift; None where it is not high about it."""
    before, after = values[max(low - 1, 0) : low + 1], values[high : high + 2]
    if not (np.isfinite(before).all() and np.isfinite(after).all()):
        return None
    about = min(before.max(), after.max())
    if about < PULLS_PERCENT:
        return None
    within = values[low : high + 1]
    return bool(np.nanmin(within) < DIP * about)


def together(trips: Iterable[Upshifts]) -> Upshifts:
    """The shifts of several trips."""
    rows = list(trips)
    return Upshifts(*(sum(getattr(row, field.name) for row in rows) for field in fields(Upshifts)))
