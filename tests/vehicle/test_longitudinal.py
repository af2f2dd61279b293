"""The road model against closed forms, its own energy books, and a regulation's profile."""

from __future__ import annotations

from dataclasses import fields
from math import atan, pi

import numpy as np
import pytest
from demo_powertrain import bus, constant_power, single_gear, vehicles
from scipy.optimize import brentq

from gearing.units import MPH_MPS, STANDARD_GRAVITY_MPS2
from gearing.vehicle.atmosphere import density_kgpm3
from gearing.vehicle.blocks import CRAWL_MPS
from gearing.vehicle.ensemble import Run
from gearing.vehicle.longitudinal import drive, drive_all
from gearing.vehicle.powertrain import Converter
from gearing.vehicle.road import make_road

MASS = 12000.0
DENSITY = density_kgpm3(101325.0, 15.0)
HALF_DRAG = 0.5 * DENSITY * 6.0
WITHIN = 0.005


def flat(length: float, speed: float, **more: object):  # type: ignore[no-untyped-def]
    return make_road(np.array([0.0, length]), np.zeros(2), speed, **more)


def rough_road(seed: int = 3, stops: bool = True):  # type: ignore[no-untyped-def]
    rng = np.random.default_rng(seed)
    distance = np.arange(0.0, 30001.0, 100.0)
    grade = 0.03 * np.sin(distance / 2500) + 0.02 * np.sin(distance / 400 + 1)
    altitude = 800 + np.concatenate([[0.0], np.cumsum(grade[:-1] * 100.0)])
    limit = np.where(rng.random(distance.size) < 0.1, 14.0, 25.0)
    limit = np.repeat(limit[::10], 10)[: distance.size]
    stop = np.zeros_like(distance)
    if stops:
        stop[[80, 200]] = 20.0
    return make_road(distance, altitude, limit, stop_s=stop)


@pytest.mark.parametrize(("percent", "watts"), [(3.0, 100e3), (6.0, 160e3), (6.0, 60e3)])
def test_steady_speed_on_a_grade(percent: float, watts: float) -> None:
    # P = v (m g (sin a + c cos a) + 1/2 rho C_d A v^2), solved apart by scipy.
    angle = atan(percent / 100)
    pull = MASS * STANDARD_GRAVITY_MPS2 * (np.sin(angle) + 0.007 * np.cos(angle))
    expected = brentq(lambda v: watts - v * (pull + HALF_DRAG * v * v), 0.5, 60)
    length = 30000.0
    rise = length * np.sin(angle)
    # density and temperature are the valley's: a constant grade needs a constant altitude
    road = make_road(np.array([0.0, length]), np.array([0.0, rise]), 25.0)
    road.altitude_m[:] = 0.0
    run = drive(constant_power(watts), vehicles(), [road])
    assert run.speed_mps[-1, 0] == pytest.approx(expected, rel=WITHIN)
    assert run.load[-1, 0] == pytest.approx(1.0, abs=0.01)


def test_coast_down_on_the_flat() -> None:
    # m v dv/ds = -(a + c v^2): v^2 = (v0^2 + a/c) exp(-2 c s / m) - a/c, and
    # t = m / sqrt(a c) (atan(v0 sqrt(c/a)) - atan(v sqrt(c/a))).
    a, c, start = MASS * STANDARD_GRAVITY_MPS2 * 0.007, HALF_DRAG, 28.0
    road = flat(1800.0, start)
    run = drive(
        single_gear((50, 4000), (100, 100)),
        vehicles(torque_factor=0.0, friction_factor=0.0),
        [road],
    )
    s = road.edge_m[1:]
    expected = np.sqrt((start**2 + a / c) * np.exp(-2 * c * s / MASS) - a / c)
    assert run.speed_mps[:, 0] == pytest.approx(expected, rel=WITHIN)
    root = (c / a) ** 0.5
    seconds = MASS / (a * c) ** 0.5 * (atan(start * root) - atan(expected[-1] * root))
    assert run.seconds[0] == pytest.approx(seconds, rel=WITHIN)


def test_free_acceleration_at_constant_force() -> None:
    # m v dv/ds = F - a - c v^2 from (nearly) standstill, by a driver who takes what there is.
    a, c, force, rotating = MASS * STANDARD_GRAVITY_MPS2 * 0.007, HALF_DRAG, 9000.0, 500.0
    turns_per_m = 0.391
    torque = force / (2 * pi * turns_per_m)
    road = make_road(
        np.array([0.0, 1500.0]),
        np.zeros(2),
        np.array([60.0, 60.0]),
        stop_s=np.array([1.0, 0.0]),
    )
    hurried = vehicles(rotating_kg=rotating, pace=10.0)
    run = drive(single_gear((1, 4000), (torque, torque)), hurried, [road])
    s = road.edge_m[1:]
    steady = (force - a) / c
    expected = np.sqrt(steady - (steady - CRAWL_MPS**2) * np.exp(-2 * c * s / (MASS + rotating)))
    assert run.speed_mps[:, 0] == pytest.approx(expected, rel=WITHIN)
    top = steady**0.5
    seconds = (MASS + rotating) / (c * top) * np.arctanh(expected[-1] / top)
    assert run.seconds[0] == pytest.approx(seconds, rel=0.01)  # starts at 0.3 m/s


def test_free_acceleration_at_constant_power() -> None:
    # without resistance m v^2 dv/ds = P: v^3 = v0^3 + 3 P s / m.
    watts, start = 120e3, 12.0
    road = make_road(np.array([0.0, 1.0, 3000.0]), np.zeros(3), np.array([start, 60.0, 60.0]))
    hurried = vehicles(rolling_at_25c=0.0, drag_area_m2=0.0, pace=10.0)
    run = drive(constant_power(watts), hurried, [road])
    s = road.edge_m[1:]
    fast = run.speed_mps[:, 0] > start * 1.05
    first = int(np.argmax(fast))
    v0, s0 = float(run.speed_mps[first, 0]), s[first]
    expected = np.cbrt(v0**3 + 3 * watts * (s[first:] - s0) / MASS)
    assert run.speed_mps[first:, 0] == pytest.approx(expected, rel=WITHIN)


@pytest.mark.parametrize("converter", [None, Converter()])
def test_energy_closes(converter: Converter | None) -> None:
    # What the engine gave is what rolling, air, grade, brakes and motion took; the parts are
    # reckoned again here from the speeds alone.
    road = rough_road()
    run = drive(bus(converter=converter), vehicles(rotating_kg=340.0), [road])
    step, grade = road.step_m, road.grade
    cosine = 1 / np.sqrt(1 + grade**2)
    weight = MASS * STANDARD_GRAVITY_MPS2
    speed = run.speed_mps[:, 0].astype(np.float64)
    before = np.concatenate([[max(road.target_mps[0], CRAWL_MPS)], speed[:-1]])
    mean_square = (speed**2 + before**2) / 2
    pressure = 101325 * (1 - 0.0065 * road.altitude_m / 288.15) ** 5.25588
    density = density_kgpm3(pressure, 15.0 - 0.0065 * road.altitude_m)
    air = (0.5 * density * 6.0 * mean_square * step).sum()
    rolling = (weight * 0.007 * cosine * step).sum()
    lifted = (weight * grade * cosine * step).sum()
    given = float(run.drive_j[0] - run.engine_brake_j[0] - run.service_brake_j[0])
    kinetic = float(run.kinetic_j[0])
    assert given == pytest.approx(air + rolling + lifted + kinetic, abs=WITHIN * run.drive_j[0])
    # the motion's own energy, gear by gear, is nearly the vehicle's from start to end
    assert kinetic == pytest.approx(
        0.5 * (MASS + 340) * (speed[-1] ** 2 - before[0] ** 2), abs=0.01 * run.drive_j[0]
    )
    books = run.air_j[0] + run.rolling_j[0] + run.grade_j[0] + kinetic
    assert given == pytest.approx(books, rel=1e-9)


def test_finer_steps_change_little() -> None:
    coarse = rough_road(stops=False)
    edge = np.linspace(0, coarse.edge_m[-1], 6001)
    altitude = np.interp(
        edge,
        coarse.edge_m,
        np.concatenate(
            [[0], np.cumsum(coarse.grade / np.sqrt(1 + coarse.grade**2) * coarse.step_m)]
        ),
    )
    limit = np.interp(edge, coarse.edge_m, coarse.limit_mps)
    fine = make_road(edge, altitude + 800, limit, step_m=5.0)
    one = drive(bus(), vehicles(), [coarse])
    other = drive(bus(), vehicles(), [fine])
    assert one.seconds[0] == pytest.approx(other.seconds[0], rel=0.01)
    assert one.liters[0] == pytest.approx(other.liters[0], rel=0.02)


def test_vehicles_do_not_touch_each_other() -> None:
    road = rough_road()
    masses = np.array([9000.0, 12000.0, 14000.0])
    together = drive(bus(), vehicles(3, mass_kg=masses), [road, road.reversed()])
    for number, mass in enumerate(masses):
        alone = drive(bus(), vehicles(mass_kg=mass), [road])
        assert together.seconds[number] == alone.seconds[0]
        assert together.liters[number] == alone.liters[0]
        assert (together.gear[:, number] == alone.gear[:, 0]).all()


def test_side_by_side_is_one_after_another() -> None:
    long, short = rough_road(), make_road(np.array([0.0, 4000.0]), np.array([900.0, 700.0]), 20.0)
    powertrain = bus(kind="manual", shift_interruption_s=1.5, fan_w=20e3)
    parts = [
        (
            vehicles(2, mass_kg=np.array([9e3, 2e4]), dip_overspeed_share=0.03, rotating_kg=340.0),
            [short],
        ),
        (vehicles(2, road=np.array([1, 0]), gears_down=False), [long, long.reversed()]),
        (vehicles(1, temperature_c=30.0, retarder_factor=0.9), [short.reversed()]),
    ]
    assert short.grade.size < long.grade.size
    for together, (ensemble, roads) in zip(drive_all(powertrain, parts), parts, strict=True):
        alone = drive(powertrain, ensemble, roads)
        for one in fields(Run):
            assert np.array_equal(getattr(together, one.name), getattr(alone, one.name)), one.name


def test_the_road_backwards_twice_is_the_road() -> None:
    road = rough_road()
    again = road.reversed().reversed()
    for name in ("edge_m", "grade", "altitude_m", "limit_mps", "target_mps", "stop_s"):
        assert getattr(again, name) == pytest.approx(getattr(road, name))


def test_target_and_stops_are_kept() -> None:
    road = rough_road()
    run = drive(bus(), vehicles(), [road])
    assert (run.speed_mps[:, 0] <= road.target_mps[1:] + 0.35).all()
    stopped = run.speed_mps[road.stop_s[1:] > 0, 0]
    assert stopped.size == 2
    assert (stopped < 0.4).all()
    assert run.duration_s[:, 0].sum() == pytest.approx(run.seconds[0], rel=1e-5)
    assert run.fuel_l[:, 0].sum() == pytest.approx(run.liters[0], rel=1e-5)


def test_taller_tires_turn_the_engine_slower_and_climb_no_faster_in_top_gear() -> None:
    road = make_road(np.array([0.0, 20000.0]), np.zeros(2), 25.0)
    run = drive(bus(), vehicles(2, revolutions_per_km=[391.0, 391.0 / 1.046]), [road])
    assert run.engine_rpm[-1, 1] / run.engine_rpm[-1, 0] == pytest.approx(1 / 1.046, rel=0.001)
    assert (run.gear[-1] == 6).all()
    assert run.load[-1, 1] > run.load[-1, 0]


def test_what_the_gear_left_in_does_not_hold_falls_to_the_brakes() -> None:
    # By hand, 12 t down 8 % at 25 m/s: weight along the grade less rolling and air, less what
    # engine friction (4.5 % of 900 N m and 3.5 % more each 1,000 rpm) and retarder hold in the
    # gear, over what the gears lose.
    angle, speed = atan(0.08), 25.0
    length = 12000.0
    road = make_road(np.array([0.0, length]), np.array([0.0, -length * np.sin(angle)]), speed)
    road.altitude_m[:] = 0.0
    run = drive(bus(), vehicles(2, gears_down=[True, False]), [road])
    pull = MASS * STANDARD_GRAVITY_MPS2 * (np.sin(angle) - 0.007 * np.cos(angle))
    pull -= HALF_DRAG * speed * speed
    assert run.gear[-1].tolist() == [5, 6]
    for lane, ratio in enumerate((0.74, 0.64)):
        rpm = speed * 60 * 0.391 * 4.88 * ratio
        friction = 900 * (0.045 + 0.035 * rpm / 1000)
        at_points = np.array([60e3, 160e3]) / (np.array([1200, 2400]) * pi / 30)
        retarder = np.interp(rpm, [1200, 2400], at_points)
        held = (friction + retarder) * rpm * pi / 30 / speed / (0.955 * 0.96)
        left = max(pull - held, 0.0)
        of_retarder = retarder * rpm * pi / 30 / speed / (0.955 * 0.96)
        taken = of_retarder - max(held - pull, 0.0)  # it is no more than what is asked
        assert run.retarder_j[lane] == pytest.approx(taken * length, rel=0.01)
        assert run.service_brake_n[-1, lane] == pytest.approx(left, rel=0.01, abs=1.0)
    assert run.service_brake_n[-1, 1] > 500


def test_no_hill_turns_the_engine_over_governed_speed() -> None:
    # wanted is more than the top gear gives at 2,500 rpm: 2500 / 60 / (0.391 x 4.88 x 0.64) m/s
    road = make_road(np.array([0.0, 9000.0]), np.array([720.0, 0.0]), 45.0)
    run = drive(bus(), vehicles(2, speed_factor=[1.0, 1.05]), [road])
    assert run.speed_mps.max() == pytest.approx(2500 / 60 / (0.391 * 4.88 * 0.64), rel=1e-3)
    assert run.engine_rpm[-1] == pytest.approx(2500, rel=1e-3)


def test_stalls_where_no_gear_climbs() -> None:
    road = make_road(np.array([0.0, 200.0, 3000.0]), np.array([0.0, 0.0, 1300.0]), 20.0)
    run = drive(bus(), vehicles(2, torque_factor=[0.3, 1.0]), [road])
    assert run.stalled[0]


# 40 CFR part 1037, Appendix D (2021 amendment, 86 FR 34497): a cruise course of 21,612 m whose
# grades run to 5.01 %; at 55 mi/h it takes 879.0 s, the 8,790 records at 10 Hz of the example
# in 40 CFR 1036.545. The first quarter as printed in Appendix IV (2016): metres and percent.
PROFILE_START = [
    (0, 0.0), (808, 0.0), (820, -0.1), (832, 0.0), (842, 0.0), (892, 0.36), (942, 0.0), (952, 0.0),
    (1006, -0.28), (1102, -1.04), (1198, -0.28), (1252, 0.0), (1264, 0.0), (1390, 0.39),
    (1458, 0.66), (1534, 1.15), (1696, 2.44), (1858, 1.15), (1934, 0.66), (2002, 0.39), (2128, 0.0),
    (2146, 0.0), (2330, -0.46), (2398, -0.69), (2478, -1.08), (2546, -1.53), (2698, -2.75),
    (2850, -1.53), (2918, -1.08), (2998, -0.69), (3066, -0.46), (3250, 0.0), (3264, 0.0),
    (3340, 0.35), (3416, 0.9), (3502, 1.59), (3588, 0.9), (3664, 0.35), (3740, 0.0), (3756, 0.0),
    (3822, -0.1), (4094, -0.69), (4176, -0.97), (4262, -1.36), (4330, -1.78), (4514, -3.23),
    (4698, -1.78), (4766, -1.36), (4852, -0.97), (4934, -0.69), (5206, -0.1), (5272, 0.0),
    (5322, 0.0), (5406, 0.1), (5498, 0.17), (5720, 0.38), (5912, 0.58), (6052, 0.77), (6226, 1.09),
    (6312, 1.29), (6436, 1.66), (6562, 2.14), (6638, 2.57), (6710, 3.0), (6762, 3.27), (6800, 3.69),
    (6890, 5.01), (6980, 3.69), (7018, 3.27), (7070, 3.0), (7142, 2.57), (7218, 2.14), (7344, 1.66),
    (7468, 1.29), (7554, 1.09), (7728, 0.77), (7868, 0.58), (8060, 0.38), (8282, 0.17), (8374, 0.1),
    (8458, 0.0), (8502, 0.0), (8608, -0.38), (8668, -0.69), (8852, -2.13), (9036, -0.69),
    (9096, -0.38), (9202, 0.0), (9214, 0.0), (9262, 0.26), (9316, 0.7), (9370, 0.26), (9418, 0.0),
    (9428, 0.0), (9496, -0.34), (9622, -1.33), (9748, -0.34), (9816, 0.0), (9826, 0.0),
    (9914, 0.37), (9968, 0.7), (10112, 1.85), (10256, 0.7), (10310, 0.37), (10398, 0.0),
]  # fmt: skip
PROFILE_LENGTH_M = 20808.0


def cruise_course():  # type: ignore[no-untyped-def]
    """Distance and altitude of the course, every 2 m: its second half mirrors the first."""
    metre, percent = np.array(PROFILE_START, dtype=float).T
    mirrored = PROFILE_LENGTH_M - metre[::-1]
    metre = np.concatenate([metre, mirrored])
    percent = np.concatenate([percent, -percent[::-1]])
    distance = np.arange(0.0, PROFILE_LENGTH_M + 1, 2.0)
    grade = np.interp(distance, metre, percent) / 100
    sine = grade / np.sqrt(1 + grade**2)
    rise = np.concatenate([[0.0], np.cumsum((sine[1:] + sine[:-1]) / 2 * 2.0)])
    return distance, rise


def test_cruise_grade_profile_of_40_cfr_1037() -> None:
    distance, rise = cruise_course()
    road = make_road(distance, rise, 55 * MPH_MPS)
    height = np.concatenate([[0], np.cumsum(road.grade / np.sqrt(1 + road.grade**2) * road.step_m)])
    # Sum of the 2016 course: 95.75 m climbed, none gained, highest 22.59 m, steepest 5.01 %.
    assert np.maximum(np.diff(height), 0).sum() == pytest.approx(95.75, abs=0.3)
    assert height[-1] == pytest.approx(0.0, abs=0.05)
    assert height.max() == pytest.approx(22.587, abs=0.05)
    assert road.grade.max() * 100 == pytest.approx(5.01, abs=0.15)
    # With power to spare 55 mi/h is held throughout: 846.3 s for 20,808 m, in proportion to
    # the 879.0 s of the 21,612 m of the 2021 course.
    run = drive(constant_power(900e3), vehicles(), [road])
    assert run.seconds[0] == pytest.approx(879.0 * PROFILE_LENGTH_M / 21612.0, rel=0.001)
