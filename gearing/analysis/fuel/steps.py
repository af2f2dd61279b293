"""Road steps of the trips in use, each with its day, and why a step is left out."""

from __future__ import annotations

import polars as pl

from gearing.trips.even_rows import ALIKE, SELDOM_S, interval_of

WARM_COOLANT_C = 65.0
COOLANT_MOVES_K = 2.0  # over a drive, at least
NEEDED = (
    "trip", "step", "start_s", "duration_s", "stopped_s", "distance_m", "indicated_m", "bridged_m",
    "latitude_deg", "longitude_deg", "end_latitude_deg", "end_longitude_deg", "course_deg",
    "altitude_m", "end_altitude_m", "speed_mps", "speed_squared_m2ps2", "start_speed_mps",
    "end_speed_mps", "fuel_l", "fuel_stopped_l", "engine_speed_rpm", "ambient_temperature_c",
    "barometric_pressure_kpa", "coolant_temperature_c", "intake_air_temperature_c",
    "regeneration_s", "engine_load_percent", "engine_torque_percent",
)  # fmt: skip


def joined_steps(trips: pl.DataFrame, steps: pl.DataFrame) -> pl.DataFrame:
    """Steps of the trips in use, with their side and local day, in order of time.

    `trip` becomes a number in the order of the trips' beginnings. Columns that stay as they are
    lie in the memory of `steps`.
    """
    used = (
        trips.filter(pl.col("used"))
        .sort("start", "trip")
        .select("trip", "side", "local_day", "steps_s")
        .with_row_index("number")
    )
    # joined by name alone, and copied no more often than must be: a lifetime has millions
    own = steps.select("trip").join(used, on="trip", how="left", maintain_order="left")
    way = steps.select(pl.coalesce("distance_m", "indicated_m")).to_series()
    kept = own["number"].is_not_null() & (way > 1.0)
    joined = steps.select(NEEDED).with_columns(
        own["side"], own["local_day"], own["steps_s"], trip=own["number"]
    )
    if not kept.all():
        joined = joined.filter(kept)
    joined = _without_dead_rates(joined)
    place = joined.select(pl.col("trip").cast(pl.Int64) * 2**32 + pl.col("step")).to_series()
    return joined if place.is_sorted() else joined.sort("trip", "step")


def _without_dead_rates(joined: pl.DataFrame) -> pl.DataFrame:
    """No fuel where a trip's stands at zero all along: it was not measured."""
    burnt = joined.group_by("trip", maintain_order=True).agg(pl.col("fuel_l").sum())
    dead = burnt.filter(pl.col("fuel_l") <= 0)["trip"]
    if dead.is_empty():
        return joined
    lives = ~pl.col("trip").is_in(dead.implode())
    return joined.with_columns(pl.when(lives).then(pl.col("fuel_l", "fuel_stopped_l")))


def marked(joined: pl.DataFrame) -> pl.DataFrame:
    """`mark`: why a step is left out of the comparison of moving, or null."""
    regeneration = pl.col("regeneration_s").fill_null(0.0) > 0
    moving = pl.col("duration_s") - pl.col("stopped_s")
    usual = usual_interval_s(joined)
    interval = pl.col("steps_s").clip(lower_bound=SELDOM_S)
    return joined.with_columns(
        pl.when(pl.col("fuel_l").is_null())
        .then(pl.lit("no-fuel-logged"))
        .when(pl.col("distance_m").is_null())
        .then(pl.lit("no-true-distance"))
        .when(pl.col("bridged_m") > 0.5 * pl.col("distance_m"))
        .then(pl.lit("GPS-lost"))
        .when((interval > ALIKE * usual) | (interval * ALIKE < usual))
        .then(pl.lit("other-logging-interval"))
        .when(regeneration)
        .then(pl.lit("filter-regeneration"))
        .when(is_cold())
        .then(pl.lit("engine-cold"))
        .when((moving <= 0) | pl.col("speed_mps").is_null())
        .then(pl.lit("standing"))
        .otherwise(None)
        .alias("mark")
    )


def is_cold() -> pl.Expr:
    """Whether a step's engine is not warm yet; not where no sensor tells."""
    coolant = pl.col("coolant_temperature_c")
    # an engine that runs warms or cools: one reading all the way is a sensor's that stands
    moves = (coolant.max() - coolant.min()).over("trip") >= COOLANT_MOVES_K
    return ((coolant < WARM_COOLANT_C) & moves).fill_null(False)


def usual_interval_s(joined: pl.DataFrame) -> float:
    """How far apart the rows are that most of the road with fuel is made of; no less than what
    makes no difference."""
    driven = joined.filter(pl.col("fuel_l").is_not_null()).select("steps_s", "duration_s")
    own = interval_of(*(driven[name].to_numpy() for name in ("steps_s", "duration_s")), share=0.5)
    return max(own, SELDOM_S)
