"""What an indicated speed was rounded to. SAE J1979 gives parameter 0D as whole km/h."""

from __future__ import annotations

import numpy as np
import pytest

from gearing.trips.rounding import coarseness, find_grid, on_grid

FINE = np.random.default_rng(1).uniform(0, 30, 4000)


@pytest.mark.parametrize(("unit", "step"), [("km/h", 1 / 3.6), ("mph", 0.44704)])
@pytest.mark.parametrize("way", [np.floor, np.round])
def test_whole_units_are_recognised(unit: str, step: float, way: object) -> None:
    grid = find_grid(way(FINE / step) * step)  # type: ignore[operator]
    assert (grid.unit, grid.step_mps) == (unit, pytest.approx(step))


def test_whole_km_h_written_as_mph_with_one_decimal_is_still_km_h() -> None:
    kmh = np.floor(FINE * 3.6)
    mph = np.round(kmh / 1.609344, 1)
    assert find_grid(mph * 0.44704).unit in ("km/h", None)
    two = np.round(kmh / 1.609344, 2)
    assert find_grid(two * 0.44704).unit == "km/h"


def test_fine_speeds_stand_on_no_grid() -> None:
    assert find_grid(FINE).unit is None
    # SPN 84 comes in steps of 1/256 km/h
    assert find_grid(np.round(FINE * 3.6 * 256) / 256 / 3.6).unit is None


def test_a_recorder_that_draws_lines_between_samples_is_seen_through() -> None:
    t = np.arange(0, 4000, 1.0)
    at = np.sort(np.random.default_rng(2).choice(t, 2500, replace=False))
    whole = np.floor(3.6 * (15 + 8 * np.sin(at / 90))) / 3.6
    drawn = np.interp(t, at, whole)
    grid = find_grid(drawn)
    assert grid.unit == "km/h"
    kept = on_grid(drawn, grid)
    assert 0.3 < kept.mean() < 1.0


def test_too_few_values_say_nothing() -> None:
    assert find_grid(np.floor(FINE[:20])).unit is None


def test_a_unit_of_several_whole_ones_is_seen() -> None:
    cut = np.floor(FINE * 3.6 / 5) * 5 / 3.6
    grid = find_grid(cut)
    assert grid.unit == "5 km/h"
    assert grid.step_mps == pytest.approx(5 / 3.6)


@pytest.mark.parametrize("step", [0.8, 2.76])
def test_speed_classes_of_any_width_are_seen(step: float) -> None:
    grid = find_grid(np.round(FINE / step) * step)
    assert grid.step_mps == pytest.approx(step)
    assert find_grid(FINE).unit is None


@pytest.mark.parametrize(("unit", "half"), [(50.0, 25.0), (0.25, 0.125)])
def test_half_a_unit_of_engine_speed(unit: float, half: float) -> None:
    rpm = np.linspace(700.0, 2300.0, 4001)
    assert coarseness(np.floor(rpm / unit) * unit) == pytest.approx(half / 1500, rel=0.05)


def test_engine_speeds_drawn_between_samples_have_no_unit() -> None:
    rng = np.random.default_rng(1)
    assert coarseness(rng.uniform(700.0, 2300.0, 500)) == 0.0
