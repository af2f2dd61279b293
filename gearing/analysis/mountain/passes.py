"""Other passes of a route in the logs: the same road found by place, for its altitude.

One recording's altitude wanders by metres; the median of many passes does not.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.mountain.heights import MAX_HOLE_M
from gearing.analysis.mountain.profile import SPACING_M
from gearing.trips.geodesy import local_plane_m

if TYPE_CHECKING:
    from gearing.statistics.arrays import Array

NEAR_M = 60.0
MIN_COVERAGE = 0.97
MAX_PASSES = 40


def with_other_passes(profile: pl.DataFrame, steps: pl.DataFrame) -> list[pl.DataFrame]:
    """The profile and every pass of the logs that covers nearly all of it, either way.

    Without positions on either side the profile stands alone.
    """
    needed = {"latitude_deg", "longitude_deg", "altitude_m"}
    if not needed <= set(profile.columns):
        return [profile]
    known = profile.drop_nulls(["distance_m", *needed])
    if known.height < 10:
        return [profile]
    # the whole profile's, whatever part of it has positions: a pass of less would shorten the road
    along = profile.drop_nulls(["distance_m", "altitude_m"])["distance_m"].to_numpy()
    grid = np.arange(along[0], along[-1] + SPACING_M / 2, SPACING_M)
    return [profile, *_passes(known, steps.drop_nulls([*needed]), grid)]


def _passes(profile: pl.DataFrame, steps: pl.DataFrame, grid: Array) -> list[pl.DataFrame]:
    from scipy.spatial import cKDTree

    origin = float(profile["latitude_deg"].to_numpy().mean()), float(profile["longitude_deg"][0])

    def flat(frame: pl.DataFrame) -> Array:
        north, east = frame["latitude_deg"].to_numpy(), frame["longitude_deg"].to_numpy()
        return local_plane_m(north, east, origin)

    distance = profile["distance_m"].to_numpy().astype(np.float64)
    apart, place = cKDTree(flat(profile)).query(flat(steps), distance_upper_bound=NEAR_M)
    near = np.isfinite(apart)
    if not near.any():
        return []
    found = steps.filter(pl.Series(near)).select("trip", "altitude_m")
    found = found.with_columns(distance_m=pl.Series(distance[place[near]]))
    passes = []
    for trip in found.partition_by("trip", maintain_order=True):
        one = _on_grid(trip, grid)
        if one is not None:
            passes.append(one)
    if len(passes) > MAX_PASSES:
        kept = np.linspace(0, len(passes) - 1, MAX_PASSES).round().astype(int)
        passes = [passes[i] for i in kept]
    return passes


def _on_grid(trip: pl.DataFrame, grid: Array) -> pl.DataFrame | None:
    """One pass at even places along the profile; None where it leaves much of it out."""
    by_place = (
        trip.group_by("distance_m", maintain_order=True)
        .agg(pl.col("altitude_m").mean())
        .sort("distance_m")
    )
    distance, altitude = by_place["distance_m"].to_numpy(), by_place["altitude_m"].to_numpy()
    length = grid[-1] - grid[0]
    if distance.size < 10 or distance[-1] - distance[0] < MIN_COVERAGE * length:
        return None
    if np.diff(distance).max() > MAX_HOLE_M:
        return None
    # ends that were not driven go on at the level last seen
    return pl.DataFrame({"distance_m": grid, "altitude_m": np.interp(grid, distance, altitude)})
