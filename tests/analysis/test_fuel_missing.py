"""Fuel that is not logged: by chance, or just where much is burnt."""

import numpy as np
import polars as pl
import pytest

from gearing.analysis.fuel.facts import missing_under_load

STEPS = 400


def drives(lacks: np.ndarray) -> pl.DataFrame:
    """One drive before and one after over hills; fuel is not logged after where `lacks`."""
    height = 60 * np.sin(np.arange(STEPS + 1) / 20)
    one = pl.DataFrame(
        {
            "distance_m": np.full(STEPS, 100.0),
            "altitude_m": height[:-1],
            "end_altitude_m": height[1:],
            "start_speed_mps": np.full(STEPS, 20.0),
            "end_speed_mps": np.full(STEPS, 20.0),
            "fuel_l": np.full(STEPS, 0.03),
        }
    )
    after = one.with_columns(fuel_l=pl.when(~pl.Series(lacks)).then(pl.col("fuel_l")))
    return pl.concat(
        [
            one.with_columns(side=pl.lit("before"), trip=0),
            after.with_columns(side=pl.lit("after"), trip=1),
        ]
    )


GRADE = np.diff(60 * np.sin(np.arange(STEPS + 1) / 20))


@pytest.mark.parametrize(
    ("lacks", "low", "high"),
    [
        (np.zeros(STEPS, bool), 0.0, 0.0),
        (np.random.default_rng(1).random(STEPS) < 0.3, 0.0, 0.0),  # rows lost by chance
        (GRADE < -1.0, 0.0, 0.0),  # nothing is written on overrun, where nothing is burnt
        (GRADE > 2.0, 0.4, 0.8),  # a recorder whose range ends below a climb's rate
        (np.ones(STEPS, bool), 0.0, 0.0),  # a drive without fuel is left out as a whole
    ],
)
def test_the_share_of_work_without_fuel(lacks: np.ndarray, low: float, high: float) -> None:
    assert low <= missing_under_load(drives(lacks)) <= high
