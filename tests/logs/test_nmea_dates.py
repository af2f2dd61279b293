"""Sentences that give times of day alone: the day is the study's, the file's name's, or asked."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from damaged_logs import checksum

from gearing.logs.column_rule import ColumnRule
from gearing.logs.ledger import proposed_lines
from gearing.logs.read import read_log

SENTENCES = "\n".join(
    checksum(f"GPGGA,2359{second:02d},4000.{second:02d}00,N,00300.0000,W,1,8,0.9,700.0,M,,M,,")
    for second in range(60)
)


def _log(folder: Path, name: str) -> Path:
    path = folder / name
    path.write_text(SENTENCES + "\n", encoding="ascii")
    return path


def test_the_line_that_is_offered_answers(tmp_path: Path) -> None:
    path = _log(tmp_path, "track.nmea")
    asked = read_log(path)
    assert asked.rows_used == 0
    (question,) = asked.questions
    ((heading, entry),) = tomllib.loads(proposed_lines(question)[0]).items()
    rule = ColumnRule(heading=heading, channel=entry["channel"], unit=entry["unit"])
    read = read_log(path, rules=(rule,))
    assert read.questions == ()
    assert read.rows_used == 60
    assert str(read.samples["time"][-1]) == "2026-03-01 23:59:59+00:00"
    assert read.samples["latitude_deg"][30] == pytest.approx(40 + 0.3 / 60)


def test_a_day_in_the_name_is_taken(tmp_path: Path) -> None:
    read = read_log(_log(tmp_path, "track_2026-04-05.nmea"))
    assert str(read.samples["time"][0]) == "2026-04-05 23:59:00+00:00"
