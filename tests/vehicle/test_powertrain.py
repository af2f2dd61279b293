"""Converter, clutch and shift points: limits one can derive by hand."""

from __future__ import annotations

import numpy as np
import pytest
from demo_powertrain import GEARS, bus

from gearing.vehicle.powertrain import (
    Converter,
    default_shift_points,
    shaft_tables,
)


def test_converter_at_stall_and_at_speed() -> None:
    powertrain = bus(converter=Converter(stall_ratio=1.9))
    tables = shaft_tables(powertrain)
    engine = powertrain.engine
    stall_rpm = 0.70 * engine.governed_rpm
    assert tables.engine_rpm[0, 0] == pytest.approx(stall_rpm)
    assert tables.full_torque_nm[0, 0] == pytest.approx(1.9 * engine.full_load_torque_nm(stall_rpm))
    assert tables.passed_on[0, 0] == 0
    # no more power comes out than goes in, and beyond coupling hardly any torque is added
    rpm = np.arange(tables.engine_rpm.shape[1])
    out = tables.full_torque_nm[0] * rpm
    put_in = engine.full_load_torque_nm(tables.engine_rpm[0]) * tables.engine_rpm[0]
    assert (out <= put_in * 1.001).all()
    fast = (rpm > 1800) & (rpm < 2400)
    assert tables.passed_on[0][fast].min() > 0.85
    # torque at the turbine falls as it speeds up
    assert (np.diff(tables.full_torque_nm[0]) <= 1e-6).all()


def test_gears_that_lock_pass_the_engine_through() -> None:
    powertrain = bus(converter=Converter(lockup_gear=3, unlock_rpm=1000))
    tables = shaft_tables(powertrain)
    assert tables.row_of_gear.tolist() == [0, 0, 1, 1, 1, 1]
    assert tables.passed_on[1, 1500] == 1.0
    assert tables.engine_rpm[1, 1500] == 1500
    assert tables.full_torque_nm[1, 1500] == pytest.approx(
        powertrain.engine.full_load_torque_nm(1500.0)
    )
    assert tables.engine_rpm[1, 600] > 600  # unlocked below


def test_clutch_slips_below_its_engagement_speed() -> None:
    tables = shaft_tables(bus(converter=None))
    assert tables.row_of_gear.tolist() == [1] * 6
    assert tables.engine_rpm[1, 400] == 800
    assert tables.full_torque_nm[1, 400] == 700
    assert tables.passed_on[1, 400] == pytest.approx(0.5)


def test_shift_points_leave_no_room_for_hunting() -> None:
    points = default_shift_points(bus().engine, GEARS)
    for gear in range(5):
        step = GEARS[gear] / GEARS[gear + 1]
        assert points.up_full[gear] / step > points.down_full[gear + 1]
        assert points.up_light[gear] / step > points.down_light[gear + 1]
        assert points.up_light[gear] <= points.up_full[gear]
        assert points.down_light[gear + 1] <= points.down_full[gear + 1]
