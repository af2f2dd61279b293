"""The frames behind the comparison, and the words on wind and on where the estimates part."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.fuel.weather import COVERED_LEAST
from gearing.messages import Items, Message, Quantity, Text, field_of, message
from gearing.statistics.arrays import sum_by
from gearing.statistics.comparison import percent

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.analysis.fuel.adjust import Adjusted
    from gearing.analysis.fuel.facts import Facts
    from gearing.analysis.fuel.model import ChangePercent
    from gearing.analysis.fuel.rows import Rows
    from gearing.statistics.arrays import Array, Index


def days_table(
    days: pl.DataFrame, rows: Rows | None, adjusted: Adjusted | None, matched: Array | None
) -> pl.DataFrame:
    """One row a day: what was driven and burnt, and `adjusted_percent`, `matched_percent`: the
    day's fuel against the mean of the before days, alike in all but the tires."""
    table = days.with_columns(liters_per_100km=pl.col("liters") / pl.col("true_m") * 1e5)
    if rows is None:
        return table.with_columns(
            pl.lit(None, pl.Float64).alias(name) for name in ("adjusted_percent", "matched_percent")
        )
    added = pl.DataFrame({
        "side": ["after" if day.after else "before" for day in rows.days],
        "local_day": [day.day for day in rows.days],
        "adjusted_percent": _against_before(rows, None if adjusted is None else adjusted.levels),
        "matched_percent": _against_before(rows, matched),
    }).with_columns(pl.col("adjusted_percent", "matched_percent").cast(pl.Float64))  # fmt: skip
    return table.join(added, on=["side", "local_day"], how="left", maintain_order="left")


def _against_before(rows: Rows, levels: Array | None) -> list[float | None]:
    if levels is None:
        return [None] * len(rows.days)
    before = ~rows.is_after & np.isfinite(levels)
    middle = float(levels[before].mean()) if before.any() else 0.0
    return [percent(float(x) - middle) if np.isfinite(x) else None for x in levels]


SEGMENTS = {
    "segment": pl.Int64, "side": pl.String, "passes": pl.Int64, "distance_m": pl.Float64,
    "liters": pl.Float64, "liters_per_100km": pl.Float64, "speed_kmh": pl.Float64,
    "temperature_c": pl.Float64, "grade_percent": pl.Float64, "course_deg": pl.Float64,
}  # fmt: skip


def segments_table(rows: Rows | None) -> pl.DataFrame:
    """One row for each stretch of road, direction and side that the comparison used."""
    if rows is None:
        return pl.DataFrame(schema=SEGMENTS)
    known = rows.cell >= 0
    rows = rows if known.all() else rows.take(known)
    # a lifetime has more of these than a data frame groups quickly
    place = 2 * rows.cell + (rows.after > 0)
    way = sum_by(place, rows.distance_m)
    driven = np.flatnonzero(way > 0)

    def total(per_row: Array) -> Array:
        return sum_by(place, per_row)[driven]

    way, liters, count = way[driven], total(rows.fuel_l), total(np.ones(rows.count))
    logged = np.where(rows.unlogged > 0, np.nan, rows.temperature_c)
    course = np.degrees(np.arctan2(total(rows.east), total(rows.north))) % 360.0
    return pl.DataFrame(
        {
            "segment": driven // 2,
            "side": pl.Series(driven % 2 > 0).replace_strict({True: "after", False: "before"}),
            "passes": _passes(place, rows.trip)[driven],
            "distance_m": way,
            "liters": liters,
            "liters_per_100km": liters / way * 1e5,
            "speed_kmh": way / total(rows.moving_s) * 3.6,
            "temperature_c": pl.Series(total(logged) / count).fill_nan(None),
            "grade_percent": 100 * total(rows.grade * rows.distance_m) / way,
            "course_deg": course,
        },
        schema=SEGMENTS,
    )


def _passes(place: Index, trip: Index) -> Index:
    """How many trips touch each place; rows in order of trips."""
    new = np.flatnonzero((np.diff(place, prepend=-1) != 0) | (np.diff(trip, prepend=-1) != 0))
    touched = np.unique(place[new] * (trip.max(initial=0) + 1) + trip[new])
    return np.bincount(touched // (trip.max(initial=0) + 1))


# which two estimates, and what is told where they part
_APART = (
    ("indicated", "true_distance", message("estimates-apart/distance")),
    ("true_distance", "adjusted", message("estimates-apart/conditions")),
    ("matched", "adjusted", message("estimates-apart/same-roads")),
    ("fillups", "adjusted", message("estimates-apart/counter")),
)


def disagreement_of(change: ChangePercent) -> Text:
    """Which assumption decides where two estimates' intervals do not meet; empty if none."""
    said = tuple(
        why
        for first, second, why in _APART
        if getattr(change, first).apart_from(getattr(change, second))
    )
    return message("estimates-apart", differences=Items(said, "")) if said else ""


def weather_words(
    facts: Facts, adjusted: Adjusted | None, rows: Rows | None, no_weather: Text
) -> Message:
    """How wind entered, how far the file was found to be off, and its balance."""
    if adjusted is None or rows is None:
        return message("wind-used/none")
    if facts.weather_covered < COVERED_LEAST or adjusted.learned.station_error_mps is None:
        return message("wind-used/by-contrast", why=field_of(no_weather))
    before, after = _mean_headwinds(rows)
    return message(
        "wind-used/file",
        off=Quantity(adjusted.learned.station_error_mps, "m/s", 1),
        before=before,
        after=after,
    )


def _mean_headwinds(rows: Rows) -> tuple[Quantity, Quantity]:
    """Of the two periods by the file, at the vehicle's height."""

    def of(kept: NDArray[np.bool_]) -> Quantity:
        weights = rows.distance_m[kept]
        mean = float(np.average(rows.head_mps[kept], weights=weights)) if kept.any() else 0.0
        return Quantity(mean, "m/s", 1, sign=True)

    return of(rows.after == 0), of(rows.after == 1)
