"""Day first or month first, where only other logs of the same recorder tell."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest

from gearing.logs.read import read_log
from gearing.logs.timestamps.date_order import DateOrder, settled_orders, shortened

HEADINGS = "Device Time,GPS Speed (mph),Vehicle speed (mph)"


def _log(folder: Path, *dates: str, name: str = "a.csv") -> Path:
    rows = [f"{date} 08:{n:02d}:00,30.{n},31" for date in dates for n in range(3)]
    path = folder / name
    path.write_text("\n".join([HEADINGS, *rows]) + "\n")
    return path


@dataclass(frozen=True)
class Log:
    file: str
    headings: tuple[str, ...]
    date_order: str


@pytest.mark.parametrize(
    ("dates", "order"),
    [
        (("05/04/2026",), "open"),
        (("05/13/2026",), "month first"),
        (("13/05/2026",), "day first"),
        (("05/05/2026",), ""),  # the same either way: it proves nothing of the recorder
        (("2026-05-04",), ""),
        (("04.05.2026",), ""),  # with points it is read day first, by custom and not by proof
        (("May 4, 2026",), ""),
        # the year in two digits may stand at either end, where the day can be one of a log's
        (("26/03/14",), "year first"),
        (("14/03/26",), "day first"),
        (("26/03/20",), "open"),
        (("26/03/26",), ""),
        (("26/03/20", "26/03/21", "26/03/22"), "year first"),
        (("20/03/26", "21/03/26", "22/03/26"), "day first"),
        (("20.03.26",), ""),
    ],
)
def test_what_a_log_proves_of_its_own(tmp_path: Path, dates: tuple[str, ...], order: str) -> None:
    assert read_log(_log(tmp_path, *dates)).date_order == order


def test_a_name_that_gives_the_day_is_proof(tmp_path: Path) -> None:
    path = _log(tmp_path, "05/04/2026", name="2026-05-04.csv")
    assert read_log(path).date_order == "month first"


def test_only_orders_that_the_dates_can_have_are_asked_for(tmp_path: Path) -> None:
    for date, other in (("05/04/26", "month first"), ("26/03/20", "year first")):
        (asked,) = read_log(_log(tmp_path, date)).questions
        lines = [line for line in asked.remedy.split("\n") if "channel" in line]
        assert [line.split('unit = "')[1].split('"')[0] for line in lines] == ["day first", other]


@pytest.mark.parametrize(
    ("written", "order", "year", "month", "day"),
    [
        ("05/04/2026", "month first", 2026, 5, 4),
        ("05/04/2026", "day first", 2026, 4, 5),
        ("26/03/20", "year first", 2026, 3, 20),
        ("26/03/20", "day first", 2020, 3, 26),
    ],
)
def test_an_open_log_read_by_the_others(
    tmp_path: Path, written: str, order: str, year: int, month: int, day: int
) -> None:
    path = _log(tmp_path, written)
    assert read_log(path).rows_used == 0
    read = read_log(path, order=DateOrder(order, shortened(["b.csv", "c.csv", "d.csv"])))
    assert read.samples["time"][0] == datetime(year, month, day, 8, tzinfo=UTC)
    assert read.questions == ()
    (told,) = read.repairs
    assert told.code == "order-by-logs"
    assert "b.csv and 2 more" in told.message
    assert read.date_order == ""  # what it was told is no proof for others


def test_the_others_do_not_overrule_what_a_log_proves(tmp_path: Path) -> None:
    read = read_log(
        _log(tmp_path, "05/13/2026"), order=DateOrder("day first", shortened(["b.csv"]))
    )
    assert read.samples["time"][0] == datetime(2026, 5, 13, 8, tzinfo=UTC)
    assert read.repairs == ()


def test_only_logs_with_the_same_headings_that_agree_settle_one() -> None:
    here, there = ("time", "rpm"), ("time", "speed")
    logs = [
        Log("a", here, "open"),
        Log("b", here, "month first"),
        Log("c", here, ""),
        Log("d", here, "month first"),
        Log("e", there, "open"),
    ]
    assert settled_orders(logs) == {0: DateOrder("month first", shortened(["b", "e"]))}
    assert settled_orders([*logs, Log("f", here, "day first")]) == {}
    assert settled_orders([*logs, Log("g", there, "day first")])[4] == DateOrder(
        "day first", shortened(["g"])
    )
