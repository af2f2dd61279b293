"""Which grades and speeds the owner's own roads ask, and what each gear holds there.

From drives that a receiver logged, with altitude, no bus and no named route needed. A grade is
taken over about a kilometer: the altitude of a receiver is off by meters, which over a hundred
would make grades of their own. What a gear holds is by the model of the routes, at the speed
driven there, steadily and in still air.
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.mountain.draws import Draws, holding
from gearing.analysis.mountain.holds import over_draws
from gearing.analysis.mountain.powered_steps import followed
from gearing.analysis.mountain.result import AskedGear, AskedGrade, GearShare, RoadsAsked
from gearing.statistics.estimate import Estimate

if TYPE_CHECKING:
    from collections.abc import Callable

    from gearing.statistics.arrays import Array

WINDOW_STEPS = 11  # of about 100 m
HILLY_PERCENT = 2.0  # from here on, up or down, a road asks a gear
EDGES_PERCENT = (-np.inf, -7.0, -5.0, -3.0, -2.0, 2.0, 3.0, 5.0, 7.0, np.inf)
SLOWEST_MPS = 8.0
SPEED_BAND_MPS = 5 / 3.6
GRADE_BAND_PERCENT = 0.5
MIN_KM = 20.0


def roads_asked(steps: pl.DataFrame, sides: pl.DataFrame, draws: Draws) -> RoadsAsked | None:
    """What the drives asked, at their mean altitude; None where there are no altitudes, or under
    `MIN_KM`. `sides` has `trip` and `side` of the trips to use."""
    asked = _asked(followed(steps).filter(pl.col("trip").is_in(sides["trip"].implode())))
    km = float(asked["km"].sum())
    if km < MIN_KM:
        return None
    altitude = float((asked["altitude_m"] * asked["km"]).sum()) / km
    up = _bands(asked.filter(pl.col("percent") >= HILLY_PERCENT))
    down = _bands(asked.filter(pl.col("percent") <= -HILLY_PERCENT))
    return RoadsAsked(
        km=km,
        altitude_m=altitude,
        up_km=float(up["km"].sum()),
        down_km=float(down["km"].sum()),
        grades=_grades(asked),
        gears=_gears(draws, altitude, up, down),
    )


def _asked(steps: pl.DataFrame) -> pl.DataFrame:
    """Each step's `km`, `speed_mps`, and grade over the kilometer around it as `percent`."""
    moved = pl.col("duration_s") - pl.col("stopped_s").fill_null(0.0)
    around = {
        name: pl.col(name).cast(pl.Float64).rolling_sum(WINDOW_STEPS, center=True).over("trip")
        for name in ("rise_m", "distance_m")
    }
    return (
        steps.filter(pl.col("rise_m").is_not_null(), pl.col("distance_m") > 0, moved > 0)
        .with_columns(
            percent=100 * around["rise_m"] / around["distance_m"],
            speed_mps=pl.col("distance_m") / moved,
        )
        .filter(pl.col("percent").is_finite(), pl.col("speed_mps") >= SLOWEST_MPS)
        .select(
            "altitude_m", "percent", "speed_mps", km=pl.col("distance_m").cast(pl.Float64) / 1000
        )
        .drop_nulls()
    )


def _grades(asked: pl.DataFrame) -> tuple[AskedGrade, ...]:
    """Distance by grade, with the speed that half of it is driven faster than."""
    rows = []
    for low, high in itertools.pairwise(EDGES_PERCENT):
        part = asked.filter(pl.col("percent") >= low, pl.col("percent") < high).sort("speed_mps")
        if part.is_empty():
            continue
        along = part["km"].cum_sum()
        middle = min(int(along.search_sorted(float(along[-1]) / 2)), part.height - 1)
        rows.append(
            AskedGrade(
                low_percent=None if np.isinf(low) else low,
                high_percent=None if np.isinf(high) else high,
                km=float(along[-1]),
                speed_kmh=float(part["speed_mps"][middle]) * 3.6,
            )
        )
    return tuple(rows)


def _bands(asked: pl.DataFrame) -> pl.DataFrame:
    """Distance `km` by bands of steepness `grade` [-] and of `speed_mps`."""
    steep = (pl.col("percent").abs() / GRADE_BAND_PERCENT).round() * GRADE_BAND_PERCENT / 100
    speed = (pl.col("speed_mps") / SPEED_BAND_MPS).round() * SPEED_BAND_MPS
    bands = asked.group_by(grade=steep, speed_mps=speed, maintain_order=True).agg(
        pl.col("km").sum()
    )
    return bands.sort("speed_mps", "grade")


def _gears(
    draws: Draws, altitude_m: float, up: pl.DataFrame, down: pl.DataFrame
) -> tuple[AskedGear, ...]:
    """The share of the way each gear is the highest for that holds, none of them last."""
    count = len(draws.inputs.powertrain.gear_ratios)
    shares: dict[str, tuple[GearShare, ...]] = {}
    for side in draws.sides:
        held = holding(draws, side, altitude_m)
        climbing = _highest(up, held.grade_held, count)
        falling = _highest(down, held.downgrade_held, count)
        pairs = zip(climbing, falling, strict=True)
        shares[side] = tuple(GearShare(up_percent=u, down_percent=d) for u, d in pairs)
    return tuple(
        AskedGear(
            gear=count - place if place < count else None,
            before=shares["before"][place] if "before" in shares else None,
            after=shares["after"][place] if "after" in shares else None,
        )
        for place in range(count + 1)
    )


def _highest(
    bands: pl.DataFrame, holds: Callable[[float, int], Array], gears: int
) -> list[Estimate | None]:
    """By gear from the highest down, and last for none: the share [%] of the bands' way."""
    if bands.is_empty():
        return [None] * (gears + 1)
    parts = []  # by speed: way by gear and draw
    for speed, rows in bands.group_by("speed_mps", maintain_order=True):
        asked, km = rows["grade"].to_numpy()[:, None], rows["km"].to_numpy()
        limits = [np.nan_to_num(holds(float(speed[0]), gear), nan=-np.inf) for gear in range(gears)]
        kept = np.array([asked <= limit[None, :] for limit in reversed(limits)])
        highest = kept & (np.cumsum(kept, axis=0) == 1)
        first = np.concatenate([highest, ~kept.any(axis=0, keepdims=True)])
        parts.append(np.einsum("b,gbd->gd", km, first.astype(np.float64)))
    shares = 100 * np.sum(parts, axis=0) / float(bands["km"].sum())
    return [over_draws(share, len(share) - 1) for share in shares]
