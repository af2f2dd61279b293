"""Speeds and fuel that a recorder writes although they are none: what goes, and what is kept."""

import numpy as np
import polars as pl
import pytest
from drive_frames import at_times, speeds

from gearing.trips.motion import Trip, make_trip

TRUE_FACTOR = 1.03
SECONDS = 2400
SPEED = speeds(SECONDS)
RNG = np.random.default_rng(8)
RECEIVER = np.abs(SPEED + RNG.normal(0, 0.05, SECONDS))


def trip(bus: np.ndarray, receiver: np.ndarray = RECEIVER, **more: np.ndarray) -> Trip:
    samples = at_times(
        np.arange(SECONDS, dtype=float), gps_speed_mps=receiver, indicated_speed_mps=bus, **more
    )
    return make_trip(samples, name="x", files=("x.csv",))


def codes(found: Trip) -> set[str]:
    return {problem.code for problem in found.problems}


BUS = np.round(SPEED / TRUE_FACTOR * 3.6) / 3.6
BUS[SPEED == 0] = 0.0


def _stuck(speed: np.ndarray) -> np.ndarray:
    held = speed.copy()
    held[1500:] = held[1500]
    return held


def _silent(speed: np.ndarray) -> np.ndarray:
    gone = speed.copy()
    gone[500:560] = gone[1700:1708] = 0.0
    return gone


def _none_when_fast(speed: np.ndarray) -> np.ndarray:
    """So much of it that the two speeds have little in common before it is left out."""
    return np.where(speed > np.quantile(speed, 0.4), 0.0, speed)


@pytest.mark.parametrize(
    "fault", [_stuck, _silent, _none_when_fast, lambda speed: np.minimum(speed, 17.0)]
)
def test_a_bus_speed_that_is_none_does_not_move_the_factor(fault: object) -> None:
    assert callable(fault)
    found = trip(fault(BUS))
    assert "speed-stands-still" in codes(found)
    # half-way between cut and rounded speeds, until all trips tell which
    assert found.factor == pytest.approx(TRUE_FACTOR, rel=0.007)
    # told by the receiver alone, so that no distance is lost
    assert found.motion["true_step_m"].sum() == pytest.approx(SPEED.sum(), rel=0.002)


def test_a_receiver_that_falls_to_none_is_bridged() -> None:
    found = trip(BUS, _silent(RECEIVER))
    assert "speed-stands-still" in codes(found)
    assert found.motion["true_step_m"].sum() == pytest.approx(SPEED.sum(), rel=0.002)


def test_a_speed_held_steady_a_stop_and_a_ferry_are_kept() -> None:
    cruise = np.full(SECONDS, 22.0)
    cruise[:60] = np.linspace(0, 22, 60)
    cruise[1200:1260] = np.linspace(22, 0, 60)
    cruise[1260:] = 0.0
    receiver = np.abs(cruise + RNG.normal(0, 0.05, SECONDS))
    receiver[1500:2100] = 6.0  # aboard
    found = trip(np.round(cruise / TRUE_FACTOR * 3.6) / 3.6, receiver)
    assert "speed-stands-still" not in codes(found)
    assert found.motion["indicated_speed_mps"].null_count() == 0


def test_a_calm_receiver_beside_a_bus_that_jitters_is_left_as_it_is() -> None:
    noisy = np.abs(SPEED / TRUE_FACTOR + RNG.normal(0, 1.5, SECONDS))
    found = trip(noisy)
    apart = found.ticks["true_speed_mps"] - SPEED
    assert np.sqrt(np.mean(apart[SPEED > 3] ** 2)) < 0.06


def test_what_a_sluggish_receiver_smooths_away_is_the_buss() -> None:
    """Of the work of gathering speed a mean over ten seconds loses a part; the bus has it."""
    ripple = SPEED + np.where(SPEED > 8, 1.5 * np.sin(np.arange(SECONDS) / 2.5), 0.0)
    smooth = pl.Series(ripple).rolling_mean(11, center=True, min_samples=1).to_numpy()
    found = trip(ripple / TRUE_FACTOR, smooth)

    def gained(speed: np.ndarray) -> float:
        return float(np.clip(np.diff(speed**2), 0, None).sum())

    assert gained(smooth) < 0.5 * gained(ripple)
    assert gained(found.ticks["true_speed_mps"]) == pytest.approx(gained(ripple), rel=0.05)
    assert found.factor == pytest.approx(TRUE_FACTOR, rel=0.002)


def test_fuel_that_is_none_while_the_vehicle_gathers_speed_is_not_logged() -> None:
    rate = 4 + np.clip(np.gradient(SPEED), 0, None) * 40
    rate[np.gradient(SPEED) < -0.15] = 0.0  # driven by the wheels: none is burnt
    true = rate.copy()
    pulling = np.gradient(SPEED) > 0.12
    lost = np.flatnonzero(pulling & (np.cumsum(~pulling) < np.cumsum(~pulling)[-1] / 2))[:40]
    rate[lost] = 0.0
    found = trip(BUS, fuel_rate_lph=rate)
    assert "fuel-none-while-pulling" in codes(found)
    fuel = found.ticks["fuel_step_l"]
    assert np.isnan(fuel[lost]).mean() > 0.9
    kept = np.isfinite(fuel)
    assert fuel[kept].sum() == pytest.approx(true[kept].sum() / 3600, rel=0.01)
    assert fuel[np.gradient(SPEED) < -0.3].max() < 1e-4  # what rolls is left as it is


def _places(speed: np.ndarray) -> dict[str, np.ndarray]:
    """Fixes each second along a meridian, driven at this speed [m/s]."""
    north = np.cumsum(speed) - speed / 2
    return {"latitude_deg": 45 + north / 111_132.0, "longitude_deg": np.full(SECONDS, 7.0)}


def test_a_speed_under_both_headings_is_the_one_that_positions_bear_out() -> None:
    """Two instruments never agree to the last digit in every row: common practice, no source."""
    twice = trip(BUS, BUS.copy(), **_places(SPEED))
    assert "speed-copied" in codes(twice)
    assert twice.speed_from == "positions"
    assert twice.factor == pytest.approx(TRUE_FACTOR, rel=0.01)
    receiver = trip(RECEIVER.copy(), **_places(SPEED))
    assert "speed-copied" in codes(receiver)
    assert receiver.speed_from == "doppler"
    assert receiver.factor is None
    alone = trip(BUS, BUS.copy())
    assert alone.speed_from is None
    assert alone.factor is None


def test_speeds_alike_but_for_some_digits_are_two() -> None:
    """Both in whole km/h and of one value in most rows, as with a computer that counts right."""
    both = np.round(SPEED * 3.6) / 3.6
    other = np.round(RECEIVER * 3.6) / 3.6
    assert np.mean(both == other) > 0.6
    found = trip(both, other)
    assert "speed-copied" not in codes(found)
    assert found.factor == pytest.approx(1.0, abs=0.008)
