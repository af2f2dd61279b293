"""A file given for another kind: told by what it looks like and the key it belongs under."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from gearing.cli import main
from gearing.logs.dash_rows import read_dash_rows
from gearing.logs.fillups import read_fillups
from gearing.logs.profiles import read_profile
from gearing.logs.read import read_log
from gearing.logs.weather import read_weather

ENDS = (
    "Time,Latitude (deg),Longitude (deg),GPS speed (km/h),Vehicle speed (km/h),Engine RPM (rpm)\n"
)
FILES = {
    "log": ENDS
    + "".join(
        f"2026-05-14T08:{n // 60:02d}:{n % 60:02d}Z,{46 + n * 2e-4:.5f},7.5,80,{80 + n % 3},1500\n"
        for n in range(300)
    ),
    "fill-ups": "Date,Odometer (mi),Gallons,Full\n"
    "2026-05-14,84388,24.6,yes\n2026-05-20,84530,20.8,yes\n2026-05-27,84700,23.9,yes\n",
    "weather": "time,wind speed (m/s),wind direction (deg),temperature (degC),pressure (hPa)\n"
    "2026-05-14T07:00:00Z,1.5,220,8.1,838.3\n2026-05-14T08:00:00Z,1.0,190,9.3,836.7\n",
    "profile": "distance (mi),elevation (ft),speed limit (mph)\n0,5000,55\n0.1,5010,55\n0.2,5030,55"
    "\n",
}
LOOKS = {
    "log": ("the log of a drive", 'logs = "given.csv"'),
    "fill-ups": ("a fill-up log", 'fillups = "given.csv"'),
    "weather": ("a weather file", 'weather = "given.csv"'),
    "profile": ("the profile of a road", 'profile = "given.csv"'),
}
READERS = {
    "fill-ups": lambda path: read_fillups(path, "UTC"),
    "weather": lambda path: read_weather(path, "UTC"),
    "profile": read_profile,
    "dash": lambda path: read_dash_rows(path, "UTC"),
}


@pytest.fixture(autouse=True)
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    """No line is wrapped, so that sentences stand as they are."""
    monkeypatch.setenv("COLUMNS", "4000")


def given(folder: Path, kind: str) -> Path:
    path = folder / "given.csv"
    path.write_text(FILES[kind])
    return path


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.mark.parametrize("kind", sorted(FILES))
@pytest.mark.parametrize("wanted", sorted(READERS))
def test_a_file_named_under_another_key(tmp_path: Path, kind: str, wanted: str) -> None:
    found = READERS[wanted](given(tmp_path, kind))
    if kind == wanted or (wanted, kind) == ("dash", "fill-ups"):  # which carry an odometer too
        assert found.frame.height >= 2
        assert not found.questions
        return
    (problem,) = found.problems
    looks, line = LOOKS[kind]
    assert problem.code == "other-kind"
    assert looks in problem.message
    assert problem.remedy.endswith(line)
    assert found.frame.is_empty()


@pytest.mark.parametrize("kind", sorted(FILES))
def test_a_file_among_the_logs(tmp_path: Path, kind: str) -> None:
    reading = read_log(given(tmp_path, kind))
    assert reading.rows_read == FILES[kind].count("\n") - 1
    if kind == "log":
        assert reading.rows_used == reading.rows_read
        return
    (problem,) = reading.set_aside_rows
    assert (problem.code, problem.count) == ("other-kind", reading.rows_read)
    assert problem.remedy.endswith(LOOKS[kind][1])
    assert not reading.questions


def test_a_file_of_no_known_kind_still_asks(tmp_path: Path) -> None:
    path = tmp_path / "given.csv"
    path.write_text("day,tank (L)\n2026-05-14,200\n2026-05-15,180\n")
    assert {p.code for p in read_fillups(path, "UTC").problems} == {"which-name"}
    path.write_text("Time,Speed\n" + "".join(f"2026-05-14T08:00:0{n}Z,{n}\n" for n in range(9)))
    assert {p.code for p in read_log(path).questions} == {"which-channel"}


def test_inspect_says_what_a_file_is(tmp_path: Path) -> None:
    told = run("inspect", given(tmp_path, "fill-ups"))
    assert "it looks like a fill-up log" in told.stdout
    assert 'fillups = "given.csv"' in told.stdout
    assert "3 rows used, 3 with the odometer" in told.stdout
    assert "By itself not for" not in told.stdout
    as_json = json.loads(run("inspect", "--format", "json", given(tmp_path, "weather")).stdout)
    assert [row["code"] for row in as_json[0]["set_aside_rows"]] == ["other-kind"]


def test_inspect_of_a_study_file(tmp_path: Path) -> None:
    study = tmp_path / "study.toml"
    study.write_text('name = "x"\n')
    told = run("inspect", study)
    assert told.exit_code == 2
    assert "is a study file" in told.stderr
    assert f"gearing inspect --columns {study}" in told.stderr


def test_a_study_that_names_fill_ups_among_its_logs(tmp_path: Path) -> None:
    (tmp_path / "fills.csv").write_text(FILES["fill-ups"])
    (tmp_path / "log.csv").write_text(FILES["log"])
    study = tmp_path / "study.toml"
    study.write_text('name = "x"\n[before]\ndrive_tire = "245/70R19.5"\nlogs = ["*.csv"]\n')
    told = run("run", study, "--jobs", 1, "--out", tmp_path / "out").stdout
    assert "fills.csv is named among the logs and was not used" in told
    assert 'fillups = "fills.csv"' in told


def test_a_report_in_the_folder_of_logs_hides_no_log(tmp_path: Path) -> None:
    """Nor are the report's own tables taken for logs by the next run."""
    logs = tmp_path / "logs"
    logs.mkdir()
    (logs / "day.csv").write_text(FILES["log"])
    study = tmp_path / "study.toml"
    study.write_text('name = "x"\n[before]\ndrive_tire = "245/70R19.5"\nlogs = ["logs/*.csv"]\n')
    counts = []
    for _ in range(2):
        run("run", study, "--out", logs)
        counts.append(json.loads((logs / "results.json").read_text())["input"]["files"])
        assert "1 log of 1 recorder: 300 rows read, 300 used" in run("inspect", logs).stdout
    assert counts == [1, 1]
