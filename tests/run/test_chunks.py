"""A log read in pieces gives what it gives in one; where that would not be safe it is not cut."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from gearing.run import chunks
from gearing.run.chunks import pieces_of
from gearing.run.tasks import ReadTask, read_file, read_task

HEAD = "# recorder\nTime,GPS speed (km/h),Engine speed (rpm)\n"


@pytest.fixture(autouse=True)
def _small_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(chunks, "PIECE_BYTES", 9_000)
    monkeypatch.setattr(chunks, "LARGE_BYTES", 20_000)
    monkeypatch.setattr(chunks, "_LINE_BYTES", 1_000)
    monkeypatch.setattr(chunks, "_SAMPLE_BYTES", 5_000)


def _rows(first: int, count: int) -> str:
    return "".join(
        f"2026-03-01T{n // 3600:02d}:{n // 60 % 60:02d}:{n % 60:02d}Z,"
        f"{50 + n % 7},{1200 + n % 40}\n"
        for n in range(first, first + count)
    )


def _tasks(path: Path, store: Path) -> list[ReadTask]:
    whole = ReadTask(path, path.name, (), "UTC", store)
    return [
        ReadTask(path, path.name + piece.label, (), "UTC", store, piece)
        for piece in pieces_of(path, (), "UTC")
    ] or [whole]


def test_pieces_give_the_same_samples_and_the_same_lines(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    text = HEAD + _rows(0, 700) + "2026-03-01T00:11:40Z,broken\n" + _rows(701, 700)
    path.write_text(text, encoding="utf-8")
    tasks = _tasks(path, tmp_path / "store")
    assert len(tasks) > 3
    parts = [read_task(task) for task in tasks]
    whole = read_task(ReadTask(path, path.name, (), "UTC", tmp_path / "store"))
    assert sum(part.rows_read for part in parts) == whole.rows_read == 1401
    assert sum(part.rows_used for part in parts) == whole.rows_used
    joined = pl.concat([part.samples.drop("line") for part in parts])
    assert joined.equals(whole.samples.drop("line"))
    aside = [(p.code, p.first_line) for part in parts for p in part.set_aside_rows]
    assert aside == [(p.code, p.first_line) for p in whole.set_aside_rows]
    assert aside[0][1] == 703


def test_all_parts_are_one_log(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(HEAD + _rows(0, 1400), encoding="utf-8")
    reports = [read_file(task) for task in _tasks(path, tmp_path / "store")]
    assert {report.log for report in reports} == {"log.csv"}
    assert len({report.file for report in reports}) == len(reports)


@pytest.mark.parametrize(
    "text",
    [
        "Time (s),GPS speed (km/h)\n" + "".join(f"{n},50\n" for n in range(5000)),
        "Date,Time,GPS speed (km/h)\n"
        + "".join(f"03/04/2026,08:{n // 60 % 60:02d}:{n % 60:02d},50\n" for n in range(3000)),
        "nothing,known\n" + "1,2\n" * 9000,
    ],
    ids=["elapsed time", "order of day and month", "no headings"],
)
def test_what_needs_the_whole_is_read_whole(tmp_path: Path, text: str) -> None:
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8")
    assert path.stat().st_size > 20_000
    assert pieces_of(path, (), "UTC") == []


def test_a_small_file_is_not_cut(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(HEAD + _rows(0, 100), encoding="utf-8")
    assert pieces_of(path, (), "UTC") == []
