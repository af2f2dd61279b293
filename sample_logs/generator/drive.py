"""One trip: the bus, the driver and the weather on a road, a tenth of a second at a time."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from . import bus
from .chance import Floats
from .driver import DT, Driver
from .powertrain import Powertrain
from .roads import STEP_M, Road
from .surroundings import Surroundings
from .weather import Weather

KEPT = (
    "time_s",
    "along_m",
    "speed_mps",
    "indicated_mps",
    "engine_rpm",
    "gear",
    "fuel_lps",
    "gas_torque",
    "full_gas_torque",
    "pedal",
    "drive_n",
    "retarder_w",
    "brake_w",
    "resistance_n",
    "coolant_c",
    "oil_c",
    "air_c",
    "air_kpa",
    "locked",
)


@dataclass(frozen=True)
class Plan:
    """What a trip is before any tire is chosen; the same plan can be driven on either set."""

    name: str
    start: datetime
    road: Road
    done: int  # trips driven on the set before this one
    haste: float  # the driver's mood: share of the comfortable speed
    burn: float  # unexplained share of the day and the trip in the fuel burned
    mass_kg: float
    coolant_c: float  # at the start
    cold_tires: float  # share of rolling resistance still to be driven off at the start
    dwell_s: tuple[float, ...]  # at each library station passed
    idle_s: tuple[float, float]  # before setting off and after arriving


@dataclass(frozen=True)
class Drive:
    """Arrays each DT [s], by the names of KEPT, with the totals that truth is made of."""

    plan: Plan
    arrays: dict[str, Floats]

    @property
    def true_m(self) -> float:
        return float(self.arrays["along_m"][-1])

    @property
    def indicated_m(self) -> float:
        return float(self.arrays["indicated_mps"].sum() * DT)

    @property
    def liters(self) -> float:
        return float(self.arrays["fuel_lps"].sum() * DT)


def drive(
    plan: Plan, tire: bus.Tire, weather: Weather, *, done: float | None = None, dash: float = 1.0
) -> Drive:
    """The plan driven on `tire`; `done`: trips of wear on it, the plan's own if not given.

    `dash`: the driver holds `dash` times what the dash of these tires shows. 1 as driven;
    the ratio of two circumferences drives one set at the true speeds of the other.
    """
    around = Surroundings(
        plan.name, plan.start, plan.road, tire, plan.done if done is None else done, weather
    )
    driver = Driver(plan.road, plan.haste, plan.dwell_s, plan.idle_s, around.whim)
    rows = _run(plan, around, driver, Powertrain(plan.coolant_c), dash)
    return Drive(plan, dict(zip(KEPT, np.array(rows).T, strict=True)))


def _run(
    plan: Plan, around: Surroundings, driver: Driver, train: Powertrain, dash: float
) -> list[tuple[float, ...]]:
    """All moments of the trip, as rows of KEPT."""
    rows: list[tuple[float, ...]] = []
    mass, last_cell = plan.mass_kg, len(around.grade) - 1
    t = along = speed = traction = 0.0
    while not driver.arrived:
        if len(rows) % 200 == 0:
            around.update(t, plan.cold_tires)
        cell = min(int(along / STEP_M), last_cell)
        air_c, air_kpa = around.air(cell)
        # driving tires creep: they turn more than the road they cover
        turns = speed / (1 - traction / bus.CREEP_N) / around.circumference
        shown, shaft = turns * bus.PROGRAMMED_CIRCUMFERENCE_M, turns * 60 * bus.AXLE
        driver.look(along, cell, speed, shown * dash, mass)
        halt = driver.want == 0
        train.pull(driver.force, speed, around.radius, halt=halt, parked=driver.parked)
        resistance = around.resistance(cell, speed, mass, air_c, air_kpa)
        push = train.drive_n - train.brake_n - resistance
        new_speed = max(0.0, speed + push / (mass + _turning(train, around.radius)) * DT)
        if halt and speed < 0.3:
            new_speed = 0.0
        train.warm(speed, air_c, shaft * bus.RATIOS[train.gear - 1])
        fuel = train.heat_w / bus.FUEL_J_PER_L * (1 + plan.burn)
        moment = (t, along, speed, shown, train.rpm, train.gear, fuel, train.gas, train.full_gas)
        forces = (train.drive_n, train.retarder_w, train.brake_n * speed, resistance)
        heat = (train.coolant_c, train.oil_c, air_c, air_kpa)
        rows.append((*moment, train.pedal, *forces, *heat, train.in_gear))
        along += 0.5 * (speed + new_speed) * DT
        speed = new_speed
        t += DT
        traction = 0.85 * traction + 0.15 * (train.drive_n - 0.5 * train.brake_n)
        traction = 0.0 if speed < 0.2 else min(max(traction, -6e4), 6e4)
        turns = speed / (1 - traction / bus.CREEP_N) / around.circumference
        train.turn(turns * 60 * bus.AXLE * bus.RATIOS[train.gear - 1])
        if not driver.parked:
            train.shift(shaft, speed, shown * dash < driver.want - 1.2)
    return rows


def _turning(train: Powertrain, radius: float) -> float:
    """Mass that the turning parts add [kg]."""
    wheels = bus.WHEEL_INERTIA / radius**2
    if train.gear < bus.FIRST_LOCKED:
        return wheels
    overall = bus.RATIOS[train.gear - 1] * bus.AXLE / radius
    return float(wheels + bus.ENGINE_INERTIA * overall**2)
