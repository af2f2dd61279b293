"""Why not one day can be compared: no fuel is logged, or none on road enough."""

from __future__ import annotations

import polars as pl

MIN_DAY_M = 3000.0  # less road than this makes no day to compare
NO_FUEL = (
    "no log carries fuel: a fuel rate (PID 5E, SPN 183), a count of fuel used (SPN 250) or, on a "
    "gasoline engine, air flow (PID 10) is needed. Air flow cannot give a diesel's fuel: a diesel "
    "runs at whatever air it gets"
)


def why_no_days(every_day: pl.DataFrame) -> str:
    """The reason, where no day of `day_frame` is long enough to compare."""
    if every_day.is_empty():
        return NO_FUEL
    burnt = every_day.filter(pl.col("liters") > 0)
    if burnt.is_empty():
        return "the fuel logged is nothing throughout: what the logs call fuel was not measured"
    days = "1 day" if burnt.height == 1 else f"{burnt.height} days"
    longest = burnt.select(pl.coalesce("true_m", "indicated_m")).to_series().max()
    if not isinstance(longest, float):
        return f"fuel is logged on {days}, but how far was driven is not"
    return (
        f"fuel is logged on {days}, with no more than {longest / 1000:.1f} km of road a day: "
        f"{MIN_DAY_M / 1000:.0f} km are the least that can be compared. Log whole drives"
    )
