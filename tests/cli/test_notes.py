"""What joining files and measuring trips has to tell, through the command line."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
from click.testing import CliRunner
from log_maker import log_frame, write_logs

from gearing.cli import main
from gearing.run.workers import Died, Workers

START = datetime(2026, 3, 2, 8, tzinfo=UTC)
RECEIVER = ["Time", "Latitude (deg)", "Longitude (deg)", "GPS speed (km/h)"]
RUN = ("run", "--jobs", "1")
BUS = ["Time", "Vehicle speed (km/h)", "Engine speed (rpm)"]


@pytest.fixture(autouse=True)
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    """No line is wrapped, so that sentences stand as they are."""
    monkeypatch.setenv("COLUMNS", "4000")


def drive(seed: int, rows: int = 1500, factor: float = 1.0) -> pl.DataFrame:
    return log_frame(np.random.default_rng(seed), rows, START, factor)


def moved(frame: pl.DataFrame, seconds: int) -> pl.DataFrame:
    time = pl.col("Time").str.to_datetime("%Y-%m-%dT%H:%M:%SZ") + pl.duration(seconds=seconds)
    return frame.with_columns(time.dt.strftime("%Y-%m-%dT%H:%M:%SZ"))


def notes(tmp_path: Path, **files: pl.DataFrame) -> dict[str, dict[str, Any]]:
    """The notes of a run over these logs, by code."""
    study = write_logs(tmp_path / "study", 2, 300)
    for name, frame in files.items():
        frame.write_csv(study.parent / "after" / f"{name}.csv")
    found = CliRunner().invoke(
        main, ["run", str(study), "--jobs", "1", "--out", str(tmp_path / "out")]
    )
    assert found.exit_code == 0, found.output
    results = json.loads((tmp_path / "out" / "results.json").read_text("utf-8"))
    return {note["code"]: note for note in results["notes"]}


def test_two_clocks_laid_onto_one(tmp_path: Path) -> None:
    both = drive(5)
    told = notes(tmp_path, gps=both.select(RECEIVER), bus=moved(both.select(BUS), 7))
    assert "its clock was moved by -7" in told["clock-offset"]["message"]
    assert told["clock-offset"]["file"] == "after/bus.csv"


def test_a_bus_log_of_another_drive_is_not_joined(tmp_path: Path) -> None:
    told = notes(tmp_path, gps=drive(5).select(RECEIVER), bus=drive(6).select(BUS))
    assert "does not show the same drive" in told["join-refused"]["message"]
    assert "Check the clock" in told["join-refused"]["remedy"]


def test_gps_speed_against_positions(tmp_path: Path) -> None:
    off = drive(5).with_columns(pl.col("GPS speed (km/h)") * 1.08)
    told = notes(tmp_path, off=off)
    assert told["gps-speed-disagrees"]["file"] == "after/off.csv"


def test_a_lag_that_cannot_be_found(tmp_path: Path) -> None:
    of_another = drive(6)["GPS speed (km/h)"]
    mixed = drive(5).with_columns(of_another).drop("Latitude (deg)", "Longitude (deg)")
    told = notes(tmp_path, mixed=mixed)
    assert told["lag-unknown"]["file"] == "after/mixed.csv"


def test_a_file_that_kills_its_reader_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = Workers.run

    def deadly(self: Workers, function: Callable[..., Any], tasks: Any, *rest: Any) -> Any:
        found = run(self, function, tasks, *rest)
        deadly_ones = [getattr(task, "file", "").endswith("big.csv") for task in tasks]
        return [
            Died("out of memory") if killed else one
            for killed, one in zip(deadly_ones, found, strict=True)
        ]

    monkeypatch.setattr(Workers, "run", deadly)
    told = notes(tmp_path, big=drive(5))
    assert told["killed-the-reader"]["file"] == "after/big.csv"
    assert "died, twice (out of memory)" in told["killed-the-reader"]["message"]


def test_what_may_be_handed_on_is_told(tmp_path: Path) -> None:
    """The page is clean; the tables beside it are the owner's."""
    study = write_logs(tmp_path / "study", 2, 300)
    out = tmp_path / "out"
    said = CliRunner().invoke(main, [*RUN, str(study), "--share", "--out", str(out)])
    assert said.output.rstrip().endswith("files beside them hold times of day and file names.")
    trips = pl.read_csv(out / "trips.csv")["trip"].to_list()
    assert trips
    page = (out / "report.html").read_text("utf-8")
    assert not [name for name in trips if name in page]
    said = CliRunner().invoke(main, [*RUN, str(study), "--out", str(tmp_path / "own")])
    assert "Hand on" not in said.output


def test_open_questions_are_told_where_the_answers_are_read(tmp_path: Path) -> None:
    """They once stood on the page alone, far below answers that lacked what hung on them."""
    study = write_logs(tmp_path / "study", 2, 300)
    run = [*RUN, str(study), "--out", str(tmp_path / "out")]
    assert "is open" not in CliRunner().invoke(main, run).output
    twice = drive(5).with_columns((pl.col("Vehicle speed (km/h)") / 1.6).alias("Road speed (mph)"))
    twice.write_csv(study.parent / "after" / "twice.csv")
    said = CliRunner().invoke(main, run).output
    assert "1 question about your files is open, and what hangs on it is not in these" in said
    (asked,) = json.loads((tmp_path / "out" / "results.json").read_text("utf-8"))["questions"]
    assert "Road speed (mph)" in asked["message"]
