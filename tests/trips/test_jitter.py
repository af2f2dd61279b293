"""A receiver's speed that jitters beside the bus's: what is taken for the vehicle's own."""

from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl

from gearing.trips.motion import Trip, make_trip

SECONDS = 1200
SPEED = 18 + 5 * np.sin(np.arange(SECONDS) / 60) + 2 * np.sin(np.arange(SECONDS) / 17)
FACTOR = 1.03


def trip(jitter: float) -> Trip:
    rng = np.random.default_rng(8)
    start = datetime(2031, 4, 3, 9, tzinfo=UTC)
    whole = np.floor(SPEED / FACTOR * 3.6) / 3.6
    samples = pl.DataFrame(
        {
            "time": [start + timedelta(seconds=i) for i in range(SECONDS)],
            "gps_speed_mps": SPEED + rng.normal(0, jitter, SECONDS),
            "indicated_speed_mps": whole,
        }
    ).with_columns(pl.col("time").cast(pl.Datetime("us", "UTC")))
    return make_trip(samples, name="drive", files=("drive.csv",))


def error(jitter: float) -> np.ndarray:
    return trip(jitter).ticks["true_speed_mps"] - SPEED


def test_jitter_is_taken_out_and_the_mean_kept() -> None:
    off = error(1.0)[30:-30]
    assert np.std(off) < 0.35  # of 1.0; a fifteenth of it left, and the bus's whole km/h
    assert abs(off.mean()) < 0.06  # two deviations of the mean of 1,140 such values
    gained = np.diff(off)
    assert np.std(gained) < 0.25  # of 1.4: what would pass for speeding up


def test_a_calm_receiver_is_left_as_it_is() -> None:
    rng = np.random.default_rng(8)
    assert np.allclose(error(0.1), rng.normal(0, 0.1, SECONDS), atol=1e-9)
