"""Elapsed seconds that count from midnight, told by the time of day in the file's name."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from gearing.logs.read import read_log


def _log(folder: Path, name: str, *seconds: float, preamble: str = "") -> Path:
    rows = [f"{at},3{n},30" for n, at in enumerate(seconds)]
    path = folder / name
    path.write_text(preamble + "\n".join(["Seconds,GPS Speed (mph),Vehicle speed (mph)", *rows]))
    return path


def _start(path: Path, zone: str = "UTC") -> datetime:
    start = read_log(path, time_zone=zone).samples["time"][0]
    assert isinstance(start, datetime)
    return start


@pytest.mark.parametrize(
    ("name", "first", "begins"),
    [
        # 14:48:50 is 53,330 s since midnight
        ("20260504_1448.csv", 53330.0, datetime(2026, 5, 4, 14, 48, 50, tzinfo=UTC)),
        ("2026-05-04_14-48-50.csv", 53330.0, datetime(2026, 5, 4, 14, 48, 50, tzinfo=UTC)),
        # counts from its own start
        ("20260504_1448.csv", 0.0, datetime(2026, 5, 4, 14, 48, tzinfo=UTC)),
        ("20260504_1448.csv", 7.0, datetime(2026, 5, 4, 14, 48, 7, tzinfo=UTC)),
        # a start near midnight itself is no count from midnight
        ("20260504_0001.csv", 3.0, datetime(2026, 5, 4, 0, 1, 3, tzinfo=UTC)),
        # another time of day than the name's: a count that began before the file
        ("20260504_1448.csv", 40000.0, datetime(2026, 5, 5, 1, 54, 40, tzinfo=UTC)),
    ],
)
def test_where_the_count_begins(tmp_path: Path, name: str, first: float, begins: datetime) -> None:
    path = _log(tmp_path, name, first, first + 1, first + 2)
    assert _start(path) == begins
    told = {p.code for p in read_log(path).repairs}
    assert ("from-midnight" in told) == (first == 53330.0)


def test_it_is_local_midnight_and_goes_on_past_the_next(tmp_path: Path) -> None:
    late = [86_340.0 + 30 * n for n in range(6)]  # 23:59 on
    running = _log(tmp_path, "20260504_2359.csv", *late)
    assert _start(running, "America/Denver") == datetime(2026, 5, 5, 5, 59, tzinfo=UTC)
    wrapped = _log(tmp_path, "20260504_235900.csv", *(at % 86_400 for at in late))
    times = [read_log(path).samples["time"].to_list() for path in (running, wrapped)]
    assert times[0] == times[1]


def test_a_start_above_the_headings_tells_it_too(tmp_path: Path) -> None:
    path = _log(tmp_path, "trip.csv", 53330.0, 53331.0, preamble="Start: 2026-05-04 14:48\n")
    assert _start(path) == datetime(2026, 5, 4, 14, 48, 50, tzinfo=UTC)
