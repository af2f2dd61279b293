"""How the names of logs end."""

from __future__ import annotations

from pathlib import Path

PLAIN = (".csv", ".tsv", ".txt", ".gpx", ".nmea", ".log")
LOG_ENDINGS = (*PLAIN, *(f"{ending}.gz" for ending in PLAIN), ".zip")


def is_log(path: Path) -> bool:
    """Whether a file's name is that of a log; hidden files are not."""
    return path.name.lower().endswith(LOG_ENDINGS) and not path.name.startswith(".")


def is_of_report(path: Path) -> bool:
    """Whether a file lies among what an earlier run wrote: tables of trips are no logs."""
    return all((path.parent / name).exists() for name in ("results.json", "report.html"))
