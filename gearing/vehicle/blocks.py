"""A block of pieces of road as the vehicles under way meet them, and what they did there.

What does not depend on how a vehicle has driven so far is worked out for many pieces at once,
before them (`Block`) and after them (`keep`): driven piece by piece, it is the calls of numpy that
take the time, hardly the numbers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from gearing.units import STANDARD_GRAVITY_MPS2
from gearing.vehicle.atmosphere import LAPSE_K_PER_M, density_kgpm3, standard_pressure_pa
from gearing.vehicle.pace import GENTLE_PACE
from gearing.vehicle.road_load import rolling_coefficient

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from gearing.units import Array
    from gearing.vehicle.ensemble import Ensemble
    from gearing.vehicle.ensemble_gears import EnsembleGears
    from gearing.vehicle.powertrain import Powertrain
    from gearing.vehicle.road_tables import RoadTables

CRAWL_MPS = 0.3
CRAWL_SQUARE = CRAWL_MPS**2
FULL_LOAD_SHARE = 0.98
TOTALS = (
    "seconds", "liters", "full_load_s", "drive_j", "engine_brake_j", "retarder_j",
    "service_brake_j", "air_j", "rolling_j", "grade_j", "kinetic_j",
)  # fmt: skip
_SERIES = ("speed_mps", "engine_rpm", "load", "service_brake_n", "duration_s", "fuel_l")
_DID = (
    "speed_mps", "middle_mps", "seconds", "load", "force_n", "service_n", "air_n", "friction_n",
    "drag_n",
)  # fmt: skip


class Loads:
    """What vehicles and roads bring along: weight and rolling [N] by vehicle, pressure and torque
    left by piece and road, the speed sought."""

    def __init__(
        self, powertrain: Powertrain, ensemble: Ensemble, roads: RoadTables, top_rpm_per_mps: Array
    ) -> None:
        self.ensemble, self.roads = ensemble, roads
        self.dip_overspeed_share = np.asarray(ensemble.dip_overspeed_share)
        self.pressure_pa = standard_pressure_pa(roads.altitude_m)
        self.torque_left = powertrain.engine.altitude_factor(roads.altitude_m)
        self.sea_level_c = ensemble.temperature_c
        self.pace = np.asarray(ensemble.pace)
        altitude = (roads.altitude_m * roads.step_m).sum(0) / roads.step_m.sum(0)
        rolling = rolling_coefficient(
            ensemble.rolling_at_25c,
            self.sea_level_c - altitude[ensemble.road] * LAPSE_K_PER_M,
            ensemble.rolling_per_k,
        )
        self.weight_n = ensemble.mass_kg * STANDARD_GRAVITY_MPS2
        self.rolling_n = self.weight_n * rolling
        self._speed_factor = np.asarray(ensemble.speed_factor)
        self._fastest = powertrain.engine.governed_rpm / top_rpm_per_mps

    def sought(self, target_mps: Array, first: slice) -> Array:
        """The speed these drivers seek [m/s]: none that turns the engine over governed."""
        sought: Array = np.minimum(target_mps * self._speed_factor[first], self._fastest[first])
        return sought


class Block:
    """Pieces `rows` of road as the `first` vehicles meet them, arrays (b, n), and room for what
    they do there, from a speed [m/s] on."""

    def __init__(self, loads: Loads, rows: slice, first: slice, start_mps: Array) -> None:
        roads, which = loads.roads, loads.ensemble.road[first]

        def met(table: Any) -> Any:
            return table[rows][:, which]

        celsius = loads.sea_level_c[first] - met(roads.altitude_m) * LAPSE_K_PER_M
        self.rows, self.start_mps, self.step_m = rows, start_mps, met(roads.step_m)
        self.twice_m = 2 * self.step_m
        self.density_kgpm3 = density_kgpm3(met(loads.pressure_pa), celsius)
        self.rolling_n = loads.rolling_n[first] * met(roads.cosine)
        self.climbing_n = loads.weight_n[first] * met(roads.sine)
        self.ahead_n = loads.weight_n[first] * met(roads.ahead)
        self.torque_share = loads.ensemble.torque_factor[first] * met(loads.torque_left)
        self.pace = loads.pace[first]
        self.target_mps = loads.sought(self._slowed(met, roads), first)
        self.aimed = np.maximum(self.target_mps**2, CRAWL_SQUARE)
        self.may_run_out = met(roads.dips) & (loads.dip_overspeed_share[first] > 0)
        self.stop_s = met(roads.stop_s)
        self.did = {name: np.empty(self.step_m.shape) for name in _DID}
        self.gear, self.index = (np.empty(self.step_m.shape, dtype=np.int64) for _ in range(2))
        self.fan = np.zeros(self.step_m.shape, dtype=np.bool_)

    def _slowed(self, met: Callable[[Any], Any], roads: RoadTables) -> Array:
        """Speeds wanted [m/s] at these vehicles' pace: where one slows down the squares of speed
        go with the pace in a straight line."""
        target = met(roads.target_mps)
        if np.all(self.pace == 1):
            return np.asarray(target)
        gentle, usual = np.moveaxis(met(roads.slows_from_m2ps2), -1, 0)
        square = gentle + (self.pace - GENTLE_PACE) / (1 - GENTLE_PACE) * (usual - gentle)
        slowed: Array = np.sqrt(np.clip(square, 0.0, met(roads.limit_mps) ** 2))
        return slowed


@dataclass(frozen=True, slots=True)
class Part:
    """The vehicles of one ensemble among all, and what they did by piece of road."""

    place: slice
    pieces: int
    series: dict[str, Any]

    @classmethod
    def of(cls, first: int, count: int, pieces: int) -> Part:
        """Room for so many vehicles from the `first` on, on so many pieces of road."""
        series: dict[str, Any] = {
            name: np.empty((pieces, count), dtype=np.float32) for name in _SERIES
        }
        series["gear"] = np.empty((pieces, count), dtype=np.int8)
        return cls(slice(first, first + count), pieces, series)


def keep(
    powertrain: Powertrain,
    gears: EnsembleGears,
    block: Block,
    parts: Sequence[Part],
    totals: dict[str, Array],
) -> None:
    """Adds what was done on a block to the totals and to the time series of the parts under way."""
    did, step = block.did, block.step_m
    willans, seconds, force = powertrain.engine.willans, did["seconds"], did["force_n"]
    place = gears.first[: step.shape[1]] + block.gear
    engine_rpm, efficiency = gears.engine_rpm[block.index], gears.efficiency[place]
    geared = force + did["drag_n"]
    pulls = geared > 0
    power: Array = geared * did["middle_mps"]
    power *= np.where(pulls, 1 / (efficiency * gears.passed_on[block.index]), efficiency)
    power += powertrain.auxiliary_w
    if block.fan.any():
        share = engine_rpm / powertrain.engine.governed_rpm
        power += block.fan * (powertrain.fan_w * share**3)
    idle = powertrain.idle_lph
    if idle is None:
        idle = willans.fuel_rate_lph(powertrain.auxiliary_w, powertrain.engine.idle_rpm)
    fuel = (willans.fuel_rate_lph(power, engine_rpm) * seconds + idle * block.stop_s) / 3600
    drive_n, whole_s = np.maximum(force, 0.0), seconds + block.stop_s
    square = np.concatenate([block.start_mps[None] ** 2, did["speed_mps"] ** 2])
    done: dict[str, Array] = {
        "seconds": whole_s,
        "liters": fuel,
        "full_load_s": seconds * (did["load"] >= FULL_LOAD_SHARE),
        "drive_j": drive_n * step,
        "engine_brake_j": (drive_n - force) * step,
        # the retarder takes what friction leaves
        "retarder_j": np.maximum(-force - did["friction_n"], 0.0) * step,
        "service_brake_j": did["service_n"] * step,
        "air_j": did["air_n"] * step,
        "rolling_j": block.rolling_n * step,
        "grade_j": block.climbing_n * step,
        "kinetic_j": gears.inertia_kg[place] * np.diff(square, axis=0) / 2,
    }
    series = {
        "speed_mps": did["speed_mps"], "engine_rpm": engine_rpm,
        "load": np.where(pulls, did["load"], -1.0), "service_brake_n": did["service_n"],
        "duration_s": whole_s, "fuel_l": fuel, "gear": block.gear + 1,
    }  # fmt: skip
    for part in parts:
        for name, one in series.items():
            part.series[name][block.rows] = one[:, part.place]
    for name, one in done.items():
        total = totals[name][: step.shape[1]]
        for row in one:  # in this order, so that no figure hangs on who else is driven
            total += row
