"""What a gear holds: steepest grades up, speeds down, and setting off.

Closed forms at steady speed, for one vehicle or many draws at once (arrays of shape (n,)).
Grades are rise over run [-].

Sources
-------
[1] Gradeability: grade = effort left over weight, from the balance of forces (SAE J2188,
    hydraulics handbooks); solved here for the true angle, not the small-angle form.
[2] Startability: torque at engagement through the lowest gear over the weight (SAE J2188's
    subject; the trade's form T x gear x axle x revolutions per mile / (10.7 x weight) from
    memory, whose 10.7 holds 0.785 of losses and rolling).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import TYPE_CHECKING

import numpy as np

from gearing.units import STANDARD_GRAVITY_MPS2, Number
from gearing.vehicle.powertrain import Powertrain, ShaftTables, shaft_tables
from gearing.vehicle.road_load import air_force_n

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]


def steady_grade(force_n: Number, weight_n: Number, rolling: Number) -> Number:
    """The grade [-] on which a force at the wheels [N] less air just holds the speed.

    Solves sin a + c cos a = F / W exactly for tan a. Source [1].
    """
    share = force_n / weight_n
    root: Number = (1 + rolling * rolling - share * share) ** 0.5
    return (share * root - rolling) / (1 - share * share)


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What one vehicle, or n draws of it, weighs and meets. Floats or arrays of shape (n,).

    `torque_factor` is the share of sea-level torque left (altitude), `drag_factor` scales the
    engine's friction, `rolling` [-] is at the day's temperature.
    """

    mass_kg: Array
    rolling: Array
    drag_area_m2: Array
    density_kgpm3: Array
    revolutions_per_km: Array
    torque_factor: Array
    drag_factor: Array
    headwind_mps: Array

    @property
    def weight_n(self) -> Array:
        return self.mass_kg * STANDARD_GRAVITY_MPS2

    def air_n(self, speed_mps: Array) -> Array:
        return air_force_n(speed_mps, self.density_kgpm3, self.drag_area_m2, self.headwind_mps)


class Holding:
    """A powertrain under a load: what each gear holds up and down. Gears count from 0 here."""

    def __init__(self, powertrain: Powertrain, load: Load) -> None:
        self.powertrain, self.load = powertrain, load
        self.tables: ShaftTables = shaft_tables(powertrain)
        self.turns = load.revolutions_per_km / 1000 * powertrain.axle_ratio

    def rpm(self, speed_mps: Array | float, gear: int) -> Array:
        """Speed of the gearbox input [rpm]."""
        return self.turns * self.powertrain.gear_ratios[gear] * 60 * speed_mps

    def speed(self, rpm: Array | float, gear: int) -> Array:
        """Road speed [m/s] at a gearbox input speed [rpm]."""
        return rpm / (self.turns * self.powertrain.gear_ratios[gear] * 60)

    def effort_n(self, speed_mps: Array, gear: int) -> Array:
        """Full-load force at the wheels [N]; nan above governed speed or below the curve."""
        rpm = self.rpm(speed_mps, gear)
        torque = np.interp(
            rpm,
            np.arange(self.tables.engine_rpm.shape[1]),
            self.tables.full_torque_nm[self.tables.row_of_gear[gear]],
        )
        ratio = self.powertrain.gear_ratios[gear]
        force = torque * self.load.torque_factor * 2 * pi * self.turns * ratio
        force = force * self.powertrain.efficiencies[gear]
        return np.where(self._in_range(rpm, gear), force, np.nan)

    def _in_range(self, rpm: Array, gear: int) -> NDArray[np.bool_]:
        engine = self.powertrain.engine
        converter = self.powertrain.converter
        lowest = max(engine.idle_rpm, engine.rpm[0])
        if converter is not None:
            lowest = 0.0 if self.tables.row_of_gear[gear] == 0 else converter.unlock_rpm
        # a hair's breadth over governed speed is still governed speed
        return (rpm >= lowest * (1 - 1e-9)) & (rpm <= engine.governed_rpm * (1 + 1e-9))

    def braking_n(self, speed_mps: Array, gear: int) -> Array:
        """Force of engine friction and retarder at the wheels [N]; nan out of the speed range."""
        rpm = self.rpm(speed_mps, gear)
        places = np.arange(self.tables.engine_rpm.shape[1])
        torque = np.interp(rpm, places, self.tables.braking_torque_nm[0]) * self.load.drag_factor
        ratio = self.powertrain.gear_ratios[gear]
        force = torque * 2 * pi * self.turns * ratio / self.powertrain.efficiencies[gear]
        output = np.interp(self.turns * 60 * speed_mps, places, self.tables.output_retarder_nm)
        force = force + output * 2 * pi * self.turns / self.powertrain.axle_efficiency
        return np.where(self._in_range(rpm, gear), force, np.nan)

    def grade_held(self, speed_mps: Array | float, gear: int) -> Array:
        """Steepest upgrade [-] a gear holds at a speed; nan where it cannot run there.

        With the converter locked in gears that lock. Grip is not looked at.
        """
        speed = np.broadcast_to(np.asarray(speed_mps, dtype=np.float64), self.turns.shape)
        force = self.effort_n(speed, gear) - self.load.air_n(speed)
        return self._grade(force, self.load.rolling)

    def _grade(self, force_n: Array, rolling: Array) -> Array:
        """Steady grade; a force near or above the weight has no grade, so it is cut there."""
        weight = self.load.weight_n
        return steady_grade(np.clip(force_n, -0.95 * weight, 0.95 * weight), weight, rolling)

    def downgrade_held(self, speed_mps: Array | float, gear: int) -> Array:
        """Steepest downgrade [-], positive, a gear holds at a speed without service brakes."""
        speed = np.broadcast_to(np.asarray(speed_mps, dtype=np.float64), self.turns.shape)
        force = self.braking_n(speed, gear) + self.load.air_n(speed)
        return self._grade(force, -self.load.rolling)

    def gradeability(self, gear: int, points: int = 120) -> tuple[Array, Array]:
        """Steepest upgrade [-] a gear can hold at any speed, and that speed [m/s]."""
        best_grade = np.full(self.turns.shape, -np.inf)
        best_speed = np.zeros(self.turns.shape)
        engine = self.powertrain.engine
        for rpm in np.linspace(max(engine.idle_rpm, engine.rpm[0]), engine.governed_rpm, points):
            speed = self.speed(rpm, gear)
            grade = self.grade_held(speed, gear)
            better = grade > best_grade
            best_grade = np.where(better, grade, best_grade)
            best_speed = np.where(better, speed, best_speed)
        return best_grade, best_speed

    def startability(self) -> Array:
        """Steepest upgrade [-] the lowest gear can set off on. Source [2].

        Full torque at the engagement speed; with a converter, at stall times its stall ratio.
        """
        powertrain = self.powertrain
        torque = self.tables.full_torque_nm[self.tables.row_of_gear[0], 0]
        force = torque * self.load.torque_factor * 2 * pi * self.turns
        force = force * powertrain.gear_ratios[0] * powertrain.efficiencies[0]
        return self._grade(force, self.load.rolling)

    def climbing_speed(self, grade: float, points: int = 240) -> tuple[Array, NDArray[np.int64]]:
        """Highest steady speed [m/s] on a grade and its gear; nan and -1 where none holds it."""
        best = np.full(self.turns.shape, np.nan)
        which = np.full(self.turns.shape, -1)
        engine = self.powertrain.engine
        low, high = max(engine.idle_rpm, engine.rpm[0]), engine.governed_rpm
        for gear in range(len(self.powertrain.gear_ratios)):
            for rpm in np.linspace(low, high, points):
                speed = self.speed(rpm, gear)
                holds = self.grade_held(speed, gear) >= grade
                better = holds & ~(best >= speed)
                best = np.where(better, speed, best)
                which = np.where(better, gear, which)
        return best, which

    def held_speed_down(self, downgrade: float, gear: int, points: int = 240) -> Array:
        """Speed [m/s] engine and retarder hold on a downgrade [-, positive] in a gear.

        The highest speed, up to governed speed, at which braking comes to equal the pull of
        the grade; nan where the pull still wins at governed speed; the speed at idle where
        braking wins throughout.
        """
        engine = self.powertrain.engine
        rpm = np.linspace(max(engine.idle_rpm, engine.rpm[0]), engine.governed_rpm, points)
        margin = np.stack([self.downgrade_held(self.speed(r, gear), gear) - downgrade for r in rpm])
        held = np.full(self.turns.shape, np.nan)
        for lane in range(held.size):
            column = margin[:, lane]
            if not column[-1] >= 0:
                continue
            below = np.flatnonzero(column < 0)
            if below.size == 0:
                held[lane] = self.speed(rpm[0], gear)[lane]
                continue
            i = below[-1]
            share = -column[i] / (column[i + 1] - column[i])
            held[lane] = self.speed(rpm[i] + share * (rpm[i + 1] - rpm[i]), gear)[lane]
        return held
