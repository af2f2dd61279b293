"""Zones that stand in the heading, behind the time, or in its middle; nothing moves them again.

Names: RFC 5322 (2008) section 4.3, "obs-zone": EST is -0500, EDT -0400, and so on west. The form
with the year last is that of asctime (ISO/IEC 9899, 7.27.3.1).
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from gearing.logs.model import Reading
from gearing.logs.read import read_log
from gearing.study.model import ColumnRule

ZONE = "America/Denver"  # UTC-7, from 8 March 2026 on UTC-6


def _read(folder: Path, heading: str, form: str, name: str = "a.csv") -> Reading:
    """A log whose time at each of three seconds is `form` with the second put in."""
    rows = [f"{form.replace('SS', str(second))},{second},{second}" for second in (31, 32, 33)]
    path = folder / name
    path.write_text("\n".join([f"{heading},GPS speed (km/h),Vehicle speed (km/h)", *rows]) + "\n")
    return read_log(path, time_zone=ZONE)


def codes(reading: Reading) -> set[str]:
    return {form.code for form in reading.dialect.time_form}


def _at(day: int, hour: int) -> datetime:
    return datetime(2026, 3, day, hour, 20, 31, tzinfo=UTC)


@pytest.mark.parametrize(
    ("heading", "hour"),
    [
        ("Time (UTC)", 15),
        ("time_utc", 15),
        ("utc_timestamp", 15),
        ("UTC", 15),
        ("Date Time [GMT]", 15),
        ("Time GMT", 15),
        ("Time (GMT-7)", 22),
        ("Time (UTC+05:30)", 9),
        ("Time (local)", 21),
        ("GPS Time", 21),
        ("Time", 21),
    ],
)
def test_a_zone_in_the_heading_holds(tmp_path: Path, heading: str, hour: int) -> None:
    reading = _read(tmp_path, heading, "2026-03-20 15:20:SS")
    at = _at(20, hour).replace(minute=50 if "05:30" in heading else 20)
    assert reading.samples["time"][0] == at
    assert ("time-form/zone-by-heading" in codes(reading)) == (hour != 21)


def test_a_zone_in_the_cells_comes_before_the_heading(tmp_path: Path) -> None:
    reading = _read(tmp_path, "Time (GMT)", "2026-03-20T15:20:SS-0400")
    assert reading.samples["time"][0] == _at(20, 19)


@pytest.mark.parametrize("heads", ["Date (UTC),Time (UTC)", "UTC date,UTC time"])
def test_date_and_time_in_two_columns(tmp_path: Path, heads: str) -> None:
    reading = _read(tmp_path, heads, "2026-03-20,15:20:SS")
    assert reading.samples["time"][0] == _at(20, 15)


@pytest.mark.parametrize(
    ("form", "hour"),
    [
        ("03/20/2026 03:20:SS PM MST", 22),
        ("03/20/2026 03:20:SS PM MDT", 21),
        ("2026-03-20 15:20:SS EDT", 19),
        ("2026-03-20 15:20:SS CET", 14),
        ("2026-03-20 15:20:SS UTC-7", 22),
        ("2026-03-20 15:20:SS GMT+01:00", 14),
        ("Fri Mar 20 15:20:SS GMT-06:00 2026", 21),
        ("Fri Mar 20 15:20:SS UTC 2026", 15),
        ("Fri Mar 20 15:20:SS 2026", 21),
    ],
)
def test_a_zone_beside_the_time(tmp_path: Path, form: str, hour: int) -> None:
    reading = _read(tmp_path, "Time", form)
    assert reading.rows_used == 3
    assert reading.samples["time"][0] == _at(20, hour)


def test_a_zone_nobody_knows_is_told(tmp_path: Path) -> None:
    reading = _read(tmp_path, "Time", "2026-03-20 15:20:SS XYZT")
    assert reading.samples["time"][0] == _at(20, 21)
    assert "time-form/zone-unknown" in codes(reading)


@pytest.mark.parametrize(
    ("name", "form", "at"),
    [
        # the name is local, 18:20 on the 20th, which is the 21st in UTC
        ("trip_20260320_182031.csv", "00:20:SS", _at(21, 0)),
        ("trip_20260320_092031.csv", "15:20:SS", _at(20, 15)),
        ("trip_20260320.csv", "15:20:SS", _at(20, 15)),
    ],
)
def test_the_day_of_a_time_of_day_in_utc(
    tmp_path: Path, name: str, form: str, at: datetime
) -> None:
    reading = _read(tmp_path, "Time (UTC)", form, name)
    assert reading.samples["time"][0] == at


@pytest.mark.parametrize(
    ("unit", "hour"), [("UTC", 15), ("GMT-6", 21), ("UTC+05:30", 9), ("day first", 21)]
)
def test_the_study_may_say_which_zone_a_clock_keeps(tmp_path: Path, unit: str, hour: int) -> None:
    """A phone in UTC beside a recorder in local time: each by its own line under [columns]."""
    path = tmp_path / "phone.csv"
    rows = "".join(f"20/03/2026 15:20:{s},{s},{s}\n" for s in (31, 32, 33))
    path.write_text(f"Time,GPS speed (km/h),Vehicle speed (km/h)\n{rows}")
    rule = ColumnRule(heading="Time", channel="time", unit=unit, files="phone*")
    reading = read_log(path, rules=(rule,), time_zone=ZONE)
    at = _at(20, hour).replace(minute=50 if "05:30" in unit else 20)
    assert reading.samples["time"][0] == at


def test_a_zone_in_the_lines_above_holds_where_nothing_nearer_tells(tmp_path: Path) -> None:
    above = "Recorder 7\nTime zone;UTC\n"
    for heading, hour in (("Time", 15), ("Time (GMT-6)", 21)):
        path = tmp_path / f"{hour}.csv"
        rows = "".join(f"2026-03-20 15:20:{s};{s};{s}\n" for s in (31, 32, 33))
        path.write_text(f"{above}{heading};GPS speed (km/h);Vehicle speed (km/h)\n{rows}")
        assert read_log(path, time_zone=ZONE).samples["time"][0] == _at(20, hour)


@pytest.mark.parametrize(
    ("stamp", "second"),
    [("20260320152031", 31), ("20260320152031.50", 31), ("202603201520", 0), ("2026032015", 0)],
)
def test_a_date_and_time_in_digits_alone(tmp_path: Path, stamp: str, second: int) -> None:
    """ISO 8601-1:2019 basic format, its T left out by agreement between the parties."""
    path = tmp_path / "a.csv"
    rows = "".join(f"{stamp},{s},{s}\n" for s in (1, 2, 3))
    path.write_text(f"Time,GPS speed (km/h),Vehicle speed (km/h)\n{rows}")
    first = read_log(path, time_zone="UTC").samples["time"][0]
    assert (first.hour, first.minute, first.second) == (15, 0 if len(stamp) == 10 else 20, second)
