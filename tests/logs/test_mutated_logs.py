"""No file whatever makes the reader fail, hang or lose a row."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest
from damaged_logs import checksum
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from mutated_logs import MAX_SECONDS, check, one, originals

from gearing.logs.read import read_log

FILES = int(os.environ.get("GEARING_MUTATED_FILES", "300"))
PARTS = 10


@pytest.mark.drill
@pytest.mark.timeout(0)
@pytest.mark.parametrize("part", range(PARTS))
def test_mutated_logs(part: int, tmp_path: Path) -> None:
    starts = originals()
    for seed in range(part * FILES // PARTS, (part + 1) * FILES // PARTS):
        _, took = one(seed, starts, tmp_path)
        assert took < MAX_SECONDS, seed


# Found by mutation, kept as they are since the mutations of a seed change with the variants
ONCE_BROKE = {
    "a heading of one character": b"x\t\n1\t2\n# 3\n3\t4\n\n",
    "a start of 75 seconds": b"Start date: 17.03.2026\nStart time: 14:05:75\n"
    b"Time [s],Latitude [deg],Longitude [deg]\n" + b"1,40,-3\n2,40,-3\n",
    "decimal commas and no text at all": b"Latitude;Longitude\n" + b"40,5;-3,25\n" * 30,
    "sentences with times alone, which run back": "\n".join(
        checksum(f"GPRMC,1405{second:02d},A,,,,,,,170326,,,A")
        for second in (*range(40), *range(10, 30))
    ).encode(),
}


@pytest.mark.parametrize("name", sorted(ONCE_BROKE))
def test_logs_that_once_broke_the_reader(name: str, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(ONCE_BROKE[name])
    check(read_log(path))


_CELL = st.one_of(
    st.text(max_size=8),
    st.integers(-(10**12), 10**12).map(str),
    st.floats(allow_nan=True, allow_infinity=True).map(str),
    st.datetimes().map(lambda m: m.isoformat()),
    st.sampled_from(["", "-", "NaN", '"', "12,5", "1.234,5", "2026-03-17T14:05:07Z", "14:05:07"]),
)
_HEADING = st.sampled_from(
    [
        "Time",
        "Date",
        "Latitude",
        "Longitude [deg]",
        "Speed",
        "GPS speed [km/h]",
        "RPM",
        "Gear",
        "Vehicle speed",
        "Fuel rate [L/h]",
        "Parameter",
        "Value",
        "Unit",
        "Temperature",
        "x",
        "",
    ]
)


@settings(
    max_examples=150,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.binary(max_size=3000))
def test_any_bytes(data: bytes, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(data)
    check(read_log(path))


@settings(
    max_examples=200,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    headings=st.lists(_HEADING, min_size=2, max_size=8),
    rows=st.lists(st.lists(_CELL, min_size=1, max_size=9), max_size=30),
    delimiter=st.sampled_from([",", ";", "\t", "|"]),
)
def test_any_table(
    headings: list[str], rows: list[list[str]], delimiter: str, tmp_path: Path
) -> None:
    lines = [delimiter.join(headings), *(delimiter.join(row) for row in rows)]
    path = tmp_path / "2026-03-17.csv"
    path.write_text("\n".join(lines), encoding="utf-8", errors="replace", newline="")
    check(read_log(path, time_zone="America/Denver"))


def test_a_directory_and_a_missing_file_are_told_as_such(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "none.csv"):
        begin = time.perf_counter()
        reading = read_log(path)
        assert [p.code for p in reading.set_aside_rows] == ["unreadable-file"]
        assert time.perf_counter() - begin < MAX_SECONDS
