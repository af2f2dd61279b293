"""Heights that are no road's: mended and counted where they are few, else the road is refused."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from gearing.messages import Items, Message, MessageError, Quantity, Span, message
from gearing.vehicle.road import STEEPEST_RISE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gearing.statistics.arrays import Array

NOISE_SPACING_M = 60.0  # points further apart are a drawn profile, not a recording
# The steepest descent is judged over 500 m: a kilometre without points can hold one such, and
# a road drawn with points each 500 m may lack one of them. Drawn by hand, with a point where the
# grade changes, a road has long spacings among its usual ones, so those are measured too.
MAX_HOLE_M = 1000.0
USUAL_SPACINGS = 0.9
HOLE_OVER_USUAL = 3.0
TOLD_STRETCHES = 3
# A height further than this off the median of nine about it is none of a road's.
FALSE_WINDOW = 9
FALSE_M, FALSE_GRADE = 12.0, 0.3
# The ground under a bridge or over a tunnel: both flanks so steep and high, so close together, and
# the road from one end to the other no such grade. Common practice, no source.
FLANK_GRADES, FLANK_M, CROSSING_M = (0.18, STEEPEST_RISE), 8.0, 600.0
# Length [m] and the mean grade over it that no road of a heavy vehicle has: common practice, no
# source. 9 % for many km and 14 % for some hundred metres there are.
IMPOSSIBLE = ((200.0, 0.22), (500.0, 0.18), (3000.0, 0.16))


class ImpossibleGradeError(MessageError):
    """A stretch is steeper than a road is: its heights are not the road's."""

    def __init__(self, told: Message, percent: float) -> None:
        super().__init__(told)
        self.args = (told, percent)  # which it is made of again in another process
        self.percent = percent

    def __str__(self) -> str:
        return str(self.told)


def _impossible(low_m: float, high_m: float, percent: float) -> ImpossibleGradeError:
    at = Span(low_m / 1000, high_m / 1000, "km", 1)
    told = message("profile-impossible", grade=Quantity(percent, "%"), at=at)
    return ImpossibleGradeError(told, percent)


def check_grades(distance: Array, altitude: Array) -> None:
    """Nothing where the grades of altitude [m] over distance [m] are a road's, shapes (n,).

    Raises
    ------
    ImpossibleGradeError
        a mean grade over 200 m, 500 m or 3 km that no road of a heavy vehicle has.
    """
    for length, most in IMPOSSIBLE:
        if distance[-1] < length:
            continue
        starts = distance[distance <= distance[-1] - length]
        starts = np.append(starts, distance[-1] - length)
        rise = np.interp(starts + length, distance, altitude) - np.interp(
            starts, distance, altitude
        )
        worst = int(np.argmax(np.abs(rise)))
        grade = abs(float(rise[worst])) / length
        if grade > most:
            low = float(starts[worst])
            raise _impossible(low, low + length, grade * 100)


def missing_stretches(distance_m: Array) -> tuple[tuple[float, float], ...]:
    """Where ascending points lie too far apart to draw a road straight between: from, to [m].

    That is over 1 km, and over three times what nine in ten of the spacings keep to.
    """
    spacing = np.diff(distance_m)
    usual = float(np.quantile(spacing, USUAL_SPACINGS, method="higher"))
    wide = np.flatnonzero(spacing > max(MAX_HOLE_M, HOLE_OVER_USUAL * usual) + 0.5)
    return tuple((float(distance_m[i]), float(distance_m[i + 1])) for i in wide)


def missing_points(missing: Sequence[tuple[float, float]]) -> Message:
    """Stretches without points [m] as a part of a message, the first few of them."""
    told = [
        message("profile-missing/stretch", at=Span(a / 1000, b / 1000, "km", 1))
        for a, b in missing[:TOLD_STRETCHES]
    ]
    more = len(missing) - len(told)
    if more:
        told.append(message("profile-missing/more", places=more))
    return message("profile-missing", stretches=Items(tuple(told)))


def mended(distance: Array, altitude: Array) -> tuple[Array, int]:
    """Single false heights of a recording drawn straight between their neighbors, and how many.

    A height is false that lies far off the median of those around it, further than a road could
    come and go. Of a profile drawn with few points none is mended: each is meant.
    """
    from scipy.ndimage import median_filter

    if distance.size < FALSE_WINDOW or np.median(np.diff(distance)) > NOISE_SPACING_M:
        return altitude, 0
    around = median_filter(altitude, FALSE_WINDOW, mode="nearest")
    reach = np.minimum(
        distance - np.concatenate([distance[:1], distance[:-1]]),
        np.concatenate([distance[1:], distance[-1:]]) - distance,
    )
    false = np.abs(altitude - around) > FALSE_M + FALSE_GRADE * reach
    # a tenth and more is no slip of a few rows
    if not false.any() or false.mean() > 0.1:
        return altitude, 0
    return np.interp(distance, distance[~false], altitude[~false]), int(false.sum())


def drawn_across(distance: Array, altitude: Array) -> tuple[Array, int, int]:
    """Heights of the ground under a bridge or over a tunnel drawn straight across.

    Also how many heights, and in how many places.
    """
    length, rise = np.diff(distance), np.diff(altitude)
    least, most = FLANK_GRADES
    size = np.abs(rise) / length
    steep = np.where((size >= least) & (size < most), np.sign(rise), 0.0)
    if np.median(length) > 2 * NOISE_SPACING_M or not steep.any():
        return altitude, 0, 0
    starts = np.flatnonzero(np.diff(steep, prepend=0.0) * steep)
    ends = np.flatnonzero(np.diff(steep, append=0.0) * steep) + 1
    flanks = [
        (first, last)
        for first, last in zip(starts.tolist(), ends.tolist(), strict=True)
        if abs(altitude[last] - altitude[first]) >= FLANK_M
    ]
    drawn, heights, places, free = altitude.copy(), 0, 0, 0
    for (low, _), (_, high) in pairwise(flanks):
        way, net = distance[high] - distance[low], altitude[high] - altitude[low]
        opposite = steep[low] != steep[high - 1]
        if low < free or not opposite or way > CROSSING_M or abs(net) >= least * way:
            continue
        ends_at = [low, high]
        drawn[low:high] = np.interp(distance[low:high], distance[ends_at], altitude[ends_at])
        heights, places, free = heights + high - low - 1, places + 1, high
    return drawn, heights, places
