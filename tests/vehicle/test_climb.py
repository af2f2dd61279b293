"""Grades held up and down against worked examples, and against the road model."""

from __future__ import annotations

from dataclasses import replace
from math import asin, atan, pi, sin, tan

import numpy as np
import pytest
from demo_powertrain import bus, constant_power, vehicles

from gearing.units import FOOT_M, MILE_M, MPH_MPS, POUND_FORCE_N, POUND_KG
from gearing.vehicle.atmosphere import density_kgpm3
from gearing.vehicle.climb import Holding, Load, steady_grade
from gearing.vehicle.drivetrain import per_km, tractive_force_n
from gearing.vehicle.longitudinal import drive
from gearing.vehicle.powertrain import Converter, Powertrain
from gearing.vehicle.road import make_road

HORSEPOWER_W = 550 * FOOT_M * POUND_FORCE_N


def load(**values: float) -> Load:
    usual = {
        "mass_kg": 12000.0,
        "rolling": 0.007,
        "drag_area_m2": 6.0,
        "density_kgpm3": 1.2,
        "revolutions_per_km": 391.0,
        "torque_factor": 1.0,
        "friction_factor": 1.0,
        "headwind_mps": 0.0,
    }
    usual.update(values)
    return Load(**{name: np.array([value]) for name, value in usual.items()})


def test_gradeability_worked_example() -> None:
    # Hydraulics handbook: G = 100 T R / (r W) - RR: 1,000 lb-in, ratio 12, radius 15 in,
    # 10,000 lb, rolling 1.5 %: 6.5 %. Metric: 117 N m, 12, 400 mm, 4,500 kg: 6.456 %.
    assert steady_grade(1000 * 12 / 15, 10000.0, 0.015) * 100 == pytest.approx(6.5, rel=0.005)
    metric = steady_grade(117 * 12 / 0.4, 4500 * 9.81, 0.015) * 100
    assert metric == pytest.approx(6.456, rel=0.005)


def test_steady_grade_solves_the_true_angle() -> None:
    for grade in (-0.05, 0.0, 0.06, 0.3):
        angle = atan(grade)
        force = 1000 * (sin(angle) + 0.007 * (1 - sin(angle) ** 2) ** 0.5)
        assert steady_grade(force, 1000.0, 0.007) == pytest.approx(grade, abs=1e-12)


@pytest.mark.parametrize(("turns", "percent"), [(541, 24.06), (517, 22.99)])
def test_startability_of_the_trade(turns: float, percent: float) -> None:
    # T x gear x axle x revolutions a mile / (10.7 x W) (from memory): 1,000 lbf ft, 3.51, 4.88,
    # 36,000 lb. 10.7 is 8.4034, the loss-free constant 5280/(200 pi), over 0.785.
    force = tractive_force_n(1000 * POUND_FORCE_N * FOOT_M, per_km(turns), 4.88, 3.51)
    share = force / (36000 * POUND_FORCE_N)
    assert share * 0.785 * 100 == pytest.approx(percent, rel=0.001)


def test_startability_of_a_powertrain() -> None:
    powertrain = bus()
    held = Holding(powertrain, load(rolling=0.0))
    force = tractive_force_n(
        700.0, 391.0, 4.88, 3.51, powertrain.losses.efficiencies(powertrain.gear_ratios)[0]
    )
    assert held.startability()[0] == pytest.approx(tan(asin(force / (12000 * 9.80665))))
    # a converter multiplies it by more than one and less than its stall ratio over again
    stalled = Holding(bus(converter=Converter(stall_ratio=1.9)), load(rolling=0.0))
    assert 1.5 < sin(atan(stalled.startability()[0])) / sin(atan(held.startability()[0])) < 2.7


def test_taller_tires_hold_less() -> None:
    # A tire taller by k gives 1/k of the force in a gear: -4.44 % at k = 1.0464, before
    # resistance (arithmetic).
    short = Holding(bus(), load(rolling=0.0, drag_area_m2=0.0))
    tall = Holding(bus(), load(rolling=0.0, drag_area_m2=0.0, revolutions_per_km=391.0 / 1.0464))
    for gear in range(6):
        one, _ = short.gradeability(gear)
        other, _ = tall.gradeability(gear)
        assert sin(atan(other[0])) / sin(atan(one[0])) == pytest.approx(1 / 1.0464, rel=1e-6)
        assert tall.startability()[0] < short.startability()[0]


def test_grades_held_agree_with_the_road_model() -> None:
    powertrain = bus()
    density = density_kgpm3(101325.0, 15.0)
    held = Holding(powertrain, load(density_kgpm3=density))
    speed, gear = held.climbing_speed(0.05)
    road = make_road(np.array([0.0, 30000.0]), np.array([0.0, 30000 * sin(atan(0.05))]), 27.0)
    road.altitude_m[:] = 0.0
    run = drive(powertrain, vehicles(), [road])
    # the road model shifts by its shift points, so it may hold a little less than the best gear
    assert run.speed_mps[-1, 0] <= speed[0] * 1.005
    assert run.speed_mps[-1, 0] >= speed[0] * 0.93
    same = int(run.gear[-1, 0]) - 1
    steady = held.grade_held(float(run.speed_mps[-1, 0]), same)
    assert steady[0] == pytest.approx(0.05, rel=0.01)
    assert gear[0] >= 0


def test_speed_held_down_balances() -> None:
    held = Holding(bus(), load())
    for gear in (3, 4, 5):
        speed = held.held_speed_down(0.06, gear)
        assert held.downgrade_held(speed, gear)[0] == pytest.approx(0.06, rel=0.01)
    # where braking wins throughout, it is the lowest speed the engine can run at
    lowest = held.held_speed_down(0.001, 2)
    assert held.rpm(lowest, 2)[0] == pytest.approx(800, rel=1e-6)
    # a lower gear holds a lower speed; a grade too steep is held by none
    assert held.held_speed_down(0.06, 3)[0] < held.held_speed_down(0.06, 4)[0]
    assert np.isnan(held.held_speed_down(0.30, 5)[0])


def test_friction_and_retarder_are_scaled_each_by_its_own_doubt() -> None:
    # 60 kW at 1,200 and 160 kW at 2,400 rpm: torque in a straight line between them
    without = replace(bus(), engine=replace(bus().engine, retarder=None))
    speed = np.array([15.0])
    friction = Holding(without, load()).braking_n(speed, 3)[0]
    rpm = 15 * 0.391 * 4.88 * 60
    torque = np.interp(rpm, (1200, 2400), (60e3 / 1200, 160e3 / 2400)) * 60 / (2 * pi)
    retarder = torque * 2 * pi * 0.391 * 4.88 / (0.955 * 0.98)
    for one, other in ((1.0, 1.0), (1.55, 1.0), (1.0, 0.85)):
        held = Holding(bus(), load(friction_factor=one, retarder_factor=other)).braking_n(speed, 3)[
            0
        ]
        assert held == pytest.approx(one * friction + other * retarder, rel=1e-3)


def test_retarder_on_the_output_shaft_does_not_care_for_gears() -> None:
    engine = bus().engine
    assert engine.retarder is not None
    without = replace(bus(), engine=replace(engine, retarder=None))
    shaft = replace(engine.retarder, on_output_shaft=True)
    fitted: Powertrain = replace(bus(), engine=replace(engine, retarder=shaft))
    gain = [
        (Holding(fitted, load()).braking_n(np.array([15.0]), gear)
         - Holding(without, load()).braking_n(np.array([15.0]), gear))[0]
        for gear in (3, 4, 5)
    ]  # fmt: skip
    assert gain[0] > 1000
    assert gain == pytest.approx([gain[0]] * 3)


# Crawl speeds [mph] on long grades of a truck of 200 lb a horsepower: read off the curve of
# AASHTO's Green Book, and the profile model of NCHRP Report 505 (2003), Appendix E, both from
# memory; the tolerance is 15 %.
@pytest.mark.parametrize(
    ("percent", "mph"), [(3, 36.2), (4, 30.6), (5, 26.2), (6, 22.8), (8, 17.9)]
)
def test_crawl_speed_of_a_highway_design_truck(percent: float, mph: float) -> None:
    pounds = 80000.0
    # NCHRP 505 passes 15,368/17,696 of the engine's power on to the wheels
    watts = pounds / 200 * HORSEPOWER_W * 15368 / 17696
    angle = atan(percent / 100)
    road = make_road(np.array([0.0, 12000.0]), np.array([0.0, 12000.0 * sin(angle)]), 25.0)
    road.altitude_m[:] = 0.0
    truck = vehicles(
        mass_kg=pounds * POUND_KG,
        rolling_at_25c=0.0076,
        # 300 lb a square foot of front, drag coefficient 0.8
        drag_area_m2=pounds / 300 * FOOT_M**2 * 0.8,
        temperature_c=15.0,
    )
    run = drive(constant_power(watts), truck, [road])
    assert run.speed_mps[-1, 0] / MPH_MPS == pytest.approx(mph, rel=0.15)


def test_simple_bound_without_air() -> None:
    # mph = 375 eta / (lb/hp x (G + C_rr)): 200 lb/hp, eta 0.9, 0.0076, 6 %: 25.0 (arithmetic).
    watts = 80000 / 200 * HORSEPOWER_W * 0.9
    truck = load(mass_kg=80000 * POUND_KG, rolling=0.0076, drag_area_m2=0.0)
    held = Holding(constant_power(watts), truck)
    speed, _ = held.climbing_speed(0.06, points=4000)
    assert speed[0] / MPH_MPS == pytest.approx(25.0, rel=0.005)


def test_revolutions_per_mile_of_the_examples() -> None:
    assert per_km(541.0) * MILE_M / 1000 == pytest.approx(541.0)
