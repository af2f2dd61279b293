"""What lies beside the logs of a folder, by name or by headings, and what is passed over."""

from __future__ import annotations

import re
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
HEAD = 4_096
OF_OWN_DAY = 0.5  # of a notebook's rows; a log has many of one day


def logs_in(folder: Path) -> list[Path]:
    """Every log in a folder and below, sorted, without what is kept beside logs."""
    found = [one for one in _files_in(folder) if is_log(one) and one.is_file()]
    return [one for one in found if not kept_beside(one)]


def kept_beside(path: Path) -> str:
    """What a file is that a study names beside its logs, by its name, or a notebook of fill-ups
    by its headings; empty where it is a log."""
    stem = path.name.partition(".")[0]
    if path.parent.name.lower() in _ROUTES:
        return PROFILE
    named = next((what for what, words in _BESIDE.items() if words.fullmatch(stem)), "")
    return named or (FILLUP_LOG if _is_notebook(path) else "")


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


def _is_notebook(path: Path) -> bool:
    """Whether a small table has the headings of fill-ups, date, odometer and volume, and a row a
    day at most."""
    if PurePath(path.name.lower()).suffix not in _TABLES:
        return False
    try:
        if not path.is_file() or path.stat().st_size > LARGEST_NOTEBOOK:
            return False
        head = load_text(path).data[:HEAD]
        table = read_tables(head[: head.rfind(b"\n") + 1], Ledger(path.name))[0]
    except (OSError, LogFileError):
        return False
    layout = table.layout
    if kind_of(named_by(layout.headings, layout.units)) != FILLUP_LOG:
        return False
    found = candidates(layout.headings, layout.units, (), companion=True)
    columns = {c.target: c.column for c in found}
    dated = columns.get("date") or columns.get("time")
    return dated is not None and _days_apart(table, dated)


def _days_apart(table: Table, column: str) -> bool:
    days = table.frame[column].cast(pl.String).drop_nulls().str.replace(_TIME_OF_DAY, "")
    return len(days) > 1 and days.n_unique() > OF_OWN_DAY * len(days)
