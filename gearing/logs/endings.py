"""How the names of logs end, and how any name is shown."""

from __future__ import annotations

import os
import re
from pathlib import Path, PurePath

from gearing.messages import Message, message

PLAIN = (".csv", ".tsv", ".txt", ".gpx", ".nmea", ".log")
_ROUTES = ("routes", "profiles")  # folders
_BESIDE = {
    "fill-ups": re.compile(r"fill[-_ ]?ups?|refuel\w*|tankings?|fuel[-_ ]?book", re.IGNORECASE),
    "dash readings": re.compile(
        r"(dash|needle|speedometer)([-_ ]?(readings?|notes?))?", re.IGNORECASE
    ),
    "weather": re.compile(r"weather\w*", re.IGNORECASE),
}
_TOLD = {
    "fill-ups": message("kept-beside/fill-ups"),
    "weather": message("kept-beside/weather"),
    "dash readings": message("kept-beside/dash"),
    "road profile": message("kept-beside/profile"),
}
Skipped = tuple[str, Message]  # what may be meant as a log and is none, and why
SPREADSHEETS = (".xlsx", ".xlsm", ".xls", ".ods", ".numbers")
LOG_ENDINGS = (*PLAIN, *(f"{ending}.gz" for ending in PLAIN), ".zip")


def is_log(path: PurePath) -> bool:
    """Whether a file's name is that of a log; hidden files are not."""
    return path.name.lower().endswith(LOG_ENDINGS) and not path.name.startswith(".")


def logs_in(folder: Path) -> list[Path]:
    """Every log in a folder and below, sorted, without what is kept beside logs."""
    found = [one for one in _files_in(folder) if is_log(one) and one.is_file()]
    return [one for one in found if not kept_beside(one)]


def kept_beside(path: PurePath) -> str:
    """What a file is by its name that a study names beside its logs; empty where it is a log."""
    stem = path.name.partition(".")[0]
    if path.parent.name.lower() in _ROUTES:
        return "road profile"
    return next((what for what, words in _BESIDE.items() if words.fullmatch(stem)), "")


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


def shown_name(path: PurePath) -> str:
    """The name as text: bytes in it that are no UTF-8 are written out (`\\xfc`)."""
    return os.fsencode(path.as_posix()).decode("utf-8", "backslashreplace")


def file_name(path: Path) -> str:
    """The last part of the name, as text."""
    return shown_name(PurePath(path.name))


def is_of_report(path: Path) -> bool:
    """Whether a file lies among what an earlier run wrote: tables of trips are no logs."""
    return all((path.parent / name).exists() for name in ("results.json", "report.html"))
