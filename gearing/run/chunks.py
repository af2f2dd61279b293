"""A log too large to be read in one piece: cut at line ends, each piece under the headings.

Only where that cannot change what is read: one row of headings that names every unit, and a time
that every row gives whole by itself. All else is read as one, whatever memory it takes.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from gearing.logs.channels import SETTLED
from gearing.logs.column_rule import ColumnRule
from gearing.logs.model import Reading
from gearing.logs.read import read_log

PIECE_BYTES = 32 << 20
LARGE_BYTES = 2 * PIECE_BYTES
_SAMPLE_BYTES = 1 << 20
_LINE_BYTES = 1 << 16  # no line of a log is longer
# forms of time that need more than their own row: days carried on, an order settled by a column
_NEEDS_THE_WHOLE = {
    "time-form/elapsed",
    "time-form/elapsed-clock",
    "time-form/elapsed-open",
    "time-form/time-of-day",
    "time-form/day-first",
    "time-form/month-first",
}
# what is asked of, or was mended in, columns that the whole log tells about
_SETTLED_BY_ALL = {
    "which-unit",
    "two-units",
    "positions-in",
    "counted-from-1980",
    "counted-from-1904",
    "week-rollover",
}


@dataclass(frozen=True, slots=True)
class Piece:
    """Bytes `start` to `end` of a file, to be read under its first `head` bytes.

    `lines_before` is the count of lines before `start`, `head_lines` those in the head.
    """

    number: int
    start: int
    end: int
    head: int
    head_lines: int
    lines_before: int

    @property
    def label(self) -> str:
        """What its name adds to the file's."""
        return f" (part {self.number})"

    def line(self, line: int) -> int:
        """The file's line that a line of the piece is."""
        return line if self.number == 1 else line - self.head_lines + self.lines_before


def pieces_of(path: Path, rules: tuple[ColumnRule, ...], time_zone: str) -> list[Piece]:
    """The pieces of a large file; none where it is to be read as one.

    Raises
    ------
    OSError
        the file cannot be read.
    """
    size = path.stat().st_size
    if size < LARGE_BYTES:
        return []
    head = _head(path, rules, time_zone)
    return [] if head is None else list(_cut(path, size, *head))


def _head(path: Path, rules: tuple[ColumnRule, ...], time_zone: str) -> tuple[int, int] | None:
    """Bytes and lines down to the end of the headings, None where pieces would not be safe."""
    with path.open("rb") as handle:
        start = handle.read(_SAMPLE_BYTES)
    if b"\0" in start or b"\r" in start.replace(b"\r\n", b""):
        return None
    start = start[: start.rfind(b"\n") + 1]
    with _as_file(path.name, start) as sample:
        reading = read_log(sample, rules=rules, time_zone=time_zone)
    dialect = reading.dialect
    if dialect.compression or dialect.heading_line is None or not dialect.time_form:
        return None
    if any(form.code in _NEEDS_THE_WHOLE for form in dialect.time_form):
        return None
    met = {one.code for one in (*reading.questions, *reading.repairs)}
    if met & _SETTLED_BY_ALL or _settled(reading):
        return None  # the whole log settles what a column holds, lest two pieces differ
    lines = max(dialect.heading_line, dialect.units_line or 0)
    return sum(len(line) for line in start.splitlines(keepends=True)[:lines]), lines


def _settled(reading: Reading) -> bool:
    return any(one.topic == SETTLED for column in reading.columns for one in column.how)


def _cut(path: Path, size: int, head: int, head_lines: int) -> Iterator[Piece]:
    start = number = lines = 0
    with path.open("rb") as handle:
        while start < size:
            handle.seek(min(start + PIECE_BYTES, size))
            rest = handle.read(_LINE_BYTES)
            end = min(start + PIECE_BYTES + rest.find(b"\n") + 1, size)
            number += 1
            yield Piece(number, start, end, head, head_lines, lines)
            handle.seek(start)
            lines += handle.read(end - start).count(b"\n")
            start = end


@contextmanager
def piece_file(path: Path, piece: Piece) -> Iterator[Path]:
    """The piece as a file of its own, under the whole file's name, while it is needed.

    Raises
    ------
    OSError
        the file cannot be read, or there is no room for the piece.
    """
    with path.open("rb") as handle:
        head = handle.read(piece.head) if piece.number > 1 else b""
        handle.seek(piece.start)
        body = handle.read(piece.end - piece.start)
    with _as_file(path.name, head + body) as own:
        yield own


@contextmanager
def _as_file(name: str, content: bytes) -> Iterator[Path]:
    with tempfile.TemporaryDirectory(prefix="gearing-") as folder:
        own = Path(folder) / name
        own.write_bytes(content)
        yield own
