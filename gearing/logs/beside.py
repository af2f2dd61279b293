"""What lies beside the logs of a folder, by name or by headings, and what is passed over."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path, PurePath

import polars as pl

from gearing.logs.archives import LogFileError
from gearing.logs.assign import candidates
from gearing.logs.endings import is_log, is_of_report, shown_name
from gearing.logs.kinds import (
    DASH,
    FILLUP_LOG,
    LARGEST_NOTEBOOK,
    PROFILE,
    WEATHER,
    kind_of,
    named_by,
)
from gearing.logs.ledger import Ledger
from gearing.logs.notebook_columns import DASH as DASH_COLUMNS
from gearing.logs.notebook_columns import named_by_unit
from gearing.logs.table import Table, read_tables
from gearing.logs.text import load_text
from gearing.messages import Message, message

SPREADSHEETS = (".xlsx", ".xlsm", ".xls", ".ods", ".numbers")
Skipped = tuple[str, Message]  # what may be meant as a log and is none, and why
_ROUTES = ("routes", "profiles")  # folders
_BESIDE = {
    FILLUP_LOG: re.compile(r"fill[-_ ]?ups?|refuel\w*|tankings?|fuel[-_ ]?book", re.IGNORECASE),
    DASH: re.compile(
        r"(dash(board)?|needle|speedo(meter)?|odometer|tacho(meter)?|velocimetro)"
        r"([-_ ]?(readings?|notes?|photos?))?",
        re.IGNORECASE,
    ),
    WEATHER: re.compile(r"weather\w*", re.IGNORECASE),
}
_TOLD = {
    FILLUP_LOG: message("kept-beside/fill-ups"),
    WEATHER: message("kept-beside/weather"),
    DASH: message("kept-beside/dash"),
    PROFILE: message("kept-beside/profile"),
}
_TABLES = (".csv", ".tsv", ".txt")
_TIME_OF_DAY = r"(?i)[ tT]+\d{1,2}[:.h]\d{2}.*$"
_SECONDS = r"(\d{1,2}[:.h]\d{2})[:.]\d{2}.*$"
# what may stand beside a reading of the dash: when, what a receiver showed, what nobody knows
_BESIDE_DASH = ("date", "time", "gps_speed_mps", None)
HEAD = 4_096
OF_OWN_DAY = 0.5  # of a notebook's rows; a log has many of one day


def logs_in(folder: Path) -> list[Path]:
    """Every log in a folder and below, sorted, without what is kept beside logs."""
    found = [one for one in _files_in(folder) if is_log(one) and one.is_file()]
    return [one for one in found if not kept_beside(one)]


def kept_beside(path: Path) -> str:
    """What a file is that a study names beside its logs, by its name or, of a notebook, by its
    headings; empty where it is a log."""
    stem = path.name.partition(".")[0]
    if path.parent.name.lower() in _ROUTES:
        return PROFILE
    named = next((what for what, words in _BESIDE.items() if words.fullmatch(stem)), "")
    return named or _notebook(path)


def skipped_in(folder: Path) -> list[Skipped]:
    """What lies among the logs of a folder and could be meant as one, and why it is none."""
    found = []
    for one in _files_in(folder):
        name = shown_name(one.relative_to(folder))
        if what := kept_beside(one) if is_log(one) else "":
            found.append((name, _TOLD[what]))
        elif one.suffix.lower() in SPREADSHEETS:
            found.append((name, message("skipped/spreadsheet")))
        elif is_log(one) and not one.is_file():
            broken = one.is_symlink() and not one.exists()
            found.append((name, message("skipped/broken-link" if broken else "skipped/not-plain")))
    return found


def _files_in(folder: Path) -> list[Path]:
    return [
        one
        for one in sorted(folder.rglob("*"))
        if not one.is_dir() and not one.name.startswith(".") and not is_of_report(one)
    ]


def _notebook(path: Path) -> str:
    """What a small table is by its headings: fill-ups (date, odometer and volume, a row a day at
    most), or readings of the dash (what needle or odometer showed, a row a minute at most, and
    nothing else that a log carries)."""
    if PurePath(path.name.lower()).suffix not in _TABLES:
        return ""
    try:
        if not path.is_file() or path.stat().st_size > LARGEST_NOTEBOOK:
            return ""
        data = load_text(path).data
        head = data[:HEAD]
        table = read_tables(head[: head.rfind(b"\n") + 1], Ledger(path.name))[0]
    except (OSError, LogFileError):
        return ""
    layout = table.layout
    found = candidates(layout.headings, layout.units, (), companion=True)
    columns = {one.target: one.column for one in named_by_unit(found, DASH_COLUMNS)}
    dated = columns.get("date") or columns.get("time")
    if dated is None:
        return ""
    if kind_of(named_by(layout.headings, layout.units)) == FILLUP_LOG:
        return FILLUP_LOG if _days_apart(table, dated) else ""
    shown = set(DASH_COLUMNS) & columns.keys()
    alone = columns.keys() <= {*DASH_COLUMNS, *_BESIDE_DASH} and len(data) <= HEAD
    return DASH if shown and alone and _minutes_apart(table, columns) else ""


def _days_apart(table: Table, column: str) -> bool:
    days = table.frame[column].cast(pl.String).drop_nulls().str.replace(_TIME_OF_DAY, "")
    return len(days) > 1 and days.n_unique() > OF_OWN_DAY * len(days)


def _minutes_apart(table: Table, columns: Mapping[str | None, str]) -> bool:
    named = [columns[role] for role in ("date", "time") if role in columns]
    moments = pl.concat_str(pl.col(named).cast(pl.String), separator=" ", ignore_nulls=True)
    minutes = table.frame.select(moments.str.replace(_SECONDS, "$1")).to_series()
    return len(minutes) > 1 and minutes.n_unique() == len(minutes)
