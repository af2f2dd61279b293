"""Altitudes of several drives of one road beside one another. The road is a sum of sines; each
drive samples it at its own places, both ways, with a receiver's wandering altitude."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import polars as pl
import pytest

from gearing.analysis.fuel.road import place_codes, pooled_grade
from gearing.analysis.heights import consistent_heights

STEP_M, STEPS = 100.0, 200
DEGREE_M = 111_195.0


def height(x: np.ndarray) -> np.ndarray:
    return 1500 + 180 * np.sin(x / 3000) + 40 * np.sin(x / 700)


def drive(name: str, seed: int, read: Callable[[np.ndarray], np.ndarray]) -> pl.DataFrame:
    """A drive north, or south where its seed is odd, of 20 km; `read` makes the logged altitude."""
    rng = np.random.default_rng(seed)
    way = np.arange(STEPS + 1) * STEP_M + rng.uniform(0, STEP_M)
    if seed % 2:
        way = way[::-1]
    wander = 3 * np.sin(np.arange(STEPS + 1) / 25 + rng.uniform(0, 6)) + rng.normal(
        0, 0.3, STEPS + 1
    )
    logged = read(height(way) + wander)
    return pl.DataFrame(
        {
            "trip": [name] * STEPS,
            "distance_m": [STEP_M] * STEPS,
            "altitude_m": pl.Series(logged[:-1], nan_to_null=True),
            "end_altitude_m": pl.Series(logged[1:], nan_to_null=True),
            "latitude_deg": 40 + way[:-1] / DEGREE_M,
            "end_latitude_deg": 40 + way[1:] / DEGREE_M,
            "longitude_deg": [-110.5] * STEPS,
            "end_longitude_deg": [-110.5] * STEPS,
            "course_deg": [180.0 if seed % 2 else 0.0] * STEPS,
        }
    )


def drives(odd: Callable[[np.ndarray], np.ndarray], count: int, of: int = 10) -> pl.DataFrame:
    """`of` drives, of which the last `count` log altitude as `odd` makes it."""
    return pl.concat(
        drive(f"t{i:02d}", i, odd if i >= of - count else lambda h: h) for i in range(of)
    )


def feet(h: np.ndarray) -> np.ndarray:
    return h / 0.3048  # exact, NIST SP 811 appendix B


def still(h: np.ndarray) -> np.ndarray:
    return np.full_like(h, 0.0)


@pytest.mark.parametrize("odd", [feet, still])
def test_a_few_odd_trips_are_named_and_the_road_is_the_others(
    odd: Callable[[np.ndarray], np.ndarray],
) -> None:
    steps, (told,) = consistent_heights(drives(odd, 2))
    assert set(told.trips) == {"t08", "t09"}
    # no rise of their own is left, and the altitude is the other drives'
    left = steps.filter(pl.col("trip").is_in(["t08", "t09"]))
    assert left["end_altitude_m"].null_count() == left.height
    known = left.drop_nulls("altitude_m")
    assert known.height > 0.9 * left.height
    way = (known["latitude_deg"].to_numpy() - 40) * DEGREE_M
    assert np.abs(known["altitude_m"].to_numpy() - height(way)).max() < 25


def test_altitudes_that_stand_still_outvote_nobody() -> None:
    _, (told,) = consistent_heights(drives(still, 6))
    assert set(told.trips) == {f"t{i:02d}" for i in range(4, 10)}


def test_half_against_half_leaves_no_altitude() -> None:
    steps, (told,) = consistent_heights(drives(feet, 5))
    assert "no altitude is used" in told.text
    assert steps["altitude_m"].null_count() == steps.height


def test_drives_alike_are_left_as_they_are() -> None:
    whole = drives(still, 0)
    steps, told = consistent_heights(whole)
    assert told == ()
    assert steps.equals(whole)


def test_a_level_road_tells_nothing_of_any_trip() -> None:
    flat = drives(still, 0).with_columns(altitude_m=pl.lit(3.0), end_altitude_m=pl.lit(3.0))
    assert consistent_heights(flat)[1] == ()


def test_grade_of_a_pass_without_altitude_is_that_of_the_other_passes() -> None:
    latitude = np.array([40.0005, 40.0005, 40.0205])
    codes, sign = place_codes(latitude, np.full(3, -110.5), np.array([0.0, 180.0, 0.0]))
    pooled = pooled_grade(np.array([0.05, np.nan, np.nan]), sign, codes)
    assert pooled == pytest.approx([0.05, -0.05, 0.0])
