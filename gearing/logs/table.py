"""From clean text to a frame of strings: find the headings, split the rows, count every one."""

from __future__ import annotations

import functools
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import polars as pl

from gearing.logs.archives import LogFileError
from gearing.logs.decimal import decimal_sign
from gearing.logs.fast_path import HEAD_ROWS, Plan, head_of, read_fast
from gearing.logs.layout import (
    DELIMITERS,
    FEW_RECORDS,
    HEAD_BYTES,
    SURE_RECORDS,
    Layout,
    find_layout,
    is_heading,
    is_record,
    is_units_row,
    split_fields,
    unbroken_headings,
)
from gearing.logs.ledger import Ledger
from gearing.logs.rows import (
    Ints,
    Mask,
    Rows,
    join_quoted,
    may_be_words,
    repeated_headings,
    set_aside_irregular,
    split_rows,
    without_record,
)
from gearing.logs.thousands import in_groups, may_part_thousands
from gearing.messages import Message, UserText, message

_RUN = re.compile(rb" {2,}")


@dataclass(frozen=True, slots=True)
class Table:
    """The rows of one stretch of a file under one row of headings.

    `frame` has a column a heading, named `c0`, `c1` ...: all of them as String, or, where the
    rows are whole and clean, the wanted ones alone, the numeric as Float64. `head` gives the
    first rows of all columns as String, made when asked. `lines` is the 1-based source line of
    each row, `cut_line` that of a last record without line end, or None.
    """

    layout: Layout
    frame: pl.DataFrame
    head: Callable[[], pl.DataFrame]
    decimal: str
    lines: Ints
    cut_line: int | None
    rows: int  # met under the headings, used or set aside
    first_line: int  # source line the layout's indices count from


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
    early: list[int] = []
    data, broken = unbroken_headings(data)
    ledger.repair(message("joined-lines"), broken)
    first_line = 1 + broken
    while True:
        layout = find_layout(data)
        if layout is None and (parted := _parted_by_blanks(data)) is not None:
            ledger.repair(message("parted-by-blanks"))
            data = parted
            layout = find_layout(data)
        if layout is None or _stands_below(layout, data):
            raise LogFileError(_no_headings(data, below=layout is not None))
        early = early if tables else _records_above(layout)
        ledger.repair(message("preamble"), layout.heading_index - len(early) * (not tables))
        wanted = plan(layout) if plan is not None else None
        fast = None
        if wanted is not None:
            fast = _fast_path(data, layout, wanted, first_line, ledger)
        if fast is not None:
            return _with_above([*tables, fast], early, ledger)
        first_row = first_line + layout.data_index
        rows = split_rows(data[layout.data_offset :], first_row, layout.delimiter)
        end = _other_headings(rows, layout)
        if end is None:
            tables.append(_rows_of(rows, layout, first_line, ledger))
            return _with_above(tables, early, ledger)
        ledger.repair(message("new-headings"))
        at = layout.data_offset + int(rows.starts[end])
        above = split_rows(data[layout.data_offset : at], first_row, layout.delimiter)
        tables.append(_rows_of(above, layout, first_line, ledger))
        first_line += layout.data_index + end
        data = data[at:]


def _parted_by_blanks(data: bytes) -> bytes | None:
    """The text with a tab for each run of two blanks or more, where lines hold no other sign that
    parts fields and mostly have such runs; else None."""
    lines = [line.strip() for line in data[:HEAD_BYTES].split(b"\n")[:-1] if line.strip()]
    runs = [len(_RUN.findall(line)) for line in lines]
    if len(lines) < FEW_RECORDS or sorted(runs)[len(runs) // 2] < 1:
        return None
    if any(sign.encode() in line for line in lines for sign in DELIMITERS):
        return None
    return _RUN.sub(b"\t", re.sub(rb"(?m)^[ ]+", b"", data))


def _records_above(layout: Layout) -> list[int]:
    """The lines above the headings that look like the records below, by index."""
    width = len(layout.headings)
    found = [i for i, one in enumerate(layout.preamble) if is_record(one, layout.delimiter, width)]
    return found if width > 2 and len(found) >= FEW_RECORDS else []


def _with_above(tables: list[Table], above: list[int], ledger: Ledger) -> list[Table]:
    """The tables, with the rows above the headings of the first set aside."""
    if not above:
        return tables
    first = tables[0]
    ledger.set_aside_rows(message("above-headings"), np.array(above) + first.first_line)
    return [replace(first, rows=first.rows + len(above)), *tables[1:]]


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
    head = functools.cache(lambda: head_of(data, layout))
    # fields parted at every comma hold none
    decimal = "." if layout.delimiter == "," else decimal_sign(head(), layout.delimiter)
    frame = read_fast(data, layout, plan, decimal)
    if frame is None or _may_part(frame, head, decimal):
        return None
    lines = np.arange(frame.height + 1, dtype=np.int64) + first_line + layout.data_index
    if cut:
        sample = cut.decode("utf-8", errors="replace")
        counts = message("fields-found", fields=fields, named=len(layout.headings))
        told = message("cut-record/fields", fields=counts)
        ledger.set_aside_rows(told, lines[-1:], sample)
    rows = frame.height + bool(cut)
    return Table(layout, frame, head, decimal, lines[:-1], None, rows, first_line)


def _may_part(frame: pl.DataFrame, head: Callable[[], pl.DataFrame], decimal: str) -> bool:
    """Whether a column of numbers may have thousands parted by the decimal sign."""
    return any(
        in_groups(head().get_column(column.name), decimal)
        for column in frame.get_columns()
        if column.dtype == pl.Float64 and may_part_thousands(column)
    )


def _other_headings(rows: Rows, layout: Layout) -> int | None:
    """Index of a line below that names other headings, or the same over other units; or None."""
    for i in may_be_words(rows).tolist():
        line = rows.line(i)
        if line.strip() in layout.block:
            other = i + 1 < len(rows.starts) and is_units_row(rows.line(i + 1), layout)
        else:
            other = is_heading(line, layout.delimiter)
        if other:
            return int(i)
    return None


def _stands_below(layout: Layout, data: bytes) -> bool:
    """Whether headings close the file, below its records."""
    return layout.heading_index >= SURE_RECORDS and not data[layout.data_offset :].strip()


def _no_headings(data: bytes, *, below: bool) -> Message:
    """Why no headings were found, and what to do."""
    begins = UserText(data[:60].decode("utf-8", errors="replace").split("\n", 1)[0], "value")
    if below:
        return message("no-headings/below", begins=begins)
    if data.lstrip()[:1] == b"<":
        return message("no-headings/markup", begins=begins)
    if data.lstrip()[:1] in (b"{", b"["):
        return message("no-headings/json", begins=begins)
    return message("no-headings", begins=begins)


def _rows_of(rows: Rows, layout: Layout, first_line: int, ledger: Ledger) -> Table:
    if rows.odd.any():
        rows = join_quoted(rows, layout, ledger)
    apart = repeated_headings(rows, layout)  # no rows: counted apart
    ledger.repair(message("repeated-heading"), int(apart.sum()))
    irregular = ((rows.counts != len(layout.headings) - 1) | rows.odd) & ~apart
    apart |= without_record(rows, layout, irregular, ledger)
    irregular &= ~apart
    keep = ~apart
    if irregular.any():
        keep &= ~set_aside_irregular(rows, layout, irregular, ledger)
    cut = bool(len(keep)) and bool(keep[-1]) and not rows.data.endswith(b"\n")
    frame = _parse(layout, rows, keep)
    return Table(
        layout=layout,
        frame=frame,
        head=functools.cache(lambda: frame.head(HEAD_ROWS)),
        decimal=decimal_sign(frame, layout.delimiter),
        lines=rows.lines[keep],
        cut_line=int(rows.lines[-1]) if cut else None,
        rows=int((~apart).sum()),
        first_line=first_line,
    )


def _parse(layout: Layout, rows: Rows, keep: Mask) -> pl.DataFrame:
    names = [f"c{i}" for i in range(len(layout.headings))]
    schema: dict[str, Any] = dict.fromkeys(names, pl.String)
    height = int(keep.sum())
    if height == 0:
        return pl.DataFrame(schema=schema)
    if keep.all():
        body = rows.data
    else:
        lengths = np.diff(np.append(rows.starts, len(rows.buffer)))
        body = rows.buffer[: int(lengths.sum())][np.repeat(keep, lengths)].tobytes()
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
        fields = split_fields(line, layout.delimiter) + [""] * width
        rows.append([field or None for field in fields[:width]])
    return pl.DataFrame(rows, schema=dict.fromkeys(names, pl.String), orient="row")
