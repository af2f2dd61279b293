"""The same road recognised from position and direction alone, and its grade from all passes.

There is no map: the earth is laid out in squares, and a stretch of road is what is driven in
one square in one of four directions. Two passes of a road fill the same squares; at the edges
a step more or less falls on either side, which averages out over a trip.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.statistics.arrays import Array

CELL_M = 1000.0
GRADE_CELL_M = 150.0
METERS_PER_DEGREE = 111_200.0
GRADE_REACH_STEPS = 2  # grade over this many steps to either side
STEEPEST = 0.2
NOWHERE = -(2**62)


def _squares(joined: pl.DataFrame, size_m: float) -> pl.DataFrame:
    """Square of each step's middle, as whole numbers; null without a position."""
    latitude = (pl.col("latitude_deg") + pl.col("end_latitude_deg")) / 2
    longitude = (pl.col("longitude_deg") + pl.col("end_longitude_deg")) / 2
    middle = joined["latitude_deg"].median()
    shrink = float(np.cos(np.radians(middle if isinstance(middle, float) else 0.0)))
    return joined.select(
        row=(latitude * METERS_PER_DEGREE / size_m).floor().cast(pl.Int64),
        column=(longitude * (METERS_PER_DEGREE * shrink) / size_m).floor().cast(pl.Int64),
        course=pl.col("course_deg").cast(pl.Float64),
    )


def _numbered(keys: pl.DataFrame) -> NDArray[np.int64]:
    """One number for each distinct place (row, column, course), -1 where any is null."""
    # 2^22 squares of 150 m reach around the earth, and a course takes three bits
    place = (pl.col("row") * 2**22 + pl.col("column")) * 8 + pl.col("course")
    code = keys.select(place).to_series()
    unique, number = np.unique(code.fill_null(NOWHERE).to_numpy(), return_inverse=True)
    lost = len(unique) > 0 and unique[0] == NOWHERE
    return np.asarray(number - 1 if lost else number, dtype=np.int64)


def cell_numbers(joined: pl.DataFrame) -> NDArray[np.int64]:
    """Which stretch of road, in which direction, each step lies on."""
    quarter = ((pl.col("course") + 45.0) % 360.0 // 90.0).cast(pl.Int64)
    return _numbered(_squares(joined, CELL_M).with_columns(course=quarter))


def pooled_grade(joined: pl.DataFrame, altitude_m: Array, end_altitude_m: Array) -> Array:
    """Grade of each step, the mean over all passes of that place, either way.

    A receiver's altitude is off by meters that drift along the trip, several percent of grade
    over 100 m: the rise is taken over a few steps to either side, then averaged over passes.
    """
    trip = joined["trip"].to_numpy()
    way = _across(joined["distance_m"].to_numpy(), trip)
    with np.errstate(invalid="ignore", divide="ignore"):
        grade = _across(end_altitude_m - altitude_m, trip) / way
    grade = np.clip(np.nan_to_num(grade, posinf=0.0, neginf=0.0), -STEEPEST, STEEPEST)
    # driven the other way the same road rises where it fell
    folded = _squares(joined, GRADE_CELL_M).with_columns(
        course=((pl.col("course") + 22.5) % 180.0 // 45.0).cast(pl.Int64),
        sign=pl.when((pl.col("course") + 22.5) % 360.0 < 180.0).then(1.0).otherwise(-1.0),
    )
    sign = folded["sign"].fill_null(1.0).to_numpy()
    place = _numbered(folded.drop("sign"))
    known = place >= 0
    if not known.any():
        return grade
    total = np.bincount(place[known], weights=(grade * sign)[known])
    count = np.bincount(place[known])
    return np.where(known, sign * (total / np.maximum(count, 1))[np.maximum(place, 0)], grade)


def _across(values: Array, trip: NDArray[Any]) -> Array:
    """Sum over the steps of a trip from `GRADE_REACH_STEPS` before each to as many after."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    new = np.flatnonzero(np.concatenate([[True], trip[1:] != trip[:-1]]))
    count = np.diff(np.append(new, len(trip)))
    first, last = np.repeat(new, count), np.repeat(new + count - 1, count)
    at = np.arange(len(trip))
    return np.asarray(
        total[np.minimum(at + GRADE_REACH_STEPS, last) + 1]
        - total[np.maximum(at - GRADE_REACH_STEPS, first)]
    )
