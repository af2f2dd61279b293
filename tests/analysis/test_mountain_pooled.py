"""The rise of a road step from every pass of its place."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from gearing.analysis.mountain.pooled import with_pooled_rise
from gearing.analysis.mountain.powered_steps import followed

PLACES = np.arange(0.0, 8000.0, 100.0)
GRADE = 0.05 * np.sin(PLACES / 1500)
ALTITUDE = 700 + np.concatenate([[0.0], np.cumsum(GRADE[:-1] * 100)])


def one_pass(name: str, seed: int, backwards: bool) -> pl.DataFrame:
    rng = np.random.default_rng(seed)
    order = slice(None, None, -1) if backwards else slice(None)
    count = PLACES.size
    speed = np.full(count, 20.0)
    altitude = ALTITUDE[order] + np.cumsum(rng.normal(0, 0.6, count))
    return pl.DataFrame(
        {
            "trip": [name] * count,
            "step": np.arange(count, dtype=np.uint32),
            "start_s": 5.0 * np.arange(count),
            "duration_s": np.full(count, 5.0),
            "distance_m": np.full(count, 100.0),
            "latitude_deg": (40 + PLACES / 111_195)[order],
            "longitude_deg": np.full(count, -100.0),
            "course_deg": np.full(count, 180.0 if backwards else 0.0),
            "altitude_m": altitude,
            "start_speed_mps": speed,
            "end_speed_mps": speed,
            "end_altitude_m": np.append(altitude[1:], altitude[-1]),
        }
    )


def error(steps: pl.DataFrame, name: str = "t0") -> float:
    ended = followed(steps).filter(pl.col("trip") == name)
    true = np.diff(ALTITUDE)
    return float(np.sqrt(np.mean((ended["rise_m"].to_numpy() - true) ** 2)))


def test_many_passes_wander_less_than_one() -> None:
    passes = pl.concat([one_pass(f"t{i}", i, backwards=i % 2 == 1) for i in range(8)])
    pooled = with_pooled_rise(passes)
    assert pooled.drop("pooled_rise_m").equals(passes)
    assert error(pooled) < 0.6 * error(passes)


def test_one_pass_keeps_its_own_rise() -> None:
    single = one_pass("t0", 3, backwards=False)
    assert error(with_pooled_rise(single)) == pytest.approx(error(single))


def test_another_road_crossing_is_not_the_same_road() -> None:
    road = one_pass("t0", 3, backwards=False)
    crossing = one_pass("x", 4, backwards=False).with_columns(
        latitude_deg=pl.lit(40 + 4000 / 111_195),
        longitude_deg=-100 + (PLACES - 4000) / 85_000,
        course_deg=pl.lit(90.0),
        altitude_m=pl.Series(1000 + 0.2 * PLACES),
    )
    together = with_pooled_rise(pl.concat([road, crossing]))
    assert error(together) == pytest.approx(error(road))


def test_without_positions_nothing_changes() -> None:
    bare = one_pass("t0", 3, backwards=False).with_columns(latitude_deg=pl.lit(None, pl.Float64))
    assert with_pooled_rise(bare).equals(bare)
    assert with_pooled_rise(bare.clear()).height == 0
