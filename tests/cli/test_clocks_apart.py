"""An owner's receiver logs and bus logs by clocks apart: what is told, and that its line helps."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
from click.testing import CliRunner
from log_maker import STUDY, log_frame

from gearing.cli import main

pytestmark = pytest.mark.drill

RECEIVER = ["Time", "Latitude (deg)", "Longitude (deg)", "GPS speed (km/h)"]
BUS = ["Time", "Vehicle speed (km/h)", "Engine speed (rpm)"]
FACTOR = {"before": 1.0, "after": 1.034}
UNDER = "Under [columns] add "


def write_pairs(
    folder: Path,
    ahead_s: dict[str, float],
    *,
    rows: int = 5400,
    zone: str = "",
    every: timedelta = timedelta(days=1),
    receiver_heading: str = "Time",
) -> Path:
    """Three pairs a side; the receiver's times in UTC, the bus's in local time, `ahead_s` off."""
    seed = 0
    for side, month in (("before", 5), ("after", 7)):
        (folder / side).mkdir(parents=True)
        for i in range(3):
            seed += 1
            start = datetime(2026, month, 4, 14, tzinfo=UTC) + i * every
            both = log_frame(np.random.default_rng(seed), rows, start, FACTOR[side])
            local = timedelta(hours=-6, seconds=ahead_s[side])  # Denver in summer
            time = pl.col("Time").str.to_datetime("%Y-%m-%dT%H:%M:%SZ") + local
            bus = both.select(BUS).with_columns(time.dt.strftime(f"%Y-%m-%d %H:%M:%S{zone}"))
            bus.rename({"Time": "Device time"}).write_csv(folder / side / f"{i}_bus.csv")
            gps = both.select(RECEIVER).rename({"Time": receiver_heading})
            gps.write_csv(folder / side / f"{i}_gps.csv")
    study = folder / "study.toml"
    study.write_text('time_zone = "America/Denver"\n' + STUDY, encoding="utf-8")
    return study


def run(study: Path) -> dict[str, Any]:
    out = study.parent / "out"
    found = CliRunner().invoke(main, ["run", str(study), "--out", str(out), "--jobs", "1"])
    assert found.exit_code in (0, 1), found.output
    results: dict[str, Any] = json.loads((out / "results.json").read_text("utf-8"))
    return results


def told(results: dict[str, Any]) -> list[str]:
    return [w["text"] for w in results["warnings"] if w["code"] == "clocks-apart"]


def assert_answered(results: dict[str, Any]) -> None:
    for side, true in FACTOR.items():
        estimate = results["speed"]["odometer_factor"][side]
        assert estimate["value"] == pytest.approx(true, rel=5e-3)


@pytest.mark.parametrize(
    ("ahead_s", "rows", "span"),
    [
        ({"before": 3600, "after": 3600}, 5400, "1 h"),  # the clock of a winter, longer drives
        ({"before": -1800, "after": -1800}, 2700, "30 min"),
        ({"before": 2224, "after": 2224}, 2700, "37 min"),
        ({"before": 0, "after": 5400}, 7200, "1 h 30 min"),
        ({"before": 3600, "after": -5400}, 7200, "1 h"),
    ],
)
def test_the_line_told_sets_the_clock_right(
    tmp_path: Path, ahead_s: dict[str, float], rows: int, span: str
) -> None:
    study = write_pairs(tmp_path, ahead_s, rows=rows)
    texts = told(run(study))
    assert len(texts) == len({*ahead_s.values()} - {0})
    assert any(f"look like one drive {span} apart" in text for text in texts)
    (line,) = {text.partition(UNDER)[2].removesuffix(".") for text in texts}
    with study.open("a", encoding="utf-8") as file:
        file.write(f"[columns]\n{line}\n")
    mended = run(study)
    assert told(mended) == []
    assert_answered(mended)


def test_drives_an_hour_apart_are_not_taken_for_one_another(tmp_path: Path) -> None:
    study = write_pairs(
        tmp_path, {"before": 3600, "after": 3600}, rows=3000, every=timedelta(hours=1)
    )
    (text,) = told(run(study))
    assert "and so do 5 more pairs" in text
    assert 'unit = "UTC-5:00"' in text


def test_times_that_name_their_zone_are_not_moved_by_a_line(tmp_path: Path) -> None:
    study = write_pairs(tmp_path, {"before": 3600, "after": 3600}, zone="-06:00")
    (text,) = told(run(study))
    assert UNDER not in text
    assert "set the clock right in the logs" in text


@pytest.mark.parametrize("kept", [3800, 2900])  # of 5,400 rows: 37 and 7 minutes in common
def test_two_recorders_of_one_drive_are_told_to_count_twice(tmp_path: Path, kept: int) -> None:
    study = write_pairs(tmp_path, {"before": 0, "after": 0})
    assert "drives-at-once" not in {w["code"] for w in run(study)["warnings"]}
    for i in range(3):
        halves = [tmp_path / "after" / f"{i}_{which}.csv" for which in ("gps", "bus")]
        both = pl.concat([pl.read_csv(path) for path in halves], how="horizontal")
        for path, rows in zip(halves, (both.head(kept), both.tail(kept)), strict=True):
            rows.drop("Device time").write_csv(path)
    (warning,) = [w for w in run(study)["warnings"] if w["code"] == "drives-at-once"]
    assert "and 2 more pairs do" in warning["text"]
    assert len(warning["trips"]) == 6


def test_clocks_that_agree_are_not_spoken_of(tmp_path: Path) -> None:
    results = run(write_pairs(tmp_path, {"before": 0, "after": 200}))
    assert told(results) == []
    assert_answered(results)
