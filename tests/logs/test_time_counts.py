"""Counts of time in no given unit, and dates that turn at another row than the time of day.

That no tires hold a vehicle that changes its speed by more than one g is common knowledge, no
source.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from known_drive import BEGAN, ENGINE, NEEDLE, ROWS, SPEED, place_at, time_at, written
from whole_reading import read_text

from gearing.logs.column_rule import ColumnRule
from gearing.logs.read import read_log

NAME = f"{BEGAN:%Y-%m-%d_%H%M%S}.csv"
HEAD = ["Time", "Vehicle speed (km/h)", "RPM"]
UNITS = {"min": 60, "h": 3600, "d": 86_400}


def _dash(n: int) -> list[str]:
    return [f"{NEEDLE[n] * 3.6:.1f}", f"{ENGINE[n]:.0f}"]


@pytest.mark.parametrize("unit", UNITS)
def test_a_count_that_cannot_be_of_seconds_is_asked_about(unit: str, tmp_path: Path) -> None:
    text = written(HEAD, lambda n: [f"{n / UNITS[unit]:.7f}", *_dash(n)])
    asked = read_text(tmp_path / NAME, text)
    assert [(one.code, one.column) for one in asked.questions] == [("which-unit", "Time")]
    assert asked.rows_used == 0
    assert f'unit = "{unit}"' in asked.questions[0].remedy
    rule = ColumnRule(heading="Time", channel="time", unit=unit)
    answered = read_log(tmp_path / NAME, rules=(rule,))
    assert answered.rows_used == ROWS
    last = answered.samples["time"][-1]
    assert abs(last - time_at(ROWS - 1)) < timedelta(seconds=0.01)


def test_rows_of_an_open_count_are_set_aside_once(tmp_path: Path) -> None:
    text = written(HEAD, lambda n: ["" if n == 700 else f"{n / 3600:.7f}", *_dash(n)])
    reading = read_text(tmp_path / NAME, text)
    aside = [(one.code, one.count) for one in reading.set_aside_rows]
    assert aside[0] == ("no-time", 1)
    assert reading.rows_used == 0
    assert sum(count for _, count in aside) == ROWS


def test_positions_still_settle_what_they_can(tmp_path: Path) -> None:
    text = written(
        ["Time", "Latitude", "Longitude", "GPS speed (km/h)"],
        lambda n: [f"{n / 3600:.7f}", *place_at(n), f"{SPEED[n] * 3.6:.2f}"],
    )
    reading = read_text(tmp_path / NAME, text)
    assert not reading.questions
    assert "time-by-positions" in {one.code for one in reading.repairs}


@pytest.mark.parametrize("hertz", [1, 10, 50])
def test_seconds_stay_seconds(hertz: int, tmp_path: Path) -> None:
    text = written(HEAD, lambda n: [f"{n / hertz:.2f}", f"{NEEDLE[n // hertz] * 3.6:.0f}", "900"])
    reading = read_text(tmp_path / NAME, text)
    assert not reading.questions
    assert reading.samples["time"][-1] == BEGAN + timedelta(seconds=(ROWS - 1) / hertz)


MIDNIGHT = datetime(2026, 3, 2, tzinfo=UTC)


@pytest.mark.parametrize("late", [-30, -1, 0, 1, 3, 600])
def test_a_date_that_turns_beside_midnight(late: int, tmp_path: Path) -> None:
    """Recorders take date and time from different sentences, or write the date at longer steps."""
    began = MIDNIGHT - timedelta(seconds=900)

    def row(n: int) -> list[str]:
        at = began + timedelta(seconds=n)
        return [f"{at - timedelta(seconds=late):%Y-%m-%d}", f"{at:%H:%M:%S}", *_dash(n)]

    reading = read_text(tmp_path / "log.csv", written(["Date", *HEAD], row))
    assert reading.rows_used == ROWS
    assert reading.samples["time"].to_list() == [began + timedelta(seconds=n) for n in range(ROWS)]


def test_days_between_rows_are_days(tmp_path: Path) -> None:
    """A pause over two midnights, without a row at any of them."""
    second = MIDNIGHT + timedelta(days=2, hours=1)
    times = [MIDNIGHT - timedelta(seconds=900 - n) for n in range(900)]
    times += [second + timedelta(seconds=n) for n in range(ROWS - 900)]
    row = lambda n: [f"{times[n]:%Y-%m-%d}", f"{times[n]:%H:%M:%S}", *_dash(n)]  # noqa: E731
    reading = read_text(tmp_path / "log.csv", written(["Date", *HEAD], row))
    assert reading.samples["time"].to_list() == times


def test_milliseconds_behind_a_colon(tmp_path: Path) -> None:
    row = lambda n: [f"{time_at(n):%Y-%m-%d %H:%M:%S}:250", *_dash(n)]  # noqa: E731
    reading = read_text(tmp_path / "log.csv", written(HEAD, row))
    assert reading.samples["time"][0] == BEGAN + timedelta(milliseconds=250)
