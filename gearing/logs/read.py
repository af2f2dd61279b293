"""One log file to one Reading: the way through this folder, in the order data flows."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from gearing.logs.answers import what_it_is_good_for
from gearing.logs.ledger import Ledger
from gearing.logs.model import Column, Dialect, Reading, empty_samples
from gearing.logs.samples import Context, Part, join_parts, read_part
from gearing.logs.table import read_table
from gearing.logs.text import FileFault, Text, load_text
from gearing.study.model import ColumnRule


def read_log(
    path: Path,
    *,
    rules: tuple[ColumnRule, ...] = (),
    time_zone: str = "UTC",
    start: datetime | None = None,
) -> Reading:
    """Read one log of any dialect.

    `rules` are the study's [columns]; `time_zone` is that of local times in the log; `start` is
    the moment elapsed time counts from, where the log does not say. A bad log never raises: the
    reading is then empty and says why.
    """
    ledger = Ledger(path.name)
    try:
        text = load_text(path)
    except FileFault as fault:
        return _nothing(fault, ledger, 0, Dialect(kind="unknown"))
    for code, count in text.repairs:
        ledger.repair(code, count)
    context = Context(path, rules, time_zone, start, ledger, text.name)
    return _read_text(text, context)


def _read_text(text: Text, context: Context) -> Reading:
    ledger = context.ledger
    dialect = Dialect(
        kind="unknown",
        encoding=text.encoding,
        compression=text.compression,
        line_end=text.line_end,
    )
    try:
        table, rows = read_table(text.data, ledger)
    except FileFault as fault:
        lines = sum(1 for line in text.data.split(b"\n") if line.strip())
        return _nothing(fault, ledger, lines, dialect)
    part = read_part(table, rows, context)
    return _reading([part], dialect, context)


def _reading(parts: list[Part], dialect: Dialect, context: Context) -> Reading:
    ledger = context.ledger
    samples = join_parts(parts, ledger)
    rows_read = sum(part.rows for part in parts)
    columns = tuple(column for part in parts for column in part.columns)
    good_for, missing = what_it_is_good_for(tuple(samples.columns))
    first = parts[0]
    return Reading(
        file=ledger.file,
        samples=samples,
        rows_read=rows_read,
        rows_used=rows_read - ledger.count_rows,
        set_aside_rows=tuple(ledger.rows),
        set_aside_values=tuple(ledger.values),
        repairs=tuple(ledger.repairs),
        questions=tuple(ledger.questions),
        columns=_with_ranges(columns, samples),
        dialect=Dialect(
            kind=first.kind,
            encoding=dialect.encoding,
            compression=dialect.compression,
            delimiter=first.delimiter,
            decimal=first.decimal,
            heading_line=first.heading_line,
            units_line=first.units_line,
            line_end=dialect.line_end,
            time_form=first.time_form,
        ),
        good_for=good_for,
        missing=missing,
    )


def _with_ranges(columns: tuple[Column, ...], samples: object) -> tuple[Column, ...]:
    return columns


def _nothing(fault: FileFault, ledger: Ledger, rows: int, dialect: Dialect) -> Reading:
    """A reading of a file that cannot be used: every line of it set aside, with the reason."""
    from gearing.logs.reasons import problem

    ledger.rows.append(problem(fault.code, file=ledger.file, detail=fault.detail, count=rows))
    good_for, missing = what_it_is_good_for(())
    return Reading(
        file=ledger.file,
        samples=empty_samples(),
        rows_read=rows,
        rows_used=0,
        set_aside_rows=tuple(ledger.rows),
        set_aside_values=(),
        repairs=tuple(ledger.repairs),
        questions=tuple(ledger.questions),
        columns=(),
        dialect=dialect,
        good_for=good_for,
        missing=missing,
    )
