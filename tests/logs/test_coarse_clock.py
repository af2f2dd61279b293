"""Rows that come faster than their clock shows: two a second, or the seconds lost in a spreadsheet.

The drive is made here: 20 m/s held by both speeds, so that the way is known.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl
import pytest

from gearing.logs.model import Reading
from gearing.logs.read import read_log

START = datetime(2026, 5, 4, 8, 0, 20, tzinfo=UTC)


def _log(folder: Path, moments: Sequence[datetime], form: str, again: int = 1) -> Path:
    rows = [
        f"{moment:{form}},{72 + n % 7 / 100:.2f},{72 + n % 3}"
        for n, moment in enumerate(moments)
        for _ in range(again)
    ]
    path = folder / "a.csv"
    path.write_text("\n".join(["Time,GPS speed (km/h),Vehicle speed (km/h)", *rows]) + "\n")
    return path


def _every(seconds: float, count: int) -> list[datetime]:
    return [START + timedelta(seconds=seconds * n) for n in range(count)]


def _told(reading: Reading) -> set[str]:
    return {problem.code for problem in reading.repairs}


def _largest_error_s(reading: Reading, moments: Sequence[datetime]) -> float:
    true = pl.Series(moments, dtype=pl.Datetime("us", "UTC"))
    away = (reading.samples["time"] - true).dt.total_microseconds().abs().max()
    assert isinstance(away, int)
    return away / 1e6


@pytest.mark.parametrize(
    ("every_s", "form", "worst_s"),
    [
        (0.5, "%Y-%m-%d %H:%M:%S", 0.0),
        (0.1, "%Y-%m-%d %H:%M:%S", 0.0),
        (0.4, "%Y-%m-%d %H:%M:%S", 0.35),  # two rows in one second, three in the next
        (1.0, "%Y-%m-%d %H:%M", 0.0),
        (5.0, "%m/%d/%Y %H:%M", 0.0),
    ],
)
def test_rows_are_spread_over_the_step_of_their_clock(
    tmp_path: Path, every_s: float, form: str, worst_s: float
) -> None:
    moments = _every(every_s, 400)
    # the day is past the twelfth, so that its order is plain
    moments = [moment.replace(day=14) for moment in moments]
    reading = read_log(_log(tmp_path, moments, form))
    assert reading.rows_used == reading.rows_read == 400
    assert _told(reading) == {"coarse-clock"}
    assert _largest_error_s(reading, moments) <= worst_s + 1e-6


@pytest.mark.parametrize("again", [2, 3])
def test_every_row_written_again_is_no_coarse_clock(tmp_path: Path, again: int) -> None:
    moments = _every(1, 60)
    reading = read_log(_log(tmp_path, moments, "%Y-%m-%dT%H:%M:%SZ", again))
    assert (reading.rows_read, reading.rows_used) == (60 * again, 60)
    assert _told(reading) == set()
    assert _largest_error_s(reading, moments) == 0


def test_one_channel_a_row_under_one_time_is_left_as_it_is(tmp_path: Path) -> None:
    rows = []
    for n in range(60):
        rows += [f"2026-05-04T08:00:{n:02d}Z,{72 + n % 5},", f"2026-05-04T08:00:{n:02d}Z,,{71 + n}"]
    path = tmp_path / "a.csv"
    path.write_text("\n".join(["Time,GPS speed (km/h),Vehicle speed (km/h)", *rows]) + "\n")
    reading = read_log(path)
    assert _told(reading) == set()
    assert reading.samples["time"].n_unique() == 60
