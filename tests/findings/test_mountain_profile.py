"""Elevation: false grades taken out, true ones kept, passes averaged."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from gearing.findings.mountain.passes import with_other_passes
from gearing.findings.mountain.profile import grade_over, read_passes
from gearing.findings.mountain.sections import find_stretches
from gearing.vehicle.road import make_road

DISTANCE = np.arange(0.0, 12_001.0, 20.0)
GRADE = np.where(
    (DISTANCE > 2000) & (DISTANCE < 6000),
    0.06,
    np.where((DISTANCE > 7000) & (DISTANCE < 10_000), -0.05, 0.0),
)
TRUE = 500 + np.concatenate([[0.0], np.cumsum(GRADE[:-1] * 20.0)])
CLIMB = float(np.maximum(np.diff(TRUE), 0).sum())


def recorded(seed: int, noise_m: float = 1.5, wander_m: float = 0.0) -> pl.DataFrame:
    rng = np.random.default_rng(seed)
    wander = np.cumsum(rng.normal(0, wander_m, DISTANCE.size)) if wander_m else 0.0
    return pl.DataFrame(
        {
            "distance_m": DISTANCE * rng.normal(1, 0.002),
            "altitude_m": TRUE + rng.normal(0, noise_m, DISTANCE.size) + wander + rng.normal(0, 8),
        }
    )


def error_of_grade(profile) -> float:  # type: ignore[no-untyped-def]
    places = np.arange(500.0, 11_500.0, 50.0)
    low = np.interp(places - 100, profile.distance_m, profile.altitude_m)
    high = np.interp(places + 100, profile.distance_m, profile.altitude_m)
    truth = (
        np.interp(places + 100, DISTANCE, TRUE) - np.interp(places - 100, DISTANCE, TRUE)
    ) / 200
    return float(np.sqrt(np.mean(((high - low) / 200 - truth) ** 2)))


def test_a_drawn_profile_is_taken_as_it_is() -> None:
    frame = pl.DataFrame({"distance_m": DISTANCE[::5], "altitude_m": TRUE[::5]})
    profile = read_passes([frame])
    assert profile.handling == "as given"
    assert profile.climb_m == pytest.approx(CLIMB, rel=1e-6)


def test_noise_makes_no_false_grades() -> None:
    raw = recorded(1)
    false_climb = float(np.maximum(np.diff(raw["altitude_m"].to_numpy()), 0).sum())
    assert false_climb > 2 * CLIMB  # the trap
    profile = read_passes([raw])
    assert "smoothed" in profile.handling
    assert profile.climb_m == pytest.approx(CLIMB, rel=0.08)
    assert error_of_grade(profile) < 0.006
    # the hill itself keeps its grade and its height
    _, grades = grade_over(profile.distance_m, profile.altitude_m, 2000.0)
    assert grades.max() == pytest.approx(0.06, abs=0.003)
    assert np.ptp(profile.altitude_m) == pytest.approx(np.ptp(TRUE), abs=6)


def test_several_passes_are_better_than_one() -> None:
    passes = [recorded(seed, noise_m=1.5, wander_m=0.4) for seed in range(8)]
    alone = np.mean([error_of_grade(read_passes([one])) for one in passes])
    together = read_passes(passes)
    assert "8 passes" in together.handling
    assert error_of_grade(together) < 0.75 * alone


def test_limits_and_stops_stay_where_they_are() -> None:
    frame = recorded(4).with_columns(
        speed_limit_mps=pl.when(pl.col("distance_m") < 6000).then(25.0).otherwise(15.0),
        stop_s=pl.when(pl.int_range(pl.len()) == 150).then(30.0).otherwise(0.0),
    )
    profile = read_passes([frame])
    assert np.interp(3000, profile.distance_m, profile.limit_mps) == 25.0
    assert np.interp(9000, profile.distance_m, profile.limit_mps) == 15.0
    assert profile.stop_s.sum() == 30.0
    assert profile.distance_m[np.argmax(profile.stop_s)] == pytest.approx(3000, abs=25)


def test_gaps_and_steps_back_are_passed_over() -> None:
    frame = pl.DataFrame(
        {
            "distance_m": [0.0, 100.0, None, 90.0, 200.0, 300.0],
            "altitude_m": [0.0, 5.0, 6.0, 5.5, float("nan"), 12.0],
        }
    )
    profile = read_passes([frame])
    assert profile.distance_m.tolist() == [0.0, 100.0, 300.0]
    with pytest.raises(ValueError, match="two places"):
        read_passes([frame.head(1)])
    with pytest.raises(ValueError, match="two places"):
        read_passes([pl.DataFrame({"a": [1.0]})])


def test_stretches_of_a_road() -> None:
    road = make_road(DISTANCE, TRUE, 25.0)
    up, down = find_stretches(road)
    assert up.climbs
    assert not down.climbs
    assert up.rise_m == pytest.approx(4000 * 0.06, abs=8)
    assert up.mean_grade == pytest.approx(0.06, abs=0.004)
    assert down.mean_grade == pytest.approx(-0.05, abs=0.004)
    back = find_stretches(road.reversed())
    assert [s.rise_m for s in back] == pytest.approx([-down.rise_m, -up.rise_m], rel=0.02)


def test_other_passes_in_the_logs_are_found_by_place() -> None:
    rng = np.random.default_rng(8)
    degrees = 40 + DISTANCE / 111_195

    def steps(trip: str, offset: int, backwards: bool, reach: float = 1.0) -> pl.DataFrame:
        every = np.arange(offset, int(DISTANCE.size * reach), 5)
        every = every[::-1] if backwards else every
        return pl.DataFrame(
            {
                "trip": [trip] * every.size,
                "altitude_m": TRUE[every]
                + np.cumsum(rng.normal(0, 0.5, every.size))
                + rng.normal(0, 6),
                "latitude_deg": degrees[every] + rng.normal(0, 3e-5, every.size),
                "longitude_deg": -100 + rng.normal(0, 4e-5, every.size),
            }
        )

    profile = recorded(3, noise_m=0.3, wander_m=0.5).with_columns(
        latitude_deg=pl.Series(degrees), longitude_deg=pl.lit(-100.0)
    )
    logs = pl.concat(
        [steps(f"t{i}", i % 5, backwards=i % 2 == 1) for i in range(8)]
        + [steps("half", 0, backwards=False, reach=0.5)]
        + [steps("elsewhere", 0, backwards=False).with_columns(pl.col("longitude_deg") + 1)]
    )
    passes = with_other_passes(profile, logs)
    assert len(passes) == 1 + 8
    together = read_passes(passes)
    assert error_of_grade(together) < 0.7 * error_of_grade(read_passes([profile]))
    alone = with_other_passes(profile.drop("latitude_deg"), logs)
    assert len(alone) == 1
    assert len(with_other_passes(profile, None)) == 1
