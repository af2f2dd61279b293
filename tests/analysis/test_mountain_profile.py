"""Elevation: false grades taken out, true ones kept, passes averaged."""

from __future__ import annotations

import pickle

import numpy as np
import polars as pl
import pytest

from gearing.analysis.mountain.drift import DRIFT_M, possible_heights
from gearing.analysis.mountain.heights import (
    ImpossibleGradeError,
    check_grades,
    missing_points,
    missing_stretches,
)
from gearing.analysis.mountain.passes import with_other_passes
from gearing.analysis.mountain.profile import MEDIAN_ERROR, SPACING_M, Profile, read_passes
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


@pytest.mark.parametrize("lengths", [(5000, 5600), (5000, 6000, 7000), (5000, 5600, 6300)])
def test_the_first_stands_alone_where_no_two_passes_are_of_a_length(lengths: list[int]) -> None:
    passes = [frame(x := np.arange(0, length + 1, 10.0), 600 + 0.03 * x) for length in lengths]
    profile = read_passes(passes)
    assert profile.distance_m.tolist() == passes[0]["distance_m"].to_list()
    assert profile.altitude_m.tolist() == passes[0]["altitude_m"].to_list()
    longer = read_passes([*passes, passes[0], passes[0]])  # two that are and the first
    assert longer.distance_m[-1] == pytest.approx(5000, abs=SPACING_M)


def test_a_median_is_as_uncertain_as_told() -> None:
    rng = np.random.default_rng(7)
    for count in range(2, 11):
        drawn = rng.standard_normal((100_000, count))
        ratio = np.std(np.median(drawn, axis=1)) / np.std(drawn.mean(axis=1))
        told = MEDIAN_ERROR[min(count, 6) - 2]
        assert ratio * 0.99 < told < ratio * (1.01 if count < 6 else 1.12)


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
    # positions from the first tenth on: no pass is known to have driven all of the road
    late = pl.when(pl.col("distance_m") > 0.1 * DISTANCE[-1]).then("latitude_deg")
    holed = profile.with_columns(late)
    length = read_passes([profile]).distance_m[-1]
    assert read_passes(with_other_passes(holed, logs)).distance_m[-1] == length
    alone = with_other_passes(profile.drop("latitude_deg"), logs)
    assert len(alone) == 1
    assert len(with_other_passes(profile, logs.clear())) == 1


def grades_of(frame: pl.DataFrame) -> None:
    profile = read_passes([frame])
    check_grades(profile.distance_m, profile.altitude_m)


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


@pytest.mark.parametrize(
    ("step_m", "deep_m", "wide_m"), [(20, -35, 240), (20, 60, 400), (100, -30, 200)]
)
def test_ground_under_a_bridge_or_over_a_tunnel_is_drawn_straight_and_counted(
    step_m: int, deep_m: float, wide_m: float
) -> None:
    whole = recording().gather_every(step_m // 20)
    off = ((pl.col("distance_m") - 6000).abs() * 2 / wide_m).clip(0, 1)
    ground = whole.with_columns(altitude_m=pl.col("altitude_m") + deep_m * (1 - off))
    profile = read_passes([ground])
    assert profile.crossings == 1
    assert profile.mended == wide_m / step_m - 1
    assert "over a bridge or through a tunnel in 1 place" in str(profile.handling)
    assert profile.altitude_m == pytest.approx(whole["altitude_m"].to_numpy(), abs=0.5)
    # a hollow that a road may have stays: 14 % down and up again
    hollow = whole.with_columns(
        altitude_m=600 - 0.14 * (200 - (pl.col("distance_m") - 6000).abs()).clip(0)
    )
    assert read_passes([hollow]).crossings == 0


def drifting(seed: int, deviation_m: float, distance: np.ndarray) -> np.ndarray:
    """A drift as a sum of waves of random phase, 0.5 to 6 km long, apart from the package's own."""
    rng = np.random.default_rng(seed)
    long = np.exp(rng.uniform(np.log(500), np.log(6000), 40))
    phase = rng.uniform(0, 2 * np.pi, 40)
    waves = np.sin(2 * np.pi * distance[:, None] / long + phase).sum(axis=1)
    return np.asarray(deviation_m * waves / np.sqrt(20))


def test_passes_tell_how_far_their_median_drifts() -> None:
    exact = recording()
    distance = exact["distance_m"].to_numpy()
    assert read_passes([exact]).drift_m == 0  # drawn, for all one knows
    alone = read_passes([exact.with_columns(latitude_deg=pl.lit(40.0))])
    assert alone.drift_m == DRIFT_M
    for deviation in (1.0, 4.0):
        passes = [
            exact.with_columns(
                altitude_m=pl.col("altitude_m") + drifting(seed, deviation, distance)
            )
            for seed in range(9)
        ]
        off = read_passes(passes).altitude_m - 600
        true = np.interp(SPACING_M * np.arange(off.size), distance, exact["altitude_m"] - 600)
        told = read_passes(passes).drift_m
        # a median of nine is 1.25 times as uncertain as their mean (normal values, by hand)
        assert told == pytest.approx(1.25 * deviation / 3, rel=0.5)
        assert np.std(off - true) < 2 * told


def test_roads_that_a_drifting_record_may_be_of_hold_the_true_grades() -> None:
    # Grade over 500 m, place by place; drifts as wide and as short as those measured, made apart.
    # The likeliest road is nearer the true one than the record.
    distance = np.arange(0.0, 40_000.1, 50.0)
    held, nearer = [], []
    for seed in range(20):
        rng = np.random.default_rng(seed)
        bends = rng.normal(0, 0.009, 162) * (rng.random(162) < 0.8)
        grade = np.cumsum(bends - 0.05 * np.cumsum(bends) / 5)
        grade = np.clip(grade - np.linspace(grade[0], grade[-1], 162), -0.08, 0.08)
        true = np.interp(
            distance, 250.0 * np.arange(163), 250 * np.concatenate([[0], np.cumsum(grade)])
        )
        record = true + drifting(seed, DRIFT_M, distance)
        roads = possible_heights(distance, record, DRIFT_M, 100, seed)
        rises = roads[10:] - roads[:-10]
        low, high = np.quantile(rises[::10], [0.025, 0.975], axis=1)
        rise = (true[10:] - true[:-10])[::10]
        held.append(np.mean((low <= rise) & (rise <= high)))
        recorded = (record[10:] - record[:-10])[::10]
        nearer.append(np.std(rises[::10, 0] - rise) / np.std(recorded - rise))
    assert 0.88 <= np.mean(held) <= 0.99
    assert np.mean(nearer) < 0.85


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
            grades_of(road)
        again = pickle.loads(pickle.dumps(told.value))
        assert (again.told, again.percent) == (told.value.told, told.value.percent)
    # 9 % for long and 14 % for half a kilometre there are
    grades_of(recording(0.09))
    ramp = recording(0.0).with_columns(altitude_m=600 + 0.14 * (along - 3000).clip(0, 500))
    grades_of(ramp)


def winding(spacing_m: float) -> tuple[np.ndarray, np.ndarray]:
    """20 km of hills whose grade goes from 6 % up to 6 % down and back within 3 km, bends as
    tight as mountain roads have."""
    distance = np.arange(0.0, 20_000.1, spacing_m)
    return distance, 900 + 0.06 * 3000 / (2 * np.pi) * np.sin(2 * np.pi * distance / 3000)


def worst_grade(profile: Profile) -> float:
    return float(np.abs(np.diff(profile.altitude_m) / np.diff(profile.distance_m)).max())


@pytest.mark.parametrize("unit_m", [2.0, 3.048, 5.0])
def test_heights_in_steps_make_no_false_grades(unit_m: float) -> None:
    """Whole meters and tens of feet, as maps give them; 80 m apart a step of 10 ft is 3.8 %."""
    distance, altitude = winding(80.0)
    stepped = np.round(altitude / unit_m) * unit_m
    found = read_passes([pl.DataFrame({"distance_m": distance, "altitude_m": stepped})])
    assert found.smoothed
    assert worst_grade(found) < 0.075
    assert np.abs(found.altitude_m - altitude).max() < max(1.0, unit_m)


def test_noise_of_points_far_apart_makes_no_false_grades() -> None:
    distance, altitude = winding(80.0)
    noisy = altitude + np.random.default_rng(4).normal(0, 2.4, len(distance))
    assert worst_grade(read_passes([frame(distance, altitude)])) < 0.061
    found = read_passes([frame(distance, noisy)])
    assert found.smoothed
    assert worst_grade(found) < 0.085  # of 0.15 and more as given


@pytest.mark.parametrize("spacing_m", [80.0, 150.0, 240.0])
def test_a_road_drawn_with_points_far_apart_is_left_as_it_is(spacing_m: float) -> None:
    distance, altitude = winding(spacing_m)
    found = read_passes([frame(distance, altitude)])
    assert not found.smoothed
    assert np.array_equal(found.altitude_m, altitude)


def frame(distance: np.ndarray, altitude: np.ndarray) -> pl.DataFrame:
    return pl.DataFrame({"distance_m": distance, "altitude_m": altitude})
