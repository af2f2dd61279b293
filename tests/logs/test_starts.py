"""When a log begins that counts from its start: as its name or the lines above the headings say.

The spellings are common practice of recorders, no source; months, zones and the order of day and
month are read as ISO 8601 and everyday use have them.
"""

from __future__ import annotations

import tomllib
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

from gearing.logs.read import read_log
from gearing.logs.timestamps.date_order import DateOrder, shortened
from gearing.logs.timestamps.dates import find_start, start_order
from gearing.study.model import ColumnRule

ROWS = "Time (s),GPS Speed (mph),Vehicle speed (mph)\n" + "".join(
    f"{n}.0,30.{n},31\n" for n in range(4)
)


def _log(folder: Path, name: str, preamble: str = "") -> Path:
    path = folder / name
    path.parent.mkdir(exist_ok=True)
    path.write_text(preamble + ROWS)
    return path


def _at(hour: int, minute: int = 5, second: int = 30, day: int = 13) -> datetime:
    return datetime(2026, 2, day, hour, minute, second)  # noqa: DTZ001 # as written, no zone


@pytest.mark.parametrize(
    ("text", "start"),
    [
        ("# Start time: 2/13/2026 2:05:30 PM", _at(14)),
        ("# Start time: 2/13/2026 12:05:30 AM", _at(0)),
        ("2026-02-13 02.05.30 p.m.", _at(14)),
        ("log_02-13-2026_020530PM.csv", _at(14)),
        ("log_2026-02-13-14-05-30.csv", _at(14)),
        ("log_2026_02_13_14_05_30.csv", _at(14)),
        ("20260213140530.csv", _at(14)),
        ("Recorded 2026/02/13 14:05:30", _at(14)),
        ("StartTime = Feb 13, 2026 02:05:30 PM", _at(14)),
        ("Beginn: 13. Februar 2026, 14:05:30", _at(14)),
        ("13.02.2026 14:05:30", _at(14)),
        ("2026-02-13_14h05m30.csv", _at(14)),
        ("Start 2026-02-13T14:05:30Z", _at(14).replace(tzinfo=UTC)),
        ("2026-02-13T14:05:30-07:00", _at(14).replace(tzinfo=timezone(timedelta(hours=-7)))),
        ("2026-02-13 14:05:30 +0100", _at(14).replace(tzinfo=timezone(timedelta(hours=1)))),
    ],
)
def test_a_start_with_its_time_of_day(text: str, start: datetime) -> None:
    found, known = find_start(text)
    assert known
    assert found == start
    assert found is not None
    assert found.utcoffset() == start.utcoffset()


@pytest.mark.parametrize(
    "text",
    ["2026-02-13_105.csv", "2026-02-13_quill.csv", "Friday, February 13, 2026", "2026-02-13 25:05"],
)
def test_a_day_alone(text: str) -> None:
    assert find_start(text) == (_at(0, 0, 0), False)


@pytest.mark.parametrize(
    "text", ["1770991530.csv", "1770991530250.csv", "2026-02-30.csv", "trip 7"]
)
def test_no_day_at_all(text: str) -> None:
    assert find_start(text) == (None, False)


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("02-10-2026_020530PM", "open"),
        ("02-13-2026", "month first"),
        ("13/02/2026 14:05", "day first"),
        ("10.02.2026", ""),  # day first by custom, no proof
        ("02/02/2026", ""),
        ("2026-02-10_08-20-2032", ""),  # a number behind the date is no year
    ],
)
def test_what_a_start_says_of_the_order(text: str, order: str) -> None:
    assert start_order(text) == order


def test_half_a_day_is_not_lost(tmp_path: Path) -> None:
    path = _log(tmp_path, "trip7.csv", "# Start time: 2/13/2026 2:05:30 PM\n")
    assert read_log(path, time_zone="America/Denver").samples["time"][0] == datetime(
        2026, 2, 13, 21, 5, 30, tzinfo=UTC
    )


def test_a_start_with_a_zone_is_not_moved_by_the_study(tmp_path: Path) -> None:
    path = _log(tmp_path, "trip7.csv", "Start: 2026-02-13T14:05:30-05:00\n")
    assert read_log(path, time_zone="America/Denver").samples["time"][0] == datetime(
        2026, 2, 13, 19, 5, 30, tzinfo=UTC
    )


def test_the_moment_of_an_export_is_no_start(tmp_path: Path) -> None:
    exported = "Exported: 2026-05-01 10:00:00\nFirmware built 2024-01-05 08:00\n"
    path = _log(tmp_path, "trip7.csv", exported + "Started: 2026-02-13 14:05:30\n")
    assert read_log(path).samples["time"][0] == _at(14).replace(tzinfo=UTC)
    (question,) = read_log(_log(tmp_path, "trip8.csv", exported)).questions
    assert question.code == "which-start"


@pytest.mark.parametrize(("order", "month", "day"), [("month first", 2, 10), ("day first", 10, 2)])
def test_an_open_start_is_settled_by_other_logs(
    tmp_path: Path, order: str, month: int, day: int
) -> None:
    path = _log(tmp_path, "log_02-10-2026_020530PM.csv")
    asked = read_log(path)
    assert asked.date_order == "open"
    assert "may be day first or month first" in asked.questions[0].message
    read = read_log(path, order=DateOrder(order, shortened(["log_02-13-2026_091005AM.csv"])))
    assert read.samples["time"][0] == datetime(2026, month, day, 14, 5, 30, tzinfo=UTC)
    assert {p.code for p in read.repairs} == {"start-from-name", "order-by-logs"}
    assert read_log(_log(tmp_path, "log_02-13-2026_091005AM.csv")).date_order == "month first"


def test_logs_of_one_name_are_distinguished_by_their_folder(tmp_path: Path) -> None:
    before, after = (_log(tmp_path, f"{side}/TRIP001.csv") for side in ("before", "after"))
    line = read_log(before).questions[0].remedy.split("\n")[1]
    said = tomllib.loads(f"[columns]\n{line}\n")["columns"]["Time (s)"]
    assert said["files"] == "before/TRIP001.csv"
    rules = (ColumnRule(heading="Time (s)", **said),)
    assert read_log(before, rules=rules).rows_used == 4
    assert read_log(after, rules=rules).rows_used == 0


@pytest.mark.parametrize("heading", ["", "Time (s),GPS Speed (mph),Vehicle speed (mph)\n"])
def test_a_second_recording_in_the_file_has_no_known_start(tmp_path: Path, heading: str) -> None:
    one = "".join(f"{n}.0,30.{n % 10},31\n" for n in range(300))
    two = "".join(f"{n}.0,40.{n % 10},41\n" for n in range(200))
    path = tmp_path / "2026-02-13_140530.csv"
    path.write_text("Time (s),GPS Speed (mph),Vehicle speed (mph)\n" + one + heading + two)
    reading = read_log(path)
    assert (reading.rows_read, reading.rows_used) == (500, 300)
    ((code, count),) = [(p.code, p.count) for p in reading.set_aside_rows]
    assert (code, count) == ("counts-anew", 200)
    assert reading.samples["time"][-1] == datetime(2026, 2, 13, 14, 10, 29, tzinfo=UTC)


def test_rows_late_by_a_little_are_the_same_recording(tmp_path: Path) -> None:
    seconds = [*range(200), *range(150, 160), *range(200, 300)]
    rows = "".join(f"{n}.0,30.{i % 10},31\n" for i, n in enumerate(seconds))
    path = tmp_path / "2026-02-13_140530.csv"
    path.write_text("Time (s),GPS Speed (mph),Vehicle speed (mph)\n" + rows)
    assert "counts-anew" not in {p.code for p in read_log(path).set_aside_rows}


def _of_day(folder: Path, *times: str) -> Path:
    rows = "".join(f"{time},30.{i % 10},31\n" for i, time in enumerate(times))
    path = folder / "2026-02-13.csv"
    path.write_text("Time,GPS Speed (mph),Vehicle speed (mph)\n" + rows)
    return path


def test_a_time_of_day_that_falls_back_is_of_no_known_day(tmp_path: Path) -> None:
    first = [f"14:05:{n:02d}" for n in range(60)]
    reading = read_log(_of_day(tmp_path, *first, *(f"08:40:{n:02d}" for n in range(40))))
    assert (reading.rows_read, reading.rows_used) == (100, 60)
    assert {p.code: p.count for p in reading.set_aside_rows} == {"counts-anew": 40}
    # 22:00 to 06:00 is no drive through midnight either
    evening = [f"22:00:{n:02d}" for n in range(9)]
    late = read_log(_of_day(tmp_path, *evening, "06:00:00", "06:00:01"))
    assert {p.code: p.count for p in late.set_aside_rows} == {"counts-anew": 2}


def test_a_drive_through_midnight_is_one(tmp_path: Path) -> None:
    night = [f"23:59:{n:02d}" for n in range(60)] + [f"00:00:{n:02d}" for n in range(60)]
    reading = read_log(_of_day(tmp_path, *night))
    assert reading.rows_used == 120
    assert reading.samples["time"][-1] == datetime(2026, 2, 14, 0, 0, 59, tzinfo=UTC)
