"""The route's altitude against distance: several passes averaged, false grades taken out, and how
far it may drift about the road's."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.mountain.drift import DRIFT_M, DRIFT_OVER_M
from gearing.analysis.mountain.heights import (
    NOISE_SPACING_M,
    drawn_across,
    mended,
    missing_stretches,
)
from gearing.messages import Items, Message, MessageError, Quantity, message
from gearing.trips.grade import REACH_M, smooth_altitude

if TYPE_CHECKING:
    from collections.abc import Sequence

    import polars as pl

    from gearing.statistics.arrays import Array

AS_GIVEN = message("handling/given")
SPACING_M = 10.0
# Above this the noise of neighbouring points makes false grades that matter on a climb.
NOISY_GRADE = 0.007
MAX_NOISY_M = 250.0  # points further apart are drawn, each height meant
MIN_POINTS, USUAL = 30, 0.95
ALTERNATES = 0.65  # of noise 0.77 of neighbors have other signs, of a smooth road under half
SAME_LENGTH = 0.05  # share by which two passes of one road may differ in length
# standard error of a median of 2, 3, 4, 5 normal values over that of their mean; it rises to the
# last, which of 6 to 10 is 3 to 11 % too much (a test draws them)
MEDIAN_ERROR = (1.0, 1.160, 1.092, 1.198, 1.2533)


@dataclass(frozen=True, slots=True)
class Profile:
    """Altitude against distance along the road, with what the file says of limits and stops.

    Arrays of shape (n,): `limit_mps` is nan where none is given, `stop_s` zero. `missing` are
    the stretches without points, from and to [m] as the file counts; `widest_m` is the longest
    way between two points of the file. `mended` heights that no road has are drawn straight
    between their neighbors, `crossings` of them under a bridge or over a tunnel. `drift_m` is by
    how much the altitude may wander about the road's (standard deviation), 0 where it is drawn
    and not `recorded`.
    """

    distance_m: Array
    altitude_m: Array
    limit_mps: Array
    stop_s: Array
    handling: Message
    smoothed: bool = False
    missing: tuple[tuple[float, float], ...] = ()
    widest_m: float = 0.0
    mended: int = 0
    crossings: int = 0
    recorded: bool = False
    drift_m: float = 0.0


def read_passes(passes: Sequence[pl.DataFrame]) -> Profile:
    """One profile from one or several recorded passes of the same road.

    Each frame has `distance_m` and `altitude_m`, and may have `speed_limit_mps` and `stop_s`.
    Several passes are laid over each other by their share of the way, each shifted to the
    common height, and the median is taken. A pass with a hole in it is left out, and one of
    another length; where every pass has a hole the first is given as it is, with its `missing`
    stretches, and alone too where no two are of a length.

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
    whole = _of_one_length(whole)
    if len(whole) == 1:
        profile, steps = whole[0], [AS_GIVEN]
    else:
        profile, steps = _average(whole), [message("handling/median", passes=len(whole))]
    noisy = _is_noisy(profile)
    if noisy:
        altitude, _ = smooth_altitude(profile.distance_m, profile.altitude_m)
        profile = replace(profile, altitude_m=altitude)
        steps.append(message("handling/smoothed", reach=Quantity(REACH_M, "m")))
    mended, crossings = (sum(getattr(p, key) for p in whole) for key in ("mended", "crossings"))
    if mended:
        steps.append(message("handling/mended", heights=mended))
    if crossings:
        steps.append(message("handling/crossings", places=crossings))
    drift = _drift_m(whole, noisy=noisy)
    if drift:
        steps.append(message("handling/drift", by=Quantity(drift, "m", 1)))
    return replace(
        profile,
        handling=message("handling", steps=Items(tuple(steps), ",")),
        smoothed=noisy,
        widest_m=whole[0].widest_m,
        mended=mended,
        crossings=crossings,
        drift_m=drift,
    )


def _drift_m(passes: Sequence[Profile], *, noisy: bool) -> float:
    """By how much the profile of these passes may wander about the road's altitude [m].

    Of several passes what their rises over 500 m differ by, of one recording what is usual.
    """
    if len(passes) == 1:
        return DRIFT_M if noisy or passes[0].recorded else 0.0
    heights = _on_common_grid(passes)
    count, lag = heights.shape[1], round(DRIFT_OVER_M / SPACING_M)
    of_median = MEDIAN_ERROR[min(count, 6) - 2] / float(np.sqrt(count))
    if heights.shape[0] <= lag:
        return DRIFT_M * of_median
    off = heights - heights.mean(axis=1, keepdims=True)
    differs = float(np.mean((off[lag:] - off[:-lag]) ** 2)) * count / (count - 1)
    # rises over the way in which a drift is forgotten differ by 1.12 times the drift
    return float(np.sqrt(differs / (2 * (1 - np.exp(-1.0))))) * of_median


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
    altitude, false = mended(distance, altitude)
    altitude, crossed, crossings = drawn_across(distance, altitude)
    stops = column("stop_s", 0.0)
    return Profile(
        distance_m=distance - distance[0],
        altitude_m=altitude,
        limit_mps=column("speed_limit_mps", np.nan),
        stop_s=stops,
        handling=AS_GIVEN,
        missing=missing_stretches(distance),
        widest_m=float(np.diff(distance).max()),
        mended=false + crossed,
        crossings=crossings,
        recorded="latitude_deg" in names,
    )


def _of_one_length(passes: list[Profile]) -> list[Profile]:
    """Passes of about the median length; the first where no two are."""
    length = _length_m(passes)
    alike = [one for one in passes if abs(one.distance_m[-1] / length - 1) < SAME_LENGTH]
    return alike if len(alike) > 1 else passes[:1]


def _length_m(passes: Sequence[Profile]) -> float:
    return float(np.median([one.distance_m[-1] for one in passes]))


def _on_common_grid(passes: Sequence[Profile]) -> Array:
    """Altitude of each pass [m] at even places by its share of the way, all at the median level,
    shape (places, passes)."""
    length = _length_m(passes)
    places = np.arange(0.0, length + SPACING_M / 2, SPACING_M) / length
    heights = np.stack(
        [np.interp(places, p.distance_m / p.distance_m[-1], p.altitude_m) for p in passes], axis=1
    )
    mean = heights.mean(axis=0)
    level: Array = heights - mean + np.median(mean)
    return level


def _average(passes: Sequence[Profile]) -> Profile:
    """The median altitude of passes, on the first one's road at the median length."""
    length, level, first = _length_m(passes), _on_common_grid(passes), passes[0]
    places: Array = SPACING_M * np.arange(level.shape[0], dtype=np.float64)
    nearest = np.searchsorted(first.distance_m / first.distance_m[-1], places / length)
    nearest = np.clip(nearest, 0, first.distance_m.size - 1)
    stops = np.zeros_like(places)
    standing = first.stop_s > 0
    at = np.rint(first.distance_m[standing] / first.distance_m[-1] * length / SPACING_M)
    stops[np.clip(at.astype(np.int64), 0, places.size - 1)] = first.stop_s[standing]
    height = np.median(level, axis=1)
    return Profile(places, height, first.limit_mps[nearest], stops, AS_GIVEN)


def _is_noisy(profile: Profile) -> bool:
    """Whether neighbouring points differ by more than a road can: false grades."""
    distance, altitude = profile.distance_m, profile.altitude_m
    if distance.size < 5:
        return False
    span = distance[2:] - distance[:-2]
    share = (distance[1:-1] - distance[:-2]) / span
    off = altitude[1:-1] - altitude[:-2] - share * (altitude[2:] - altitude[:-2])
    false = off / (span / 2)
    close, near = span < 2 * NOISE_SPACING_M, span < 2 * MAX_NOISY_M
    if close.sum() >= 5 and np.mean(np.abs(false[close])) > NOISY_GRADE:
        return True
    # a road of points further apart may bend so, but not up and down in turn as noise and heights
    # in steps (whole meters, tens of feet) do: their third differences are root 20 of their
    # deviation and correlate by -3/4, second ones root 6
    third = np.diff(false)[near[1:] & near[:-1]]
    if third.size < MIN_POINTS:
        return False
    size = np.abs(third)
    usual = size[size <= np.quantile(size, USUAL)]  # a slip in one row is told, not smoothed
    if usual.mean() <= NOISY_GRADE / 2 * np.sqrt(20 / 6):
        return False
    turns = third[1:] * third[:-1]
    return bool(np.mean(turns[turns != 0] < 0) > ALTERNATES)
