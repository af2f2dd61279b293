"""What the drives logged by a receiver say of how the periods were driven: road and speed.

Without fuel in the logs no day can be compared, but the road's work can: what rolling, air, grade
and inertia asked of the wheels a metre, by the same physics, at the same temperature and in still
air. How it differs between the periods is what the tanks hold of roads and speeds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.fuel.physics import slopes
from gearing.analysis.fuel.ranges import ranges_of
from gearing.analysis.fuel.rows import make_rows
from gearing.analysis.fuel.steps import marked
from gearing.analysis.sides import SIDES, BySide, by_side

if TYPE_CHECKING:
    from gearing.analysis.fuel.fillups import Tanks
    from gearing.analysis.fuel.rows import Rows
    from gearing.study.model import Study

# what moves the work of one road and speed against another's; wind and warmth are no driving
_MOVES = (
    "rolling", "drag_area", "mass", "overhead", "overhead_with_revolutions", "bend",
    "bend_both_ends", "slow_running", "rolling_speed",
)  # fmt: skip
MIN_TRIPS = 4
MIN_SHARE = 0.2  # of the tanks' distance, less tells nothing of them


@dataclass(frozen=True, slots=True)
class Driving:
    """`log`: of the work asked a metre, after over before, with its standard `error`; `share` of
    the tanks' distance that was logged."""

    log: float
    error: float
    share: float


def driving_difference(study: Study, joined: pl.DataFrame, tanks: Tanks) -> Driving | None:
    """None where too little is logged to speak for the tanks. `joined`: steps of the trips in
    use, without fuel."""
    own = joined.filter(pl.any_horizontal(*_inside(tanks))) if len(tanks.start) else joined.clear()
    trips = by_side(lambda side: own.filter(pl.col("side") == side)["trip"].n_unique())
    if min(trips.before, trips.after) < MIN_TRIPS:
        return None
    share = _share(own, tanks)
    if min(share.before, share.after) < MIN_SHARE:
        return None
    moving = pl.lit(1.0)  # any fuel: what matters is that the step counts
    made = make_rows(study, marked(own.with_columns(fuel_l=moving, fuel_stopped_l=0.0)), None)
    if made is None:
        return None
    rows = _alike(made[0])
    ranges = ranges_of(study, days=(trips.before, trips.after))
    late = (rows.after > 0).astype(np.int64)
    theta = np.zeros(len(ranges.each))
    work, columns = slopes(rows, ranges, theta, late, 2, names=_MOVES)
    way = np.bincount(late, weights=rows.distance_m, minlength=2)
    if not way.all():
        return None
    moved = columns / work[:, None]
    deviations = {one.name: one.deviation for one in ranges.each}
    spread = np.array([deviations[name] for name in _MOVES])
    return Driving(
        math.log(work[1] / way[1]) - math.log(work[0] / way[0]),
        math.sqrt(float(np.sum(((moved[1] - moved[0]) * spread) ** 2))),
        min(share.before, share.after, key=float),
    )


def _inside(tanks: Tanks) -> list[pl.Expr]:
    return [
        pl.col("start_s").is_between(start.timestamp(), end.timestamp())
        for start, end, sound in zip(tanks.start, tanks.end, tanks.sound, strict=True)
        if sound
    ] or [pl.lit(False)]


def _share(own: pl.DataFrame, tanks: Tanks) -> BySide[float]:
    def of(side: str) -> float:
        kept = (tanks.after == float(side == "after")) & (tanks.sound > 0)
        logged = own.filter(pl.col("side") == side)["distance_m"].sum()
        total = float(tanks.distance_m[kept].sum())
        return min(float(logged) / total, 1.0) if total else 0.0

    return BySide(*(of(side) for side in SIDES))


def _alike(rows: Rows) -> Rows:
    """The same steps in the same still air."""
    count = rows.count
    calm = np.zeros(count)
    return replace(
        rows,
        temperature_c=np.full(count, float(np.median(rows.temperature_c))),
        density=np.full(count, float(np.median(rows.density))),
        unlogged=calm,
        season=calm,
        head_mps=calm,
        cross_mps=calm,
    )
