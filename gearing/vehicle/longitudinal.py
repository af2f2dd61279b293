"""The road model: many vehicles side by side, forward along a road.

Each lane is one vehicle (a draw of what is not known for sure, on one set of tires, in one
direction); all lanes advance together, one piece of road at a time. State is kinetic energy,
so that over a piece force times length is energy and the books close; forces are taken at the
piece's middle, reached with the last piece's slope. Sources of the forces stand in
`road_load`, of the engine in `engine`.

The driver wants the target speed, asks for full load where it falls short, lets engine and
retarder brake in the highest gear that suffices (or, where the lane says so, in whatever gear it
is) and the service brakes do the rest. Gears change by shaft speed with hysteresis, earlier or
later with load (kick-down).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import TYPE_CHECKING

import numpy as np

from gearing.vehicle.atmosphere import LAPSE_K_PER_M, density_kgpm3, standard_pressure_pa
from gearing.vehicle.lane_gears import LaneGears
from gearing.vehicle.lanes import Lanes, Run
from gearing.vehicle.road_load import (
    air_force_n,
    grade_force_n,
    rolling_coefficient,
    rolling_force_n,
)
from gearing.vehicle.shifting import MIN_SHIFT_INTERVAL_S, Shifting

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from gearing.vehicle.powertrain import Powertrain
    from gearing.vehicle.road import Road

    Array = NDArray[np.float64]

MAX_ACCELERATION_MPS2 = 1.0  # a driver's, not the engine's; common practice, no source
CRAWL_MPS = 0.3
# The fan comes in after a minute and a half of hard work and goes after as long of ease:
# common practice, no source. Its power goes with the cube of its speed (fan laws).
FAN_LOAD = 0.9
FAN_AFTER_S = 90.0
FULL_LOAD_SHARE = 0.98
_CRAWL_ENERGY = CRAWL_MPS**2 / 2
_BOOKS = (
    "s",
    "l",
    "full_s",
    "drive",
    "engine",
    "retarder",
    "service",
    "air",
    "roll",
    "grade",
    "kinetic",
)


def drive(powertrain: Powertrain, lanes: Lanes, roads: Sequence[Road]) -> Run:
    """Drives every lane along its road, from standstill or the road's first target speed.

    Raises
    ------
    ValueError
        no road, roads of unequal counts of pieces, or a lane whose road is not given.
    """
    if not roads or len({road.grade.size for road in roads}) != 1:
        raise ValueError("all roads driven together must have the same number of pieces")
    if lanes.road.min() < 0 or lanes.road.max() >= len(roads):
        raise ValueError("a lane's road is not among the roads given")
    return _Drive(powertrain, lanes, roads).run()


@dataclass(frozen=True, slots=True)
class _Resistance:
    """What holds each lane back over a piece [N]."""

    rolling_n: Array
    climbing_n: Array
    air_n: Array

    @property
    def total_n(self) -> Array:
        return self.rolling_n + self.climbing_n + self.air_n


@dataclass(frozen=True, slots=True)
class _Chosen:
    """The gear of each lane (from 0), its change, its forces [N], its place in the tables."""

    gear: NDArray[np.int64]
    change: NDArray[np.int64]
    full_n: Array
    friction_n: Array
    braking_n: Array
    index: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class _Moved:
    """What a piece took: forces [N], time [s], crank power [W], kinetic energy gained [J]."""

    force_n: Array
    service_n: Array
    available_n: Array
    seconds: Array
    power_w: Array
    gained_j: Array


class _Drive:
    """One call of `drive`: constants by lane, state by lane, books by lane."""

    def __init__(self, powertrain: Powertrain, lanes: Lanes, roads: Sequence[Road]) -> None:
        self.powertrain, self.lanes, self.which = powertrain, lanes, lanes.road
        self.gears = LaneGears(powertrain, lanes)
        self.shifting = Shifting(powertrain, lanes.gears_down)
        self.step_m = np.stack([road.step_m for road in roads], axis=1)
        self.grade = np.stack([road.grade for road in roads], axis=1)
        self.altitude = np.stack([road.altitude_m for road in roads], axis=1)
        self.target = np.stack([road.target_mps for road in roads], axis=1)
        self.stop_s = np.stack([road.stop_s for road in roads], axis=1)
        top = self.gears.rpm_per_mps[self.gears.offset + self.gears.count - 1]
        self.fastest = powertrain.engine.governed_rpm / top
        self._set_air()
        self._set_state()

    def _set_air(self) -> None:
        """Pressure, torque left and cooling above the reference height, by piece and road."""
        lanes = self.lanes
        self.pressure = standard_pressure_pa(self.altitude)
        self.cooler_k = (self.altitude - lanes.temperature_altitude_m) * LAPSE_K_PER_M
        self.left = self.powertrain.engine.altitude_factor(self.altitude)
        mean_cooler = (self.cooler_k * self.step_m).sum(0) / self.step_m.sum(0)
        self.rolling = rolling_coefficient(
            lanes.rolling_at_25c,
            lanes.temperature_c - mean_cooler[self.which],
            lanes.rolling_per_k,
        )

    def _set_state(self) -> None:
        pieces, count = self.step_m.shape[0], self.lanes.mass_kg.size
        self.speed = np.maximum(self._target(0), CRAWL_MPS)
        self.slope = np.zeros(count)
        self.since_s = np.full(count, MIN_SHIFT_INTERVAL_S)
        self.hard_s = np.zeros(count)
        self.fan = np.zeros(count, dtype=np.bool_)
        self.gear = self._first_gear()
        self.stalled = np.zeros(count, dtype=np.bool_)
        self.books = {name: np.zeros(count) for name in _BOOKS}
        self.kept = {
            name: np.empty((pieces, count), dtype=np.float32)
            for name in ("speed", "rpm", "load", "service", "dt", "fuel")
        }
        self.kept_gear = np.empty((pieces, count), dtype=np.int8)

    def _first_gear(self) -> NDArray[np.int64]:
        """The highest gear whose engine speed is above its light downshift point."""
        gears = self.gears
        rpm = gears.rpm_per_mps.reshape(-1, gears.count) * self.speed[:, None]
        usable = rpm >= self.shifting.down_light * 1.1
        usable[:, 0] = True
        first: NDArray[np.int64] = gears.count - 1 - np.argmax(usable[:, ::-1], axis=1)
        return first

    def run(self) -> Run:
        for piece in range(self.step_m.shape[0]):
            self._advance(piece)
        books = self.books
        return Run(
            seconds=books["s"],
            speed_mps=self.kept["speed"],
            gear=self.kept_gear,
            engine_rpm=self.kept["rpm"],
            load=self.kept["load"],
            service_brake_n=self.kept["service"],
            duration_s=self.kept["dt"],
            fuel_l=self.kept["fuel"],
            liters=books["l"],
            full_load_s=books["full_s"],
            stalled=self.stalled,
            drive_j=books["drive"],
            engine_brake_j=books["engine"],
            retarder_j=books["retarder"],
            service_brake_j=books["service"],
            air_j=books["air"],
            rolling_j=books["roll"],
            grade_j=books["grade"],
            kinetic_j=books["kinetic"],
        )

    def _advance(self, piece: int) -> None:
        step = self.step_m[piece][self.which]
        energy = self.speed * self.speed / 2
        middle = np.sqrt(2 * np.maximum(energy + 0.5 * step * self.slope, _CRAWL_ENERGY))
        resistance = self._resistance(piece, middle)
        wanted = self._wanted(piece, energy, step)
        chosen = self._choose(piece, middle, wanted, resistance.total_n)
        moved = self._move(step, energy, middle, wanted, chosen, resistance)
        self._keep(piece, step, moved, chosen, resistance)

    def _resistance(self, piece: int, speed: Array) -> _Resistance:
        which, mass = self.which, self.lanes.mass_kg
        grade = self.grade[piece][which]
        celsius = self.lanes.temperature_c - self.cooler_k[piece][which]
        density = density_kgpm3(self.pressure[piece][which], celsius)
        return _Resistance(
            rolling_n=rolling_force_n(mass, self.rolling, grade),
            climbing_n=grade_force_n(mass, grade),
            air_n=air_force_n(speed, density, self.lanes.drag_area_m2, self.lanes.headwind_mps),
        )

    def _wanted(self, piece: int, energy: Array, step: Array) -> Array:
        """Acceleration [m/s2] that would reach the target speed at the piece's end."""
        target = self._target(piece + 1)
        aimed = np.maximum(target * target / 2, _CRAWL_ENERGY)
        wanted: Array = np.minimum((aimed - energy) / step, MAX_ACCELERATION_MPS2)
        return wanted

    def _target(self, edge: int) -> Array:
        """The speed this driver seeks there [m/s]: none that turns the engine over governed."""
        wanted = self.target[edge][self.which] * self.lanes.speed_factor
        target: Array = np.minimum(wanted, self.fastest)
        return target

    def _choose(self, piece: int, middle: Array, wanted: Array, resisting: Array) -> _Chosen:
        """The gear for this piece, and what it can give and take."""
        gears, gear = self.gears, self.gear
        needed = wanted * gears.inertia_kg[gears.offset + gear] + resisting
        three = np.stack([gear, np.maximum(gear - 1, 0), np.minimum(gear + 1, gears.count - 1)])
        places = gears.offset + three
        rpm = gears.rpm_per_mps[places] * middle
        index = gears.row[three] + np.minimum(rpm.astype(np.int64), gears.length - 1)
        left = self.left[piece][self.which] * self.lanes.torque_factor
        torque = np.maximum(gears.full_nm[index] * left - self._fan_nm(index), 0.0)
        full = torque * gears.drive_per_nm[places]
        lanes = self.lanes
        friction = gears.friction_nm[index] * lanes.drag_factor * gears.brake_per_nm[places]
        at_engine = gears.retarder_nm[index] * gears.brake_per_nm[places]
        at_output = gears.output_retarder_n(middle)
        braking = friction + (at_engine + at_output) * lanes.retarder_factor
        change = self.shifting.choose(gear, rpm, full, braking, needed, self.since_s)
        # row 0 stays, 1 is lower, 2 is higher
        row = np.where(change < 0, 1, np.where(change > 0, 2, 0))
        lane = np.arange(row.size)
        return _Chosen(
            gear=gear + change,
            change=change,
            full_n=full[row, lane],
            friction_n=friction[row, lane],
            braking_n=braking[row, lane],
            index=index[row, lane],
        )

    def _move(
        self,
        step: Array,
        energy: Array,
        middle: Array,
        wanted: Array,
        chosen: _Chosen,
        resistance: _Resistance,
    ) -> _Moved:
        """Forces, and the speed they lead to. Sets the lanes' state."""
        inertia = self.gears.inertia_kg[self.gears.offset + chosen.gear]
        needed = wanted * inertia + resistance.total_n
        available = chosen.full_n
        if self.powertrain.shift_interruption_s:
            lost = np.minimum(self.powertrain.shift_interruption_s * middle / step, 1.0)
            available = np.where(chosen.change != 0, available * (1 - lost), available)
        force = np.clip(needed, -chosen.braking_n, available)
        service = np.maximum(-chosen.braking_n - needed, 0.0)
        slope = (force - service - resistance.total_n) / inertia
        raw = energy + step * slope
        self.stalled |= (raw < _CRAWL_ENERGY) & (needed > available)
        new_energy = np.maximum(raw, _CRAWL_ENERGY)
        new_speed = np.sqrt(2 * new_energy)
        seconds = 2 * step / (self.speed + new_speed)
        self.since_s = np.where(chosen.change != 0, 0.0, self.since_s + seconds)
        self.slope, self.speed, self.gear = slope, new_speed, chosen.gear
        return _Moved(
            force_n=force,
            service_n=service,
            available_n=available,
            seconds=seconds,
            power_w=self._crank_power(force, middle, chosen),
            gained_j=inertia * (new_energy - energy),
        )

    def _crank_power(self, force: Array, middle: Array, chosen: _Chosen) -> Array:
        """Engine power for the wheels [W]; negative where the engine is turned by them."""
        efficiency = self.gears.efficiency[chosen.gear]
        passed = self.gears.passed_on[chosen.index]
        at_crank = np.where(force > 0, force / (efficiency * passed), force * efficiency)
        power: Array = at_crank * middle
        return power

    def _keep(
        self,
        piece: int,
        step: Array,
        moved: _Moved,
        chosen: _Chosen,
        resistance: _Resistance,
    ) -> None:
        """Everything into the books and histories."""
        books, kept, powertrain = self.books, self.kept, self.powertrain
        willans = powertrain.engine.willans
        force, seconds = moved.force_n, moved.seconds
        engine_rpm = self.gears.engine_rpm[chosen.index]
        load = np.where(force > 0, force / np.maximum(chosen.full_n, 1.0), -1.0 * (force < 0))
        power = moved.power_w + powertrain.auxiliary_w + self._run_fan(load, seconds, engine_rpm)
        fuel = willans.fuel_rate_lph(power, engine_rpm) * seconds / 3600
        at_full = (force >= FULL_LOAD_SHARE * moved.available_n) & (moved.available_n > 0)
        books["full_s"] += np.where(at_full, seconds, 0.0)
        stop = self.stop_s[piece + 1][self.which]
        if stop.any():
            idle = willans.fuel_rate_lph(powertrain.auxiliary_w, powertrain.engine.idle_rpm)
            fuel = fuel + idle * stop / 3600
            seconds = seconds + stop
        drive_n = np.maximum(force, 0.0)
        books["s"] += seconds
        books["l"] += fuel
        books["drive"] += drive_n * step
        books["engine"] += (drive_n - force) * step
        # the retarder takes what friction leaves
        books["retarder"] += np.maximum(-force - chosen.friction_n, 0.0) * step
        books["service"] += moved.service_n * step
        books["air"] += resistance.air_n * step
        books["roll"] += resistance.rolling_n * step
        books["grade"] += resistance.climbing_n * step
        books["kinetic"] += moved.gained_j
        kept["speed"][piece] = self.speed
        kept["rpm"][piece] = engine_rpm
        kept["load"][piece] = load
        kept["service"][piece] = moved.service_n
        kept["dt"][piece] = seconds
        kept["fuel"][piece] = fuel
        self.kept_gear[piece] = chosen.gear + 1

    def _fan_nm(self, index: NDArray[np.int64]) -> Array | float:
        """Torque the fan takes [N m] where it runs, at the engine speeds of `index`."""
        if self.powertrain.fan_w <= 0:
            return 0.0
        governed = self.powertrain.engine.governed_rpm
        at_governed = self.powertrain.fan_w / (governed * 2 * pi / 60)
        taken: Array = self.fan * at_governed * (self.gears.engine_rpm[index] / governed) ** 2
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
