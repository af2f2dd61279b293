"""Altitudes of the logs beside one another: the same road has the same grades on every drive.

A recorder that writes feet under metres, a zero, or the last fix on and on gives one trip grades
of its own. The grades of all trips are taken as one road's, times a factor of each trip; trips
whose factor stands apart are compared without their altitude, by that of the others.
"""

from __future__ import annotations

import numpy as np
import polars as pl

from gearing.analysis.fuel.road import numbered, own_grade, place_codes
from gearing.messages import StudyWarning, message, names, warning
from gearing.statistics.arrays import Array, Index, distinct
from gearing.statistics.robust import weighted_median

MAX_APART = float(np.log(1.25))  # a factor further off, in logs, is no road's noise
LEVEL = 0.1  # of the largest factor, below which a trip's altitude stood still
MIN_STEPS, MIN_GRADE = 30, 0.01  # on shared road, and its root mean square: else nothing is told
FEW = 1 / 3  # of the shared road, up to which the odd ones are outvoted
ROUNDS = 8
POSITION = ("latitude_deg", "longitude_deg")
_NEEDED = ("altitude_m", "end_altitude_m", *POSITION, *(f"end_{name}" for name in POSITION),
           "course_deg", "distance_m")  # fmt: skip


def consistent_heights(steps: pl.DataFrame) -> tuple[pl.DataFrame, tuple[StudyWarning, ...]]:
    """The road steps, without the altitude of trips that no other drive of the same road bears
    out, and warnings that name them; without any altitude where the logs contradict one another
    and none are outvoted. Where a trip has none, `altitude_m` is that of other drives."""
    if steps.is_empty() or any(steps[name].null_count() == steps.height for name in _NEEDED):
        return steps, ()
    steps, told = _without_odd(steps)
    return _from_others(steps), told


def _without_odd(steps: pl.DataFrame) -> tuple[pl.DataFrame, tuple[StudyWarning, ...]]:
    trip, grade, place = _grades(steps)
    factor, shared = _factors(trip, grade, place)
    told = np.isfinite(factor)
    if np.count_nonzero(told) < 2:
        return steps, ()
    # a road that slopes on some drive is level on none, however many say so
    level = np.nan_to_num(factor, nan=np.inf) < LEVEL * factor[told].max()
    told &= ~level
    off = level.copy()
    usual = weighted_median(factor[told], shared[told])
    off[told] = np.abs(np.log(np.maximum(factor[told] / usual, 1e-6))) > MAX_APART
    if not off.any():
        return steps, ()
    every = steps["trip"].unique(maintain_order=True)
    odd = every.filter(pl.Series(off)).to_list()
    if shared[off & told].sum() > FEW * shared[told].sum():
        blind, told_as = pl.lit(True), warning(message("altitudes-apart/all"))
    else:
        blind = pl.col("trip").is_in(odd)
        told_as = warning(
            message("altitudes-apart", trips=names([str(one) for one in odd], "trip")),
            tuple(str(one) for one in odd),
        )
    without = [
        pl.when(~blind).then(pl.col(name)).alias(name) for name in ("altitude_m", "end_altitude_m")
    ]
    return steps.with_columns(without), (told_as,)


def _from_others(steps: pl.DataFrame) -> pl.DataFrame:
    """`altitude_m` by place where a step has none: good for the density of the air, and no rise."""
    if not steps["altitude_m"].null_count():
        return steps
    latitude, longitude, course, altitude = (
        steps[name].cast(pl.Float64).to_numpy() for name in (*POSITION, "course_deg", "altitude_m")
    )
    place = numbered(place_codes(latitude, longitude, course)[0])
    known = (place >= 0) & np.isfinite(altitude)
    places = int(place.max(initial=-1)) + 1
    count = np.bincount(place[known], minlength=places)
    with np.errstate(invalid="ignore"):
        mean = np.bincount(place[known], altitude[known], places) / count
    if not places:
        return steps
    filled = np.where(np.isfinite(altitude) | (place < 0), altitude, mean[place])
    column = pl.Series("altitude_m", filled, nan_to_null=True)
    return steps.with_columns(column.cast(steps.schema["altitude_m"]))


def _grades(steps: pl.DataFrame) -> tuple[Index, Array, Index]:
    """Of each step the number of its trip, its own grade in the direction that all passes of its
    place are told in, and the number of the place, -1 where that or the grade is unknown."""
    own = {name: steps[name].cast(pl.Float64).to_numpy() for name in _NEEDED}
    trip = steps["trip"].rle_id().cast(pl.Int64).to_numpy()
    rise = own["end_altitude_m"] - own["altitude_m"]
    grade = own_grade(trip, own["distance_m"], rise)
    codes, sign = place_codes(
        (own["latitude_deg"] + own["end_latitude_deg"]) / 2,
        (own["longitude_deg"] + own["end_longitude_deg"]) / 2,
        own["course_deg"],
    )
    place = np.where(np.isfinite(grade), numbered(codes), -1)
    return trip, np.nan_to_num(grade * sign), place


def _factors(trip: Index, grade: Array, place: Index) -> tuple[Array, Array]:
    """For each trip its grades over the road's, NaN where it shares too little sloping road, and
    its steps on road that another trip drove as well. Least squares in turns."""
    count = int(trip.max()) + 1
    known = np.flatnonzero(place >= 0)
    first = np.zeros(int(place.max(initial=-1)) + 1, np.int64)
    first[place[known][::-1]] = trip[known][::-1]
    others = np.bincount(place[known], trip[known] != first[place[known]], len(first)) > 0
    known = known[others[place[known]]]
    t, g = trip[known], grade[known]
    _, p = distinct(place[known])
    shared = np.bincount(t, minlength=count)
    factor = np.ones(count)
    road = np.zeros(len(known))
    for _ in range(ROUNDS):
        s = factor[t]
        road = (np.bincount(p, s * g) / np.maximum(np.bincount(p, s * s), 1e-12))[p]
        square = np.bincount(t, road**2, count)
        factor = np.bincount(t, road * g, count) / np.maximum(square, 1e-12)
        factor /= max(float(np.abs(factor[shared > 0]).mean()) if len(known) else 1.0, 1e-9)
    sloping = np.bincount(t, road**2, count) > shared * MIN_GRADE**2 / 4
    return np.where((shared >= MIN_STEPS) & sloping, factor, np.nan), shared.astype(np.float64)
