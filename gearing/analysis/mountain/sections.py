"""Grade sections of a road: stretches that climb or fall throughout."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from gearing.statistics.arrays import Array, Mask
    from gearing.vehicle.road import Road

MIN_GRADE = 0.015
WINDOW_M = 300.0
MAX_GAP_M = 400.0
MIN_RISE_M = 25.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """Pieces `first` to `last` (inclusive) of a road that climb (or fall) throughout."""

    first: int
    last: int
    rise_m: float
    length_m: float
    steepest: float

    @property
    def climbs(self) -> bool:
        """Whether it gains height."""
        return self.rise_m > 0

    @property
    def mean_grade(self) -> float:
        """Rise over run [-] from end to end."""
        run: float = (self.length_m**2 - self.rise_m**2) ** 0.5
        return self.rise_m / run


def find_stretches(road: Road) -> tuple[Stretch, ...]:
    """Stretches of 1.5 % or more over 300 m that gain or lose 25 m and more, in order."""
    return stretches_of(road.edge_m, altitude_at_edges(road), MIN_GRADE, MIN_RISE_M)


def stretches_of(
    edge_m: Array, height_m: Array, min_grade: float, min_rise_m: float
) -> tuple[Stretch, ...]:
    """The same of places and heights of shape (k + 1,)."""
    smooth = _mean_over(edge_m, height_m, WINDOW_M)
    found = []
    for sign in (1, -1):
        for first, last in _runs(sign * smooth >= min_grade, edge_m):
            gained = float(height_m[last + 1] - height_m[first])
            if sign * gained >= min_rise_m:
                length = float(edge_m[last + 1] - edge_m[first])
                steepest = sign * float((sign * smooth[first : last + 1]).max())
                found.append(Stretch(first, last, gained, length, steepest))
    return tuple(sorted(found, key=lambda one: one.first))


def altitude_at_edges(road: Road) -> Array:
    """Altitude at each piece's border [m], from the grades, shifted to the road's own height."""
    rise = road.grade / np.sqrt(1 + road.grade**2) * road.step_m
    height = np.concatenate([[0.0], np.cumsum(rise)])
    shift = road.altitude_m[0] - (height[0] + height[1]) / 2
    shifted: Array = height + shift
    return shifted


def _mean_over(edge: Array, height: Array, window_m: float) -> Array:
    """Grade over a window about each piece's middle."""
    middle = (edge[1:] + edge[:-1]) / 2
    low = np.maximum(middle - window_m / 2, edge[0])
    high = np.minimum(middle + window_m / 2, edge[-1])
    grade: Array = (np.interp(high, edge, height) - np.interp(low, edge, height)) / (high - low)
    return grade


def _runs(inside: Mask, edge_m: Array) -> list[tuple[int, int]]:
    """First and last piece of each run, runs with a gap under 400 m joined."""
    padded = np.concatenate([[False], inside, [False]]).astype(np.int8)
    starts = np.flatnonzero(np.diff(padded) == 1)
    ends = np.flatnonzero(np.diff(padded) == -1) - 1
    joined: list[tuple[int, int]] = []
    for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
        if joined and edge_m[start] - edge_m[joined[-1][1] + 1] < MAX_GAP_M:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return joined
