"""Values that a recorder drew in a straight line between its samples: computed, not measured.

What polls a vehicle every few seconds and writes a row each second may fill the rows between. Such
a line cuts off the bend at which a vehicle has gathered speed, as rows far apart do, but looks as
if each row had been measured. What stands on a line is taken out, and the rest is read as what it
is: samples some seconds apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gearing.messages import Problem, Quantity, UserText, message, problem_of
from gearing.quantities import QUANTITIES
from gearing.statistics.arrays import Array, Mask
from gearing.trips.clock import Channels, own_interval_s

DRAWN = (
    ("indicated_speed_mps",),
    ("gps_speed_mps",),
    ("engine_speed_rpm",),
    ("latitude_deg", "longitude_deg"),
)
MIN_ROWS = 60
# of the rows that move, those on a line; by how many steps of what is written the rest is off it,
# as in no coarse record; and how much of it stands side by side, as a smooth record's leaps do
SHARE, OFF_STEPS, BESIDE = 0.6, 3.0, 0.1
SOME = 2000
FINEST = 1e-9  # of the largest value: what arithmetic leaves of a line


@dataclass(frozen=True, slots=True)
class _Line:
    """Of a channel's rows but the first and last: how far they are from the line between their
    neighbours, in steps of what is written, and whether these differ."""

    off: Array
    moves: Mask

    @classmethod
    def of(cls, time_s: Array, values: Array) -> _Line:
        """Of one channel, shapes (n,)."""
        step = max(_written_in(values), FINEST * (1.0 + float(np.abs(values).max())))
        part = (time_s[1:-1] - time_s[:-2]) / np.maximum(time_s[2:] - time_s[:-2], FINEST)
        between = values[:-2] + part * (values[2:] - values[:-2])
        # each of three values is written within half a step
        return cls(
            np.abs(values[1:-1] - between) / step, np.abs(values[2:] - values[:-2]) > 2 * step
        )


def without_drawn(logged: Channels, file: str) -> tuple[Channels, tuple[Problem, ...]]:
    """Without what stands on a line between two samples, and what is told of it."""
    problems: list[Problem] = []
    for names in DRAWN:
        time_s, *found = logged.known(*names)
        on = _on_lines(time_s, found)
        if not on.any():
            continue
        for name in names:
            logged = logged.without(name, np.isin(logged.known(name)[0], time_s[on]))
        channel = UserText(QUANTITIES[names[0]].label)
        apart = Quantity(own_interval_s(time_s[~on]), "s", 1)
        told = message("drawn-between", rows=int(on.sum()), channel=channel, apart=apart)
        problems.append(problem_of(told, file=file))
    return logged, tuple(problems)


def _on_lines(time_s: Array, found: Sequence[Array]) -> Mask:
    """Rows on a line in all of some channels, where most that move are; shape (n,)."""
    none = np.zeros(len(time_s), dtype=bool)
    if len(time_s) < MIN_ROWS:
        return none
    lines = [_Line.of(time_s, values) for values in found]
    moves = np.logical_or.reduce([line.moves for line in lines])
    off = np.maximum.reduce([line.off for line in lines])
    on, measured = moves & (off <= 1.0), moves & (off > 1.0)
    if np.count_nonzero(moves) < MIN_ROWS or np.count_nonzero(on) < SHARE * np.count_nonzero(moves):
        return none
    beside = np.count_nonzero(measured[1:] & measured[:-1])
    coarse = not measured.any() or np.median(off[measured]) < OFF_STEPS
    if coarse or beside > BESIDE * np.count_nonzero(measured):
        return none
    none[1:-1] = on
    return none


def _written_in(values: Array) -> float:
    """The least by which two values differ, but for what arithmetic leaves; of some thousand."""
    apart = np.diff(np.unique(values[:: max(len(values) // SOME, 1)]))
    apart = apart[apart > FINEST * float(np.abs(values).max())]
    return float(apart.min()) if len(apart) else 0.0
