"""The road model: many vehicles side by side, forward along a road.

Each lane is one vehicle (a draw of what is not known for sure, on one set of tires, in one
direction); all lanes advance together, one piece of road at a time. State is kinetic energy,
so that over a piece force times length is energy and the books close; forces are taken at the
piece's middle, reached with the last piece's slope. Sources of the forces stand in
`road_load`, of the engine in `engine`.

The driver wants the target speed, asks for full load where it falls short, lets engine and
retarder brake in the highest gear that suffices and the service brakes do the rest. Gears
change by shaft speed with hysteresis, earlier or later with load (kick-down).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import TYPE_CHECKING

import numpy as np

from gearing.units import STANDARD_GRAVITY_MPS2
from gearing.vehicle.atmosphere import (
    DRY_AIR_J_PER_KG_K,
    LAPSE_K_PER_M,
    ZERO_CELSIUS_K,
    standard_pressure_pa,
)
from gearing.vehicle.powertrain import Powertrain, ShaftTables, shaft_tables
from gearing.vehicle.road_load import rolling_coefficient

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from gearing.vehicle.road import Road

    Array = NDArray[np.float64]

MAX_ACCELERATION_MPS2 = 1.0  # a driver's, not the engine's; common practice, no source
MIN_SHIFT_INTERVAL_S = 2.0
CRAWL_MPS = 0.3
FULL_LOAD_SHARE = 0.98
_CRAWL_ENERGY = CRAWL_MPS**2 / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Lanes:
    """The vehicles, each array of shape (n,); `road` says which of the roads each drives.

    `rolling_at_25c` [-] and `rolling_per_k` [1/K] as in `road_load`; `temperature_c` at
    altitude `temperature_altitude_m`, less the standard atmosphere's 6.5 K a km above it;
    `headwind_mps` along the way driven; `torque_factor` and `drag_factor` scale the engine's
    full-load torque and its friction.
    """

    mass_kg: Array
    rolling_at_25c: Array
    rolling_per_k: Array
    drag_area_m2: Array
    headwind_mps: Array
    temperature_c: Array
    revolutions_per_km: Array
    torque_factor: Array
    drag_factor: Array
    road: NDArray[np.int64]
    temperature_altitude_m: float = 0.0
    rotating_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class Run:
    """What the lanes did. Histories have shape (k, n), totals (n,). Energies in J.

    `speed_mps`, `gear` (from 1), `engine_rpm` and `load` (share of full load; negative where
    the engine brakes) are those over each piece; the energies are at the wheels.
    """

    seconds: Array
    speed_mps: NDArray[np.float32]
    gear: NDArray[np.int8]
    engine_rpm: NDArray[np.float32]
    load: NDArray[np.float32]
    service_brake_n: NDArray[np.float32]
    duration_s: NDArray[np.float32]
    fuel_l: NDArray[np.float32]
    liters: Array
    full_load_s: Array
    stalled: NDArray[np.bool_]
    drive_j: Array
    engine_brake_j: Array
    service_brake_j: Array
    air_j: Array
    rolling_j: Array
    grade_j: Array
    kinetic_j: Array


class _Gears:
    """Per lane and gear, what a speed at the wheels means at the gearbox, and back."""

    def __init__(self, powertrain: Powertrain, lanes: Lanes) -> None:
        ratios = np.asarray(powertrain.gear_ratios)
        turns_per_m = (
            lanes.revolutions_per_km[:, None] / 1000 * powertrain.axle_ratio * ratios[None, :]
        )
        efficiency = np.asarray(powertrain.efficiencies)
        tables = shaft_tables(powertrain)
        lane = np.arange(lanes.mass_kg.size) * ratios.size
        self.count = ratios.size
        self.offset = lane
        self.rpm_per_mps = (turns_per_m * 60).ravel()
        self.drive_per_nm = (2 * pi * turns_per_m * efficiency).ravel()
        self.brake_per_nm = (2 * pi * turns_per_m / efficiency).ravel()
        self.efficiency = efficiency
        engine_mass = powertrain.engine.inertia_kgm2 * (2 * pi * turns_per_m) ** 2
        self.inertia_kg = (lanes.mass_kg[:, None] + lanes.rotating_kg + engine_mass).ravel()
        self.length = tables.full_torque_nm.shape[1]
        self.row = tables.row_of_gear * self.length
        self.full_nm = tables.full_torque_nm.ravel()
        self.braking_nm = tables.braking_torque_nm.ravel()
        self.engine_rpm = tables.engine_rpm.ravel()
        self.passed_on = np.maximum(tables.passed_on.ravel(), 0.05)
        self._set_output(powertrain, lanes, tables)

    def _set_output(self, powertrain: Powertrain, lanes: Lanes, tables: ShaftTables) -> None:
        shaft_per_m = lanes.revolutions_per_km / 1000 * powertrain.axle_ratio
        self.has_output_retarder = bool(tables.output_retarder_nm.any())
        self.output_nm = tables.output_retarder_nm
        self.output_rpm_per_mps = shaft_per_m * 60
        self.output_brake_per_nm = 2 * pi * shaft_per_m / powertrain.axle_efficiency

    def output_retarder_n(self, speed: Array) -> Array | float:
        if not self.has_output_retarder:
            return 0.0
        place = np.minimum((self.output_rpm_per_mps * speed).astype(np.int64), self.length - 1)
        force: Array = self.output_nm[place] * self.output_brake_per_nm
        return force


class _Shifting:
    """Shift points as arrays by gear, and the rules of when a gear changes."""

    def __init__(self, powertrain: Powertrain) -> None:
        points = powertrain.shift_points
        self.up_light = np.asarray(points.up_light)
        self.up_more = np.asarray(points.up_full) - self.up_light
        self.down_light = np.asarray(points.down_light)
        self.down_more = np.asarray(points.down_full) - self.down_light
        self.governed_rpm = powertrain.engine.governed_rpm
        self.top = len(powertrain.gear_ratios) - 1

    def choose(
        self,
        gear: NDArray[np.int64],
        rpm: Array,
        full: Array,
        braking: Array,
        needed: Array,
        since_s: Array,
    ) -> NDArray[np.int64]:
        """Steps of -1, 0 or 1. `rpm`, `full`, `braking` have shape (3, n): this gear, the next
        lower, the next higher; `needed` is the force wanted at the wheels."""
        load = np.clip(needed / np.maximum(full[0], 1.0), 0.0, 1.0)
        load_up = np.clip(needed / np.maximum(full[2], 1.0), 0.0, 1.0)
        down_at = self.down_light[gear] + load * self.down_more[gear]
        up_at = self.up_light[gear] + load * self.up_more[gear]
        higher = np.minimum(gear + 1, self.top)
        down_at_higher = self.down_light[higher] + load_up * self.down_more[higher]
        held = -needed <= braking[0]
        held_higher = -needed <= braking[2]
        up = (
            (rpm[0] > up_at)
            & (rpm[2] > down_at_higher * 1.03)
            & held_higher
            & ((full[2] >= needed) | (rpm[0] > 0.97 * self.governed_rpm))
        )
        over = rpm[0] > 1.02 * self.governed_rpm
        fits = rpm[1] <= self.governed_rpm
        down = ((rpm[0] < down_at) | ~held) & fits & (gear > 0)
        ready = since_s >= MIN_SHIFT_INTERVAL_S
        up = ((up & ready & ~down) | over) & (gear < self.top)
        change: NDArray[np.int64] = up.astype(np.int64) - (down & ready & ~over)
        return change


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


class _Drive:
    """One call of `drive`: constants by lane, state by lane, books by lane."""

    def __init__(self, powertrain: Powertrain, lanes: Lanes, roads: Sequence[Road]) -> None:
        self.powertrain, self.lanes, self.which = powertrain, lanes, lanes.road
        self.gears, self.shifting = _Gears(powertrain, lanes), _Shifting(powertrain)
        self.step_m = np.stack([road.step_m for road in roads], axis=1)
        grade = np.stack([road.grade for road in roads], axis=1)
        self.cosine = 1 / np.sqrt(1 + grade**2)
        self.sine = grade * self.cosine
        self.altitude = np.stack([road.altitude_m for road in roads], axis=1)
        self.target = np.stack([road.target_mps for road in roads], axis=1)
        self.stop_s = np.stack([road.stop_s for road in roads], axis=1)
        self._set_air()
        self._set_state()

    def _set_air(self) -> None:
        """Pressure, torque left and cooling above the reference height, by piece and road."""
        lanes = self.lanes
        self.half_drag = 0.5 * lanes.drag_area_m2 / DRY_AIR_J_PER_KG_K
        self.pressure = standard_pressure_pa(self.altitude)
        self.cooler_k = (self.altitude - lanes.temperature_altitude_m) * LAPSE_K_PER_M
        self.left = self.powertrain.engine.altitude_factor(self.altitude)
        mean_cooler = (self.cooler_k * self.step_m).sum(0) / self.step_m.sum(0)
        rolling = rolling_coefficient(
            lanes.rolling_at_25c,
            lanes.temperature_c - mean_cooler[self.which],
            lanes.rolling_per_k,
        )
        self.weight = lanes.mass_kg * STANDARD_GRAVITY_MPS2
        self.rolling_n = self.weight * rolling
        self.kelvin = lanes.temperature_c + ZERO_CELSIUS_K

    def _set_state(self) -> None:
        pieces, count = self.step_m.shape[0], self.lanes.mass_kg.size
        self.speed = np.maximum(self.target[0][self.which], CRAWL_MPS)
        self.start_speed = self.speed
        self.slope = np.zeros(count)
        self.since_s = np.full(count, MIN_SHIFT_INTERVAL_S)
        self.gear = self._first_gear()
        self.stalled = np.zeros(count, dtype=np.bool_)
        self.books = {
            name: np.zeros(count)
            for name in ("s", "l", "full_s", "drive", "engine", "service", "air", "roll", "grade")
        }
        self.inertia_books = np.zeros(count)
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
            service_brake_j=books["service"],
            air_j=books["air"],
            rolling_j=books["roll"],
            grade_j=books["grade"],
            kinetic_j=self.inertia_books,
        )

    def _advance(self, piece: int) -> None:
        gears, which = self.gears, self.which
        step = self.step_m[piece][which]
        energy = self.speed * self.speed / 2
        middle = np.sqrt(2 * np.maximum(energy + 0.5 * step * self.slope, _CRAWL_ENERGY))
        rolling = self.rolling_n * self.cosine[piece][which]
        climbing = self.weight * self.sine[piece][which]
        air_speed = middle + self.lanes.headwind_mps
        density = self.pressure[piece][which] / (self.kelvin - self.cooler_k[piece][which])
        air = self.half_drag * density * air_speed * np.abs(air_speed)
        resisting = rolling + climbing + air

        target = self.target[piece + 1][which]
        wanted = np.minimum(
            (np.maximum(target * target / 2, _CRAWL_ENERGY) - energy) / step,
            MAX_ACCELERATION_MPS2,
        )
        gear = self.gear
        place = gears.offset + gear
        needed = wanted * gears.inertia_kg[place] + resisting

        three = np.stack([gear, np.maximum(gear - 1, 0), np.minimum(gear + 1, gears.count - 1)])
        places = gears.offset + three
        rpm = gears.rpm_per_mps[places] * middle
        index = gears.row[three] + np.minimum(rpm.astype(np.int64), gears.length - 1)
        left = self.left[piece][which] * self.lanes.torque_factor
        full = gears.full_nm[index] * gears.drive_per_nm[places] * left
        braking = gears.braking_nm[index] * gears.brake_per_nm[
            places
        ] * self.lanes.drag_factor + gears.output_retarder_n(middle)
        change = self.shifting.choose(gear, rpm, full, braking, needed, self.since_s)
        # row 0 stays, 1 is lower, 2 is higher
        row = np.where(change < 0, 1, np.where(change > 0, 2, 0))
        lane = np.arange(row.size)
        gear = gear + change
        place = gears.offset + gear
        full, braking, index = full[row, lane], braking[row, lane], index[row, lane]
        self._move(
            piece, step, energy, middle, gear, place, index, full, braking, change, wanted,
            rolling, climbing, air,
        )  # fmt: skip

    def _move(
        self,
        piece: int,
        step: Array,
        energy: Array,
        middle: Array,
        gear: NDArray[np.int64],
        place: NDArray[np.int64],
        index: NDArray[np.int64],
        full: Array,
        braking: Array,
        change: NDArray[np.int64],
        wanted: Array,
        rolling: Array,
        climbing: Array,
        air: Array,
    ) -> None:
        """Forces to new speed, and everything into the books."""
        gears, kept, books = self.gears, self.kept, self.books
        inertia = gears.inertia_kg[place]
        resisting = rolling + climbing + air
        needed = wanted * inertia + resisting
        interruption = self.powertrain.shift_interruption_s
        available = full
        if interruption:
            lost = np.minimum(interruption * middle / step, 1.0)
            available = np.where(change != 0, full * (1 - lost), full)
        force = np.clip(needed, -braking, available)
        service = np.maximum(-braking - needed, 0.0)
        slope = (force - service - resisting) / inertia
        raw = energy + step * slope
        self.stalled |= (raw < _CRAWL_ENERGY) & (needed > available)
        new_energy = np.maximum(raw, _CRAWL_ENERGY)
        new_speed = np.sqrt(2 * new_energy)
        seconds = 2 * step / (self.speed + new_speed)

        efficiency = gears.efficiency[gear]
        passed = gears.passed_on[index]
        power = np.where(force > 0, force / (efficiency * passed), force * efficiency) * middle
        engine_rpm = gears.engine_rpm[index]
        willans = self.powertrain.engine.willans
        rate = willans.fuel_rate_lph(power + self.powertrain.auxiliary_w, engine_rpm)
        fuel = rate * seconds / 3600
        at_full = (force >= FULL_LOAD_SHARE * available) & (available > 0)

        moving = seconds
        stop = self.stop_s[piece + 1][self.which]
        if stop.any():
            engine = self.powertrain.engine
            idle = willans.fuel_rate_lph(self.powertrain.auxiliary_w, engine.idle_rpm)
            fuel = fuel + idle * stop / 3600
            seconds = seconds + stop
        drive = np.maximum(force, 0.0)
        books["s"] += seconds
        books["l"] += fuel
        books["full_s"] += np.where(at_full, moving, 0.0)
        books["drive"] += drive * step
        books["engine"] += (drive - force) * step
        books["service"] += service * step
        books["air"] += air * step
        books["roll"] += rolling * step
        books["grade"] += climbing * step
        self.inertia_books += inertia * (new_energy - energy)
        kept["speed"][piece] = new_speed
        kept["rpm"][piece] = engine_rpm
        kept["load"][piece] = np.where(force > 0, force / np.maximum(full, 1.0), -1.0 * (force < 0))
        kept["service"][piece] = service
        kept["dt"][piece] = seconds
        kept["fuel"][piece] = fuel
        self.kept_gear[piece] = gear + 1
        self.since_s = np.where(change != 0, 0.0, self.since_s + seconds)
        self.slope, self.speed, self.gear = slope, new_speed, gear
