"""A broken date among good ones, its time of day whole, costs no row; it is counted."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from gearing.logs.read import read_log

BROKEN = ["2026-13-17", "2026-03-99", "2O26-03-17", "17"]


def _rows(date_of: Callable[[int], str], joined: str) -> str:
    head = f"Date{joined}Time" if joined == "," else "Time"
    lines = [f"{date_of(i)}{joined}08:{i // 60:02d}:{i % 60:02d},{30 + i % 7}" for i in range(120)]
    return "\n".join([f"{head},GPS speed [km/h]", *lines]) + "\n"


@pytest.mark.parametrize("broken", BROKEN)
@pytest.mark.parametrize("joined", [",", " ", "T"])
def test_taken_from_its_neighbours(broken: str, joined: str, tmp_path: Path) -> None:
    good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
    good.write_text(_rows(lambda _: "2026-03-17", joined))
    bad.write_text(_rows(lambda i: broken if i in (40, 41, 90) else "2026-03-17", joined))
    reading = read_log(bad)
    assert reading.samples.equals(read_log(good).samples)
    assert reading.rows_used == 120
    assert {p.code: p.count for p in reading.repairs} == {"broken-date": 3}


def test_between_two_days_it_is_not_guessed(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    days = {0: "2026-03-17", 1: "x", 2: "2026-03-18"}
    path.write_text(_rows(lambda i: days[0 if i < 60 else 1 if i == 60 else 2], ","))
    reading = read_log(path)
    assert [(p.code, p.count) for p in reading.set_aside_rows] == [("unreadable-time", 1)]
    assert reading.rows_used == 119
