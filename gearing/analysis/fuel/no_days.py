"""Why not one day can be compared: no fuel is logged, or none on road enough."""

from __future__ import annotations

import polars as pl

from gearing.messages import Message, Quantity, message

MIN_DAY_M = 3000.0  # less road than this makes no day to compare


def why_no_days(every_day: pl.DataFrame) -> Message:
    """The reason, where no day of `day_frame` is long enough to compare."""
    if every_day.is_empty():
        return message("no-fuel-logged")
    burnt = every_day.filter(pl.col("liters") > 0)
    if burnt.is_empty():
        return message("fuel-is-nothing")
    longest = burnt.select(pl.coalesce("true_m", "indicated_m")).to_series().max()
    if not isinstance(longest, float):
        return message("fuel-without-distance", days=burnt.height)
    return message(
        "fuel-on-short-days",
        days=burnt.height,
        longest=Quantity(longest / 1000, "km", 1),
        least=Quantity(MIN_DAY_M / 1000, "km", 1),
    )
