"""`gearing inspect FOLDER`: by recorder, each question once, lines that the study takes."""

from __future__ import annotations

import json
import re
import tomllib
import zipfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from gearing.cli import main
from gearing.logs.questions import merged_questions
from gearing.logs.read import read_log
from gearing.study import load_study
from gearing.units import BY_NAME

START = datetime(2026, 3, 1, 8, tzinfo=UTC)


HEAD = "Time,Latitude,Longitude,GPS speed [km/h],Fuel rate,Speed,Wind speed [km/h]"
ROW = "{0:.5f},-105.0,{1},12.5,{1},5"


@pytest.fixture(autouse=True)
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    """No line is wrapped, so that sentences stand as they are."""
    monkeypatch.setenv("COLUMNS", "4000")


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def _log(path: Path, head: str, row: str, day: int, zone: str = "Z", rows: int = 150) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    lines = [head]
    for i in range(rows):
        moment = START + timedelta(days=day, seconds=i)
        lines.append(f"{moment:%Y-%m-%dT%H:%M:%S}{zone}," + row.format(40 + i * 1e-4, 30 + i % 20))
    path.write_text("\n".join(lines) + "\n")


def _folder(folder: Path, logs: int = 23) -> Path:
    """A recorder that leaves two things open, another that writes local time, and what people
    keep beside logs."""
    for day in range(logs):
        side = "before" if day < logs // 2 else "after"
        _log(
            folder / side / f"log{day:02d}.csv",
            HEAD,
            ROW,
            day,
        )
    _log(folder / "after" / "phone.csv", "Time,Latitude,Longitude,Altitude [m]",
         "{0:.5f},-105.0,1500", 40, zone="")  # fmt: skip
    (folder / "after" / "copy of log.xlsx").write_bytes(b"PK\x03\x04")
    (folder / "before" / "old.ods").write_bytes(b"PK\x03\x04")
    (folder / "fillups.csv").write_text("date,odometer (mi),volume (gal)\n2026-03-01,100,20\n")
    return folder


def test_a_question_of_many_logs_is_asked_once(tmp_path: Path) -> None:
    found = run("inspect", _folder(tmp_path / "bus"))
    assert found.exit_code == 0, found.output
    assert len(found.output.splitlines()) < 80
    assert "24 logs of 2 recorders: 3,600 rows read, 3,600 used" in found.output
    assert "and 22 like it" in found.output
    assert found.output.count("'Fuel rate'") == 1
    assert "and 22 more)" in found.output


def test_what_was_skipped_and_which_zone_was_taken_are_told(tmp_path: Path) -> None:
    told = run("inspect", _folder(tmp_path / "bus")).output
    assert "after/copy of log.xlsx: a spreadsheet" in told
    assert "before/old.ods: a spreadsheet" in told
    assert "fillups.csv: fill-ups, not a log" in told
    assert "without one, as UTC" in told
    assert told.rstrip().endswith("Then: gearing run study.toml")
    assert "the times of 1 log name none" in told
    alone = run("inspect", tmp_path / "bus" / "after" / "phone.csv").output
    assert "without one, as UTC" in alone


def test_no_wind_is_offered_as_the_vehicles_speed(tmp_path: Path) -> None:
    told = run("inspect", _folder(tmp_path / "bus")).output
    assert not re.search(r'"Wind speed[^"]*" = .*indicated', told)


def _study(path: Path, lines: str) -> Path:
    path.write_text(
        'name = "x"\n[before]\ndrive_tire = "245/70R19.5"\nlogs = ["log.csv"]\n'
        f"[columns]\n{lines}\n"
    )
    return path


HEADINGS = ["Speed", "Temperature", "Distance", "Fuel rate", "Fuel flow", "Altitude", "Velocity",
            "Shaft", "Vehicle speed", "Odometer", "Mass air flow", "Reference torque"]  # fmt: skip


@pytest.mark.parametrize("heading", HEADINGS)
@pytest.mark.parametrize("unit", ["", *sorted(BY_NAME)])
def test_every_line_that_is_offered_is_taken_and_answers(
    heading: str, unit: str, tmp_path: Path
) -> None:
    path = tmp_path / "log.csv"
    named = f"{heading} [{unit}]" if unit else heading
    _log(path, f"Time,Latitude,Longitude,{named}", "{0:.5f},-105.0,{1}", 0)
    for question in merged_questions([read_log(path)]):
        assert question.lines
        for line in question.lines:
            assert len(tomllib.loads(line)) == 1
            study = load_study(_study(tmp_path / "study.toml", line))
            again = merged_questions([read_log(path, rules=study.columns)])
            assert question.message not in {one.message for one in again}, line


def test_logs_that_count_from_a_start_of_their_own_are_answered_by_one_line(
    tmp_path: Path,
) -> None:
    for number in (1, 2, 3):
        rows = [f"{i},{30 + i % 20},1500" for i in range(100)]
        path = tmp_path / f"log{number}.csv"
        path.write_text("\n".join(["Time [s],GPS speed [km/h],Engine speed [rpm]", *rows]) + "\n")
    readings = [read_log(tmp_path / f"log{number}.csv") for number in (1, 2, 3)]
    (question,) = merged_questions(readings)
    (line,) = question.lines
    entries = tomllib.loads(line)["Time [s]"]
    assert [entry["files"] for entry in entries] == ["log1.csv", "log2.csv", "log3.csv"]


def test_from_inspect_to_a_report_in_one_round(tmp_path: Path) -> None:
    """The study that is written holds the answers; the # off one line a question is enough."""
    folder = _folder(tmp_path / "bus", 8)
    with zipfile.ZipFile(folder / "after" / "more.zip", "w") as archive:
        for day in (50, 51):
            _log(tmp_path / "x.csv", HEAD, ROW, day)
            archive.writestr(f"log{day}.csv", (tmp_path / "x.csv").read_text())
    saved = (folder / "before" / "log00.csv").read_text()  # as a German spreadsheet saves it
    again = saved.replace(",", ";").replace(".", ",").replace("2026-03-01", "2026-02-01")
    (folder / "before" / "resaved.csv").write_bytes(again.encode("utf-16"))
    track = "".join(
        f'<trkpt lat="{40 + i * 1e-4:.5f}" lon="-105">'
        f"<time>2026-05-09T08:00:{i:02d}Z</time></trkpt>"
        for i in range(60)
    )
    (folder / "after" / "phone.gpx").write_text(f"<gpx><trk><trkseg>{track}</trkseg></trk></gpx>")
    path = tmp_path / "study.toml"
    found = run("inspect", "--write-study", path, folder)
    assert found.exit_code == 0, found.output
    assert any("spreadsheet" in line for line in found.output.splitlines())
    text = path.read_text().replace('drive_tire = "?"', 'drive_tire = "245/70R19.5"', 1)
    text = text.replace('drive_tire = "?"', 'drive_tire = "265/70R19.5"', 1)
    answered = set()
    lines = []
    for line in text.splitlines():
        key = re.match(r'^# ("(?:[^"\\]|\\.)*") = \{ channel', line)
        if key and key[1] not in answered:
            answered.add(key[1])
            line = line.removeprefix("# ")
        lines.append(line)
    path.write_text("\n".join(lines) + "\n")
    assert answered
    done = run("run", path, "--out", tmp_path / "out", "--jobs", "1", "--quiet")
    assert done.exit_code in (0, 1), done.output
    assert (tmp_path / "out" / "report.html").exists()
    files = json.loads((tmp_path / "out" / "results.json").read_text("utf-8"))["input"]["files"]
    assert files == 8 + 1 + 2 + 1 + 1  # logs, local times, of the archive, saved again, track
    again = run("inspect", folder, "--columns", path)
    assert "Questions" not in again.output, again.output


def test_a_recorder_of_unknown_headings_is_told_with_lines_to_fill_in(tmp_path: Path) -> None:
    rows = [
        f"{4 + i // 60:02d}.05.2026 08:{i % 60:02d}:00;39,{160 + i};{40 + i},5" for i in range(9)
    ]
    for name in ("a", "b"):
        text = "\n".join(["Stamp;PosN;SogX", *rows])
        (tmp_path / f"{name}.txt").write_text(text, encoding="utf-8")
    told = run("inspect", tmp_path).output
    assert "a.txt and 1 like it: the rows cannot be dated" in told
    assert '"Stamp" = { channel = "time" }' in told
    assert '"SogX" = { channel = "?", unit = "?" }  # 40.5 to 48.5' in told
    study = tmp_path / "study.toml"
    run("inspect", "--write-study", study, tmp_path)
    text = study.read_text("utf-8")
    assert '# "PosN" = { channel = "?", unit = "?" }  # 39.16 to 39.168' in text
    # a channel may be named by a word that heads it in logs
    filled = text.replace(
        '# "SogX" = { channel = "?", unit = "?" }',
        '"SogX" = { channel = "vehicle speed", unit = "km/h" }',
    )
    study.write_text(
        filled.replace('# "Stamp"', '"Stamp"').replace('"?"', '"245/70R19.5"', 2), encoding="utf-8"
    )
    read = run("inspect", tmp_path / "a.txt", "--columns", study)
    assert "not a channel" not in read.output.split("SogX")[-1].split("\n")[0]
