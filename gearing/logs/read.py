"""One log file to one Reading: the way through this folder, in the order data flows."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import polars as pl

from gearing.logs.answers import usable_for
from gearing.logs.archives import LogFileError, LogSource
from gearing.logs.column_rule import ColumnRule, rules_for
from gearing.logs.endings import file_name
from gearing.logs.gpx import is_gpx, read_gpx
from gearing.logs.kinds import LOG, kind_of, named_by, other_kind
from gearing.logs.ledger import Ledger
from gearing.logs.model import Dialect, Reading, empty_samples
from gearing.logs.nmea import is_nmea, read_nmea
from gearing.logs.samples import Context, Part, join_parts, plan, read_part
from gearing.logs.table import read_tables
from gearing.logs.text import Text, load_text
from gearing.logs.timestamps.date_order import OPEN, DateOrder
from gearing.messages import Message, UserText, message, problem_of

LARGEST_BESIDE = 8_000_000  # bytes: a weather station's decade


def read_log(
    source: Path | LogSource,
    *,
    name: str | None = None,
    rules: tuple[ColumnRule, ...] = (),
    time_zone: str = "UTC",
    order: DateOrder | None = None,
) -> Reading:
    """Read one log of any dialect, a file or one of several in an archive.

    `name` is the one shown, else the file's own; `rules` are the study's [columns]; `time_zone` is
    that of local times in the log; `order` that of day and month where its dates leave it open. A
    bad log never raises: the reading is then empty and says why.
    """
    source = LogSource(source) if isinstance(source, Path) else source
    path = source.path / source.inner if source.inner else source.path
    ledger = Ledger(name or source.shown(file_name(source.path)))
    try:
        text = load_text(source.path, source.member)
    except LogFileError as fault:
        return _nothing(fault, ledger, b"", Dialect(kind="unknown"))
    for told, count in text.repairs:
        ledger.repair(told, count)
    mine = rules_for(rules, path.as_posix())
    context = Context(path, mine, time_zone, ledger, text.name, order)
    try:
        return _read_text(text, context)
    except MemoryError:
        full = LogFileError(message("unreadable-file/too-large"))
        return _nothing(full, Ledger(ledger.file), text.data, Dialect(kind="unknown"))
    except (Exception, pl.exceptions.PanicException) as error:
        # one log must never stop a batch; tests hold that no damaged file comes here
        words = UserText(f"{type(error).__name__}: {error}", "system")
        own = LogFileError(message("reader-fault", system=words))
        kind = Dialect(kind="unknown", encoding=text.encoding, compression=text.compression)
        return _nothing(own, Ledger(ledger.file), text.data, kind)


def _read_text(text: Text, context: Context) -> Reading:
    ledger = context.ledger
    dialect = Dialect(
        kind="unknown",
        encoding=text.encoding,
        compression=text.compression,
        line_end=text.line_end,
    )
    try:
        if is_gpx(text.data):
            parts = [read_gpx(text.data, context)]
        elif is_nmea(text.data):
            parts = [read_nmea(text.data, context)]
        else:
            tables = read_tables(text.data, ledger, lambda layout: plan(layout, context))
            parts = [read_part(table, context) for table in tables]
    except LogFileError as fault:
        return _nothing(fault, ledger, text.data, dialect)
    reading = _reading(parts, dialect, context)
    return _if_a_log(reading, text, context)


def _if_a_log(reading: Reading, text: Text, context: Context) -> Reading:
    """The reading, or none of a file that is good for nothing as a log and that the headings show
    to be of another kind."""
    if reading.good_for or context.rules or len(text.data) > LARGEST_BESIDE:
        return reading
    units = tuple(column.unit or "" for column in reading.columns)
    other = kind_of(named_by(reading.headings, units))
    if other in ("", LOG):
        return reading
    told = other_kind(other, LOG, reading.file)
    return _set_aside(told, context.ledger, reading.rows_read, reading.dialect)


def _reading(parts: list[Part], dialect: Dialect, context: Context) -> Reading:
    ledger = context.ledger
    samples = join_parts(parts, ledger)
    rows_read = sum(part.rows for part in parts)
    if rows_read == 0:
        ledger.rows.append(problem_of(message("no-records"), file=ledger.file, count=0))
    first = parts[0]
    written = replace(
        dialect,
        kind=first.kind,
        delimiter=first.delimiter,
        decimal=first.decimal,
        heading_line=first.heading_line,
        units_line=first.units_line,
        time_form=first.time_form,
        local=ledger.local_times,
        heading_lines=sum(part.heading_lines for part in parts),
    )
    columns = tuple(column for part in parts for column in part.columns)
    reading = _told(ledger, samples, rows_read, written)
    return replace(reading, columns=columns, date_order=_order_of(parts))


def _told(ledger: Ledger, samples: pl.DataFrame, rows_read: int, dialect: Dialect) -> Reading:
    """A reading with all that the ledger holds."""
    good_for, missing = usable_for(tuple(samples.columns))
    return Reading(
        file=ledger.file,
        samples=samples,
        rows_read=rows_read,
        rows_used=rows_read - ledger.count_rows,
        set_aside_rows=tuple(ledger.rows),
        set_aside_values=tuple(ledger.values),
        repairs=tuple(ledger.repairs),
        questions=tuple(ledger.questions),
        columns=(),
        dialect=dialect,
        good_for=good_for,
        missing=missing,
    )


def _order_of(parts: list[Part]) -> str:
    """That of all parts; what one leaves open is open."""
    found = {part.date_order for part in parts} - {""}
    return OPEN if OPEN in found else found.pop() if len(found) == 1 else ""


def _nothing(fault: LogFileError, ledger: Ledger, data: bytes, dialect: Dialect) -> Reading:
    """A reading of a file that cannot be used: every line of it set aside, with the reason."""
    rows = max(sum(1 for line in data.split(b"\n") if line.strip()), 1)
    return _set_aside(fault.told, ledger, rows, dialect)


def _set_aside(told: Message, ledger: Ledger, rows: int, dialect: Dialect) -> Reading:
    """A reading of a file that is set aside whole, which leaves nothing to ask."""
    ledger.rows = [problem_of(told, file=ledger.file, count=rows)]
    ledger.values, ledger.questions = [], []
    return _told(ledger, empty_samples(), rows, dialect)
