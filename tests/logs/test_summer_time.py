"""Local times over the hour that comes twice, and over the one that does not exist.

Zone and days: tz database, America/Denver, 8 March and 1 November 2026.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from gearing.logs.read import read_log

ZONE = ZoneInfo("America/Denver")


def _written(start: datetime, *, switched: bool) -> tuple[list[datetime], list[str]]:
    """True moments each ten seconds for 45 minutes, and what the recorder's clock shows."""
    begin = start.astimezone(UTC)
    true = [begin + timedelta(seconds=10 * n) for n in range(270)]
    ahead = start.utcoffset() or timedelta()
    shown = [
        moment.astimezone(ZONE) if switched else (moment + ahead).replace(tzinfo=None)
        for moment in true
    ]
    return true, [f"{moment:%Y-%m-%d %H:%M:%S}" for moment in shown]


@pytest.mark.parametrize(
    ("start", "switched", "told"),
    [
        (datetime(2026, 3, 8, 1, 40, tzinfo=ZONE), True, set()),
        (datetime(2026, 3, 8, 1, 40, tzinfo=ZONE), False, {"clock-not-switched"}),
        (datetime(2026, 11, 1, 1, 30, tzinfo=ZONE), True, {"summer-time"}),
        (datetime(2026, 11, 1, 0, 30, tzinfo=ZONE), True, {"summer-time"}),
        (datetime(2026, 11, 1, 1, 30, tzinfo=ZONE, fold=1), True, {"summer-time"}),
        (datetime(2026, 11, 1, 0, 30, tzinfo=ZONE), False, {"summer-time"}),
    ],
)
def test_local_times_over_a_change(
    tmp_path: Path, start: datetime, switched: bool, told: set[str]
) -> None:
    true, shown = _written(start, switched=switched)
    rows = [f"{text},5{n % 7},5{n % 5}" for n, text in enumerate(shown)]
    path = tmp_path / "a.csv"
    path.write_text("\n".join(["Time,GPS speed (km/h),Vehicle speed (km/h)", *rows]) + "\n")
    reading = read_log(path, time_zone="America/Denver")
    assert reading.samples["time"].to_list() == true
    assert {problem.code for problem in reading.repairs} == told


def test_an_hour_and_a_half_through_the_doubled_hour_once(tmp_path: Path) -> None:
    """From 00:30 to 02:15 by a clock that stays: no hour is put in where none passed."""
    begin = datetime(2026, 11, 1, 6, 30, tzinfo=UTC)
    true = [begin + timedelta(seconds=10 * n) for n in range(630)]
    rows = [f"{m - timedelta(hours=6):%Y-%m-%d %H:%M:%S},5{n % 7}" for n, m in enumerate(true)]
    path = tmp_path / "a.csv"
    path.write_text("\n".join(["Time,GPS speed (km/h)", *rows]) + "\n")
    reading = read_log(path, time_zone="America/Denver")
    assert reading.samples["time"].to_list() == true
    assert {problem.code for problem in reading.repairs} == {"clock-not-switched"}
