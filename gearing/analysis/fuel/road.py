"""The same road recognised from position and direction alone, and its grade from all passes.

There is no map: the earth is laid out in squares, and a stretch of road is what is driven in
one square in one of four directions. Two passes of a road fill the same squares; at the edges
a step more or less falls on either side, which averages out over a trip.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from gearing.statistics.arrays import distinct

if TYPE_CHECKING:
    from gearing.statistics.arrays import Array, Index

CELL_M = 1000.0
GRADE_CELL_M = 150.0
METERS_PER_DEGREE = 111_200.0
GRADE_REACH_STEPS = 2  # grade over this many steps to either side
STEEPEST = 0.2
NOWHERE = -(2**62)


def cell_codes(latitude: Array, longitude: Array, course: Array) -> Index:
    """A code of the stretch of road, in its direction, that each step lies on.

    Positions and courses in degrees, NaN where unknown, and then the code is `NOWHERE`. The
    squares lie on the earth and not on what was driven: no further log moves them.
    """
    return _codes(latitude, longitude, (course + 45.0) % 360.0 // 90.0, CELL_M)


def place_codes(latitude: Array, longitude: Array, course: Array) -> tuple[Index, Array]:
    """A code of the place whichever way it is passed, and 1 or -1 for the way."""
    code = _codes(latitude, longitude, (course + 22.5) % 180.0 // 45.0, GRADE_CELL_M)
    return code, np.where((course + 22.5) % 360.0 < 180.0, 1.0, -1.0)


def _codes(latitude: Array, longitude: Array, course: Array, size_m: float) -> Index:
    known = np.isfinite(latitude) & np.isfinite(longitude) & np.isfinite(course)
    # squares are square in the middle of each degree of latitude
    shrink = np.cos(np.radians(np.floor(np.where(known, latitude, 0.0)) + 0.5))
    row, column, way = (
        np.floor(np.where(known, x, 0.0)).astype(np.int64)
        for x in (
            latitude * METERS_PER_DEGREE / size_m,
            longitude * (METERS_PER_DEGREE * shrink) / size_m,
            course,
        )
    )
    # 2^22 squares of 150 m reach around the earth, and a course takes three bits
    return np.where(known, (row * 2**22 + column) * 8 + way, NOWHERE)


def numbered(codes: Index) -> Index:
    """One number for each distinct code, -1 where the place is unknown."""
    unique, number = distinct(codes)
    lost = len(unique) > 0 and unique[0] == NOWHERE
    return np.asarray(number - 1 if lost else number, dtype=np.int64)


def own_grade(trip: Index, distance_m: Array, rise_m: Array) -> Array:
    """Grade of each step over a few steps of its trip to either side.

    A receiver's altitude is off by meters that drift along the trip, several percent of grade
    over 100 m. Where no rise is known (NaN) within reach, neither is the grade.
    """
    new = np.flatnonzero(np.concatenate([[True], trip[1:] != trip[:-1]]))
    count = np.diff(np.append(new, len(trip)))
    at = np.arange(len(trip))
    first = np.maximum(at - GRADE_REACH_STEPS, np.repeat(new, count))
    last = np.minimum(at + GRADE_REACH_STEPS, np.repeat(new + count - 1, count)) + 1

    def across(values: Array) -> Array:
        total = np.concatenate([[0.0], np.cumsum(values)])
        return np.asarray(total[last] - total[first])

    known = np.isfinite(rise_m)
    with np.errstate(invalid="ignore", divide="ignore"):
        grade = across(np.where(known, rise_m, 0.0)) / across(np.where(known, distance_m, 0.0))
    return np.clip(np.where(np.isfinite(grade), grade, np.nan), -STEEPEST, STEEPEST)


def pooled_grade(grade: Array, sign: Array, codes: Index) -> Array:
    """Grade of each step, the mean over all passes of its place, either way; level where no pass
    knows it (`grade` NaN).

    Driven the other way (`sign` -1) the same road rises where it fell.
    """
    place = numbered(codes)
    known = (place >= 0) & np.isfinite(grade)
    if not known.any():
        return np.nan_to_num(grade)
    places = int(place.max()) + 1
    total = np.bincount(place[known], (grade * sign)[known], places)
    count = np.bincount(place[known], minlength=places)
    mean = sign * (total / np.maximum(count, 1))[np.maximum(place, 0)]
    return np.nan_to_num(np.where(place >= 0, mean, grade))
