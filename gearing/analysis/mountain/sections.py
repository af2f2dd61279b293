"""Grade sections of a road: stretches that climb or fall throughout."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

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
        return self.rise_m > 0

    @property
    def mean_grade(self) -> float:
        run: float = (self.length_m**2 - self.rise_m**2) ** 0.5
        return self.rise_m / run


def find_stretches(road: Road) -> tuple[Stretch, ...]:
    """Stretches of at least 1.5 % over 300 m that gain or lose 25 m or more, in order."""
    step = road.step_m
    rise = road.grade / np.sqrt(1 + road.grade**2) * step
    smooth = _mean_over(road, WINDOW_M)
    found = []
    for sign in (1, -1):
        inside = sign * smooth >= MIN_GRADE
        for first, last in _runs(inside, road):
            gained = float(rise[first : last + 1].sum())
            if sign * gained >= MIN_RISE_M:
                length = float(step[first : last + 1].sum())
                steepest = sign * float((sign * smooth[first : last + 1]).max())
                found.append(Stretch(first, last, gained, length, steepest))
    return tuple(sorted(found, key=lambda one: one.first))


def altitude_at_edges(road: Road) -> NDArray[np.float64]:
    """Altitude at each piece's border [m], from the grades, shifted to the road's own height."""
    rise = road.grade / np.sqrt(1 + road.grade**2) * road.step_m
    height = np.concatenate([[0.0], np.cumsum(rise)])
    shift = road.altitude_m[0] - (height[0] + height[1]) / 2
    shifted: NDArray[np.float64] = height + shift
    return shifted


def _mean_over(road: Road, window_m: float) -> NDArray[np.float64]:
    """Grade over a window about each piece's middle."""
    height, edge = altitude_at_edges(road), road.edge_m
    middle = (edge[1:] + edge[:-1]) / 2
    low = np.maximum(middle - window_m / 2, edge[0])
    high = np.minimum(middle + window_m / 2, edge[-1])
    grade: NDArray[np.float64] = (np.interp(high, edge, height) - np.interp(low, edge, height)) / (
        high - low
    )
    return grade


def _runs(inside: NDArray[np.bool_], road: Road) -> list[tuple[int, int]]:
    """First and last piece of each run, runs with a gap under 400 m joined."""
    padded = np.concatenate([[False], inside, [False]]).astype(np.int8)
    starts = np.flatnonzero(np.diff(padded) == 1)
    ends = np.flatnonzero(np.diff(padded) == -1) - 1
    joined: list[tuple[int, int]] = []
    for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
        if joined and road.edge_m[start] - road.edge_m[joined[-1][1] + 1] < MAX_GAP_M:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return joined
