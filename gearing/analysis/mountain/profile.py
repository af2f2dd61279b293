"""The route's altitude against distance: several passes averaged, false grades taken out.

Source: Commission Regulation (EU) 2016/646, Appendix 7b, later (EU) 2017/1151 Annex IIIA
Appendix 10 (its steps from memory): the grade at a place is the rise over the 200 m to either
side, the altitude is built up anew from it, and both are done a second time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from gearing.messages import Items, Message, MessageError, Quantity, Span, message

if TYPE_CHECKING:
    from collections.abc import Sequence

    import polars as pl
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

AS_GIVEN = message("handling/given")
SPACING_M = 10.0
WINDOW_M = 200.0
# Above this the noise of neighbouring points makes false grades that matter on a climb.
NOISY_GRADE = 0.007
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
# Length [m] and the mean grade over it that no road of a heavy vehicle has: common practice, no
# source. 9 % for many km and 14 % for some hundred metres there are.
IMPOSSIBLE = ((200.0, 0.22), (500.0, 0.18), (3000.0, 0.16))


@dataclass(frozen=True, slots=True)
class Profile:
    """Altitude against distance along the road, with what the file says of limits and stops.

    Arrays of shape (n,): `limit_mps` is nan where none is given, `stop_s` zero. `missing` are
    the stretches without points, from and to [m] as the file counts; `widest_m` is the longest
    way between two points of the file.
    """

    distance_m: Array
    altitude_m: Array
    limit_mps: Array
    stop_s: Array
    handling: Message
    smoothed: bool = False
    missing: tuple[tuple[float, float], ...] = ()
    widest_m: float = 0.0
    mended: int = 0  # heights that no road has, drawn straight between their neighbors


def read_passes(passes: Sequence[pl.DataFrame]) -> Profile:
    """One profile from one or several recorded passes of the same road.

    Each frame has `distance_m` and `altitude_m`, and may have `speed_limit_mps` and `stop_s`.
    Several passes are laid over each other by their share of the way, each shifted to the
    common height, and the median is taken. A pass with a hole in it is left out; where every
    pass has one the first is given as it is, with its `missing` stretches.

    Raises
    ------
    MessageError
        no pass with at least two places of known altitude.
    """
    usable = [one for one in map(_clean, passes) if one is not None]
    if not usable:
        raise MessageError(message("profile-without-places"))
    whole = [one for one in usable if not one.missing]
    if not whole:
        return usable[0]
    if len(whole) == 1:
        profile, steps = whole[0], [AS_GIVEN]
    else:
        profile, steps = _average(whole), [message("handling/median", passes=len(whole))]
    noisy = _is_noisy(profile)
    if noisy:
        profile = _smooth(profile)
        steps.append(message("handling/smoothed", reach=Quantity(WINDOW_M, "m")))
    mended = sum(one.mended for one in whole)
    if mended:
        steps.append(message("handling/mended", heights=mended))
    return replace(
        profile,
        handling=message("handling", steps=Items(tuple(steps), ",")),
        smoothed=noisy,
        widest_m=whole[0].widest_m,
        mended=mended,
    )


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


def check_grades(profile: Profile) -> None:
    """Nothing where the grades are a road's.

    Raises
    ------
    ImpossibleGradeError
        a mean grade over 200 m, 500 m or 3 km that no road of a heavy vehicle has.
    """
    distance, altitude = profile.distance_m, profile.altitude_m
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


def _clean(frame: pl.DataFrame) -> Profile | None:
    names = frame.columns
    if "distance_m" not in names or "altitude_m" not in names:
        return None
    kept = frame.filter(
        frame["distance_m"].is_not_null()
        & frame["distance_m"].is_finite()
        & frame["altitude_m"].is_not_null()
        & frame["altitude_m"].is_finite()
    )
    distance = kept["distance_m"].to_numpy().astype(np.float64)
    forward = np.concatenate([[True], np.diff(np.maximum.accumulate(distance)) > 0])[
        : distance.size
    ]
    if distance.size < 2 or forward.sum() < 2:
        return None
    distance = distance[forward]

    def column(name: str, missing: float) -> Array:
        if name not in names:
            return np.full(distance.size, missing)
        values = kept[name].to_numpy().astype(np.float64)[forward]
        return np.where(np.isfinite(values), values, missing)

    altitude = kept["altitude_m"].to_numpy().astype(np.float64)[forward]
    altitude, mended = _mended(distance, altitude)
    stops = column("stop_s", 0.0)
    return Profile(
        distance_m=distance - distance[0],
        altitude_m=altitude,
        limit_mps=column("speed_limit_mps", np.nan),
        stop_s=stops,
        handling=AS_GIVEN,
        missing=missing_stretches(distance),
        widest_m=float(np.diff(distance).max()),
        mended=mended,
    )


def _mended(distance: Array, altitude: Array) -> tuple[Array, int]:
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


def _average(passes: Sequence[Profile]) -> Profile:
    """The median altitude of passes, on the first one's road at the median length."""
    length = float(np.median([one.distance_m[-1] for one in passes]))
    alike = [one for one in passes if abs(one.distance_m[-1] / length - 1) < 0.05]
    places = np.arange(0.0, length + SPACING_M / 2, SPACING_M)
    heights = np.stack(
        [np.interp(places / length, p.distance_m / p.distance_m[-1], p.altitude_m) for p in alike]
    )
    middle = np.median(heights.mean(axis=1))
    level = heights - heights.mean(axis=1, keepdims=True) + middle
    first = alike[0]
    nearest = np.searchsorted(first.distance_m / first.distance_m[-1], places / length)
    nearest = np.clip(nearest, 0, first.distance_m.size - 1)
    stops = np.zeros_like(places)
    standing = first.stop_s > 0
    at = np.rint(first.distance_m[standing] / first.distance_m[-1] * length / SPACING_M)
    stops[np.clip(at.astype(np.int64), 0, places.size - 1)] = first.stop_s[standing]
    return Profile(places, np.median(level, axis=0), first.limit_mps[nearest], stops, AS_GIVEN)


def _is_noisy(profile: Profile) -> bool:
    """Whether neighbouring points differ by more than a road can: false grades."""
    distance, altitude = profile.distance_m, profile.altitude_m
    if distance.size < 5:
        return False
    span = distance[2:] - distance[:-2]
    close = span < 2 * NOISE_SPACING_M
    if close.sum() < 5:
        return False
    share = (distance[1:-1] - distance[:-2]) / span
    between = altitude[:-2] + share * (altitude[2:] - altitude[:-2])
    off = np.abs(altitude[1:-1] - between)[close]
    return bool(np.mean(off / (span[close] / 2)) > NOISY_GRADE)


def _smooth(profile: Profile) -> Profile:
    """Both rounds of the regulation's procedure, on an even grid."""
    length = profile.distance_m[-1]
    count = max(round(length / SPACING_M), 2)
    places = np.linspace(0.0, length, count + 1)
    spacing = places[1] - places[0]
    altitude = _by_cells(profile, places, spacing)
    reach = min(round(WINDOW_M / spacing), count // 2)
    for _ in range(2):
        low = np.maximum(np.arange(count + 1) - reach, 0)
        high = np.minimum(np.arange(count + 1) + reach, count)
        grade = (altitude[high] - altitude[low]) / ((high - low) * spacing)
        rise = (grade[1:] + grade[:-1]) / 2 * spacing
        rebuilt = np.concatenate([[0.0], np.cumsum(rise)])
        altitude = rebuilt - rebuilt.mean() + altitude.mean()
    nearest = np.clip(
        np.searchsorted(profile.distance_m, places, side="right") - 1,
        0,
        profile.distance_m.size - 1,
    )
    stops = np.zeros_like(places)
    standing = profile.stop_s > 0
    at = np.rint(profile.distance_m[standing] / spacing).astype(np.int64)
    stops[np.clip(at, 0, count)] = profile.stop_s[standing]
    return Profile(places, altitude, profile.limit_mps[nearest], stops, AS_GIVEN)


def _by_cells(profile: Profile, places: Array, spacing: float) -> Array:
    """Mean altitude near each place; straight between neighbours where none was recorded."""
    cell = np.rint(profile.distance_m / spacing).astype(np.int64)
    cell = np.clip(cell, 0, places.size - 1)
    count = np.bincount(cell, minlength=places.size)
    total = np.bincount(cell, weights=profile.altitude_m, minlength=places.size)
    known = count > 0
    return np.interp(places, places[known], total[known] / count[known])
