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

from gearing.findings.mountain.learned import with_true_ends
from gearing.findings.mountain.result import ModelCheck
from gearing.vehicle.longitudinal import Lanes, drive
from gearing.vehicle.road import make_road

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from gearing.findings.mountain.inputs import Inputs
    from gearing.study.model import Side

    Array = NDArray[np.float64]

FULL_LOAD_PERCENT = 96.0
MIN_STRETCH_M = 500.0
MIN_STRETCHES = 3
MAX_STRETCHES = 150
TOO_FAST_MPS = 60.0  # a target no heavy vehicle reaches: full load throughout
WHY_NONE = (
    "the logs hold too few stretches of 500 m at full load with engine load and altitude known"
)


@dataclass(frozen=True, slots=True)
class Stretch:
    """One stretch at full load as logged: borders of its steps, shapes (k + 1,)."""

    trip: str
    side: Side
    distance_m: Array
    altitude_m: Array
    speed_mps: Array
    temperature_c: float | None


def full_load_stretches(steps: pl.DataFrame | None, sides: pl.DataFrame | None) -> list[Stretch]:
    """Runs of road steps at full load, 500 m or longer, evenly thinned to 150."""
    if steps is None or sides is None or steps.height == 0:
        return []
    needed = ("engine_load_percent", "altitude_m", "start_speed_mps", "distance_m")
    if any(name not in steps.columns for name in needed):
        return []
    load = pl.col("engine_load_percent") >= FULL_LOAD_PERCENT
    if "accelerator_percent" in steps.columns:
        load = load | (pl.col("accelerator_percent") >= FULL_LOAD_PERCENT).fill_null(value=False)
    temperature = (
        pl.col("ambient_temperature_c")
        if "ambient_temperature_c" in steps.columns
        else pl.lit(None, dtype=pl.Float64).alias("ambient_temperature_c")
    )
    runs = (
        with_true_ends(steps)
        .join(sides.select("trip", "side"), on="trip", how="inner", maintain_order="left")
        .with_columns(
            temperature,
            full=(load & (pl.col("stopped_s") <= 0) & (pl.col("start_speed_mps") > 5)).fill_null(
                value=False
            ),
        )
        .with_columns(
            run=pl.struct(
                "trip", "full", pl.col("step").cast(pl.Int64) - pl.int_range(pl.len())
            ).rle_id()
        )
        .filter("full", pl.all_horizontal(pl.col(needed).is_not_null()))
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


def _stretch(group: pl.DataFrame) -> Stretch:
    def borders(start: str, end: str) -> Array:
        values = [*group[start].to_list(), group[end].to_list()[-1]]
        return np.asarray(values, dtype=np.float64)

    celsius = group["ambient_temperature_c"].cast(pl.Float64).mean()
    return Stretch(
        trip=group["trip"][0],
        side=group["side"][0],
        distance_m=np.concatenate([[0.0], np.cumsum(group["distance_m"].to_numpy())]),
        altitude_m=borders("altitude_m", "end_altitude_m"),
        speed_mps=borders("start_speed_mps", "end_speed_mps"),
        temperature_c=celsius if isinstance(celsius, float) else None,
    )


def predict_end(stretch: Stretch, inputs: Inputs, revolutions_per_km: dict[Side, float]) -> float:
    """Speed [m/s] at a stretch's end by the model, from its first speed at full load."""
    wanted = np.full(stretch.distance_m.size, TOO_FAST_MPS)
    road = make_road(stretch.distance_m, stretch.altitude_m, wanted)
    road.target_mps[0] = stretch.speed_mps[0]
    altitude = float(stretch.altitude_m.mean())
    celsius = inputs.central("temperature_c") - 0.0065 * altitude
    if stretch.temperature_c is not None and np.isfinite(stretch.temperature_c):
        celsius = stretch.temperature_c

    def one(value: float) -> Array:
        return np.array([value])

    lanes = Lanes(
        mass_kg=one(inputs.central("mass_kg")),
        rolling_at_25c=one(inputs.central("rolling_at_25c")),
        rolling_per_k=one(inputs.central("rolling_per_k")),
        drag_area_m2=one(inputs.central("drag_area_m2")),
        headwind_mps=one(0.0),
        temperature_c=one(celsius),
        revolutions_per_km=one(revolutions_per_km[stretch.side]),
        torque_factor=one(inputs.central("torque_factor")),
        drag_factor=one(inputs.central("drag_factor")),
        road=np.zeros(1, dtype=np.int64),
        temperature_altitude_m=altitude,
        rotating_kg=inputs.rotating_kg,
    )
    return float(drive(inputs.powertrain, lanes, [road]).speed_mps[-1, 0])


def compare(
    steps: pl.DataFrame | None,
    sides: pl.DataFrame | None,
    inputs_from: Callable[[pl.DataFrame], Inputs],
    revolutions_per_km: dict[Side, float],
) -> ModelCheck:
    """Model against logs at full load, each half of the trips with the other half's figures.

    `inputs_from` makes inputs from a table of trips (with `trip` and `side`).
    """
    stretches = [one for one in full_load_stretches(steps, sides) if one.side in revolutions_per_km]
    if sides is None or len(stretches) < MIN_STRETCHES:
        return _none()
    even = sides.gather_every(2)
    odd = sides.gather_every(2, offset=1)
    if odd.height == 0:
        return _none()
    halves = dict.fromkeys(even["trip"], 0) | dict.fromkeys(odd["trip"], 1)
    fitted = (inputs_from(odd), inputs_from(even))
    logged = np.array([one.speed_mps[-1] for one in stretches])
    model = np.array(
        [predict_end(one, fitted[halves[one.trip]], revolutions_per_km) for one in stretches]
    )
    off = (model - logged) * 3.6
    return ModelCheck(
        stretches=len(stretches),
        km=float(sum(one.distance_m[-1] for one in stretches) / 1000),
        bias_kmh=float(off.mean()),
        rms_kmh=float(np.sqrt((off**2).mean())),
        median_absolute_percent=float(np.median(np.abs(model / logged - 1)) * 100),
    )


def _none() -> ModelCheck:
    return ModelCheck(
        stretches=0,
        km=0.0,
        bias_kmh=None,
        rms_kmh=None,
        median_absolute_percent=None,
        why=WHY_NONE,
    )
