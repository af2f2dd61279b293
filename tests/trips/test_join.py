"""Files that are one recording, copies, and clocks that differ."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from drive_frames import at_times, positions, reading, speeds

sys.path.insert(0, str(Path(__file__).parents[1] / "simulation"))
from speed_world import _speeds

from gearing.logs.model import Reading
from gearing.trips.join import describe, group_recordings, join_readings
from gearing.trips.motion import make_trip

SPEED = speeds(2400)
T = np.arange(len(SPEED), dtype=float)


def receiver_file(shift_s: float = 0.0, file: str = "gps.csv") -> Reading:
    return reading(at_times(T + shift_s, gps_speed_mps=SPEED, **positions(SPEED)), file)


def bus_file(shift_s: float = 0.0, file: str = "bus.csv") -> Reading:
    moving = np.floor(SPEED / 1.045 * 3.6) / 3.6
    return reading(
        at_times(T + shift_s, indicated_speed_mps=moving, engine_speed_rpm=90 * SPEED + 600), file
    )


def grouped(*readings: Reading) -> object:
    described = [d for r in readings if (d := describe(r)) is not None]
    return group_recordings(described)


def test_receiver_and_bus_files_of_one_drive_are_one_recording() -> None:
    groups = grouped(bus_file(), receiver_file())
    assert groups.groups == (("gps.csv", "bus.csv"),)  # type: ignore[attr-defined]
    assert groups.duplicates == ()  # type: ignore[attr-defined]


@pytest.mark.parametrize("offset_s", [-312.4, -37.4, 0.0, 5.2, 241.0])
def test_the_clock_offset_is_found_and_told(offset_s: float) -> None:
    """Bus clock ahead of the receiver's by `offset_s`."""
    joined = join_readings([receiver_file(), bus_file(offset_s)])
    assert len(joined) == 1
    samples, problems = joined[0]
    assert problems[0].code == "clock-offset"
    assert float(problems[0].value) == pytest.approx(-offset_s, abs=0.15)
    made = make_trip(samples, name="a", files=("gps.csv", "bus.csv"))
    # cut to whole km/h, of which half is undone until all trips together tell
    assert made.factor == pytest.approx(1.045, rel=6e-3)
    assert abs(made.lag_s) < 0.15


def test_files_of_two_drives_are_not_joined() -> None:
    other = reading(at_times(T, indicated_speed_mps=np.roll(speeds(2400)[::-1], 700)), "other.csv")
    joined = join_readings([receiver_file(), other])
    assert len(joined) == 2
    assert joined[1][1][0].code == "join-refused"


@pytest.mark.parametrize("offset_s", [-37.4, 0.0])
def test_files_that_share_a_part_of_one_drive_are_joined(offset_s: float) -> None:
    receiver, bus = receiver_file(), bus_file(offset_s)
    first = reading(receiver.samples.head(1600), "gps.csv")
    last = reading(bus.samples.tail(1600), "bus.csv")
    assert grouped(first, last).groups == (("gps.csv", "bus.csv"),)  # type: ignore[attr-defined]
    ((samples, problems),) = join_readings([first, last])
    assert float(problems[0].value) == pytest.approx(-offset_s, abs=0.15)
    assert samples["time"][0] == receiver.samples["time"][0]


def test_few_minutes_of_other_drives_are_not_joined_on_chance() -> None:
    """Of 40 pairs, each sharing three minutes, in which one stop passes for another."""
    time_s = np.arange(1800.0)
    for seed in range(40):
        one, other = (_speeds(np.random.default_rng(2 * seed + i), 1800, False) for i in (0, 1))
        first = reading(at_times(time_s, gps_speed_mps=one), "gps.csv")
        last = reading(at_times(time_s + 1620, indicated_speed_mps=other), "bus.csv")
        assert len(join_readings([first, last])) == 2


def test_a_copy_under_another_name_is_a_duplicate() -> None:
    groups = grouped(receiver_file(file="a.csv"), receiver_file(file="b.csv"))
    assert groups.groups == (("a.csv",),)  # type: ignore[attr-defined]
    assert groups.duplicates == (("b.csv", "a.csv"),)  # type: ignore[attr-defined]


def test_a_copy_in_another_time_zone_is_a_duplicate() -> None:
    groups = grouped(receiver_file(file="a.csv"), receiver_file(-7 * 3600.0, file="b.csv"))
    assert len(groups.groups) == 1  # type: ignore[attr-defined]
    assert len(groups.duplicates) == 1  # type: ignore[attr-defined]


def test_a_copy_with_fewer_digits_is_a_duplicate() -> None:
    coarse = reading(
        at_times(T, gps_speed_mps=np.round(SPEED, 1), **positions(SPEED)), "coarse.csv"
    )
    groups = grouped(receiver_file(), coarse)
    assert len(groups.duplicates) == 1  # type: ignore[attr-defined]


def test_one_day_of_many_like_trips_has_no_duplicates() -> None:
    rng = np.random.default_rng(1)
    files = []
    for i in range(6):
        speed = np.abs(SPEED * rng.uniform(0.8, 1.2) + rng.normal(0, 0.5, len(SPEED)))
        files.append(reading(at_times(T + i * 4000, gps_speed_mps=speed), f"{i}.csv"))
    groups = grouped(*files)
    assert len(groups.groups) == 6  # type: ignore[attr-defined]
    assert groups.duplicates == ()  # type: ignore[attr-defined]


def test_files_that_follow_one_another_stay_apart() -> None:
    half = len(T) // 2
    first = reading(at_times(T[:half], gps_speed_mps=SPEED[:half]), "1.csv")
    second = reading(at_times(T[half:], gps_speed_mps=SPEED[half:]), "2.csv")
    assert len(grouped(first, second).groups) == 2  # type: ignore[attr-defined]


def test_grouping_many_files_is_quick() -> None:
    import time

    rng = np.random.default_rng(2)
    described = []
    for i in range(1600):
        speed = np.abs(rng.normal(15, 6, 600))
        one = describe(reading(at_times(np.arange(600.0) + i * 3600, gps_speed_mps=speed), f"{i}"))
        assert one is not None
        described.append(one)
    start = time.perf_counter()
    groups = group_recordings(described)
    assert len(groups.groups) == 1600
    assert time.perf_counter() - start < 5.0


def test_order_of_the_files_does_not_matter() -> None:
    files = [receiver_file(), bus_file(), receiver_file(8000.0, "later.csv")]
    assert grouped(*files).groups == grouped(*files[::-1]).groups  # type: ignore[attr-defined]


@pytest.mark.parametrize("hours", [-7, 1, 5.75])
def test_a_bus_file_in_local_time_is_joined_to_a_receiver_file_in_utc(hours: float) -> None:
    receiver, bus = receiver_file(), bus_file(hours * 3600 + 21.3)
    groups = grouped(receiver, bus)
    assert groups.groups == (("gps.csv", "bus.csv"),)  # type: ignore[attr-defined]
    joined = join_readings([receiver, bus])
    assert len(joined) == 1
    samples, problems = joined[0]
    assert float(problems[0].value) == pytest.approx(-hours * 3600 - 21.3, abs=0.15)
    motion = make_trip(samples, name="a", files=("gps.csv",)).motion
    both = motion.filter(~pl.col("bridged")).drop_nulls(["true_speed_mps", "indicated_speed_mps"])
    assert both.height > 2000


def test_a_bus_file_in_local_time_is_joined_to_positions_alone() -> None:
    receiver = reading(at_times(T, **positions(SPEED)), "gps.csv")
    groups = grouped(receiver, bus_file(-7 * 3600))
    assert groups.groups == (("gps.csv", "bus.csv"),)  # type: ignore[attr-defined]


def test_files_of_other_drives_hours_apart_are_not_joined() -> None:
    other = np.roll(SPEED[::-1], 300)
    bus = reading(at_times(T + 7200, indicated_speed_mps=other), "bus.csv")
    assert len(grouped(receiver_file(), bus).groups) == 2  # type: ignore[attr-defined]
