"""Does the road model agree with the logs? Stretches driven at full load, driven again.

The model starts each stretch at the logged speed and asks for full load; its speed at the end
is set against the logged one. It knows of the stretch only the road and the first speed. The
vehicle's figures come from the other half of the trips, so that no stretch is judged by what
was fitted to it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.mountain.powered_steps import followed
from gearing.analysis.mountain.result import CheckedStretch, ModelCheck
from gearing.messages import Quantity, message
from gearing.vehicle.atmosphere import LAPSE_K_PER_M
from gearing.vehicle.ensemble import Ensemble
from gearing.vehicle.longitudinal import drive
from gearing.vehicle.road import UNREACHED_MPS, even_road

if TYPE_CHECKING:
    from collections.abc import Callable

    from gearing.analysis.mountain.inputs import Inputs
    from gearing.messages import Text
    from gearing.statistics.arrays import Array
    from gearing.study.model import Side

FULL_LOAD_PERCENT = 96.0
MIN_STRETCH_M = 500.0
MIN_STRETCHES = 3
MAX_STRETCHES = 150
PIECE_M = 25.0
WHY_NONE = message("few-full-load-stretches", length=Quantity(MIN_STRETCH_M, "m"))


@dataclass(frozen=True, slots=True)
class FullLoadStretch:
    """One stretch at full load as logged: borders of its steps, shapes (k + 1,)."""

    trip: str
    side: Side
    distance_m: Array
    altitude_m: Array
    speed_mps: Array
    temperature_c: float | None


def full_load_stretches(steps: pl.DataFrame, sides: pl.DataFrame) -> list[FullLoadStretch]:
    """Runs of road steps at full load, 500 m or longer, evenly thinned to 150."""
    needed = ("engine_load_percent", "altitude_m", "start_speed_mps", "distance_m", "rise_m")
    load, pedal = (
        (pl.col(name) >= FULL_LOAD_PERCENT).fill_null(value=False)
        for name in ("engine_load_percent", "accelerator_percent")
    )
    runs = (
        followed(steps)
        .join(sides.select("trip", "side"), on="trip", how="inner", maintain_order="left")
        .with_columns(
            full=((load | pedal) & (pl.col("stopped_s") <= 0) & (pl.col("start_speed_mps") > 5))
            .fill_null(value=False)
            .and_(pl.all_horizontal(pl.col(needed).is_not_null())),
        )
        .with_columns(
            run=pl.struct(
                "trip", "full", pl.col("step").cast(pl.Int64) - pl.int_range(pl.len())
            ).rle_id()
        )
        .filter("full")
    )
    found = []
    for group in runs.partition_by("run", maintain_order=True):
        if float(group["distance_m"].sum()) < MIN_STRETCH_M:
            continue
        found.append(_stretch(group))
    if len(found) > MAX_STRETCHES:
        kept = np.linspace(0, len(found) - 1, MAX_STRETCHES).round().astype(int)
        found = [found[i] for i in kept]
    return found


def _stretch(group: pl.DataFrame) -> FullLoadStretch:
    def borders(start: str, end: str) -> Array:
        values = [*group[start].to_list(), group[end].to_list()[-1]]
        return np.asarray(values, dtype=np.float64)

    celsius = group["ambient_temperature_c"].cast(pl.Float64).mean()
    return FullLoadStretch(
        trip=group["trip"][0],
        side=group["side"][0],
        distance_m=np.concatenate([[0.0], np.cumsum(group["distance_m"].to_numpy())]),
        altitude_m=group["altitude_m"][0]
        + np.concatenate([[0.0], np.cumsum(group["rise_m"].to_numpy())]),
        speed_mps=borders("start_speed_mps", "end_speed_mps"),
        temperature_c=celsius if isinstance(celsius, float) else None,
    )


def predict_ends(
    stretches: list[FullLoadStretch], inputs: Inputs, revolutions_per_km: dict[Side, float]
) -> Array:
    """Speed [m/s] at each stretch's end by the model, from its first speed at full load."""
    if not stretches:
        return np.zeros(0)
    pieces = int(max(one.distance_m[-1] for one in stretches) / PIECE_M) + 1
    wanted = np.full((len(stretches), pieces + 1), UNREACHED_MPS)
    wanted[:, 0] = [one.speed_mps[0] for one in stretches]
    roads = [
        even_road(one.distance_m, one.altitude_m, speed)
        for one, speed in zip(stretches, wanted, strict=True)
    ]
    altitude = np.array([float(one.altitude_m.mean()) for one in stretches])
    usual = inputs.central("temperature_c") - LAPSE_K_PER_M * altitude
    logged = np.array([one.temperature_c for one in stretches], dtype=np.float64)
    # an ensemble takes the temperature at sea level
    celsius = np.where(np.isfinite(logged), logged, usual) + LAPSE_K_PER_M * altitude

    def all_of(name: str) -> Array:
        return np.full(len(stretches), inputs.central(name))

    ensemble = Ensemble(
        mass_kg=all_of("mass_kg"),
        rolling_at_25c=all_of("rolling_at_25c"),
        rolling_per_k=all_of("rolling_per_k"),
        drag_area_m2=all_of("drag_area_m2"),
        headwind_mps=np.zeros(len(stretches)),
        temperature_c=celsius,
        revolutions_per_km=np.array([revolutions_per_km[one.side] for one in stretches]),
        torque_factor=all_of("torque_factor"),
        friction_factor=all_of("friction_factor"),
        road=np.arange(len(stretches)),
        rotating_kg=inputs.rotating_kg,
    )
    run = drive(inputs.powertrain, ensemble, roads)
    ends: Array = run.speed_mps[-1].astype(np.float64)
    return ends


def compare(
    steps: pl.DataFrame,
    sides: pl.DataFrame,
    inputs_from: Callable[[pl.DataFrame], Inputs],
    revolutions_per_km: dict[Side, float],
) -> ModelCheck:
    """Model against logs at full load, each half of the trips with the other half's figures.

    `inputs_from` makes inputs from a table of trips (with `trip` and `side`).
    """
    stretches = [one for one in full_load_stretches(steps, sides) if one.side in revolutions_per_km]
    if len(stretches) < MIN_STRETCHES:
        return no_check(WHY_NONE)
    even = sides.gather_every(2)
    odd = sides.gather_every(2, offset=1)
    if odd.height == 0:
        return no_check(WHY_NONE)
    halves = dict.fromkeys(even["trip"], 0) | dict.fromkeys(odd["trip"], 1)
    # the first half by what the second shows, and the other way round
    parts = [[one for one in stretches if halves[one.trip] == half] for half in (0, 1)]
    logged = np.array([one.speed_mps[-1] for part in parts for one in part])
    model = np.concatenate(
        [
            predict_ends(part, inputs_from(other), revolutions_per_km)
            for part, other in zip(parts, (odd, even), strict=True)
        ]
    )
    off = (model - logged) * 3.6
    checked = tuple(
        _checked(one, float(end))
        for one, end in zip([one for part in parts for one in part], model, strict=True)
    )
    return ModelCheck(
        stretches=len(stretches),
        km=float(sum(one.distance_m[-1] for one in stretches) / 1000),
        bias_kmh=float(off.mean()),
        rms_kmh=float(np.sqrt((off**2).mean())),
        median_absolute_percent=float(np.median(np.abs(model / logged - 1)) * 100),
        checked=checked,
    )


def _checked(one: FullLoadStretch, model_mps: float) -> CheckedStretch:
    rise = float(one.altitude_m[-1] - one.altitude_m[0])
    return CheckedStretch(
        side=one.side,
        km=float(one.distance_m[-1] / 1000),
        grade_percent=rise / float(one.distance_m[-1]) * 100,
        start_kmh=float(one.speed_mps[0] * 3.6),
        logged_kmh=float(one.speed_mps[-1] * 3.6),
        model_kmh=model_mps * 3.6,
    )


def no_check(why: Text) -> ModelCheck:
    """No check of the model, and why."""
    return ModelCheck(
        stretches=0, km=0.0, bias_kmh=None, rms_kmh=None, median_absolute_percent=None, why=why
    )
