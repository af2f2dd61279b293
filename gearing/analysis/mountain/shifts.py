"""Shift points as driven, from the logs: engine speed at which each gear is left.

Read where one road step's gear differs from the next known one: the speed between them times
the gear's turns a metre. Points are kept as speeds of the gearbox input, that is output-shaft
speed times the gear's ratio: a computer that shifts by shaft speed keeps them on other tires,
so the top gear then comes in later in true speed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from gearing.analysis.mountain.powered_steps import followed
from gearing.vehicle.powertrain import SHIFT_HYSTERESIS, ShiftPoints

if TYPE_CHECKING:
    from gearing.study.model import Side
    from gearing.vehicle.powertrain import Powertrain

FULL_PERCENT = 85.0
LIGHT_PERCENT = 55.0
OVERRUN_PERCENT = 5.0
# Across a border where speed changes faster than this its engine speed is not known well.
MAX_SPEED_CHANGE_MPS = 1.5
MIN_EVENTS = 6
ALL_GEARS = 0  # a gear shifted too seldom goes by all gears together
# The lightest shift points are the lowest seen, not the middle of all.
LIGHT_QUANTILE = 0.15


def see_shifts(
    steps: pl.DataFrame,
    sides: pl.DataFrame,
    powertrain: Powertrain,
    revolutions_per_km: dict[Side, float],
) -> ShiftPoints | None:
    """Shift points of the logs over the powertrain's own; None where too few shifts are seen."""
    events = _events(steps, sides, powertrain, revolutions_per_km)
    if events.height < MIN_EVENTS:
        return None
    count = len(powertrain.gear_ratios)
    old = powertrain.shift_points
    first = powertrain.converter.lockup_gear - 1 if powertrain.converter else 1
    full, light = pl.col("load") >= FULL_PERCENT, pl.col("load") < LIGHT_PERCENT
    up, down = pl.col("change") > 0, pl.col("change") < 0
    found = {
        "up_full": _by_gear(events.filter(up, full), 0.5),
        "up_light": _by_gear(events.filter(up, light), LIGHT_QUANTILE),
        "down_full": _by_gear(events.filter(down, full), 0.5),
        "down_light": _by_gear(events.filter(down, light), LIGHT_QUANTILE),
    }
    if not any(found.values()):
        return None

    def merged(name: str) -> list[float]:
        own, all_gears = getattr(old, name), found[name].get(ALL_GEARS)
        usual = [all_gears if all_gears and gear >= first else own[gear] for gear in range(count)]
        return [found[name].get(gear + 1, usual[gear]) for gear in range(count)]

    return _consistent(
        merged("up_light"),
        merged("up_full"),
        merged("down_light"),
        merged("down_full"),
        powertrain.gear_ratios,
    )


def _events(
    steps: pl.DataFrame,
    sides: pl.DataFrame,
    powertrain: Powertrain,
    revolutions_per_km: dict[Side, float],
) -> pl.DataFrame:
    """One row a shift: `gear` left, `change`, `rpm` at the border, `load` [%] about it."""
    gears = len(powertrain.gear_ratios)
    ratio = {gear + 1: value for gear, value in enumerate(powertrain.gear_ratios)}
    turns = pl.lit(None, dtype=pl.Float64)
    for side, per_km in revolutions_per_km.items():
        turns = pl.when(pl.col("side") == side).then(per_km).otherwise(turns)
    load = pl.col("engine_load_percent")
    next_of = {
        name: pl.col(name).shift(-1).over("trip")
        for name in ("gear", "engine_load_percent", "start_speed_mps")
    }
    return (
        followed(
            steps.with_columns(
                next_gear=pl.coalesce(next_of["gear"], pl.col("gear").shift(-2).over("trip")),
                # where the shift lies within the next step, that step's mean speed
                border_mps=pl.when(next_of["gear"].is_null())
                .then(pl.col("speed_mps").shift(-1).over("trip"))
                .otherwise(next_of["start_speed_mps"]),
                next_load=next_of["engine_load_percent"],
                after_speed=pl.col("start_speed_mps").shift(-2).over("trip"),
            )
        )
        .join(sides.select("trip", "side"), on="trip", how="inner", maintain_order="left")
        .with_columns(
            change=pl.col("next_gear") - pl.col("gear"),
            load=pl.max_horizontal(load, "next_load"),
            spread=(pl.col("after_speed") - pl.col("start_speed_mps")).abs(),
        )
        .filter(
            pl.col("change") != 0,
            pl.col("gear").is_between(1, gears),
            pl.min_horizontal(load, "next_load") > OVERRUN_PERCENT,
            pl.col("spread") < 2 * MAX_SPEED_CHANGE_MPS,
        )
        .with_columns(
            rpm=pl.col("border_mps")
            * turns
            * (60 / 1000 * powertrain.axle_ratio)
            * pl.col("gear")
            .cast(pl.Int32)
            .replace_strict(ratio, default=None, return_dtype=pl.Float64),
            gear=pl.col("gear").cast(pl.Int32),
        )
        .filter(pl.col("rpm").is_not_null())
        .select("gear", "change", "rpm", "load")
    )


def _by_gear(events: pl.DataFrame, quantile: float) -> dict[int, float]:
    """Engine speed by gear left, and under `ALL_GEARS` that of all shifts together."""
    table = (
        pl.concat([events, events.with_columns(gear=pl.lit(ALL_GEARS, dtype=pl.Int32))])
        .group_by("gear", maintain_order=True)
        .agg(pl.col("rpm").quantile(quantile), count=pl.len())
        .filter(pl.col("count") >= MIN_EVENTS)
    )
    return dict(zip(table["gear"].to_list(), table["rpm"].to_list(), strict=True))


def _consistent(
    up_light: list[float],
    up_full: list[float],
    down_light: list[float],
    down_full: list[float],
    ratios: tuple[float, ...],
) -> ShiftPoints:
    """No shift up may land where the next gear would at once be left again, at any load."""
    for gear in range(len(ratios) - 1):
        step = ratios[gear] / ratios[gear + 1]
        up_light[gear] = min(up_light[gear], up_full[gear])
        down_full[gear + 1] = min(down_full[gear + 1], up_full[gear] / step / SHIFT_HYSTERESIS)
        down_light[gear + 1] = min(
            down_light[gear + 1], down_full[gear + 1], up_light[gear] / step / SHIFT_HYSTERESIS
        )
    return ShiftPoints(tuple(up_light), tuple(up_full), tuple(down_light), tuple(down_full))
