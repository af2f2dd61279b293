"""Values drawn in a straight line between samples are no measurements.

That recorders poll a vehicle every few seconds and fill the rows between is common practice, no
source.
"""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from gearing.statistics.arrays import Array
from gearing.trips.clock import Channels
from gearing.trips.drawn import without_drawn
from gearing.trips.motion import make_trip

ROWS = 1500


def driven(seed: int, rows: int = ROWS) -> Array:
    """Speeds of a drive from stop to stop [m/s], a row a second; the same way twice."""
    g = np.random.default_rng(seed)
    speed: list[float] = []
    while len(speed) < rows:
        cruise = g.uniform(12, 24)
        held = cruise + 0.3 * np.cumsum(g.normal(size=90)) / 5
        speed += [*np.arange(0, cruise, g.uniform(0.4, 0.8)), *held, *np.arange(cruise, 0, -0.8)]
    return np.maximum(speed[:rows], 0.0)


def channels(**values: Array) -> Channels:
    return Channels(1.77e9 + np.arange(len(next(iter(values.values()))), dtype=float), values)


def drawn(values: Array, apart: int, digits: int) -> Array:
    at = np.arange(0, len(values), apart)
    return np.round(np.interp(np.arange(len(values)), at, values[at]), digits)


@pytest.mark.parametrize("apart", [5, 7, 10])
@pytest.mark.parametrize("digits", [2, 3, 12])
def test_what_is_drawn_is_taken_out_and_what_was_measured_stays(apart: int, digits: int) -> None:
    speed = driven(1) + np.random.default_rng(2).normal(0, 0.05, ROWS)
    logged, (told,) = without_drawn(
        channels(indicated_speed_mps=drawn(speed, apart, digits)), "log.csv"
    )
    kept = np.isfinite(logged.values["indicated_speed_mps"])
    # as coarsely as it is written, a sample may stand on a line, and a line may not rise
    coarse = digits == 2
    assert kept[::apart].mean() > (0.7 if coarse else 0.9)
    assert kept[np.arange(ROWS) % apart != 0].mean() < (0.25 if coarse else 0.1)
    assert told.code == "drawn-between"


@pytest.mark.parametrize(
    "values",
    [
        pytest.param(np.round(driven(3) * 3.6) / 3.6, id="whole km/h"),
        pytest.param(np.round(driven(4), 2), id="straight ramps, as invented logs have them"),
        pytest.param(np.repeat(driven(5)[::4], 4)[:ROWS], id="held for four rows"),
        pytest.param(
            np.interp(np.arange(6 * ROWS) / 10, np.arange(ROWS), driven(6)).round(2)[:ROWS]
            + np.random.default_rng(7).normal(0, 0.02, ROWS),
            id="ten rows a second",
        ),
        pytest.param(np.full(ROWS, 22.22), id="constant"),
        pytest.param(np.round(1500 + 6 * np.sin(np.arange(ROWS) / 40)), id="slow whole rpm"),
    ],
)
def test_what_was_measured_stays_whole(values: Array) -> None:
    logged, told = without_drawn(channels(indicated_speed_mps=values), "log.csv")
    assert told == ()
    assert np.array_equal(logged.values["indicated_speed_mps"], values)


def test_a_drawn_speed_tells_the_factor_of_what_was_measured() -> None:
    """From stop to stop a line between samples ten seconds apart is off at every bend."""
    true = driven(8, 6000)
    start = pl.Series((1e6 * (1.77e9 + np.arange(len(true)))).astype(np.int64))

    def factor(bus: Array) -> float:
        frame = pl.DataFrame(
            {
                "time": pl.from_epoch(start, "us").dt.replace_time_zone("UTC"),
                "gps_speed_mps": np.round(true + np.random.default_rng(9).normal(0, 0.05, 6000), 3),
                "indicated_speed_mps": pl.Series(bus).fill_nan(None),
            }
        )
        found = make_trip(frame, name="log", files=("log.csv",)).factor
        assert found is not None
        return found

    seldom = np.full(6000, np.nan)
    seldom[::10] = true[::10] / 1.03
    assert factor(drawn(true / 1.03, 10, 3)) == pytest.approx(factor(seldom), abs=1e-3)
