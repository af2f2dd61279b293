"""The median against which a receiver's spikes are told, held against polars' own."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from gearing.trips.motion import make_trip
from gearing.trips.receiver import median_of_five


@pytest.mark.parametrize("n", [5, 6, 7, 8, 50, 1000])
def test_median_of_five(n: int) -> None:
    g = np.random.default_rng(n)
    for values in (g.normal(size=n), g.integers(0, 3, n).astype(float)):
        expected = pl.Series(values).rolling_median(5, center=True, min_samples=3).to_numpy()
        found = median_of_five(values)
        assert (found[2:-2] == expected[2:-2]).all()
        # of four values at the ends the mean of two, whose last digit is the library's own
        assert found == pytest.approx(expected, rel=1e-15)


def winding(rows: int, held: int, told: float) -> pl.DataFrame:
    """A road that swings to and fro within 300 m, driven at 15 to 25 m/s; each fix is said for
    `held` rows, and the receiver's own speed is `told` times the true one."""
    t = np.arange(rows, dtype=float)
    speed = 20 + 5 * np.sin(t / 60)
    way = np.cumsum(speed)
    course = 0.5 * np.sin(way * 2 * np.pi / 300)
    north, east = np.cumsum(np.cos(course) * speed), np.cumsum(np.sin(course) * speed)
    fix = (t // held * held).astype(int)
    return pl.DataFrame(
        {
            "time": pl.from_epoch(
                pl.Series((1e6 * (1.77e9 + t)).astype(np.int64)), "us"
            ).dt.replace_time_zone("UTC"),
            "latitude_deg": (45 + north / 111_132)[fix],
            "longitude_deg": (7 + east / 78_847)[fix],
            "gps_speed_mps": told * speed[fix],
            "indicated_speed_mps": speed / 1.02,
        }
    )


def test_bends_hide_no_speed_at_odds_with_its_positions() -> None:
    """Along the course bends take from the way of positions; the truth stays in what is open."""
    trip = make_trip(winding(3000, 1, 0.954), name="log", files=("log.csv",))
    assert trip.factor is not None
    assert "gps-speed-disagrees" in {problem.code for problem in trip.problems}
    assert abs(np.log(trip.factor / 1.02)) < 1.96 * trip.way_error


@pytest.mark.parametrize("held", [1, 2, 5])
def test_a_fix_that_is_said_again_is_no_disagreement(held: int) -> None:
    trip = make_trip(winding(3000, held, 1.0), name="log", files=("log.csv",))
    assert trip.factor == pytest.approx(1.02, abs=0.003)
    assert trip.way_error < 0.01
