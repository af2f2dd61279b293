"""What the road asks, against hand figures and the physics package."""

from dataclasses import fields, replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from gearing.analysis.fuel.physics import DAY_WIND, air_met, demand, slopes
from gearing.analysis.fuel.ranges import Ranges, ranges_of
from gearing.analysis.fuel.rows import Day, Rows
from gearing.analysis.fuel.temperature import AirTemperature
from gearing.study.model import Study, Vehicle
from gearing.units import MPH_MPS
from gearing.vehicle.road_load import (
    air_force_n,
    along_and_across,
    rolling_coefficient,
)

SPEED = 65 * MPH_MPS


def level_road(n: int = 4, **changed: float) -> Rows:
    usual = {
        "distance_m": 100.0, "moving_s": 100 / SPEED, "fuel_l": 0.03, "speed_mps": SPEED,
        "speed_squared": SPEED**2, "start_square": SPEED**2, "end_square": SPEED**2,
        "temperature_c": 25.0, "density": 1.2, "mass_kg": 12_000.0, "north": 1.0,
        "unseen": 0.003,
        "usual_revolutions": 1.0,
    } | changed  # fmt: skip
    whole = {"day", "trip", "cell"}
    arrays = {
        field.name: np.zeros(n, dtype=int)
        if field.name in whole
        else np.full(n, float(usual.get(field.name, 0.0)))
        for field in fields(Rows)
        if field.name != "days"
    }
    return Rows(**arrays, days=(Day(False, date(2031, 1, 1)),))


def ranges(**vehicle: float) -> Ranges:
    study = Study(
        name="x",
        slug="x",
        path=Path("x"),
        vehicle=Vehicle(mass_kg=12_000.0, fuel="diesel", drag_area_m2=6.0, **vehicle),
    )
    nothing = np.zeros(1)
    air = AirTemperature(nothing, nothing, nothing, 0.5, half_range_error_k=5.0, level_error_k=6.0)
    return ranges_of(study, wind_known=1.0, days=(14, 14), air=air)


def with_values(of: Ranges, **values: float) -> np.ndarray:
    """Theta at which the named ranges have these values."""
    theta = np.zeros(len(of.each))
    for index, one in enumerate(of.each):
        if one.name in values:
            value = values[one.name]
            theta[index] = np.log(value / one.value) if one.relative else value - one.value
    return theta


def test_wheel_work_is_the_road_load_of_the_regulation() -> None:
    of = ranges(rolling_resistance=0.007)
    # overhead of next to nothing and no speed term leave the work at the wheels
    theta = with_values(of, overhead=1e-3, rolling_speed=0.0)
    rows = level_road(grade=0.02, temperature_c=5.0)
    along, across = along_and_across(0.02)
    force = 12_000.0 * 9.80665 * (
        along + rolling_coefficient(0.007, 5.0, 0.005) * across
    ) + air_force_n(SPEED, 1.2, 6.0)
    assert demand(rows, of, theta)[0] == pytest.approx(force * 100, rel=1e-3)  # the bend at overrun


def test_headwind_of_ten_at_sixty_five() -> None:
    # (75/65)^2 = 1.3314: fleet practice's own example of what a headwind does to drag
    of = ranges()
    p = of.values(np.zeros(len(of.each)))
    calm = air_met(level_road(), p).drag_speed_squared_m2ps2[0]
    windy = air_met(level_road(head_mps=10 * MPH_MPS), p).drag_speed_squared_m2ps2[0]
    assert windy / calm == pytest.approx(1.3314, abs=5e-5)
    assert air_met(level_road(head_mps=-10 * MPH_MPS), p).drag_speed_squared_m2ps2[
        0
    ] / calm == pytest.approx((55 / 65) ** 2)


def test_out_and_back_cancels_wind_to_first_order_only() -> None:
    of = ranges()
    p = of.values(np.zeros(len(of.each)))
    calm = air_met(level_road(), p).drag_speed_squared_m2ps2[0]
    both = [air_met(level_road(head_mps=h), p).drag_speed_squared_m2ps2[0] for h in (5.0, -5.0)]
    assert np.mean(both) / calm == pytest.approx(1 + 25 / SPEED**2)


def test_a_steep_descent_asks_for_nothing() -> None:
    of = ranges()
    down = demand(level_road(grade=-0.06), of, np.zeros(len(of.each)))[0]
    level = demand(level_road(), of, np.zeros(len(of.each)))[0]
    assert 0 <= down < 0.01 * level


def test_start_and_stop_cost_the_kinetic_energy() -> None:
    of = ranges()
    theta = np.zeros(len(of.each))
    theta[[one.name for one in of.each].index("bend")] = 0.0
    steady = demand(level_road(), of, theta)[0]
    quicker = demand(level_road(end_square=SPEED**2 + 40.0), of, theta)[0]
    assert quicker - steady == pytest.approx(1.04 * 12_000 * 20.0, rel=1e-3)


@pytest.mark.parametrize("cross", [-9.0, -2.0, 0.5, 2.0])
@pytest.mark.parametrize("grade", [-0.03, -0.008, 0.0, 0.04])
@pytest.mark.parametrize("speed", [6.0, 15.0, SPEED])
def test_slopes_are_the_derivatives(speed: float, grade: float, cross: float) -> None:
    """Against central differences, away from where nothing is assumed to differ."""
    of = ranges()
    rows = level_road(
        grade=grade,
        head_mps=3.0,
        cross_mps=cross,
        after=1.0,
        speed_mps=speed,
        speed_squared=speed**2,
        start_square=speed**2 - 20.0,
        end_square=speed**2,
        temperature_c=2.0,
        unlogged=1.0,
        season=-0.7,
        usual_revolutions=1.1,
        wind_spread=1.7,
    )
    theta = 0.4 * of.deviations
    base, columns = slopes(rows, of, theta, np.arange(rows.count), rows.count)
    assert base == pytest.approx(demand(rows, of, theta))
    for index, one in enumerate(of.each):
        ends = []
        for side in (1, -1):
            moved = theta.copy()
            moved[index] += side * 1e-4 * one.deviation
            ends.append(demand(rows, of, moved)[0])
        near = (ends[0] - ends[1]) / (2e-4 * one.deviation)
        assert columns[0, index] == pytest.approx(near, rel=1e-5, abs=1e-6 * base[0]), one.name


@pytest.mark.parametrize("course", [0.0, 40.0, 200.0])
@pytest.mark.parametrize("cross", [-9.0, 0.5, 2.0])
def test_wind_slopes_are_the_derivatives(course: float, cross: float) -> None:
    """Against central differences of the demand in more wind from east and from north."""
    of = ranges()
    theta = 0.4 * of.deviations
    east, north = np.sin(np.radians(course)), np.cos(np.radians(course))
    rows = level_road(head_mps=3.0, cross_mps=cross, east=east, north=north, wind_spread=1.7)
    base, columns = slopes(rows, of, theta, np.arange(rows.count), rows.count, names=DAY_WIND)
    assert base == pytest.approx(demand(rows, of, theta))
    found = columns.T
    for slope, along, across in zip(found, (east, north), (north, -east), strict=True):
        ends = [
            demand(
                replace(
                    rows,
                    head_mps=rows.head_mps + more * along,
                    cross_mps=rows.cross_mps + more * across,
                ),
                of,
                theta,
            )
            for more in (1e-4, -1e-4)
        ]
        assert slope == pytest.approx((ends[0] - ends[1]) / 2e-4, rel=1e-5, abs=1e-7 * base[0])


def test_engine_speed_is_not_among_the_rows() -> None:
    """What the tires change must not be adjusted for: no row carries it."""
    names = {field.name for field in fields(Rows)}
    assert not names & {"engine_speed_rpm", "gear", "unlocked_s", "engine_load_percent"}
    assert replace(level_road(), after=np.ones(4)).usual_revolutions[0] == 1.0
