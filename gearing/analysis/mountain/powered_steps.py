"""Road steps that another follows, and of them those under power, which tell of the vehicle."""

from __future__ import annotations

import polars as pl

MIN_LOAD_PERCENT = 30.0
MIN_SPEED_MPS = 8.0
NUMBERS = (
    "duration_s", "stopped_s", "distance_m", "altitude_m", "speed_mps", "speed_squared_m2ps2",
    "start_speed_mps", "engine_load_percent", "gear", "end_speed_mps", "end_altitude_m", "rise_m",
    "load_per_s",
)  # fmt: skip


def powered_steps(steps: pl.DataFrame, sides: pl.DataFrame, *, loaded: bool = True) -> pl.DataFrame:
    """Steps under power throughout, locked, in a known gear, not bridged; with `side` of each
    trip, and `load_per_s`, by how much the load changes [%/s]. Where not `loaded`, of logs without
    engine load too, whose steps have none.

    Where the foot is lifted within a step it may be on the brake, and what that takes would count
    as resistance: on the invented trucks rolling came out 10 % too high from 80 trips.

    `sides` has `trip` and `side`.
    """
    if not loaded:
        enough = pl.lit(MIN_LOAD_PERCENT).alias("engine_load_percent")
        steps = steps.filter(pl.col("fuel_l") > 0).with_columns(enough)
    return (
        followed(steps.with_columns(load_per_s=_load_per_s()))
        .lazy()
        .join(sides.lazy().select("trip", "side"), on="trip", how="inner", maintain_order="left")
        .filter(
            pl.all_horizontal(pl.col("trip", "step", "start_s", *NUMBERS).is_not_null()),
            pl.col("stopped_s") <= 0,
            pl.col("duration_s") > 0,
            pl.col("speed_mps") >= MIN_SPEED_MPS,
            pl.col("engine_load_percent") >= MIN_LOAD_PERCENT,
            pl.col("gear").cast(pl.Float64) == pl.col("gear").cast(pl.Float64).round(),
            pl.col("gear").cast(pl.Float64) >= 1,
            pl.col("unlocked_s").fill_null(0.0) <= 0.5,
            pl.col("bridged_m").fill_null(0.0) <= 5.0,
            pl.col("overrun_s").fill_null(0.0) <= 0.0,
        )
        .collect()
    )


def _load_per_s() -> pl.Expr:
    """Change of load from the step before to the one after [%/s], 0 where one is missing."""
    middle = pl.col("start_s") + pl.col("duration_s") / 2
    between = [
        one.shift(-1) - one.shift(1)
        for one in (pl.col("engine_load_percent"), middle, pl.col("step").cast(pl.Int64))
    ]
    same = (pl.col("trip").shift(-1) == pl.col("trip").shift(1)) & (between[2] == 2)
    return pl.when(same).then(between[0] / between[1]).fill_null(0.0)


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
