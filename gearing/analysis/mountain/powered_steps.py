"""Road steps that another follows, and of them those under power, which tell of the vehicle."""

from __future__ import annotations

import polars as pl

# Under this a foot lifted now and then, or on the brake, is in the mean of a step: from 15 % on the
# invented trucks' rolling resistance came out 8 % too high from 12 trips and 24 % from 60, from
# 30 % on 2 and 7 %.
MIN_LOAD_PERCENT = 30.0
MIN_SPEED_MPS = 8.0
NEEDED = (
    "trip", "step", "start_s", "duration_s", "stopped_s", "distance_m", "altitude_m",
    "speed_mps", "speed_squared_m2ps2", "start_speed_mps", "engine_load_percent", "gear",
)  # fmt: skip
NUMBERS = (*NEEDED[3:], "end_speed_mps", "end_altitude_m", "rise_m")


def powered_steps(steps: pl.DataFrame, sides: pl.DataFrame) -> pl.DataFrame:
    """Steps under power, locked, in a known gear, not bridged; with `side` of each trip.

    `sides` has `trip` and `side`. Empty where a needed channel is missing.
    """
    if any(name not in steps.columns for name in NEEDED):
        return steps.clear().with_columns(side=pl.lit(None, dtype=pl.String))
    steps = followed(steps)
    unlocked = pl.col("unlocked_s").fill_null(0.0) if "unlocked_s" in steps.columns else pl.lit(0.0)
    bridged = pl.col("bridged_m").fill_null(0.0) if "bridged_m" in steps.columns else pl.lit(0.0)
    known = [name for name in steps.columns if name in {*NEEDED, *NUMBERS}]
    return (
        steps.lazy()
        .join(sides.lazy().select("trip", "side"), on="trip", how="inner", maintain_order="left")
        .filter(
            pl.all_horizontal(pl.col(known).is_not_null()),
            pl.col("stopped_s") <= 0,
            pl.col("duration_s") > 0,
            pl.col("speed_mps") >= MIN_SPEED_MPS,
            pl.col("engine_load_percent") >= MIN_LOAD_PERCENT,
            pl.col("gear").cast(pl.Float64) == pl.col("gear").cast(pl.Float64).round(),
            pl.col("gear").cast(pl.Float64) >= 1,
            unlocked <= 0.5,
            bridged <= 5.0,
        )
        .collect()
    )


def followed(steps: pl.DataFrame) -> pl.DataFrame:
    """Steps that another follows, and whose end is therefore known, with their `rise_m`.

    That is the step's own, or that of all passes of its place where `pooled_rise_m` says.
    """
    follows = (
        (pl.col("trip").shift(-1) == pl.col("trip"))
        & (pl.col("step").cast(pl.Int64).shift(-1) == pl.col("step").cast(pl.Int64) + 1)
        & ((pl.col("start_s").shift(-1) - pl.col("start_s") - pl.col("duration_s")).abs() < 2.0)
    )
    own = pl.col("end_altitude_m") - pl.col("altitude_m")
    pooled = pl.col("pooled_rise_m") if "pooled_rise_m" in steps.columns else own
    return steps.with_columns(rise_m=pl.coalesce(pooled, own)).filter(
        follows.fill_null(value=False)
    )
