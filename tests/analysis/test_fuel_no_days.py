"""Where no day can be compared, the reason given is the true one."""

from __future__ import annotations

import polars as pl
import pytest

from gearing.analysis.fuel.no_days import why_no_days


def days(
    liters: list[float], true_m: list[float | None], indicated_m: float | None
) -> pl.DataFrame:
    frame = pl.DataFrame(
        {"liters": liters, "true_m": true_m}, schema_overrides={"true_m": pl.Float64}
    )
    return frame.with_columns(indicated_m=pl.lit(indicated_m, pl.Float64))


@pytest.mark.parametrize(
    ("frame", "said"),
    [
        (days([], [], None), "no log carries fuel: a fuel rate"),
        (days([0.0, 0.0], [9e3, 9e3], None), "the fuel logged is nothing throughout"),
        (days([0.5, 0.4], [1200.0, 2600.0], None), "on 2 days, with no more than 2.6 km of road"),
        (days([0.5], [None], 1900.0), "on 1 day, with no more than 1.9 km of road"),
        (days([0.5], [None], None), "on 1 day, but how far was driven is not"),
    ],
)
def test_why_no_day_can_be_compared(frame: pl.DataFrame, said: str) -> None:
    told = str(why_no_days(frame))
    assert said in told
    assert ("PID 5E" in told) == frame.is_empty()
