"""The rows of a road profile: distances that run on, and heights from grades."""

from __future__ import annotations

import polars as pl

_RISE_M_PER_KM_PERCENT = 10.0  # a grade of 1 % climbs 10 m a km
MAX_BACK = 0.6  # of the way on; a road written in parts, or a row out of place, goes back less


def runs_on(distance_m: pl.Series) -> bool:
    """Whether distances, as the rows stand, get on one way or the other; lengths of stretches do
    not, nor does a way out and back."""
    step = distance_m.drop_nulls().diff().drop_nulls()
    on, back = float(step.clip(0, None).sum()), -float(step.clip(None, 0).sum())
    return min(on, back) <= MAX_BACK * max(on, back)


def climbed(frame: pl.DataFrame) -> pl.DataFrame:
    """A profile of `distance_m`, ascending, and `grade_percent` with the `altitude_m` above its
    beginning. A grade holds to the next point; the last needs none, any other without is none."""
    last = pl.int_range(pl.len()) == pl.len() - 1
    frame = frame.filter(pl.col("grade_percent").is_not_null() | last)
    step_km = pl.col("distance_m").diff().fill_null(0.0) / 1000
    rise = step_km * pl.col("grade_percent").shift(1).fill_null(0.0) * _RISE_M_PER_KM_PERCENT
    return frame.with_columns(rise.cum_sum().alias("altitude_m"))
