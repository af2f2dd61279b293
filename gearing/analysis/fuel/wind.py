"""Each day's wind beside that of a weather file, and rows with it added."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gearing.analysis.fuel.rows import Rows
    from gearing.statistics.arrays import Array


@dataclass(frozen=True, slots=True)
class DailyWind:
    """`vectors` (days, 2: from east, from north) to be added to each day's wind [m/s];
    `spread` (days,) the variance each way of what is still not known of it."""

    vectors: Array
    spread: Array


def with_wind(rows: Rows, wind: DailyWind) -> Rows:
    """Rows with each day's wind added, and what is not known of it."""
    east, north = wind.vectors[rows.day, 0], wind.vectors[rows.day, 1]
    return replace(
        rows,
        wind_spread=wind.spread[rows.day],
        head_mps=rows.head_mps + east * rows.east + north * rows.north,
        cross_mps=rows.cross_mps + east * rows.north - north * rows.east,
    )
