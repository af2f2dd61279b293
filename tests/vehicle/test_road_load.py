"""Road load against regulations, handbooks and limits one can derive by hand."""

from __future__ import annotations

import math

import numpy as np
import polars as pl
import pytest

from gearing.units import FOOT_M, MPH_MPS, POUND_FORCE_N, POUND_KG, STANDARD_GRAVITY_MPS2
from gearing.vehicle import road_load
from gearing.vehicle.drivetrain import tractive_force_n


def rolling_force_n(mass_kg, coefficient, grade):  # type: ignore[no-untyped-def]
    """As the road model takes it: weight across the road times a coefficient."""
    return mass_kg * STANDARD_GRAVITY_MPS2 * coefficient * road_load.along_and_across(grade)[1]


def grade_force_n(mass_kg, grade):  # type: ignore[no-untyped-def]
    return mass_kg * STANDARD_GRAVITY_MPS2 * road_load.along_and_across(grade)[0]


def test_model_step_of_40_cfr_1036_545() -> None:
    # 40 CFR 1036.545(f)(4) (2024), one step of 0.01 s: 500 N m at the axle's input, axle ratio
    # 4.0 with efficiency 0.955, tire radius 0.399 m, 11,408 kg and 340 kg rotating, C_rr
    # 7.7 N/kN, C_d A 5.4 m2, density 1.1845 kg/m3, grade 0.39 %, 20 m/s. Printed: grade force
    # 436.5 N (with g 9.81), engine-side speed 1915.8 rpm (with pi 3.14; from memory).
    mass, speed, grade, density, dt = 11408.0, 20.0, 0.0039, 1.1845, 0.01
    turns_per_km = 1000 / (2 * math.pi * 0.399)
    traction = tractive_force_n(500.0, turns_per_km, 4.0, 1.0, 0.955)
    rolling = rolling_force_n(mass, 0.0077, grade)
    air = road_load.air_force_n(speed, density, 5.4)
    climb = grade_force_n(mass, grade)
    assert climb == pytest.approx(436.5, rel=0.001)
    assert rolling == pytest.approx(861.4, rel=0.0001)
    assert air == pytest.approx(1279.3, rel=0.0001)
    assert traction == pytest.approx(4786.97, rel=0.0001)
    new_speed = speed + (traction - rolling - air - climb) / (mass + 340) * dt
    assert new_speed == pytest.approx(20.00188, abs=1e-5)
    rpm = new_speed * turns_per_km / 1000 * 4.0 * 60
    assert rpm == pytest.approx(1915.8, rel=0.001)


def test_car_on_its_steepest_grade() -> None:
    # "Principles of Highway Engineering and Traffic Analysis", worked maximum grade: 2,000 lb,
    # C_D 0.40, 20 ft2, density 0.002045 slug/ft3, 70 mph, 255 lb of effort, rolling
    # 0.01 (1 + V/147) with V in ft/s: air 86.22 lb, rolling 33.97 lb, grade 0.0674.
    speed = 70 * MPH_MPS
    density = 0.002045 * 14.593902937 / FOOT_M**3
    air = road_load.air_force_n(speed, density, 0.40 * 20 * FOOT_M**2)
    assert air / POUND_FORCE_N == pytest.approx(86.22, rel=0.001)
    coefficient = 0.01 * (1 + speed / FOOT_M / 147)
    rolling = rolling_force_n(2000 * POUND_KG, coefficient, 0.0)
    assert rolling / POUND_FORCE_N == pytest.approx(33.97, rel=0.001)
    # The book takes the grade as force over weight.
    grade = (255 * POUND_FORCE_N - air - rolling) / (2000 * POUND_FORCE_N)
    assert grade == pytest.approx(0.0674, abs=0.0001)


def test_grade_resistance() -> None:
    # Hydraulics handbook: 10,000 lb at 5 % is 500 lb; 4,500 kg at 5 % is 2,207.25 N with g 9.81
    # (0.0981 x W x %). Both take the slope for its sine: 0.13 % off at 5 %.
    small = math.sin(math.atan(0.05)) / 0.05
    pounds = grade_force_n(10000 * POUND_KG, 0.05) / POUND_FORCE_N
    assert pounds == pytest.approx(500 * small, rel=1e-9)
    newtons = grade_force_n(4500.0, 0.05)
    assert newtons == pytest.approx(2207.25, rel=0.002)


def test_grade_power() -> None:
    # Power = W x grade x mph / 375: 36,000 lb, 6 %, 45 mph: 259.2 hp with the slope as its
    # tangent, 258.7 hp as its sine (arithmetic; 375 = 33,000/88).
    horsepower = 550 * FOOT_M * POUND_FORCE_N
    power = grade_force_n(36000 * POUND_KG, 0.06) * 45 * MPH_MPS / horsepower
    assert power == pytest.approx(258.7, abs=0.05)
    # "1,000 lb up 1 % at 37.5 mph is 1 hp" (common practice).
    one = grade_force_n(1000 * POUND_KG, 0.01) * 37.5 * MPH_MPS / horsepower
    assert one == pytest.approx(1.0, rel=0.001)
    # SAE truck-ability case: 80,000 lb at 3 % and 60 mph through 90 % of driveline: 426 hp.
    case = grade_force_n(80000 * POUND_KG, 0.03) * 60 * MPH_MPS / horsepower / 0.90
    assert case == pytest.approx(426, rel=0.002)


def test_headwind_raises_drag() -> None:
    # 10 mph of headwind at 65 mph: (75/65)^2 = 1.3314 (arithmetic).
    still = road_load.air_force_n(65 * MPH_MPS, 1.2, 6.0)
    windy = road_load.air_force_n(65 * MPH_MPS, 1.2, 6.0, 10 * MPH_MPS)
    assert windy / still == pytest.approx(1.3314, abs=1e-4)
    # A wind from behind faster than the vehicle pushes.
    assert road_load.air_force_n(3.0, 1.2, 6.0, -8.0) < 0


def test_rotating_mass_of_40_cfr_1066_310() -> None:
    # 56.7 kg a tire: ten tires 567 kg, six 340 kg (the 340 kg of the 1036.545 example).
    assert road_load.rotating_mass_kg(10) == pytest.approx(567)
    assert road_load.rotating_mass_kg(6) == pytest.approx(340, abs=0.5)


def test_rolling_follows_temperature_as_iso_28580() -> None:
    # F25 = F (1 + 0.006 (t - 25)): at 15 degC a tire pulls 1/0.94 of its figure at 25 degC.
    at_15 = road_load.rolling_coefficient(0.006, 15.0, 0.006)
    assert at_15 == pytest.approx(0.006 / 0.94)
    assert road_load.rolling_coefficient(0.006, 25.0, 0.006) == pytest.approx(0.006)


def test_wind_is_slower_near_the_ground() -> None:
    assert road_load.wind_at_vehicle_mps(10.0, 10.0) == pytest.approx(10.0)
    assert 0.5 < road_load.wind_at_vehicle_mps(10.0) / 10.0 < 0.8
    assert road_load.wind_at_vehicle_mps(0.0) == 0.0


def test_float_array_and_expression_agree() -> None:
    speed, grade = [0.0, 12.0, 25.0], [0.06, 0.0, -0.04]
    density, headwind, temperature = [1.2, 1.1, 1.0], [0.0, -15.0, 4.0], [30.0, 0.0, -10.0]

    def of(v, g, d, w, t):  # type: ignore[no-untyped-def]
        coefficient = road_load.rolling_coefficient(0.007, t, 0.005)
        return (
            rolling_force_n(12000.0, coefficient, g)
            + grade_force_n(12000.0, g)
            + road_load.air_force_n(v, d, 6.0, w)
        )

    rows = list(zip(speed, grade, density, headwind, temperature, strict=True))
    single = [of(*row) for row in rows]
    array = of(*(np.array(column) for column in (speed, grade, density, headwind, temperature)))
    frame = pl.DataFrame(rows, schema=["v", "g", "d", "w", "t"], orient="row")
    column = frame.select(of(*(pl.col(name) for name in "vgdwt"))).to_series()
    assert array.tolist() == pytest.approx(single, rel=1e-12)
    assert column.to_list() == pytest.approx(single, rel=1e-12)


def test_engine_counts_more_in_low_gears() -> None:
    # 1.3 kg m2 at 10 rad a metre is 130 kg at the wheels (energy of rotation).
    assert road_load.engine_equivalent_mass_kg(1.3, 10.0) == pytest.approx(130.0)
