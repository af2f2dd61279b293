"""The road model: an ensemble of vehicles side by side, forward along a road.

Each vehicle is a draw of what is not known for sure, on one set of tires, in one direction; all
advance together, one piece of road at a time. State is kinetic energy, so that over a piece force
times length is energy and the totals close; forces are taken at the piece's middle, reached with
the last piece's slope. Sources of the forces stand in `road_load`, of the engine in `engine`,
of losses in `parameters`; gears are chosen by `driver`.

The driver wants the target speed, asks for full load where it falls short, lets engine and
retarder brake and the service brakes do the rest.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import TYPE_CHECKING, Any

import numpy as np

from gearing.units import STANDARD_GRAVITY_MPS2
from gearing.vehicle.atmosphere import LAPSE_K_PER_M, density_kgpm3, standard_pressure_pa
from gearing.vehicle.driver import (
    GENTLE_MPS2,
    MIN_SHIFT_INTERVAL_S,
    NEAR_TARGET,
    SHORT_OF_TARGET,
    Driver,
    Situation,
    dips,
)
from gearing.vehicle.ensemble import Ensemble, Run
from gearing.vehicle.ensemble_gears import EnsembleGears, Forces
from gearing.vehicle.road_load import (
    air_force_n,
    along_and_across,
    rolling_coefficient,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from gearing.vehicle.powertrain import Powertrain
    from gearing.vehicle.road import Road

    Array = NDArray[np.float64]
    Places = NDArray[np.int64]

MAX_ACCELERATION_MPS2 = 1.0  # a driver's, not the engine's; common practice, no source
CRAWL_MPS = 0.3
AHEAD_M = 250.0  # the driver looks so far; common practice, no source
# The fan comes in after a minute and a half of hard work and goes after as long of ease:
# common practice, no source. Its power goes with the cube of its speed (fan laws).
FAN_LOAD = 0.9
FAN_AFTER_S = 90.0
FULL_LOAD_SHARE = 0.98
_CRAWL_ENERGY = CRAWL_MPS**2 / 2
_TOTALS = (
    "seconds", "liters", "full_load_s", "drive_j", "engine_brake_j", "retarder_j",
    "service_brake_j", "air_j", "rolling_j", "grade_j", "kinetic_j",
)  # fmt: skip
_SERIES = ("speed_mps", "engine_rpm", "load", "service_brake_n", "duration_s", "fuel_l")


def drive(powertrain: Powertrain, ensemble: Ensemble, roads: Sequence[Road]) -> Run:
    """Drives every vehicle along its road, from standstill or the road's first target speed.

    Raises
    ------
    ValueError
        no road, roads of unequal counts of pieces, or a vehicle whose road is not given.
    """
    if not roads or len({road.grade.size for road in roads}) != 1:
        raise ValueError("all roads driven together must have the same number of pieces")
    if ensemble.road.min() < 0 or ensemble.road.max() >= len(roads):
        raise ValueError("a vehicle's road is not among the roads given")
    return _Drive(powertrain, ensemble, roads).run()


@dataclass(frozen=True, slots=True)
class _Resistance:
    """What holds each vehicle back over a piece [N]."""

    rolling_n: Array
    climbing_n: Array
    air_n: Array

    @property
    def level_n(self) -> Array:
        """What would hold the vehicle back if the piece were level [N], shape (n,)."""
        return self.rolling_n + self.air_n


@dataclass(frozen=True, slots=True)
class _Moved:
    """What a piece took: forces [N], time [s], crank power [W], kinetic energy gained [J]."""

    force_n: Array
    service_n: Array
    seconds: Array
    load: Array
    power_w: Array
    gained_j: Array


class _Drive:
    """One call of `drive`: constants, state and totals by vehicle."""

    def __init__(self, powertrain: Powertrain, ensemble: Ensemble, roads: Sequence[Road]) -> None:
        self.powertrain, self.ensemble, self.which = powertrain, ensemble, ensemble.road
        self.gears = EnsembleGears(powertrain, ensemble)
        self.driver = Driver(powertrain, self.gears, ensemble, roads)
        self.dips = dips(roads, self.driver)
        self.overrun = ensemble.overrun + np.zeros(ensemble.mass_kg.size)
        self.may_overrun = self.overrun > 0
        self.overruns = bool(self.may_overrun.any())
        self.step_m = np.stack([road.step_m for road in roads], axis=1)
        grade = np.stack([road.grade for road in roads], axis=1)
        self.sine, self.cosine = along_and_across(grade)
        self.ahead = np.stack([_ahead(road) for road in roads], axis=1)
        self.altitude = np.stack([road.altitude_m for road in roads], axis=1)
        self.target = np.stack([road.target_mps for road in roads], axis=1)
        self.limit = np.stack([road.limit_mps for road in roads], axis=1)
        self.stop_s = np.stack([road.stop_s for road in roads], axis=1)
        top = self.gears.rpm_per_mps[self.gears.first + self.gears.count - 1]
        self.fastest = powertrain.engine.governed_rpm / top
        self._set_air()
        self._set_state()

    def _set_air(self) -> None:
        """Pressure, torque left and cooling above the reference height, by piece and road."""
        ensemble = self.ensemble
        self.pressure = standard_pressure_pa(self.altitude)
        self.cooler_k = (self.altitude - ensemble.temperature_altitude_m) * LAPSE_K_PER_M
        self.left = self.powertrain.engine.altitude_factor(self.altitude)
        mean_cooler = (self.cooler_k * self.step_m).sum(0) / self.step_m.sum(0)
        rolling = rolling_coefficient(
            ensemble.rolling_at_25c,
            ensemble.temperature_c - mean_cooler[self.which],
            ensemble.rolling_per_k,
        )
        self.weight_n = ensemble.mass_kg * STANDARD_GRAVITY_MPS2
        self.rolling_n = self.weight_n * rolling

    def _set_state(self) -> None:
        pieces, count = self.step_m.shape[0], self.ensemble.mass_kg.size
        self.speed = np.maximum(self._target(0), CRAWL_MPS)
        self.slope = np.zeros(count)
        self.since_s = np.full(count, MIN_SHIFT_INTERVAL_S)
        self.gap_s = np.zeros(count)  # of a shift under way, without pull
        self.hard_s = np.zeros(count)
        self.fan = np.zeros(count, dtype=np.bool_)
        self.gear = self._first_gear()
        self.stalled = np.zeros(count, dtype=np.bool_)
        self.totals: dict[str, Any] = {name: np.zeros(count) for name in _TOTALS}
        self.series: dict[str, Any] = {
            name: np.empty((pieces, count), dtype=np.float32) for name in _SERIES
        }
        self.gear_series = np.empty((pieces, count), dtype=np.int8)

    def _first_gear(self) -> Places:
        """The highest gear whose engine speed is above its light downshift point."""
        gears = self.gears
        rpm = gears.rpm_per_mps.reshape(-1, gears.count) * self.speed[:, None]
        usable = rpm >= self.driver.down_light * 1.1
        usable[:, 0] = True
        first: Places = gears.count - 1 - np.argmax(usable[:, ::-1], axis=1)
        return first

    def run(self) -> Run:
        """Drives all vehicles over all pieces in order, and gives what they did."""
        for piece in range(self.step_m.shape[0]):
            self._advance(piece)
        return Run(**self.totals, **self.series, gear=self.gear_series, stalled=self.stalled)

    def _advance(self, piece: int) -> None:
        step = self.step_m[piece][self.which]
        energy = self.speed * self.speed / 2
        middle = np.sqrt(2 * np.maximum(energy + 0.5 * step * self.slope, _CRAWL_ENERGY))
        resistance = self._resistance(piece, middle)
        target = self._target(piece + 1)
        wanted = _wanted(target, energy, step)
        forces = self._choose(piece, middle, target, wanted, resistance)
        moved = self._move(piece, step, energy, middle, target, wanted, forces, resistance)
        self._keep(piece, step, moved, forces, resistance)

    def _resistance(self, piece: int, speed: Array) -> _Resistance:
        which, ensemble = self.which, self.ensemble
        celsius = self.ensemble.temperature_c - self.cooler_k[piece][which]
        density = density_kgpm3(self.pressure[piece][which], celsius)
        return _Resistance(
            rolling_n=self.rolling_n * self.cosine[piece][which],
            climbing_n=self.weight_n * self.sine[piece][which],
            air_n=air_force_n(speed, density, ensemble.drag_area_m2, ensemble.headwind_mps),
        )

    def _target(self, edge: int) -> Array:
        """The speed this driver seeks there [m/s]: none that turns the engine over governed."""
        wanted = self.target[edge][self.which] * self.ensemble.speed_factor
        target: Array = np.minimum(wanted, self.fastest)
        return target

    def _choose(
        self, piece: int, middle: Array, target: Array, wanted: Array, resistance: _Resistance
    ) -> Forces:
        """What the gear chosen for this piece gives and takes; sets the vehicles' gears."""
        gears, gear, which = self.gears, self.gear, self.which
        share = self.left[piece][which] * self.ensemble.torque_factor
        fan = self._fan_nm()
        forces = gears.forces(gear, middle, share, fan, slice(None))
        level = resistance.level_n
        resisting = level + resistance.climbing_n
        inertia = gears.inertia_kg[gears.first + gear]
        near = middle > NEAR_TARGET * target
        at = Situation(
            piece=piece,
            speed=middle,
            limit=self.limit[piece + 1][which] * self.ensemble.speed_factor,
            level_n=level,
            resisting_n=resisting,
            ahead_n=level + self.weight_n * self.ahead[piece][which],
            wanted=wanted,
            needed_n=wanted * inertia + resisting,
            steady_n=np.where(near, np.minimum(wanted, GENTLE_MPS2), wanted) * inertia + resisting,
            torque_share=share,
            fan_nm=fan,
        )
        chosen = self.driver.choose(gear, forces, at, self.since_s)
        if chosen is gear:
            return forces
        changed = np.flatnonzero(chosen != gear)
        self.gap_s[changed] = self.powertrain.shift_interruption_s
        self.since_s[changed] = 0.0
        self.gear = chosen
        taken = fan[changed] if isinstance(fan, np.ndarray) else fan
        forces.put(
            changed, gears.forces(chosen[changed], middle[changed], share[changed], taken, changed)
        )
        return forces

    def _move(
        self,
        piece: int,
        step: Array,
        energy: Array,
        middle: Array,
        target: Array,
        wanted: Array,
        forces: Forces,
        resistance: _Resistance,
    ) -> _Moved:
        """Forces, and the speed they lead to. Sets the vehicles' state."""
        inertia = self.gears.inertia_kg[self.gears.first + self.gear]
        resisting = resistance.level_n + resistance.climbing_n
        needed = wanted * inertia + resisting
        if self.overruns:
            needed = self._run_out(piece, needed, energy, target, step, inertia, resisting, forces)
        whole = step / middle
        available, lost = forces.full_n, self.gap_s > 0
        if lost.any():
            part = np.minimum(self.gap_s / whole, 1.0)
            self.gap_s = np.maximum(self.gap_s - whole, 0.0)
            available = np.where(available > 0, available * (1 - part), available)
            lost = part >= 1
        force = np.clip(needed, -forces.braking_n, available)
        service = np.maximum(-forces.braking_n - needed, 0.0)
        slope = (force - service - resisting) / inertia
        raw = energy + step * slope
        self.stalled |= (raw < _CRAWL_ENERGY) & (needed > available) & ~lost
        new_energy = np.maximum(raw, _CRAWL_ENERGY)
        new_speed = np.sqrt(2 * new_energy)
        seconds = 2 * step / (self.speed + new_speed)
        self.since_s = self.since_s + seconds
        self.slope, self.speed = slope, new_speed
        geared = force + forces.drag_n  # what the engine gives before the gears' drag
        most = np.maximum(forces.full_n + forces.drag_n, 1.0)
        load = np.where(geared > 0, geared / most, -1.0)
        self.driver.passed(load, slope, new_speed < SHORT_OF_TARGET * target, seconds)
        return _Moved(
            force_n=force,
            service_n=service,
            seconds=seconds,
            load=load,
            power_w=self._crank_power(geared, middle, forces),
            gained_j=inertia * (new_energy - energy),
        )

    def _run_out(
        self,
        piece: int,
        needed: Array,
        energy: Array,
        target: Array,
        step: Array,
        inertia: Array,
        resisting: Array,
        forces: Forces,
    ) -> Array:
        """The force needed where a dip may be run out: brakes come on at the overrun's end only."""
        runs = (needed < -forces.friction_n) & self.dips[piece][self.which] & self.may_overrun
        who = np.flatnonzero(runs)
        if who.size:
            most = target[who] * (1 + self.overrun[who])
            at_most = (most * most / 2 - energy[who]) / step[who] * inertia[who] + resisting[who]
            coasts = np.minimum(-forces.friction_n[who], at_most)
            needed[who] = np.maximum(needed[who], coasts)
        return needed

    def _crank_power(self, geared_n: Array, middle: Array, forces: Forces) -> Array:
        """Engine power for the wheels and gears [W]; negative where it is turned by them."""
        efficiency = self.gears.efficiency[self.gears.first + self.gear]
        passed = self.gears.passed_on[forces.index]
        at_crank = np.where(geared_n > 0, geared_n / (efficiency * passed), geared_n * efficiency)
        power: Array = at_crank * middle
        return power

    def _keep(
        self, piece: int, step: Array, moved: _Moved, forces: Forces, resistance: _Resistance
    ) -> None:
        """Everything into the totals and time series."""
        totals, series, powertrain = self.totals, self.series, self.powertrain
        willans = powertrain.engine.willans
        force, seconds = moved.force_n, moved.seconds
        engine_rpm = self.gears.engine_rpm[forces.index]
        fan_w = self._run_fan(moved.load, seconds, engine_rpm)
        power = moved.power_w + powertrain.auxiliary_w + fan_w
        fuel = willans.fuel_rate_lph(power, engine_rpm) * seconds / 3600
        totals["full_load_s"] += np.where(moved.load >= FULL_LOAD_SHARE, seconds, 0.0)
        stop = self.stop_s[piece + 1][self.which]
        if stop.any():
            idle = willans.fuel_rate_lph(powertrain.auxiliary_w, powertrain.engine.idle_rpm)
            fuel = fuel + idle * stop / 3600
            seconds = seconds + stop
        drive_n = np.maximum(force, 0.0)
        totals["seconds"] += seconds
        totals["liters"] += fuel
        totals["drive_j"] += drive_n * step
        totals["engine_brake_j"] += (drive_n - force) * step
        # the retarder takes what friction leaves
        totals["retarder_j"] += np.maximum(-force - forces.friction_n, 0.0) * step
        totals["service_brake_j"] += moved.service_n * step
        totals["air_j"] += resistance.air_n * step
        totals["rolling_j"] += resistance.rolling_n * step
        totals["grade_j"] += resistance.climbing_n * step
        totals["kinetic_j"] += moved.gained_j
        series["speed_mps"][piece] = self.speed
        series["engine_rpm"][piece] = engine_rpm
        series["load"][piece] = moved.load
        series["service_brake_n"][piece] = moved.service_n
        series["duration_s"][piece] = seconds
        series["fuel_l"][piece] = fuel
        self.gear_series[piece] = self.gear + 1

    def _fan_nm(self) -> Array | float:
        """Torque the fan takes where it runs [N m], over the engine's speed squared [rpm]."""
        if self.powertrain.fan_w <= 0:
            return 0.0
        governed = self.powertrain.engine.governed_rpm
        at_governed = self.powertrain.fan_w / (governed * 2 * pi / 60)
        taken: Array = np.where(self.fan, at_governed / governed**2, 0.0)
        return taken

    def _run_fan(self, load: Array, seconds: Array, engine_rpm: Array) -> Array | float:
        """The fan's power [W] over this piece; sets whether it runs in the next."""
        if self.powertrain.fan_w <= 0:
            return 0.0
        governed = self.powertrain.engine.governed_rpm
        power: Array = self.fan * self.powertrain.fan_w * (engine_rpm / governed) ** 3
        change = np.where(load >= FAN_LOAD, seconds, -seconds)
        self.hard_s = np.clip(self.hard_s + change, 0.0, FAN_AFTER_S)
        self.fan = np.where(self.fan, self.hard_s > 0, self.hard_s >= FAN_AFTER_S)
        return power


def _wanted(target: Array, energy: Array, step: Array) -> Array:
    """Acceleration [m/s2] that would reach the target speed at the piece's end."""
    aimed = np.maximum(target * target / 2, _CRAWL_ENERGY)
    wanted: Array = np.minimum((aimed - energy) / step, MAX_ACCELERATION_MPS2)
    return wanted


def _ahead(road: Road) -> Array:
    """Rise [-] a metre of road over the next `AHEAD_M` from each piece's start."""
    sine, _ = along_and_across(road.grade)
    height = np.concatenate([[0.0], np.cumsum(sine * road.step_m)])
    here = road.edge_m[:-1]
    there = np.minimum(here + AHEAD_M, road.edge_m[-1])
    ahead: Array = (np.interp(there, road.edge_m, height) - height[:-1]) / (there - here)
    return ahead
