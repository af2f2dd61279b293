"""From clean text to a frame of strings: find the headings, split the rows, count every one.

polars' own reading of a damaged CSV harms in silence (a cut record becomes a plausible number,
one odd cell turns a column to text). So the number of fields of every line is counted first,
only whole rows are handed to the parser, all as strings, and the others go to the ledger.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import polars as pl

from gearing.logs.archives import LogFileError
from gearing.logs.decimal import decimal_sign
from gearing.logs.fast_path import HEAD_ROWS, Plan, head_of, positions, read_fast
from gearing.logs.layout import Layout, clean_field, find_layout, is_heading, split_fields
from gearing.logs.ledger import Ledger
from gearing.messages import Message, UserText, message

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
class Table:
    """The rows of one stretch of a file under one row of headings.

    `frame` has a column a heading, named `c0`, `c1` ...: all of them as String, or, where the
    rows are whole and clean, the wanted ones alone, the numeric as Float64. `head` is the first
    rows of all columns as String. `lines` is the 1-based source line of each row, `cut_line`
    that of a last record without line end, or None.
    """

    layout: Layout
    frame: pl.DataFrame
    head: pl.DataFrame
    decimal: str
    lines: Ints
    cut_line: int | None
    rows: int  # met under the headings, used or set aside
    first_line: int  # source line the layout's indices count from


@dataclass(frozen=True, slots=True)
class _Span:
    """Where each line of the data lies in the buffer."""

    data: bytes
    buffer: npt.NDArray[np.uint8]
    starts: Ints
    ends: Ints  # exclusive, without the line end
    lines: Ints  # 1-based source line of each


def read_tables(
    data: bytes, ledger: Ledger, plan: Callable[[Layout], Plan | None] | None = None
) -> list[Table]:
    """The tables in `data`, one after another: a recorder that restarts with other channels
    writes other headings, and what follows them is read by them.

    `plan` says which columns are wanted under which headings; with it clean files go a short
    way.

    Raises
    ------
    LogFileError
        no row of headings is found.
    """
    tables: list[Table] = []
    first_line = 1
    while True:
        layout = find_layout(data)
        if layout is None:
            raise LogFileError(message("no-headings", begins=UserText(_head(data), "value")))
        ledger.repair(message("preamble"), layout.heading_index)
        wanted = plan(layout) if plan is not None else None
        fast = None
        if wanted is not None:
            fast = _fast_path(data, layout, wanted, first_line, ledger)
        if fast is not None:
            return [*tables, fast]
        span = _span(data[layout.data_offset :], first_line + layout.data_index)
        end = _other_headings(span, layout)
        if end is None:
            tables.append(_rows_of(span, layout, first_line, ledger))
            return tables
        ledger.repair(message("new-headings"))
        at = layout.data_offset + int(span.starts[end])
        above = _span(data[layout.data_offset : at], first_line + layout.data_index)
        tables.append(_rows_of(above, layout, first_line, ledger))
        first_line += layout.data_index + end
        data = data[at:]


def _fast_path(
    data: bytes, layout: Layout, plan: Plan, first_line: int, ledger: Ledger
) -> Table | None:
    """The short way, a last record that is cut off taken apart first."""
    end = data.rfind(b"\n") + 1
    cut = data[end:]
    if cut:
        fields = len(split_fields(cut.decode("utf-8", errors="replace"), layout.delimiter))
        plain = b'"' not in cut and not cut.startswith((b"#", b"//")) and cut.strip()
        if fields >= layout.named or not plain or cut.strip() in layout.block:
            return None
        data = data[:end]
    head = head_of(data, layout)
    # fields parted at every comma hold none
    decimal = "." if layout.delimiter == "," else decimal_sign(head, layout.delimiter)
    frame = read_fast(data, layout, plan, decimal)
    if frame is None:
        return None
    lines = np.arange(frame.height + 1, dtype=np.int64) + first_line + layout.data_index
    if cut:
        sample = cut.decode("utf-8", errors="replace")
        counts = message("fields-found", fields=fields, named=len(layout.headings))
        told = message("cut-record/fields", fields=counts)
        ledger.set_aside_rows(told, lines[-1:], sample)
    rows = frame.height + bool(cut)
    return Table(layout, frame, head, decimal, lines[:-1], None, rows, first_line)


def _other_headings(span: _Span, layout: Layout) -> int | None:
    """Index of a line below that names other headings, or None.

    Most records begin with a number or a time; only lines that do not are read.
    """
    first = span.buffer[span.starts] if len(span.starts) else span.buffer
    letter = ((first | 32) >= ord("a")) & ((first | 32) <= ord("z")) | (first > 127)
    index = np.flatnonzero(letter | (first == ord('"')) | (first == ord("#")))
    if len(index) > MAX_LETTER_LINES:  # records begin with a letter, and hold digits as well
        digits = np.concatenate(([0], np.cumsum((span.buffer >= 48) & (span.buffer <= 57))))
        count = digits[span.ends[index]] - digits[span.starts[index]]
        index = index[count * FEW_DIGITS < span.ends[index] - span.starts[index]]
        index = index[:MAX_LETTER_LINES]
    for i in index.tolist():
        line = _line(span, i)
        if line.strip() not in layout.block and is_heading(line, layout.delimiter):
            return i
    return None


def _head(data: bytes) -> str:
    return data[:60].decode("utf-8", errors="replace").split("\n", 1)[0]


def _span(data: bytes, first_line: int) -> _Span:
    buffer = np.frombuffer(data, np.uint8)
    feeds = positions(buffer, 10)
    starts = np.concatenate((np.zeros(1, np.int64), feeds + 1))
    ends = np.concatenate((feeds, np.full(1, len(buffer), np.int64)))
    if len(starts) and starts[-1] >= len(buffer):  # nothing behind the last line end
        starts, ends = starts[:-1], ends[:-1]
    lines = np.arange(len(starts), dtype=np.int64) + first_line
    return _Span(data, buffer, starts, ends, lines)


def _rows_of(span: _Span, layout: Layout, first_line: int, ledger: Ledger) -> Table:
    counts, odd = _field_counts(span, ord(layout.delimiter))
    if odd.any():
        span = _join_quoted(span, layout, np.flatnonzero(odd).tolist(), ledger)
        counts, odd = _field_counts(span, ord(layout.delimiter))
    lines = span.lines
    cut_line = int(lines[-1]) if len(lines) and not span.data.endswith(b"\n") else None
    keep = np.ones(len(lines), np.bool_)
    apart = _repeated_headings(layout, span)  # no rows: counted apart
    if apart.any():
        ledger.repair(message("repeated-heading"), int(apart.sum()))
    wanted = len(layout.headings) - 1
    least = layout.named - 1
    irregular = ((counts != wanted) | odd) & ~apart
    if irregular.any():
        apart |= _without_record(span, layout, irregular & ~apart, ledger)
        irregular &= ~apart
        keep &= ~_set_aside_irregular(
            span, layout, counts, odd, irregular, lines, cut_line, least, ledger
        )
    keep &= ~apart
    rows = int((~apart).sum())
    frame = _parse(layout, span, keep)
    if cut_line is not None and not keep[-1]:
        cut_line = None
    head, decimal = frame.head(HEAD_ROWS), decimal_sign(frame, layout.delimiter)
    return Table(layout, frame, head, decimal, lines[keep], cut_line, rows, first_line)


def _join_quoted(span: _Span, layout: Layout, odd: list[int], ledger: Ledger) -> _Span:
    """Lines that a line end inside a quoted field parts, joined where that makes a whole row."""
    patched = bytearray(span.data)
    gone: list[int] = []
    i = 0
    while i + 1 < min(len(odd), MAX_ODD_LINES):
        first, last = odd[i], odd[i + 1]
        text = span.data[span.starts[first] : span.ends[last]].decode("utf-8", errors="replace")
        fields = split_fields(text.replace("\n", " "), layout.delimiter)
        if last - first > MAX_LINES_JOINED or len(fields) != len(layout.headings):
            i += 1
            continue
        for at in range(first, last):
            patched[span.ends[at]] = ord(" ")
            gone.append(at + 1)
        i += 2
    if not gone:
        return span
    ledger.repair(message("joined-lines"), len(gone))
    joined = _span(bytes(patched), 1)
    return replace(joined, lines=np.delete(span.lines, gone))


def _field_counts(span: _Span, delimiter: int) -> tuple[Ints, Mask]:
    """Delimiters of each line, those inside quotes not counted; and where quotes do not pair."""
    buffer = span.buffer
    marks = positions(buffer, delimiter)
    odd = np.zeros(len(span.starts), np.bool_)
    quotes = positions(buffer, 34) if b'"' in span.data else marks[:0]
    if len(quotes):
        line_of_quote = np.searchsorted(span.starts, quotes, side="right") - 1
        per_line = np.bincount(line_of_quote, minlength=len(span.starts))
        odd = per_line % 2 == 1
        before_line = np.cumsum(per_line) - per_line
        line_of_mark = np.searchsorted(span.starts, marks, side="right") - 1
        inside = (np.searchsorted(quotes, marks) - before_line[line_of_mark]) % 2 == 1
        line_of_mark = line_of_mark[~inside]
        return np.bincount(line_of_mark, minlength=len(span.starts)).astype(np.int64), odd
    upto = np.searchsorted(marks, span.ends)
    counts = np.diff(upto, prepend=0).astype(np.int64)
    return counts, odd


def _line(span: _Span, index: int) -> bytes:
    return span.buffer[span.starts[index] : span.ends[index]].tobytes()


def _repeated_headings(layout: Layout, span: _Span) -> Mask:
    """Lines equal to one of the heading block's own, written again where a recorder restarted."""
    found = np.zeros(len(span.starts), np.bool_)
    for heading in layout.block:
        at = span.data.find(heading)
        while at >= 0:
            index = int(np.searchsorted(span.starts, at, side="right")) - 1
            if 0 <= index < len(found) and _line(span, index).strip() == heading:
                found[index] = True
            at = span.data.find(heading, at + len(heading))
    return found


def _without_record(span: _Span, layout: Layout, irregular: Mask, ledger: Ledger) -> Mask:
    """Lines that are no records: blank ones and comments."""
    index = np.flatnonzero(irregular)
    visible = _visible_bytes(span, index)
    blank = np.zeros(len(irregular), np.bool_)
    blank[index[visible == 0]] = True
    comment = np.zeros(len(irregular), np.bool_)
    rest = index[visible > 0]
    first = span.buffer[span.starts[rest]]
    if not any(line.startswith(b"#") for line in layout.block):
        comment[rest[first == ord("#")]] = True
    slashes = rest[first == ord("/")]
    comment[[i for i in slashes.tolist() if _line(span, i).startswith(b"//")]] = True
    ledger.repair(message("blank-line"), int(blank.sum()))
    ledger.repair(message("comment"), int(comment.sum()))
    return blank | comment


def _visible_bytes(span: _Span, index: Ints) -> Ints:
    """How many bytes of each of these lines are more than white space."""
    if len(index) == 0:
        return np.zeros(0, np.int64)
    shown = np.concatenate(([0], np.cumsum(span.buffer > 32, dtype=np.int64)))
    return np.asarray(shown[span.ends[index]] - shown[span.starts[index]])


def _set_aside_irregular(
    span: _Span,
    layout: Layout,
    counts: Ints,
    odd: Mask,
    irregular: Mask,
    lines: Ints,
    cut_line: int | None,
    least: int,
    ledger: Ledger,
) -> Mask:
    """Rows with another number of fields than there are headings: which cannot be used."""
    wanted = len(layout.headings) - 1
    aside = np.zeros(len(lines), np.bool_)

    def found(mask: Mask) -> Message:
        """How many fields the first of these rows has."""
        fields = int(counts[mask.argmax()]) + 1 if mask.any() else 0
        return message("fields-found", fields=fields, named=wanted + 1)

    def put(told: Message, mask: Mask) -> None:
        index = np.flatnonzero(mask)
        if len(index):
            sample = _line(span, int(index[0])).decode("utf-8", errors="replace")
            ledger.set_aside_rows(told, lines[index], sample)
            aside[index] = True

    broken = irregular & odd
    put(message("broken-quotes", fields=found(broken)), broken)
    left = irregular & ~odd
    long = left & (counts > wanted)
    long &= ~_only_blank_behind(span, layout, counts, long)
    put(message("long-row", fields=found(long)), long)
    short = left & (counts < least)
    if cut_line is not None and short[-1]:
        last = np.zeros(len(lines), np.bool_)
        last[-1] = True
        put(message("cut-record/fields", fields=found(last)), last)
        short &= ~last
    footer = _footer(short, counts, layout)
    put(message("footer-line", fields=found(footer)), footer)
    short &= ~footer
    whole = max(len(lines) - int(aside.sum()), 1)
    if wanted > 1 and short.sum() > SHORT_HABIT * whole and (counts[short] > 0).all():
        ledger.repair(message("trailing-blanks"), int(short.sum()))
    else:
        put(message("short-row", fields=found(short)), short)
    return aside


def _only_blank_behind(span: _Span, layout: Layout, counts: Ints, long: Mask) -> Mask:
    """Long rows whose surplus is blank: a delimiter at the end of each row."""
    wanted = len(layout.headings) - 1
    index = np.flatnonzero(long)
    found = np.zeros(len(long), np.bool_)
    one = index[counts[index] == wanted + 1]
    found[one] = span.buffer[span.ends[one] - 1] == ord(layout.delimiter)
    for i in index[counts[index] > wanted + 1][:10000].tolist():
        tail = _line(span, i).decode("utf-8", errors="replace")
        found[i] = not "".join(tail.split(layout.delimiter)[wanted + 1 :]).strip()
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


def _parse(layout: Layout, span: _Span, keep: Mask) -> pl.DataFrame:
    names = [f"c{i}" for i in range(len(layout.headings))]
    schema: dict[str, Any] = dict.fromkeys(names, pl.String)
    height = int(keep.sum())
    if height == 0:
        return pl.DataFrame(schema=schema)
    if keep.all():
        body = span.data
    else:
        lengths = np.diff(np.append(span.starts, len(span.buffer)))
        body = span.buffer[: int(lengths.sum())][np.repeat(keep, lengths)].tobytes()
    quoted = b'"' in body
    try:
        frame = pl.read_csv(
            body,
            has_header=False,
            separator=layout.delimiter,
            quote_char='"' if quoted else None,
            schema=schema,
            truncate_ragged_lines=True,
        )
    except pl.exceptions.PolarsError:
        frame = None
    if frame is None or frame.height != height or (quoted and _strange_quotes(body, layout)):
        frame = _parse_by_line(body, layout, names)
    return frame


def _strange_quotes(body: bytes, layout: Layout) -> bool:
    """A quote in mid-field, which the fast parser and the standard's readers take differently."""
    buffer = np.frombuffer(body, np.uint8)
    quotes = np.flatnonzero(buffer == 34)
    before = np.where(quotes > 0, buffer[quotes - 1], 10)
    opening = np.arange(len(quotes)) % 2 == 0
    fine = np.isin(before[opening], (10, 34, ord(layout.delimiter)))
    return not bool(fine.all())


def _parse_by_line(body: bytes, layout: Layout, names: list[str]) -> pl.DataFrame:
    """Line by line with the standard library: for the few files the fast parser refuses."""
    width = len(names)
    rows = []
    for line in body.decode("utf-8", errors="replace").removesuffix("\n").split("\n"):
        fields = next(csv.reader([line], delimiter=layout.delimiter), [])
        rows.append([clean_field(f) or None for f in (fields + [""] * width)[:width]])
    return pl.DataFrame(rows, schema=dict.fromkeys(names, pl.String), orient="row")
