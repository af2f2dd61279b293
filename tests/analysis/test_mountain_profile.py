"""Elevation: false grades taken out, true ones kept, passes averaged."""

from __future__ import annotations

import pickle

import numpy as np
import polars as pl
import pytest

from gearing.analysis.mountain.passes import with_other_passes
from gearing.analysis.mountain.profile import (
    ImpossibleGradeError,
    check_grades,
    missing_points,
    missing_stretches,
    read_passes,
)
from gearing.analysis.mountain.sections import find_stretches
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


def climb(profile) -> float:  # type: ignore[no-untyped-def]
    return float(np.maximum(np.diff(profile.altitude_m), 0).sum())


def test_a_drawn_profile_is_taken_as_it_is() -> None:
    frame = pl.DataFrame({"distance_m": DISTANCE[::5], "altitude_m": TRUE[::5]})
    profile = read_passes([frame])
    assert str(profile.handling) == "as given"
    assert climb(profile) == pytest.approx(CLIMB, rel=1e-6)


def test_noise_makes_no_false_grades() -> None:
    raw = recorded(1)
    false_climb = float(np.maximum(np.diff(raw["altitude_m"].to_numpy()), 0).sum())
    assert false_climb > 2 * CLIMB  # the trap
    profile = read_passes([raw])
    assert "smoothed" in str(profile.handling)
    assert climb(profile) == pytest.approx(CLIMB, rel=0.08)
    assert error_of_grade(profile) < 0.006
    # the hill itself keeps its grade and its height
    begin = np.arange(0.0, DISTANCE[-1] - 2000, 5.0)
    low, high = (
        np.interp(begin + s, profile.distance_m, profile.altitude_m) for s in (0.0, 2000.0)
    )
    rise = high - low
    assert rise.max() / 2000 == pytest.approx(0.06, abs=0.003)
    assert np.ptp(profile.altitude_m) == pytest.approx(np.ptp(TRUE), abs=6)


def test_several_passes_are_better_than_one() -> None:
    passes = [recorded(seed, noise_m=1.5, wander_m=0.4) for seed in range(8)]
    alone = np.mean([error_of_grade(read_passes([one])) for one in passes])
    together = read_passes(passes)
    assert "8 passes" in str(together.handling)
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


def without(distance: np.ndarray, low: float, high: float) -> np.ndarray:
    return distance[(distance <= low) | (distance >= high)]


@pytest.mark.parametrize("spacing_m", [5.0, 50.0, 80.4672, 100.0, 500.0, 804.672])
def test_a_hole_in_a_profile_is_seen(spacing_m: float) -> None:
    distance = np.arange(0.0, 20_000.1, spacing_m)
    assert missing_stretches(distance) == ()
    ((low, high),) = missing_stretches(without(distance, 6500, 15_500))
    assert 6500 - spacing_m < low <= 6500
    assert 15_500 <= high < 15_500 + spacing_m
    # a tunnel or a point or two left out is no hole
    short = max(1000 - 2 * spacing_m, spacing_m)
    assert missing_stretches(without(distance, 6500, 6500 + short)) == ()


def test_a_hole_is_named_as_the_file_counts() -> None:
    distance = without(np.arange(120_000.0, 140_000.1, 50.0), 126_500, 135_500)
    frame = pl.DataFrame({"distance_m": distance, "altitude_m": np.zeros(distance.size)})
    profile = read_passes([frame])
    assert profile.missing == ((126_500.0, 135_500.0),)
    assert str(missing_points(profile.missing)) == "no points from 126.5 to 135.5 km"
    many = [(1000.0 * i, 1000.0 * i + 1500) for i in range(0, 15, 3)]
    assert str(missing_points(many)) == (
        "no points from 0.0 to 1.5 km, from 3.0 to 4.5 km, from 6.0 to 7.5 km and in 2 more places"
    )
    # rows without an altitude are no points either
    blank = pl.DataFrame({"distance_m": np.arange(0.0, 20_000.1, 50.0)}).with_columns(
        altitude_m=pl.when(pl.col("distance_m").is_between(4000, 9000)).then(None).otherwise(1.0)
    )
    assert read_passes([blank]).missing == ((3950.0, 9050.0),)


@pytest.mark.parametrize(
    "distance_km",
    [
        [0, 10],
        [0, 2, 10],
        [0, 5, 14, 15, 24, 29],
        [0, 0.1, 0.4, 6, 7, 7.2, 12, 13, 21, 22, 22.3, 24, 30, 31.5, 33, 40],
        list(range(0, 60, 2)),
    ],
)
def test_a_road_drawn_by_hand_has_no_holes(distance_km: list[float]) -> None:
    assert missing_stretches(1000 * np.asarray(distance_km, dtype=np.float64)) == ()


def test_a_pass_with_a_hole_is_left_out() -> None:
    whole = [recorded(seed) for seed in range(3)]
    holed = recorded(3).filter(~pl.col("distance_m").is_between(4000, 7000))
    profile = read_passes([holed, *whole])
    assert profile.missing == ()
    assert "3 passes" in str(profile.handling)
    assert error_of_grade(profile) == error_of_grade(read_passes(whole))
    assert read_passes([holed, holed]).missing


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


def recording(grade: float = 0.05) -> pl.DataFrame:
    """A recording each 20 m: 3 km level, 6 km up, 3 km level, from 600 m."""
    distance = np.arange(0.0, 12_000.1, 20.0)
    return pl.DataFrame(
        {"distance_m": distance, "altitude_m": 600 + grade * np.clip(distance - 3000, 0, 6000)}
    )


def test_false_heights_of_a_recording_are_mended_and_counted() -> None:
    whole = recording()
    for false, rows in ((0.0, [200]), (0.0, [200, 201, 340]), (1400.0, [90])):
        number = pl.int_range(pl.len())
        broken = whole.with_columns(
            altitude_m=pl.when(number.is_in(rows)).then(false).otherwise("altitude_m")
        )
        profile = read_passes([broken])
        assert profile.mended == len(rows)
        assert f"{len(rows)} false height" in str(profile.handling)
        assert profile.altitude_m == pytest.approx(whole["altitude_m"].to_numpy(), abs=1.0)
    assert read_passes([whole]).mended == 0


def test_heights_that_are_no_roads_withhold_the_verdict() -> None:
    # heights of the ground over a tunnel: 300 m up and down again within 2 km; feet as metres
    whole = recording()
    along = pl.col("distance_m")
    hill = (300 * (1 - ((along - 6000).abs() / 1000))).clip(0, None)
    over_tunnel = whole.with_columns(altitude_m=pl.col("altitude_m") + hill)
    in_feet = whole.with_columns(altitude_m=pl.col("altitude_m") / 0.3048)
    for road in (over_tunnel, in_feet):
        with pytest.raises(
            ImpossibleGradeError, match="steeper than such a length of road"
        ) as told:
            check_grades(read_passes([road]))
        again = pickle.loads(pickle.dumps(told.value))
        assert (again.told, again.percent) == (told.value.told, told.value.percent)
    # 9 % for long and 14 % for half a kilometre there are
    check_grades(read_passes([recording(0.09)]))
    ramp = recording(0.0).with_columns(altitude_m=600 + 0.14 * (along - 3000).clip(0, 500))
    check_grades(read_passes([ramp]))
