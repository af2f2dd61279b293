"""The rise of a road step from every pass of the same place, whichever way it was driven.

One receiver's altitude wanders; grades of several passes over the same place, averaged, wander
less. A step whose place was driven once keeps its own rise. The fuel comparison's squares
(`fuel/road.py`) would be too coarse here, where a single step's grade stands against its load.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.mountain.powered_steps import followed
from gearing.trips.geodesy import local_plane_m

if TYPE_CHECKING:
    from gearing.statistics.arrays import Array

NEAR_M = 80.0
NEIGHBORS = 16
MIN_ALONG = 0.85  # cosine between two courses of the same road, either way
STEEPEST = 0.25

_NEEDED = ("latitude_deg", "longitude_deg", "course_deg", "altitude_m", "distance_m", "trip")


def with_pooled_rise(steps: pl.DataFrame) -> pl.DataFrame:
    """The steps with `pooled_rise_m`, null where position, course or altitude is missing."""
    numbered = steps.with_row_index("row")
    known = followed(numbered).drop_nulls([*_NEEDED, "end_altitude_m"])
    known = known.filter(pl.col("distance_m") > 0)
    if known.height < 2:
        return steps
    grade = (known["end_altitude_m"] - known["altitude_m"]) / known["distance_m"]
    pooled = _pooled(known, np.clip(grade.to_numpy().astype(np.float64), -STEEPEST, STEEPEST))
    rise = known.select("row", pooled_rise_m=pl.Series(pooled) * pl.col("distance_m"))
    return numbered.join(rise, on="row", how="left", maintain_order="left").drop("row")


def _pooled(known: pl.DataFrame, grade: Array) -> Array:
    """Mean grade [-] of the nearest steps of all passes, turned to the way each is driven, (n,)."""
    from scipy.spatial import cKDTree

    latitude = known["latitude_deg"].to_numpy().astype(np.float64)
    longitude = known["longitude_deg"].to_numpy().astype(np.float64)
    places = local_plane_m(latitude, longitude, (float(latitude.mean()), float(longitude[0])))
    count = min(NEIGHBORS, known.height)
    apart, near = cKDTree(places).query(places, k=count, distance_upper_bound=NEAR_M)
    found = np.isfinite(apart)
    near = np.where(found, near, 0)
    course = np.radians(known["course_deg"].to_numpy().astype(np.float64))
    along = np.cos(course[near] - course[:, None])
    itself = near == np.arange(known.height)[:, None]
    others = found & ~itself & (np.abs(along) >= MIN_ALONG)
    signed = np.where(others, grade[near] * np.sign(along), 0.0)
    mean: Array = (grade + signed.sum(axis=1)) / (1 + others.sum(axis=1))
    return mean
