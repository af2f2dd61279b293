"""How the names of logs end, and how any name is shown."""

from __future__ import annotations

import os
from pathlib import Path, PurePath

PLAIN = (".csv", ".tsv", ".txt", ".gpx", ".nmea", ".log")
LOG_ENDINGS = (*PLAIN, *(f"{ending}.gz" for ending in PLAIN), ".zip")
_OF_REPORT = ("trips.csv", "set_aside.csv")


def is_log(path: PurePath) -> bool:
    """Whether a file's name is that of a log; hidden files are not."""
    return path.name.lower().endswith(LOG_ENDINGS) and not path.name.startswith(".")


def shown_name(path: PurePath) -> str:
    """The name as text: bytes in it that are no UTF-8 are written out (`\\xfc`)."""
    return os.fsencode(path.as_posix()).decode("utf-8", "backslashreplace")


def file_name(path: Path) -> str:
    """The last part of the name, as text."""
    return shown_name(PurePath(path.name))


def stem(file: str) -> str:
    """A file's name without folders and endings, as its trips are called."""
    name = PurePath(file).name
    for ending in (".gz", ".zip"):
        name = name.removesuffix(ending)
    return PurePath(name).stem or name


def is_of_report(path: Path) -> bool:
    """Whether a file is one of the tables that an earlier run wrote, which are no logs."""
    beside = ("results.json", "report.html")
    return path.name in _OF_REPORT and all((path.parent / name).exists() for name in beside)
