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

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np

from gearing.units import STANDARD_GRAVITY_MPS2, Number
from gearing.vehicle.ensemble import Ensemble
from gearing.vehicle.ensemble_gears import EnsembleGears
from gearing.vehicle.parameters import BRAKING_DRAG_SHARE, grip_limit_n
from gearing.vehicle.powertrain import Powertrain, ShaftTables, shaft_tables
from gearing.vehicle.road_load import air_force_n

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.units import Array


def steady_grade(force_n: Number, weight_n: Number, rolling: Number) -> Number:
    """The grade [-] on which a force at the wheels [N] less air just holds the speed.

    Solves (G + C_r) / sqrt(1 + G^2) = F / W exactly for G: symbols as in the nomenclature.
    Source [1].
    """
    share = force_n / weight_n
    root: Number = (1 + rolling * rolling - share * share) ** 0.5
    return (share * root - rolling) / (1 - share * share)


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What one vehicle, or n draws of it, weighs and meets. Floats or arrays of shape (n,).

    `torque_factor` is the share of sea-level torque left (altitude), `friction_factor` scales the
    engine's friction, `retarder_factor` the retarder and `loss_factor` the losses of gearbox and
    axle; `rolling` [-] is at the day's temperature.
    """

    mass_kg: Array
    rolling: Array
    drag_area_m2: Array
    density_kgpm3: Array
    revolutions_per_km: Array
    torque_factor: Array
    friction_factor: Array
    headwind_mps: Array
    retarder_factor: Array | float = 1.0
    loss_factor: Array | float = 1.0

    @property
    def weight_n(self) -> Array:
        """Weight [N] of each vehicle, shape (n,)."""
        return self.mass_kg * STANDARD_GRAVITY_MPS2

    def air_n(self, speed_mps: Array) -> Array:
        """Air drag [N] at a road speed [m/s], with the load's wind and air; shapes (n,)."""
        return air_force_n(speed_mps, self.density_kgpm3, self.drag_area_m2, self.headwind_mps)


class Holding:
    """A powertrain under a load: what each gear holds up and down. Gears count from 0 here."""

    def __init__(self, powertrain: Powertrain, load: Load) -> None:
        self.powertrain, self.load = powertrain, load
        self.tables: ShaftTables = shaft_tables(powertrain)
        self.gears = EnsembleGears(powertrain, _still(load))
        self._rpm = np.arange(self.tables.engine_rpm.shape[1], dtype=np.float64)
        self.turns = load.revolutions_per_km / 1000 * powertrain.axle_ratio

    def central(self) -> Holding:
        """What the first vehicle's gears hold."""
        values = {one.name: getattr(self.load, one.name) for one in fields(Load)}
        first = {name: np.broadcast_to(one, self.turns.shape)[:1] for name, one in values.items()}
        return Holding(self.powertrain, Load(**first))

    def rpm(self, speed_mps: Array | float, gear: int) -> Array:
        """Speed of the gearbox input [rpm]."""
        return self.turns * self.powertrain.gear_ratios[gear] * 60 * speed_mps

    def speed(self, rpm: Array | float, gear: int) -> Array:
        """Road speed [m/s] at a gearbox input speed [rpm]."""
        return rpm / (self.turns * self.powertrain.gear_ratios[gear] * 60)

    def effort_n(self, speed_mps: Array, gear: int) -> Array:
        """Full-load force at the wheels [N]; nan above governed speed or below the curve."""
        rpm = self.rpm(speed_mps, gear)
        row = self.tables.row_of_gear[gear]
        torque = np.interp(rpm, self._rpm, self.tables.full_torque_nm[row])
        force = self._at_wheels_n(torque * self.load.torque_factor, gear, speed_mps)
        return np.where(self._in_range(rpm, gear), force, np.nan)

    def _at_wheels_n(self, torque_nm: Array, gear: int, speed_mps: Array | float) -> Array:
        force: Array = torque_nm * self.gears.drive_per_nm[:, gear] - self._drag_n(gear, speed_mps)
        return force

    def _drag_n(self, gear: int, speed_mps: Array | float) -> Array:
        """What gears and axle take besides their share of the torque [N]."""
        gears = self.gears
        drag: Array = gears.drag_n[:, gear] + gears.drag_n_per_mps[:, gear] * speed_mps
        return drag

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
        friction = np.interp(rpm, self._rpm, self.tables.friction_torque_nm)
        retarder = np.interp(rpm, self._rpm, self.tables.retarder_torque_nm)
        torque = friction * self.load.friction_factor + retarder * self.load.retarder_factor
        force = torque * self.gears.brake_per_nm[:, gear]
        output = np.interp(self.turns * 60 * speed_mps, self._rpm, self.tables.output_retarder_nm)
        force += output * self.load.retarder_factor * self.gears.output_brake_per_nm
        force += BRAKING_DRAG_SHARE * self._drag_n(gear, speed_mps)
        return np.where(self._in_range(rpm, gear), force, np.nan)

    def grade_held(self, speed_mps: Array | float, gear: int) -> Array:
        """Steepest upgrade [-] a gear holds at a speed; nan where it cannot run there.

        With the converter locked in gears that lock. Grip is not looked at.
        """
        speed = np.asarray(speed_mps, dtype=np.float64) + np.zeros_like(self.turns)
        force = self.effort_n(speed, gear) - self.load.air_n(speed)
        return self._grade(force, self.load.rolling)

    def _grade(self, force_n: Array, rolling: Array) -> Array:
        """Steady grade; a force near or above the weight has no grade, so it is cut there."""
        weight = self.load.weight_n
        return steady_grade(np.clip(force_n, -0.95 * weight, 0.95 * weight), weight, rolling)

    def downgrade_held(self, speed_mps: Array | float, gear: int) -> Array:
        """Steepest downgrade [-], positive, a gear holds at a speed without service brakes."""
        speed = np.asarray(speed_mps, dtype=np.float64) + np.zeros_like(self.turns)
        force = self.braking_n(speed, gear) + self.load.air_n(speed)
        return self._grade(force, -self.load.rolling)

    def _speeds(self, gear: int, points: int) -> Array:
        """Road speeds [m/s] over the engine's range, shape (points, n), ascending."""
        engine = self.powertrain.engine
        rpm = np.linspace(max(engine.idle_rpm, engine.rpm[0]), engine.governed_rpm, points)
        return self.speed(rpm[:, None], gear)

    def gradeability(self, gear: int, points: int = 120) -> tuple[Array, Array]:
        """Steepest upgrade [-] a gear can hold at any speed, and that speed [m/s]."""
        speed = self._speeds(gear, points)
        grade = self.grade_held(speed, gear)
        grade = np.where(np.isnan(grade), -np.inf, grade)
        best = np.argmax(grade, axis=0)
        each = np.arange(best.size)
        return grade[best, each], speed[best, each]

    def startability(self) -> Array:
        """Steepest upgrade [-] the lowest gear can set off on. Source [2].

        Full torque at the engagement speed; with a converter, at stall times its stall ratio.
        """
        torque = self.tables.full_torque_nm[self.tables.row_of_gear[0], 0]
        force = self._at_wheels_n(torque * self.load.torque_factor, 0, 0.0)
        return self._grade(force, self.load.rolling)

    def grip_limit(self) -> Array:
        """Steepest upgrade [-] on which the driving tires still pass force enough to a dry road."""
        return self._grade(grip_limit_n(self.load.mass_kg), self.load.rolling)

    def climbing_speed(self, grade: float, points: int = 240) -> tuple[Array, NDArray[np.int64]]:
        """Highest steady speed [m/s] on a grade and its gear; nan and -1 where none holds it."""
        best = np.full(self.turns.shape, np.nan)
        which = np.full(self.turns.shape, -1)
        for gear in range(len(self.powertrain.gear_ratios)):
            speed = self._speeds(gear, points)
            held = _highest_held(speed, self.grade_held(speed, gear) - grade)
            better = ~np.isnan(held) & ~(best >= held)
            best, which = np.where(better, held, best), np.where(better, gear, which)
        return best, which

    def held_speed_down(self, downgrade: Array | float, gear: int, points: int = 240) -> Array:
        """Speed [m/s] engine and retarder hold on a downgrade [-, positive] in a gear.

        The highest speed, up to governed speed, at which braking comes to equal the pull of
        the grade; nan where the pull still wins at governed speed; the speed at idle where
        braking wins throughout.
        """
        speed = self._speeds(gear, points)
        lacking = downgrade - self.downgrade_held(speed, gear)
        lacks = _highest_held(speed, lacking)  # the highest speed at which the pull still wins
        holds_at_top = lacking[-1] <= 0
        held = np.where(np.isnan(lacks), speed[0], lacks)
        return np.where(holds_at_top, held, np.nan)


def _still(load: Load) -> Ensemble:
    """The vehicles of a load, for what their gears pass on: road and weather stand in the load."""
    none = np.zeros(load.mass_kg.shape)
    return Ensemble(
        mass_kg=load.mass_kg,
        rolling_at_25c=load.rolling,
        rolling_per_k=none,
        drag_area_m2=load.drag_area_m2,
        headwind_mps=load.headwind_mps,
        temperature_c=none,
        revolutions_per_km=load.revolutions_per_km,
        torque_factor=load.torque_factor,
        friction_factor=load.friction_factor,
        road=none.astype(np.int64),
        loss_factor=load.loss_factor,
    )


def _highest_held(speed: Array, margin: Array) -> Array:
    """Highest speed by vehicle whose margin is not below zero, straight between points.

    Arrays of shape (points, n), speeds ascending; nan where the margin is below zero (or not a
    number) throughout.
    """
    holds = margin >= 0
    points = margin.shape[0]
    last = points - 1 - np.argmax(holds[::-1], axis=0)
    following = np.minimum(last + 1, points - 1)
    each = np.arange(last.size)
    here, there = margin[last, each], margin[following, each]
    fall = here - there
    crosses = (following > last) & np.isfinite(there) & (fall > 0)
    share = np.where(crosses, here / np.where(crosses, fall, 1.0), 0.0)
    found = speed[last, each] + share * (speed[following, each] - speed[last, each])
    return np.where(holds.any(axis=0), found, np.nan)
