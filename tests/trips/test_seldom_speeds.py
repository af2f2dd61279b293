"""Two records of one speed, one of them measured far more seldom or in whole units: their ratio
stays what it is, or says what it may be off by.

The trapezoid rule cuts off every bend: on the mean nothing, where all bends are met, and too little
where only those at speed are, for a vehicle gathers speed and slows down from a plateau (any
textbook of numerical integration: its error is of the sign of the second derivative).
"""

import numpy as np
import pytest
from drive_frames import at_times

from gearing.trips.motion import Trip, make_trip
from gearing.trips.sums import factor_blocks

FACTOR, SECONDS, EVERY = 1.03, 7200, 10


def between_stops(seed: int) -> np.ndarray:
    """From stop to stop: up to a speed at 0.5 m/s2, along at it, down at 0.7 m/s2, [m/s]."""
    rng = np.random.default_rng(seed)
    speed: list[float] = []
    while len(speed) < SECONDS:
        most = rng.uniform(9.0, 24.0)
        up, down = np.arange(0.0, most, 0.5), np.arange(most, 0.0, -0.7)
        along = most + 0.4 * np.sin(np.arange(rng.integers(40, 160)) / 7.0)
        speed += [*up, *along, *down, *[0.0] * int(rng.integers(5, 40))]
    return np.array(speed[:SECONDS])


SPEED = between_stops(4)
RNG = np.random.default_rng(5)
RECEIVER = np.abs(SPEED + RNG.normal(0, 0.03, SECONDS))
BUS = SPEED / FACTOR


def seldom(values: np.ndarray) -> np.ndarray:
    kept = np.full(SECONDS, np.nan)
    kept[::EVERY] = values[::EVERY]
    return kept


def held(values: np.ndarray) -> np.ndarray:
    return np.repeat(values[::EVERY], EVERY)[:SECONDS]


def driven(bus: np.ndarray, receiver: np.ndarray) -> Trip:
    samples = at_times(
        np.arange(SECONDS, dtype=float), gps_speed_mps=receiver, indicated_speed_mps=bus
    ).fill_nan(None)
    return make_trip(samples, name="x", files=("x.csv",))


def ratio(found: Trip) -> float:
    """True over indicated distance as an odometer factor is found from one drive."""
    sums = factor_blocks(found.ticks).select("true_m", "indicated_m").sum()
    return float(sums["true_m"].item() / sums["indicated_m"].item())


@pytest.mark.parametrize(
    ("bus", "receiver"),
    [(BUS, RECEIVER), (seldom(BUS), RECEIVER), (BUS, seldom(RECEIVER)), (BUS, held(RECEIVER))],
    ids=["each second", "bus seldom", "receiver seldom", "receiver held"],
)
def test_the_ratio_of_speeds_measured_unlike(bus: np.ndarray, receiver: np.ndarray) -> None:
    assert ratio(driven(bus, receiver)) == pytest.approx(FACTOR, rel=4e-4)


@pytest.mark.parametrize("whole", [np.floor, np.round])
def test_a_receiver_in_whole_units_leaves_open_which_they_are(whole: np.ufunc) -> None:
    """Cut, km/h are half a unit low on the mean, rounded they are not (a uniform distribution)."""
    found = driven(BUS, whole(RECEIVER * 3.6) / 3.6)
    assert "gps-speed-whole" in {problem.code for problem in found.problems}
    off = abs(ratio(found) / FACTOR - 1)
    assert 0.7 * found.way_error < off < 1.3 * found.way_error
    assert driven(BUS, RECEIVER).way_error < 0.2 * found.way_error


@pytest.mark.parametrize("step_mps", [0.1, 0.01])
def test_a_receiver_with_decimals_comes_in_no_whole_units(step_mps: float) -> None:
    found = driven(BUS, np.round(RECEIVER / step_mps) * step_mps)
    assert "gps-speed-whole" not in {problem.code for problem in found.problems}
    assert ratio(found) == pytest.approx(FACTOR, rel=4e-4)
