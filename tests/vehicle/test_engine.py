"""The engine against handbook cases and limits derived by hand."""

from __future__ import annotations

import numpy as np
import pytest
from demo_powertrain import bus

from gearing.units import FOOT_M
from gearing.vehicle.engine import (
    ASPIRATED_DERATE_ABOVE_M,
    PERCENT_PER_KM_PER_3_PERCENT_PER_1000_FT,
    Retarder,
    WillansLine,
    altitude_factor,
)

ENGINE = bus().engine


def test_altitude_derating_of_aspirated_engines() -> None:
    # Vehicle manuals and an agricultural text: 3 % a 1,000 ft above 500 ft; 225 hp at 4,500 ft
    # lose 12 %: 198 hp.
    left = altitude_factor(
        4500 * FOOT_M, ASPIRATED_DERATE_ABOVE_M, PERCENT_PER_KM_PER_3_PERCENT_PER_1000_FT
    )
    assert 225 * left == pytest.approx(198, rel=1e-6)
    # Handbook of Energy Engineering Calculations: at 10,000 ft an aspirated engine keeps 0.68
    # of its power by the handbook's own table; the straight rule says 0.715.
    high = altitude_factor(
        10000 * FOOT_M, ASPIRATED_DERATE_ABOVE_M, PERCENT_PER_KM_PER_3_PERCENT_PER_1000_FT
    )
    assert high == pytest.approx(0.68, rel=0.06)


def test_altitude_factor_never_falls_to_nothing() -> None:
    heights = np.array([-100.0, 0.0, 2000.0, 3000.0, 20000.0])
    factors = altitude_factor(heights, 2000.0, 10.0)
    assert factors.tolist() == pytest.approx([1.0, 1.0, 1.0, 0.9, 0.3])


def test_full_load_follows_the_curve_and_the_governor() -> None:
    rpm = np.array([700.0, 800.0, 1000.0, 2400.0, 2500.0, 2600.0, 2700.0, 2800.0])
    torque = ENGINE.full_load_torque_nm(rpm)
    assert torque.tolist() == pytest.approx([700, 700, 800, 690, 690, 345, 0, 0], abs=1e-6)
    assert ENGINE.peak_torque_nm == 900
    # 690 N m at 2,400 rpm: 173.4 kW (arithmetic).
    assert ENGINE.peak_power_w == pytest.approx(173416, rel=1e-4)


def test_bands_of_the_curve() -> None:
    # 85 % of 900 N m is 765 N m, reached at 800 + 400 x 65/200 = 930 rpm.
    assert ENGINE.lugging_rpm == pytest.approx(930)
    low, high = ENGINE.peak_torque_rpm
    assert low == pytest.approx(1200 - 400 * 18 / 200)
    assert high == pytest.approx(1600 - 0.0 + 0.0, abs=60)
    assert low < 1200 < high


def test_retarder_power_over_speed_is_its_torque() -> None:
    retarder = Retarder((1200.0, 2400.0), (60e3, 160e3))
    assert retarder.torque_nm(2400.0) == pytest.approx(160e3 / (2400 * np.pi / 30))
    assert retarder.torque_nm(1200.0) == pytest.approx(60e3 / (1200 * np.pi / 30))
    # a retarder on the engine loses more than its speed: lower revolutions, lower torque too
    speed = np.array([2400.0, 2400.0 / 1.046])
    power = retarder.torque_nm(speed) * speed
    assert power[1] / power[0] < 1 / 1.046


def test_willans_line() -> None:
    line = WillansLine(0.22, 1.5)
    assert line.fuel_rate_lph(100e3, 1500.0) == pytest.approx(22 + 2.25)
    assert line.fuel_rate_lph(-50e3, 1500.0) == 0.0


def test_float_and_array_agree() -> None:
    rpm = [650.0, 1234.0, 2550.0]
    for law in (ENGINE.full_load_torque_nm, ENGINE.drag_torque_nm):
        single = [law(n) for n in rpm]
        assert law(np.array(rpm)).tolist() == pytest.approx(single)
