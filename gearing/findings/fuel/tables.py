"""The frames behind the comparison, and the words on where the estimates part."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.statistics.comparison import percent

if TYPE_CHECKING:
    from gearing.findings.fuel.adjust import Adjusted
    from gearing.findings.fuel.days import Table
    from gearing.findings.fuel.model import ChangePercent
    from gearing.findings.fuel.rows import Rows
    from gearing.statistics.arrays import Array


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
    before = np.array([not day.after for day in rows.days]) & np.isfinite(levels)
    middle = float(levels[before].mean()) if before.any() else 0.0
    return [percent(float(x) - middle) if np.isfinite(x) else None for x in levels]


SEGMENTS = {
    "segment": pl.Int64, "side": pl.String, "passes": pl.Int64, "distance_m": pl.Float64,
    "liters": pl.Float64, "liters_per_100km": pl.Float64, "speed_kmh": pl.Float64,
    "temperature_c": pl.Float64, "grade_percent": pl.Float64, "course_deg": pl.Float64,
}  # fmt: skip


def segments_table(rows: Rows | None, table: Table | None) -> pl.DataFrame:
    """One row for each stretch of road, direction and side that the comparison used."""
    if rows is None or table is None:
        return pl.DataFrame(schema=SEGMENTS)
    frame = pl.DataFrame({
        "segment": rows.cell, "side": np.where(rows.after > 0, "after", "before"),
        "trip": rows.trip, "distance_m": rows.distance_m, "liters": rows.fuel_l,
        "moving_s": rows.moving_s, "temperature_c": rows.temperature_c,
        "rise": rows.grade * rows.distance_m, "east": rows.east, "north": rows.north,
    })  # fmt: skip
    way = pl.col("distance_m").sum()
    return (
        frame.filter(pl.col("segment") >= 0)
        .rechunk()  # one chunk, one order of sums, however many threads filtered
        .lazy()
        .group_by("segment", "side", maintain_order=True)
        .agg(
            passes=pl.col("trip").n_unique().cast(pl.Int64),
            distance_m=way,
            liters=pl.col("liters").sum(),
            liters_per_100km=pl.col("liters").sum() / way * 1e5,
            speed_kmh=way / pl.col("moving_s").sum() * 3.6,
            temperature_c=pl.col("temperature_c").mean(),
            grade_percent=100 * pl.col("rise").sum() / way,
            course_deg=(pl.arctan2(pl.col("east").sum(), pl.col("north").sum()).degrees() + 360.0)
            % 360.0,
        )
        .sort("segment", "side")
        .collect()
        .select(pl.col(name).cast(kind) for name, kind in SEGMENTS.items())
    )


def disagreement_of(change: ChangePercent) -> str:
    """Which assumption decides where two estimates' intervals do not meet; empty if none."""
    said = []
    pairs = (
        ("indicated", "true_distance", "the odometer's error: indicated distance is not road"),
        ("true_distance", "adjusted", "speed, weather, hills and stops that differ between the "
         "periods: by true distance they are in the figure, adjusted they are not"),
        ("matched", "adjusted", "speed, weather and load on the same roads: matched keeps them "
         "in, adjusted takes them out by physics"),
        ("fillups", "adjusted", "the engine computer's fuel count against fuel bought, and "
         "driving that no log holds"),
    )  # fmt: skip
    for first, second, what in pairs:
        a, b = getattr(change, first), getattr(change, second)
        if None in (a.value, b.value, a.low, b.low):
            continue
        if a.low > b.high or b.low > a.high:
            names = f"{first.replace('_', ' ')} ({a.value:+.1f} %) and {second} ({b.value:+.1f} %)"
            said.append(f"{names} part over {what}.")
    return " ".join(said)
