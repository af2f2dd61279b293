"""Logs of one drive by clocks far apart are named; logs of other drives never are."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from drive_frames import at_times, positions, reading

sys.path.insert(0, str(Path(__file__).parents[1] / "simulation"))
from speed_world import _speeds

from gearing.logs.model import Reading
from gearing.logs.read import read_log
from gearing.trips.apart import Apart, find_apart
from gearing.trips.join import Recording, describe

REAL = Path(__file__).resolve().parents[3] / "shared" / "logs" / "open_tracks"
DRIVES = [_speeds(np.random.default_rng(seed), 2400, False) for seed in range(4)]


def receiver(drive: np.ndarray, start_s: float, file: str, *, told: bool = True) -> Reading:
    t = np.arange(len(drive)) + start_s
    own = {"gps_speed_mps": drive} if told else {}
    return reading(at_times(t, **own, **positions(drive)), file)


def bus(drive: np.ndarray, start_s: float, file: str) -> Reading:
    t = np.arange(len(drive)) + start_s
    return reading(at_times(t, indicated_speed_mps=np.floor(drive / 1.045 * 3.6) / 3.6), file)


def found(receivers: list[Reading], buses: list[Reading]) -> list[Apart]:
    samples = {one.file: one.samples for one in (*receivers, *buses)}

    def described(readings: list[Reading]) -> list[Recording]:
        return [d for one in readings if (d := describe(one)) is not None]

    return find_apart(described(receivers), described(buses), samples.__getitem__)


@pytest.mark.parametrize("told", [True, False])
@pytest.mark.parametrize("ahead_s", [-3600.0, 1234.0, 3600.0, 5400.0, 20_011.0])
def test_one_drive_by_two_clocks(ahead_s: float, told: bool) -> None:
    (pair,) = found([receiver(DRIVES[0], 0, "gps", told=told)], [bus(DRIVES[0], ahead_s, "bus")])
    assert (pair.receiver, pair.bus) == ("gps", "bus")
    assert pair.ahead_s == pytest.approx(ahead_s, abs=1.0)
    assert pair.correlation > 0.85


def test_each_log_is_of_the_drive_it_shows() -> None:
    """Drives an hour apart and the bus's clock an hour ahead: each bus's log has the time of
    another drive."""
    receivers = [receiver(drive, 3600.0 * i, f"gps {i}") for i, drive in enumerate(DRIVES)]
    buses = [bus(drive, 3600.0 * (i + 1), f"bus {i}") for i, drive in enumerate(DRIVES)]
    pairs = found(receivers, buses)
    assert [(p.receiver[-1], p.bus[-1]) for p in pairs] == [(i, i) for i in "0123"]


def test_other_drives_are_not_one() -> None:
    for i in range(4):
        others = [receiver(d, 900.0 * j, f"gps {j}") for j, d in enumerate(DRIVES) if j != i]
        assert found(others, [bus(DRIVES[i], 1000.0, "bus")]) == []


def test_the_same_road_again_is_not_the_same_drive() -> None:
    """The same speeds to aim at, come to a few seconds sooner or later and held a little off."""
    rng = np.random.default_rng(3)
    t = np.arange(2400.0)
    knots = np.linspace(0, 2400, 25)
    for _ in range(6):
        late = np.interp(t, knots, np.cumsum(rng.normal(0, 8.0, 25)))
        again = np.interp(t - late, t, DRIVES[0]) * (
            1 + np.interp(t, knots, rng.normal(0, 0.03, 25))
        )
        assert found([receiver(again, 0, "gps")], [bus(DRIVES[0], 3600.0, "bus")]) == []


def test_even_driving_and_logs_of_few_rows_tell_nothing() -> None:
    even = np.full(2400, 25.0)
    assert found([receiver(even, 0, "gps")], [bus(even, 3600.0, "bus")]) == []
    few = reading(at_times(np.arange(20) * 60.0, gps_speed_mps=DRIVES[0][::60][:20]), "gps")
    assert found([few], [bus(DRIVES[0][:1200], 3600.0, "bus")]) == []


@pytest.mark.skipif(not REAL.is_dir(), reason="no real logs here")
def test_real_drives_are_told_from_one_another() -> None:
    """A car's trips put on one day, receivers' halves of some and buses' halves of others, then
    both halves of each with the bus's clock 37 minutes ahead."""
    whole = [read_log(path).samples for path in sorted((REAL / "car_57f7fd").glob("*.csv"))[:16]]
    day = whole[0]["time"][0]
    halves = [
        (i, s.with_columns(pl.col("time") - s["time"][0] + day + pl.duration(minutes=40 * i)))
        for i, s in enumerate(whole)
    ]
    receivers = [_half(s, f"gps {i}", "gps_speed_mps") for i, s in halves]
    buses = [_half(s, f"bus {i}", "indicated_speed_mps", 2220) for i, s in halves]
    assert found(receivers[::2], buses[1::2]) == []
    pairs = found(receivers, buses)
    assert len(pairs) >= 14
    assert all(p.receiver.split()[1] == p.bus.split()[1] for p in pairs)
    assert all(p.ahead_s == pytest.approx(2220, abs=3) for p in pairs)


def _half(samples: pl.DataFrame, file: str, channel: str, ahead_s: int = 0) -> Reading:
    moved = samples.select("time", "line", channel).drop_nulls()
    return reading(moved.with_columns(pl.col("time") + pl.duration(seconds=ahead_s)), file)
