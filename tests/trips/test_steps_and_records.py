"""Road steps, gear clusters and the record that is kept of a trip."""

from __future__ import annotations

import pickle
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from drive_frames import EPOCH_S, at_times, positions, reading, speeds

from gearing.analysis.final_drive import find_final_drive
from gearing.analysis.trip_figures import road_steps_of, trip_figures
from gearing.messages import message
from gearing.study.model import DashReading, Measured, Period, Study, Vehicle
from gearing.trips.declared import Declared
from gearing.trips.motion import make_trip
from gearing.trips.record import record_of, records_of, stem
from gearing.trips.steps import BORDERS, SCHEMA, STEP_M, road_steps

sys.path.insert(0, str(Path(__file__).parents[1] / "simulation"))
from speed_world import AXLE, GEARS, World, make_drives

SPEED = speeds(2400)
T = np.arange(len(SPEED), dtype=float)
START = datetime.fromtimestamp(EPOCH_S, UTC)


def study(**more: object) -> Study:
    return Study(
        name="a",
        slug="a",
        path=Path("a.toml"),
        vehicle=Vehicle(axle_ratio=AXLE, gear_ratios=GEARS),
        before=Period(side="before", drive_tire="245/70R19.5"),
        after=Period(side="after", drive_tire="265/70R19.5", start=START),
        **more,  # type: ignore[arg-type]
    )


@pytest.fixture(scope="module")
def simulated() -> tuple[World, list[object]]:
    world = World(creep=0.0, growth=0.0, trip_spread=0.0, one_speed_share=0.0)
    drives = make_drives(world, np.random.default_rng(3), before=2, after=2)
    made = [
        record_of(make_trip(d.samples, name=d.name, files=(d.name,)), Declared.of(study()), d.side)  # type: ignore[arg-type]
        for d in drives.drives
    ]
    return world, made


def test_steps_add_up_to_the_trip() -> None:
    frame = at_times(
        T, gps_speed_mps=SPEED, indicated_speed_mps=SPEED / 1.04,
        fuel_rate_lph=5 + SPEED, **positions(SPEED),
    )  # fmt: skip
    trip = make_trip(frame, name="a", files=("a.csv",))
    steps = road_steps(trip)
    assert steps.columns == list(SCHEMA)
    assert steps["distance_m"].sum() == pytest.approx(trip.motion["true_step_m"].sum(), rel=1e-9)
    assert steps["fuel_l"].sum() == pytest.approx(trip.motion["fuel_step_l"].sum(), rel=1e-6)
    assert steps["duration_s"].sum() == pytest.approx(trip.motion.height)
    stopped = trip.motion.filter(pl.col("true_speed_mps") < 0.3)
    assert steps["stopped_s"].sum() == pytest.approx(stopped.height)
    assert steps["fuel_stopped_l"].sum() == pytest.approx(stopped["fuel_step_l"].sum())
    inner = steps["distance_m"][1:-1]
    assert inner.mean() == pytest.approx(STEP_M, rel=0.01)
    assert inner.max() < 1.5 * STEP_M
    assert steps["course_deg"][5] == pytest.approx(30.0, abs=0.5)
    assert steps["engine_speed_rpm"].null_count() == steps.height
    assert steps["step"].to_list() == list(range(steps.height))


@pytest.mark.parametrize("every_s", [1, 5, 10])
def test_steps_of_a_slow_log_know_where_they_go_and_how_it_climbs(every_s: int) -> None:
    """A row each 100 m or more leaves one row a step: its end is the next one's beginning."""
    place = positions(SPEED, course_deg=30.0)
    way = np.concatenate(([0.0], np.cumsum(0.5 * (SPEED[1:] + SPEED[:-1]))))
    frame = at_times(T, gps_speed_mps=SPEED, altitude_m=500 + 0.04 * way, **place)
    trip = make_trip(frame[::every_s], name="a", files=("a.csv",))
    steps = road_steps(trip)
    assert steps["step"].to_list() == list(range(steps.height))
    assert steps["duration_s"].sum() == pytest.approx(every_s * trip.motion.height)
    for begin, end in BORDERS:
        assert steps[end][:-1].to_list() == steps[begin][1:].to_list(), end
    moving = steps[2:-2].filter(pl.col("distance_m") > 50)
    assert moving.height > 0.9 * (steps.height - 4)
    off = (moving["course_deg"] - 30.0).abs()
    assert off.max() < 1.0
    rise = (moving["end_altitude_m"] - moving["altitude_m"]).sum()
    assert rise / moving["distance_m"].sum() == pytest.approx(0.04, rel=0.02)


def test_a_hole_in_the_log_parts_the_steps_before_and_behind_it() -> None:
    frame = at_times(T, gps_speed_mps=SPEED, **positions(SPEED))
    holed = frame.filter((pl.lit(T) < 900) | (pl.lit(T) > 1020))
    steps = road_steps(make_trip(holed, name="a", files=("a.csv",)))
    (last,) = np.flatnonzero(np.diff(steps["step"].to_numpy()) > 1)
    last = int(last)
    assert steps["start_s"][last + 1] - EPOCH_S == pytest.approx(1021.0)
    # the road of the two minutes nobody logged belongs to no step
    north_deg = steps["latitude_deg"][last + 1] - steps["end_latitude_deg"][last]
    unlogged_m = SPEED[900:1021].sum()
    assert north_deg * 111_132 == pytest.approx(unlogged_m * np.cos(np.radians(30)), rel=0.03)
    whole = road_steps(make_trip(frame, name="a", files=("a.csv",)))
    assert whole["step"].to_list() == list(range(whole.height))


def test_a_place_never_left_has_no_course() -> None:
    still = {name: np.full(300, value[0]) for name, value in positions(SPEED).items()}
    trip = make_trip(
        at_times(T[:300], gps_speed_mps=np.zeros(300), **still), name="a", files=("a",)
    )
    assert road_steps(trip)["course_deg"].to_list() == [None]


def test_a_trip_that_never_moves_is_one_step() -> None:
    trip = make_trip(at_times(T[:200], gps_speed_mps=np.zeros(200)), name="a", files=("a",))
    steps = road_steps(trip)
    assert steps.height == 1
    assert steps["stopped_s"][0] == 200
    assert steps["speed_mps"][0] is None


def test_a_foot_lifted_within_a_step_is_timed() -> None:
    load = np.where(np.arange(len(T)) % 20 < 3, 4.0, 55.0)
    frame = at_times(T, gps_speed_mps=SPEED, engine_load_percent=load, **positions(SPEED))
    steps = road_steps(make_trip(frame, name="a", files=("a.csv",)))
    assert steps["overrun_s"].sum() == pytest.approx(0.15 * steps["duration_s"].sum(), rel=0.02)
    bare = at_times(T, gps_speed_mps=SPEED, **positions(SPEED))
    assert road_steps(make_trip(bare, name="a", files=("a.csv",)))["overrun_s"].is_null().all()


def test_clusters_show_the_gear_ratios(simulated: tuple[World, list[object]]) -> None:
    world, made = simulated
    for record in made:
        table = record.gear_clusters.clusters  # type: ignore[attr-defined]
        side = record.side  # type: ignore[attr-defined]
        circumference = (
            world.circumference_before_m if side == "before" else world.circumference_after_m
        )
        expected = np.log(np.array(world.ratios) * AXLE / circumference)
        own = table.filter((pl.col("source") == "engine") & (pl.col("distance_m") > 2000))
        for row in own.iter_rows(named=True):
            # wear and warmth move the tire by up to 0.15 % within a period
            assert np.abs(row["log_ratio"] - expected).min() < 0.0025


def test_gears_and_loose_rows_are_labelled(simulated: tuple[World, list[object]]) -> None:
    _, made = simulated
    steps = road_steps_of(made, trip_figures(study(), made))  # type: ignore[arg-type]
    fast = steps.filter(pl.col("speed_mps") > 21)
    assert (fast["gear"] == 6).mean() > 0.95
    assert fast["unlocked_s"].sum() < 0.02 * fast["duration_s"].sum()
    # gears 1 and 2 slip their converter: the first 100 m from standing are driven in them
    starting = steps.filter((pl.col("start_speed_mps") < 0.3) & (pl.col("end_speed_mps") > 4))
    assert starting.height >= 3
    assert (starting["unlocked_s"] > 2).mean() > 0.9


def test_records_are_small_and_survive_pickling() -> None:
    frame = at_times(T, gps_speed_mps=SPEED, indicated_speed_mps=SPEED / 1.04)
    record = records_of(
        [reading(frame, "x/before/monday.csv.gz")], Declared.of(study()), side="before"
    )[0]
    assert record.name == "monday"
    copy = pickle.loads(pickle.dumps(record))
    assert copy.steps.equals(record.steps)
    assert copy.true_m == record.true_m
    assert len(pickle.dumps(record)) < 300 * record.steps.height + 60_000


def test_a_recording_split_by_a_long_stop_makes_numbered_trips() -> None:
    late = T + np.where(len(T) // 2 <= T, 3600.0, 0.0)
    made = records_of(
        [reading(at_times(late, gps_speed_mps=SPEED), "day.csv")], Declared.of(study())
    )
    assert [record.name for record in made] == ["day", "day-2"]
    assert made[1].start - made[0].end > timedelta(minutes=30)


@pytest.mark.parametrize(("shift_s", "side"), [(-86400.0, "before"), (60.0, "after")])
def test_the_period_follows_the_date_where_none_is_given(shift_s: float, side: str) -> None:
    frame = at_times(T + shift_s, gps_speed_mps=SPEED)
    assert records_of([reading(frame)], Declared.of(study()))[0].side == side


def test_names_of_files() -> None:
    assert stem("before/2026-02-10_out.csv") == "2026-02-10_out"
    assert stem("a/b.c.csv.gz") == "b.c"


def test_declared_stretches_and_dash_readings_are_summed() -> None:
    declared = study(
        measured=(
            Measured(
                start=START + timedelta(seconds=300),
                end=START + timedelta(seconds=900),
                distance_m=10_000.0,
            ),
        ),
        dash=(DashReading(at=START + timedelta(seconds=605), speed_mps=20.0),),
    )
    frame = at_times(T, gps_speed_mps=SPEED, indicated_speed_mps=SPEED / 1.04)
    record = records_of([reading(frame)], Declared.of(declared), side="before")[0]
    (stretch,) = record.stretches
    assert stretch.complete
    assert stretch.true_m == pytest.approx(SPEED[300:901].sum(), rel=1e-3)
    assert stretch.indicated_m == pytest.approx(SPEED[300:901].sum() / 1.04, rel=2e-3)
    (shown,) = record.shown
    assert shown.true_mps == pytest.approx(SPEED[603:608].mean(), rel=2e-3)


def test_a_reading_noted_by_the_minute_was_taken_somewhere_in_it() -> None:
    """A clock shows 10:10 from the first second of that minute to the last."""
    assert START.second == 0
    moments = [START + timedelta(seconds=s) for s in (600, 631)]
    declared = study(dash=tuple(DashReading(at=at, speed_mps=20.0) for at in moments))
    frame = at_times(T, gps_speed_mps=SPEED, indicated_speed_mps=SPEED / 1.04)
    noted, exact = records_of([reading(frame)], Declared.of(declared), side="before")[0].shown
    assert noted.true_mps == pytest.approx(SPEED[598:663].mean(), rel=5e-3)
    assert noted.unsteady_mps == pytest.approx(SPEED[598:663].std(), rel=0.05)
    assert exact.unsteady_mps < noted.unsteady_mps


def test_a_five_hour_log_is_done_in_a_blink() -> None:
    """18,000 rows with a dozen channels: the aim is 0.1 s; half a second is the alarm."""
    long = np.tile(speeds(1800), 10)
    t = np.arange(len(long), dtype=float)
    frame = at_times(
        t, gps_speed_mps=long, indicated_speed_mps=np.floor(long * 3.6) / 3.6,
        engine_speed_rpm=80 * long + 600, altitude_m=1500 + 20 * np.sin(t / 300),
        fuel_rate_lph=5 + long, coolant_temperature_c=80 + 0 * t, **positions(long),
    )  # fmt: skip
    taken = []
    for _ in range(3):
        start = time.perf_counter()
        records_of([reading(frame)], Declared.of(study()), side="before")
        taken.append(time.perf_counter() - start)
    assert min(taken) < 0.5


def test_a_receiver_that_sees_few_satellites_counts_less() -> None:
    poor = (T > 600) & (T < 1800)
    gps = np.where(poor, SPEED * 1.05, SPEED)
    hdop = np.where(poor, 10.0, 0.9)
    frame = at_times(T, gps_speed_mps=gps, indicated_speed_mps=SPEED, hdop=hdop)
    sums = records_of([reading(frame)], Declared.of(study()), side="before")[0].blocks.sum()
    factor = sums["true_m"].item() / sums["indicated_m"].item()
    assert 1.0 < factor < 1.004  # half of the road says 1.05, with a twenty-fifth of the weight


def test_the_count_of_distance_stands_in_for_speed() -> None:
    counted = np.floor(np.cumsum(SPEED) / 1.04 / 100) * 100 + 50_000_000
    frame = at_times(T, gps_speed_mps=SPEED, indicated_distance_m=counted)
    record = records_of([reading(frame)], Declared.of(study()), side="before")[0]
    assert record.counter is not None
    assert record.counter.step_m == 100.0
    figures = trip_figures(study(), [record])
    assert figures.trips["odometer_factor"][0] == pytest.approx(1.04, rel=2e-3)
    assert figures.trips["indicated_m"][0] == pytest.approx(SPEED.sum() / 1.04, abs=150)


def test_a_drive_without_gears_tells_no_final_drive() -> None:
    """A belt drive, or a converter that never locks: engine speed wanders against road speed."""
    made = []
    for seed in range(12):
        rng = np.random.default_rng(seed)
        wander = np.exp(np.interp(T, T[::40], rng.uniform(-0.5, 0.5, len(T[::40]))))
        frame = at_times(
            T + 86400 * seed, gps_speed_mps=SPEED, indicated_speed_mps=0.98 * SPEED,
            engine_speed_rpm=80 * SPEED * wander + 1,
        )  # fmt: skip
        side = "before" if seed < 6 else "after"
        made += records_of([reading(frame, f"{seed}.csv")], Declared.of(study()), side=side)
    figures = trip_figures(study(), made)
    final = find_final_drive(study(), figures)
    assert not final.change_percent.known
    assert final.change_percent.why == message("no-gear-held")
    assert figures.verdicts.misfiled == ()
