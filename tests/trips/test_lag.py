"""Lag between two records of one drive, to a tenth of a second."""

from __future__ import annotations

import numpy as np
import pytest

from gearing.trips.lag import find_lag


def _drive(seconds: int, seed: int) -> np.ndarray:
    """Ten samples a second of a vehicle that changes speed now and then."""
    rng = np.random.default_rng(seed)
    n = seconds * 10
    target = np.repeat(rng.uniform(0, 28, n // 400 + 1), 400)[:n]
    speed = np.zeros(n)
    for i in range(1, n):
        speed[i] = speed[i - 1] + 0.1 * np.clip(0.25 * (target[i] - speed[i - 1]), -1.5, 0.8)
    return speed


@pytest.mark.parametrize("lag_s", [-4.3, -0.5, 0.0, 0.25, 0.8, 1.7, 12.4])
@pytest.mark.parametrize("cut", [True, False])
def test_a_known_lag_is_found_to_a_tenth_of_a_second(lag_s: float, cut: bool) -> None:
    fine = _drive(1800, 3)
    t = np.arange(len(fine)) / 10
    clock = np.arange(20, 1780, dtype=float)
    rng = np.random.default_rng(4)
    gps = np.interp(clock - lag_s, t, fine) + rng.normal(0, 0.08, len(clock))
    bus = np.interp(clock, t, fine) / 1.04 * 3.6
    bus = (np.floor(bus) if cut else np.round(bus)) / 3.6
    found = find_lag(gps, bus, 1.0)
    assert found.found
    assert found.seconds == pytest.approx(lag_s, abs=0.1)
    assert found.correlation > 0.8


def test_holes_do_not_move_it() -> None:
    fine = _drive(1800, 8)
    t = np.arange(len(fine)) / 10
    clock = np.arange(20, 1780, dtype=float)
    gps, bus = np.interp(clock - 1.3, t, fine), np.interp(clock, t, fine)
    gps[300:360], bus[900:1000], gps[1200:1203] = np.nan, np.nan, np.nan
    assert find_lag(gps, bus, 1.0).seconds == pytest.approx(1.3, abs=0.1)


def test_five_second_records_to_half_a_second() -> None:
    fine = _drive(3600, 9)
    t = np.arange(len(fine)) / 10
    clock = np.arange(20, 3580, 5, dtype=float)
    found = find_lag(np.interp(clock - 2.0, t, fine), np.interp(clock, t, fine), 5.0)
    assert found.seconds == pytest.approx(2.0, abs=0.5)


def test_records_of_different_drives_are_not_aligned() -> None:
    clock = np.arange(20, 1780, dtype=float)
    t = np.arange(18000) / 10
    found = find_lag(
        np.interp(clock, t, _drive(1800, 1)), np.interp(clock, t, _drive(1800, 2)), 1.0
    )
    assert not found.found
    assert found.seconds == 0.0


def test_a_steady_speed_tells_no_lag() -> None:
    rng = np.random.default_rng(0)
    steady = 25 + rng.normal(0, 0.05, 900)
    assert not find_lag(steady, np.full(900, 24.0), 1.0).found
