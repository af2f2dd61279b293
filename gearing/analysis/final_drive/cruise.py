"""Engine speed at each road speed: what the highest gear gives, and what was driven."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from gearing.analysis.final_drive.gears import GearRow
from gearing.analysis.sides import BySide
from gearing.units import MILE_M

NEAR_KMH = 2.5
MIN_S = 60.0


@dataclass(frozen=True, slots=True)
class Cruise:
    """`top_gear_rpm` by the figures; `driven_rpm` the mean of what was driven within 2.5 km/h,
    in whatever gear, and `time_share` how much of the driving that was."""

    top_gear_rpm: float | None
    driven_rpm: float | None
    time_share: float


@dataclass(frozen=True, slots=True)
class CruiseRow:
    true_kmh: float
    before: Cruise
    after: Cruise


def cruise_rows(
    units: str, gears: tuple[GearRow, ...], driven: BySide[pl.DataFrame]
) -> tuple[CruiseRow, ...]:
    """Every 5 mph from 30 to 75, or every 10 km/h from 50 to 120, of true speed."""
    if units == "us":
        speeds = [5 * i * MILE_M / 1000 for i in range(6, 16)]
    else:
        speeds = [10.0 * i for i in range(5, 13)]
    return tuple(
        CruiseRow(v, _at(v, gears, "before", driven.before), _at(v, gears, "after", driven.after))
        for v in speeds
    )


def _at(kmh: float, gears: tuple[GearRow, ...], side: str, driven: pl.DataFrame) -> Cruise:
    top = max(gears, key=lambda row: row.gear, default=None)
    use = None if top is None else (top.before if side == "before" else top.after)
    turns = None if use is None else use.rev_per_km
    near = driven.filter((pl.col("kmh") - kmh).abs() <= NEAR_KMH)
    seconds, total = float(near["seconds"].sum()), float(driven["seconds"].sum())
    told = near.filter(pl.col("turns").is_not_null())
    told_s = float(told["seconds"].sum())
    return Cruise(
        None if turns is None else turns * kmh / 60,
        float(told["turns"].sum()) / told_s if told_s >= MIN_S else None,
        seconds / total if total else 0.0,
    )
