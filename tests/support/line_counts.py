"""The lines of a log counted from the file itself, by another route than the reader's."""

from __future__ import annotations

from pathlib import Path

from gearing.logs.archives import LogFileError
from gearing.logs.model import Reading
from gearing.logs.text import load_text

PASSED_OVER = ("preamble", "comment", "blank-line", "repeated-heading", "joined-lines")


def counted(reading: Reading) -> int:
    """What the reader says there is: rows, headings and units rows, and what it passed over."""
    over = sum(p.count for p in reading.repairs if p.code in PASSED_OVER)
    return reading.rows_read + reading.dialect.heading_lines + over


def records(path: Path, reading: Reading) -> int:
    """What there is: lines of a table, points of a track, sentences of a receiver; of a file that
    is set aside whole the lines that are not blank."""
    try:
        data = load_text(path).data
    except LogFileError:
        return reading.rows_read  # nothing could be unpacked or decoded: there is no text to count
    lines = data.split(b"\n")
    filled = sum(1 for line in lines if line.strip())
    if reading.dialect.kind == "GPX":
        return data.count(b"<trkpt")
    if reading.dialect.kind == "NMEA 0183":
        return filled
    if reading.dialect.kind == "unknown":
        return filled + sum(p.count for p in reading.repairs if p.code in PASSED_OVER)
    return len(lines) - (lines[-1] == b"")
