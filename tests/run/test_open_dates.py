"""Logs whose dates leave day and month open, in a run: settled by the others, or told."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from click.testing import CliRunner
from log_maker import write_logs

from gearing.cli import main
from gearing.run.batch import Options, run_study
from gearing.run.progress import Progress
from gearing.study.starting import write_starting_study

pytestmark = pytest.mark.drill

# logs of 2025-01-06 to 2025-01-15: those from the 13th on prove that the month comes first
PROVING = ("log00007", "log00008", "log00009")


@pytest.fixture(autouse=True)
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    """No line is wrapped, so that sentences stand as they are."""
    monkeypatch.setenv("COLUMNS", "4000")


@pytest.fixture
def study(tmp_path: Path) -> Path:
    path = write_logs(tmp_path / "study", 10, 400)
    for log in path.parent.glob("*/*.csv"):
        time = pl.col("Time").str.to_datetime("%Y-%m-%dT%H:%M:%SZ")
        pl.read_csv(log).with_columns(time.dt.strftime("%m/%d/%Y %I:%M:%S %p")).write_csv(log)
    return path


def _run(study: Path, jobs: int = 1) -> dict[str, Any]:
    options = Options(out=study.parent / "out", jobs=jobs)
    return run_study(study, options, Progress(quiet=True)).results


def _days(results: dict[str, Any]) -> list[str]:
    return sorted(trip["start"][:10] for trip in results["trips"])


def test_open_dates_are_settled_by_the_other_logs(study: Path) -> None:
    results = _run(study, jobs=2)
    assert _days(results) == [f"2025-01-{day:02d}" for day in range(6, 16)]
    assert results["input"]["rows_set_aside"] == 0
    assert results["questions"] == []
    (note,) = [note for note in results["notes"] if note["code"] == "order-by-logs"]
    assert note["files"] == 7
    assert "after/log00007.csv and 2 more" in note["message"]


def test_what_settles_them_is_part_of_what_is_kept(study: Path) -> None:
    first = _run(study)
    away = [study.parent / "after" / f"{name}.csv" for name in PROVING]
    texts = {path: path.read_text() for path in away}
    for path in away:
        path.unlink()
    alone = _run(study)
    assert alone["trips"] == []
    assert alone["input"]["reasons"] == {"time-unknown": 7 * 400}
    assert [one["code"] for one in alone["questions"]] == ["which-date-order"]
    for path, text in texts.items():
        path.write_text(text)
    again = _run(study)
    assert again["trips"] == first["trips"]
    assert again["input"] == first["input"]


def test_the_starting_study_and_inspection_agree(study: Path) -> None:
    logs = study.parent
    path = logs / "start.toml"
    lines = write_starting_study(path, logs)
    assert not any("Could not be read" in line for line in lines)
    text = path.read_text()
    assert "# 10 logs found, 2025-01-06 to 2025-01-15 (UTC)." in text
    assert "10 of 10 logs carry times without a zone" in text
    said = CliRunner().invoke(main, ["inspect", str(logs / "before"), str(logs / "after"),
                                     "--format", "json"])  # fmt: skip
    starts = sorted(one["start"][:10] for one in json.loads(said.stdout))
    assert starts == _days(_run(study))


def _printed(study: Path) -> str:
    said = CliRunner().invoke(
        main, ["run", str(study), "--jobs", "1", "--out", str(study.parent / "out")]
    )
    assert said.exit_code in (0, 1), said.output
    return said.stdout


def test_logs_left_open_are_told_on_the_terminal_with_the_line_to_add(study: Path) -> None:
    for name in PROVING:
        (study.parent / "after" / f"{name}.csv").unlink()
    printed = _printed(study)
    assert (
        "7 of the 7 logs were not used at all: day, month and year cannot be told apart" in printed
    )
    assert '"Time" = { channel = "time", unit = "month first" }' in printed
    assert "What was set aside" in printed
    columns = '[columns]\n"Time" = { channel = "time", unit = "month first" }\n'
    study.write_text(study.read_text() + columns)
    assert "not used" not in _printed(study)


def test_many_logs_without_records_are_told_and_few_are_only_listed(study: Path) -> None:
    heading = (study.parent / "before" / "log00000.csv").read_text().splitlines()[0]
    for number in range(2):
        (study.parent / "after" / f"bare{number}.csv").write_text(heading + "\n")
        printed = _printed(study)
        assert ("not used at all" in printed) == (number == 1)
        results = json.loads((study.parent / "out" / "results.json").read_text())
        (note,) = [note for note in results["notes"] if note["code"] == "no-records"]
        assert (note["file"], note["files"]) == ("after/bare0.csv", number + 1)
        assert "no-records" not in results["input"]["reasons"]  # no rows, so none set aside
        assert results["input"]["files"] == 11 + number
    assert "2 of the 12 logs were not used at all: the file holds no records" in printed
    aside = pl.read_csv(study.parent / "out" / "set_aside.csv")
    assert aside.select("file", "reason", "count").rows() == [
        ("after/bare0.csv", "no-records", 0),
        ("after/bare1.csv", "no-records", 0),
    ]


def test_copies_of_logs_that_were_used_are_no_loss(study: Path) -> None:
    for log in sorted((study.parent / "before").glob("*.csv")):
        (study.parent / "before" / f"copy_{log.name}").write_text(log.read_text())
    printed = _printed(study)
    results = json.loads((study.parent / "out" / "results.json").read_text())
    assert results["input"]["reasons"] == {"duplicate": 5 * 400}
    assert "not used at all" not in printed


def test_a_fleet_tells_which_vehicle_s_logs_were_not_used(study: Path, tmp_path: Path) -> None:
    empty = write_logs(tmp_path / "empty", 4, 300)
    empty.write_text(empty.read_text().replace('name = "benchmark"', 'name = "the spare"'))
    for log in empty.parent.glob("*/*.csv"):
        log.write_text("")
    fleet = tmp_path / "fleet.toml"
    fleet.write_text(f'name = "all"\nstudies = ["{study}", "{empty}"]\n')
    out = tmp_path / "fleet_out"
    said = CliRunner().invoke(main, ["run", str(fleet), "--out", str(out)])
    told = "the spare: 4 of the 4 logs were not used at all: the file holds nothing"
    assert told in said.stdout
    assert told in (out / "fleet.html").read_text()
    assert "benchmark: " not in said.stdout
