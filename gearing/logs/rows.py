"""The lines of a table's text: where each lies, how many fields it has, which are no records.

polars' own reading of a damaged CSV harms in silence (a cut record becomes a plausible number,
one odd cell turns a column to text). So the fields of every line are counted first, and only
whole rows are handed to the parser; the others go to the ledger.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from gearing.logs.fast_path import positions
from gearing.logs.layout import Layout, split_fields
from gearing.logs.ledger import Ledger
from gearing.messages import Message, message

Ints = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]

# Where more rows than this share lack trailing fields it is the recorder's habit, not damage
SHORT_HABIT = 0.2
MAX_FOOTER_LINES = 30
MAX_LINES_JOINED = 5
MAX_ODD_LINES = 1000
MAX_LETTER_LINES = 2000
FEW_DIGITS = 8  # of so many characters one, in headings


@dataclass(frozen=True, slots=True)
class Rows:
    """Lines of text: each from `starts` to `ends` (exclusive, without the line end) in `data`,
    `lines` its 1-based source line, `counts` its delimiters outside quotes, `odd` whether its
    quotes do not pair."""

    data: bytes
    buffer: npt.NDArray[np.uint8]
    starts: Ints
    ends: Ints
    lines: Ints
    counts: Ints
    odd: Mask

    def line(self, index: int) -> bytes:
        """One line's bytes."""
        return self.buffer[self.starts[index] : self.ends[index]].tobytes()

    def text(self, index: int) -> str:
        """One line as text."""
        return self.line(index).decode("utf-8", errors="replace")

    def none(self) -> Mask:
        """A mask of no line."""
        return np.zeros(len(self.lines), np.bool_)


def split_rows(data: bytes, first_line: int, delimiter: str) -> Rows:
    """The lines of `data`, whose first is `first_line` of the source."""
    buffer = np.frombuffer(data, np.uint8)
    feeds = positions(buffer, 10)
    starts = np.concatenate((np.zeros(1, np.int64), feeds + 1))
    ends = np.concatenate((feeds, np.full(1, len(buffer), np.int64)))
    if len(starts) and starts[-1] >= len(buffer):  # nothing behind the last line end
        starts, ends = starts[:-1], ends[:-1]
    lines = np.arange(len(starts), dtype=np.int64) + first_line
    counts, odd = _field_counts(data, buffer, starts, ends, ord(delimiter))
    return Rows(data, buffer, starts, ends, lines, counts, odd)


def _field_counts(
    data: bytes, buffer: npt.NDArray[np.uint8], starts: Ints, ends: Ints, delimiter: int
) -> tuple[Ints, Mask]:
    marks = positions(buffer, delimiter)
    if b'"' not in data:
        upto = np.searchsorted(marks, ends)
        return np.diff(upto, prepend=0).astype(np.int64), np.zeros(len(starts), np.bool_)
    quotes = positions(buffer, 34)
    line_of_quote = np.searchsorted(starts, quotes, side="right") - 1
    per_line = np.bincount(line_of_quote, minlength=len(starts))
    before_line = np.cumsum(per_line) - per_line
    line_of_mark = np.searchsorted(starts, marks, side="right") - 1
    inside = (np.searchsorted(quotes, marks) - before_line[line_of_mark]) % 2 == 1
    counts = np.bincount(line_of_mark[~inside], minlength=len(starts))
    return counts.astype(np.int64), per_line % 2 == 1


def may_be_words(rows: Rows) -> Ints:
    """Which lines may be headings: most records begin with a number or a time, and those that
    begin with a letter hold digits as well."""
    first = rows.buffer[rows.starts] if len(rows.starts) else rows.buffer
    letter = ((first | 32) >= ord("a")) & ((first | 32) <= ord("z")) | (first > 127)
    index = np.flatnonzero(letter | (first == ord('"')) | (first == ord("#")))
    if len(index) > MAX_LETTER_LINES:
        digits = _sums((rows.buffer >= 48) & (rows.buffer <= 57))
        count = digits[rows.ends[index]] - digits[rows.starts[index]]
        index = index[count * FEW_DIGITS < rows.ends[index] - rows.starts[index]]
    return index[:MAX_LETTER_LINES]


def _sums(found: npt.NDArray[np.bool_]) -> Ints:
    """How many there are before each place."""
    return np.concatenate(([0], np.cumsum(found, dtype=np.int64)))


def join_quoted(rows: Rows, layout: Layout, ledger: Ledger) -> Rows:
    """Lines that a line end inside a quoted field parts, joined where that makes a whole row."""
    patched = bytearray(rows.data)
    gone: list[int] = []
    odd = np.flatnonzero(rows.odd).tolist()[:MAX_ODD_LINES]
    i = 0
    while i + 1 < len(odd):
        first, last = odd[i], odd[i + 1]
        text = rows.data[rows.starts[first] : rows.ends[last]].decode("utf-8", errors="replace")
        fields = split_fields(text.replace("\n", " "), layout.delimiter)
        if last - first > MAX_LINES_JOINED or len(fields) != len(layout.headings):
            i += 1
            continue
        for at in range(first, last):
            patched[rows.ends[at]] = ord(" ")
            gone.append(at + 1)
        i += 2
    if not gone:
        return rows
    ledger.repair(message("joined-lines"), len(gone))
    joined = split_rows(bytes(patched), 1, layout.delimiter)
    return replace(joined, lines=np.delete(rows.lines, gone))


def repeated_headings(rows: Rows, layout: Layout) -> Mask:
    """Lines equal to one of the heading block's own, written again where a recorder restarted."""
    found = rows.none()
    for heading in layout.block:
        at = rows.data.find(heading)
        while at >= 0:
            index = int(np.searchsorted(rows.starts, at, side="right")) - 1
            if 0 <= index < len(found) and rows.line(index).strip() == heading:
                found[index] = True
            at = rows.data.find(heading, at + len(heading))
    return found


def without_record(rows: Rows, layout: Layout, irregular: Mask, ledger: Ledger) -> Mask:
    """Lines that are no records: blank ones and comments."""
    index = np.flatnonzero(irregular)
    blank, comment = rows.none(), rows.none()
    if len(index) == 0:
        return blank
    shown = _sums(rows.buffer > 32)
    visible = shown[rows.ends[index]] - shown[rows.starts[index]]
    blank[index[visible == 0]] = True
    rest = index[visible > 0]
    first = rows.buffer[rows.starts[rest]]
    if not any(line.startswith(b"#") for line in layout.block):
        comment[rest[first == ord("#")]] = True
    slashes = rest[first == ord("/")]
    comment[[i for i in slashes.tolist() if rows.line(i).startswith(b"//")]] = True
    ledger.repair(message("blank-line"), int(blank.sum()))
    ledger.repair(message("comment"), int(comment.sum()))
    return blank | comment


def set_aside_irregular(rows: Rows, layout: Layout, irregular: Mask, ledger: Ledger) -> Mask:
    """Rows with another number of fields than there are headings: which cannot be used."""
    wanted, counts, aside = len(layout.headings) - 1, rows.counts, rows.none()

    def fields(mask: Mask) -> Message:
        """How many fields the first of these rows has."""
        found = int(counts[mask.argmax()]) + 1 if mask.any() else 0
        return message("fields-found", fields=found, named=wanted + 1)

    def put(told: Message, mask: Mask) -> None:
        if mask.any():
            ledger.set_aside_rows(told, rows.lines[mask], rows.text(int(mask.argmax())))
            aside[mask] = True

    broken = irregular & rows.odd
    put(message("broken-quotes", fields=fields(broken)), broken)
    left = irregular & ~rows.odd
    long = left & (counts > wanted)
    long &= ~_only_blank_behind(rows, layout, long)
    put(message("long-row", fields=fields(long)), long)
    short = left & (counts < layout.named - 1)
    cut = rows.none()
    cut[-1:] = short[-1:] & (not rows.data.endswith(b"\n"))
    put(message("cut-record/fields", fields=fields(cut)), cut)
    footer = _footer(short & ~cut, counts, layout)
    put(message("footer-line", fields=fields(footer)), footer)
    short &= ~(cut | footer)
    whole = max(len(aside) - int(aside.sum()), 1)
    if wanted > 1 and short.sum() > SHORT_HABIT * whole and (counts[short] > 0).all():
        ledger.repair(message("trailing-blanks"), int(short.sum()))
    else:
        put(message("short-row", fields=fields(short)), short)
    return aside


def _only_blank_behind(rows: Rows, layout: Layout, long: Mask) -> Mask:
    """Long rows whose surplus is blank: a delimiter at the end of each row."""
    wanted = len(layout.headings) - 1
    index = np.flatnonzero(long)
    found = rows.none()
    one = index[rows.counts[index] == wanted + 1]
    found[one] = rows.buffer[rows.ends[one] - 1] == ord(layout.delimiter)
    for i in index[rows.counts[index] > wanted + 1][:10000].tolist():
        found[i] = not "".join(rows.text(i).split(layout.delimiter)[wanted + 1 :]).strip()
    return found


def _footer(short: Mask, counts: Ints, layout: Layout) -> Mask:
    """The run of short lines that closes the file, where a whole row stands above it."""
    found = np.zeros(len(short), np.bool_)
    last_whole = np.flatnonzero(~short)
    if len(last_whole) == 0 or len(layout.headings) < 3:
        return found
    begin = int(last_whole[-1]) + 1
    tail = counts[begin:]
    if 0 < len(tail) <= MAX_FOOTER_LINES and (tail <= len(layout.headings) / 2).all():
        found[begin:] = True
    return found
