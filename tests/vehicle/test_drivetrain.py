"""Drivetrain arithmetic against published and hand-worked examples."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from gearing.units import MPH_MPS
from gearing.vehicle import drivetrain

# Engine speed = mph x revolutions per mile x axle x gear / 60 (SAE J2188), worked by hand.
ENGINE_SPEEDS = [
    (60, 500, 4.10, 1.00, 2050.0),
    (65, 500, 3.55, 0.73, 1403.7),
    (65, 541, 4.88, 0.64, 1830.5),
    (65, 517, 4.88, 0.64, 1749.3),
    (65, 511, 4.88, 0.64, 1729.0),
    (65, 541, 4.30, 0.61, 1537.3),
    (65, 517, 4.30, 0.61, 1469.1),
]


@pytest.mark.parametrize(("mph", "turns", "axle", "gear", "rpm"), ENGINE_SPEEDS)
def test_engine_speed(mph: float, turns: float, axle: float, gear: float, rpm: float) -> None:
    per_km = drivetrain.per_km(float(turns))
    found = drivetrain.engine_speed_rpm(mph * MPH_MPS, per_km, axle, gear)
    assert found == pytest.approx(rpm, abs=0.06)
    back = drivetrain.road_speed_mps(found, per_km, axle, gear)
    assert back == pytest.approx(mph * MPH_MPS, rel=1e-12)


def test_revolutions_from_engine_speed_40_cfr_1036_540() -> None:
    # 40 CFR 1036.540(c)(3)(i): 1870 rpm, axle 4.0, top gear 0.61, 65 mi/h (29.06 m/s): 0.4396
    # revolutions a metre.
    engine_per_m = 1870 / 60 / (65 * MPH_MPS)
    turns = engine_per_m / (4.0 * 0.61)
    assert turns == pytest.approx(0.4396, abs=5e-5)
    assert drivetrain.per_mile(0.4396 * 1000) == pytest.approx(707.4, abs=0.1)
    assert drivetrain.engine_speed_rpm(29.06, 439.6, 4.0, 0.61) == pytest.approx(1870, abs=0.5)


# Old and new revolutions per mile -> factor, and what an axle of 4.88 then acts as (arithmetic).
@pytest.mark.parametrize(
    ("old", "new", "factor", "acts_as"),
    [
        (541, 517, 1.04642, 4.664),
        (541, 511, 1.05871, 4.609),
        (550, 520, 1.05769, 4.614),
        (550, 541, 1.01664, 4.800),
        (502, 517, 0.97099, 5.026),
    ],
)
def test_change_of_tires(old: float, new: float, factor: float, acts_as: float) -> None:
    assert drivetrain.true_over_indicated(old, new) == pytest.approx(factor, abs=5e-6)
    assert drivetrain.effective_axle_ratio(4.88, old, new) == pytest.approx(acts_as, abs=5e-4)
    restoring = drivetrain.restoring_axle_ratio(4.88, old, new)
    assert restoring == pytest.approx(4.88 * factor, abs=5e-5)
    # With the restoring axle the engine turns as it did.
    before = drivetrain.engine_speed_rpm(25.0, drivetrain.per_km(old), 4.88, 0.64)
    after = drivetrain.engine_speed_rpm(25.0, drivetrain.per_km(new), restoring, 0.64)
    assert after == pytest.approx(before, rel=1e-12)
    change = drivetrain.final_drive_change_percent(old, new)
    assert change == pytest.approx((1 / factor - 1) * 100, abs=1e-3)


def test_float_array_and_expression_agree() -> None:
    speeds = [0.0, 10.0, 25.0]
    single = [drivetrain.engine_speed_rpm(v, 320.0, 4.88, 0.74) for v in speeds]
    array = drivetrain.engine_speed_rpm(np.array(speeds), 320.0, 4.88, 0.74)
    frame = pl.DataFrame({"v": speeds}).select(
        drivetrain.engine_speed_rpm(pl.col("v"), 320.0, 4.88, 0.74)
    )
    assert array.tolist() == pytest.approx(single)
    assert frame["v"].to_list() == pytest.approx(single)


def test_shaft_turns_and_pulses() -> None:
    # 541 turns a mile x 4.88 = 2640 shaft turns; with 16 teeth 42,241 pulses a mile (arithmetic).
    per_km = drivetrain.per_km(541.0)
    shaft = drivetrain.shaft_revolutions_per_km(per_km, 4.88)
    assert drivetrain.per_mile(shaft) == pytest.approx(2640.08)
    assert drivetrain.per_mile(drivetrain.pulses_per_km(per_km, 4.88, 16)) == pytest.approx(
        42241.28
    )


def test_force_in_a_gear_falls_as_revolutions_fall() -> None:
    # 40 CFR 1036.545(f)(4): 500 N m x 4.0 x 0.955 over a radius of 0.399 m is 4787 N.
    turns = 1000 / (2 * 3.141592653589793 * 0.399)
    force = drivetrain.tractive_force_n(500.0, turns, 4.0, 1.0, 0.955)
    assert force == pytest.approx(4786.97, abs=0.01)
    taller = drivetrain.tractive_force_n(500.0, turns / 1.0464, 4.0, 1.0, 0.955)
    assert taller / force - 1 == pytest.approx(-0.0444, abs=1e-4)
