"""What no tires change: the fuel an engine takes at one load and speed, and standing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.fuel.steps import is_cold
from gearing.statistics.posterior import huber_weights
from gearing.statistics.regression import weighted_fit
from gearing.statistics.two_sides import Nuisance, SideChange, change_between

if TYPE_CHECKING:
    from gearing.statistics.arrays import Array

DAY = ("side", "local_day")
LOADS = ("engine_torque_percent", "engine_load_percent")
MIN_LOAD_PERCENT = 25.0
FEWEST_STEPS = 30  # of a day
# Fuel that follows the load no closer than this was told late, or by a counter's steps: then days
# of less load would pass for days on which the engine takes more for it.
MIN_SHARE_TOLD = 0.95
# A load may be told of the air drawn, of which more is one load where it is dense: by up to the
# pressure and the root of the temperature (SAE J1979, calculated load). One deviation of each.
PRESSURE_POWER = 0.5
TEMPERATURE_POWER = 0.3
SCALE_HEIGHT_M = 8400.0  # over which the pressure of air falls by e
FREEZING_K = 273.15
UNTOLD_C = 15.0
MIN_STANDING_S = 60.0  # of a day
ROUNDS = 5


@dataclass(frozen=True, slots=True)
class SameEngine:
    """After over before, in logarithms: `loaded` the fuel a turn at one load and speed, `standing`
    the rate standing, None where logs do not tell; `standing_share` of what moving takes is what
    standing would take in that time."""

    loaded: SideChange | None = None
    standing: SideChange | None = None
    standing_share: float = 0.0


def same_engine(joined: pl.DataFrame) -> SameEngine:
    """What the logs show of the engine itself; `joined` is `marked` output."""
    moving = joined.filter(pl.col("mark").is_null())
    of_load = (_loaded(moving, load) for load in LOADS)
    return SameEngine(
        next((found for found in of_load if found is not None), None),
        _standing(joined),
        _standing_share(joined),
    )


def _loaded(moving: pl.DataFrame, load: str) -> SideChange | None:
    """The change of fuel a turn at one load and engine speed, by days."""
    rate = pl.col("fuel_l") / pl.col("duration_s") * 3600
    columns = {
        "a_turn": (rate / pl.col("engine_speed_rpm")).log(),
        "load": (pl.col(load) / 100).log(),
        "speed": (pl.col("engine_speed_rpm") / 1500).log(),
    }
    powers = {
        "load2": pl.col("load") ** 2,
        "load3": pl.col("load") ** 3,
        "speed2": pl.col("speed") ** 2,
        "both": pl.col("load") * pl.col("speed"),
    }
    steps = (
        moving.filter(
            (pl.col(load) > MIN_LOAD_PERCENT)
            & (pl.col("stopped_s").fill_null(0.0) == 0)
            & (pl.col("fuel_l") > 0)
            & (pl.col("engine_speed_rpm") > 0)
        )
        .filter(pl.len().over(DAY) >= FEWEST_STEPS)
        .select(*DAY, "altitude_m", "ambient_temperature_c", **columns)
        .with_columns(**powers)
    )
    names = ["load", "speed", *powers]
    within = steps.select((pl.col(n) - pl.col(n).mean().over(DAY)).cast(pl.Float64)
                          for n in ("a_turn", *names)).to_numpy()  # fmt: skip
    y, x = within[:, 0], within[:, 1:]
    weight = np.ones(len(y))
    for _ in range(ROUNDS):
        per_power, _, left = weighted_fit(y, weight, x)
        weight = huber_weights(y - x @ per_power) if len(y) else weight
    if not len(y) or left > (1 - MIN_SHARE_TOLD) * float(weight @ y**2):
        return None
    of_load = sum((pl.col(n) * float(k) for n, k in zip(names, per_power, strict=True)), pl.lit(0))
    return _between_days(
        steps.group_by(DAY, maintain_order=True)
        .agg(
            level=(pl.col("a_turn") - of_load).median(),
            length=pl.len(),
            pressure=pl.col("altitude_m").mean() / -SCALE_HEIGHT_M,
            warmth=(pl.col("ambient_temperature_c").mean().fill_null(UNTOLD_C) + FREEZING_K).log(),
        )
        .with_columns(pl.col("pressure").fill_null(strategy="mean").fill_null(0.0)),
        {"pressure": PRESSURE_POWER, "warmth": TEMPERATURE_POWER},
    )


def _standing(joined: pl.DataFrame) -> SideChange | None:
    """The change of the rate standing, the engine warm, by days."""
    days = (
        joined.filter(~is_cold() & (pl.col("stopped_s") > 0) & (pl.col("fuel_stopped_l") > 0))
        .group_by(DAY, maintain_order=True)
        .agg(
            level=(pl.col("fuel_stopped_l").sum() / pl.col("stopped_s").sum()).log(),
            length=pl.col("stopped_s").sum(),
        )
    )
    return _between_days(days.filter(pl.col("length") >= MIN_STANDING_S), {})


def _standing_share(joined: pl.DataFrame) -> float:
    """What an engine takes standing, in the time of moving, over what moving takes."""
    fueled = joined.filter(pl.col("fuel_l").is_not_null())
    liters, standing, total, seconds = (
        float(fueled[name].fill_null(0.0).sum())
        for name in ("fuel_stopped_l", "stopped_s", "fuel_l", "duration_s")
    )
    moving = total - liters
    return liters / standing * (seconds - standing) / moving if standing and moving > 0 else 0.0


def _between_days(days: pl.DataFrame, deviations: dict[str, float]) -> SideChange | None:
    ordered = days.sort(pl.col("side") == "after", "local_day")
    late = (ordered["side"] == "after").to_numpy()
    if min(late.sum(), (~late).sum()) < 2:
        return None
    level: Array = ordered["level"].to_numpy()
    levers = ordered.select(pl.col(name) - pl.col(name).mean() for name in deviations).to_numpy()
    nuisance = Nuisance(levers, np.diag([one**2 for one in deviations.values()]))
    return change_between(
        level[~late],
        level[late],
        nuisance=nuisance if deviations else None,
        times=ordered["local_day"].cast(pl.Int32).to_numpy(),
        lengths=ordered["length"].to_numpy(),
    )
