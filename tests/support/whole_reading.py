"""A log written and read, no row of it lost."""

from __future__ import annotations

from pathlib import Path

from gearing.logs.model import Reading
from gearing.logs.read import read_log


def read_text(path: Path, text: str, encoding: str = "utf-8") -> Reading:
    """The reading of `text` as a log at `path`; each of its rows is used or set aside."""
    path.write_bytes(text.encode(encoding))
    reading = read_log(path)
    aside = sum(problem.count for problem in reading.set_aside_rows)
    assert reading.rows_read == reading.rows_used + aside
    return reading
