"""Companion files: tables beside the logs, read like them, by the one table of headings.

What each kind carries, and what is made of its rows, stands in a module of its own: `weather`,
`fillups`, `profiles`, `dash_rows`.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import polars as pl

from gearing.logs.archives import LogFileError
from gearing.logs.assign import Candidate, assign, candidates
from gearing.logs.channels import FLAGS, Channel, read_channel, read_numbers
from gearing.logs.column_rule import ColumnRule, rule_line
from gearing.logs.compound import with_whole_values
from gearing.logs.endings import file_name
from gearing.logs.evidence import units_to_ask
from gearing.logs.headings import short_name
from gearing.logs.kinds import DASH, LOG, PROFILE, kind_of, named_by, other_kind
from gearing.logs.ledger import Ledger, answer, proposed_lines
from gearing.logs.notebook_columns import named_by_unit, tellers_first, unit_by_others
from gearing.logs.samples import Context
from gearing.logs.table import Table, read_tables
from gearing.logs.text import load_text
from gearing.logs.timestamps.date_order import ORDERS, DateOrder, shortened
from gearing.logs.timestamps.utc import read_times, rises
from gearing.logs.values import Numbers, to_numbers
from gearing.messages import Problem, Severity, UserText, message, problem_of

_WORDS = {"indicated_distance_m": "odometer"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What a kind of companion file carries, and where it is written unlike a log."""

    what: str  # as `gearing.logs.kinds` names it
    names: tuple[str, ...]  # quantities
    timed: bool = True
    must: tuple[str, ...] = ()  # what the file cannot do without
    means: Mapping[str, str] = field(default_factory=dict)  # headings' meanings in place of others
    units: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # that serve, where asked
    unpack: Callable[[Table], Table] | None = None
    choose: Callable[[list[Candidate], Table], tuple[list[Candidate], Table]] | None = None
    numbers: Callable[[Candidate, str, Table], Numbers] | None = None
    finish: Callable[[pl.DataFrame, Table, Ledger], pl.DataFrame] | None = None


@dataclass(frozen=True, slots=True)
class Written:
    """How the keeper of a notebook writes: the units of its columns, as the file's own dates prove
    it the order of day and month, and whether its times name no zone."""

    file: str
    units: Mapping[str, str] = field(default_factory=dict)
    date_order: str = ""
    local: bool = False

    @property
    def order(self) -> DateOrder | None:
        """The order the dates prove, None where they leave it open."""
        if self.date_order not in ORDERS:
            return None
        return DateOrder(self.date_order, shortened([self.file]))


@dataclass(frozen=True, slots=True)
class Companion:
    """A companion file's rows, and everything that was set aside, repaired or asked."""

    frame: pl.DataFrame
    problems: tuple[Problem, ...]
    set_aside_rows: tuple[Problem, ...] = ()  # of the problems, those of rows
    set_aside_values: tuple[Problem, ...] = ()  # and those of single values
    written: Written | None = None  # of a notebook

    @property
    def questions(self) -> tuple[Problem, ...]:
        """What the file leaves open."""
        return tuple(p for p in self.problems if p.severity is Severity.QUESTION)


@dataclass(frozen=True, slots=True)
class RowsRead:
    """A companion on its way: `frame` has `line`, `time` where rows are timed, `shown` (the
    odometer as written) and the values by quantity, each a Float64 column; null where missing. Of
    timed rows that must have values, `undated` counts those up to here that have all but a time."""

    frame: pl.DataFrame
    columns: dict[str, Candidate]
    headings: tuple[str, ...]
    ledger: Ledger
    written: Written


def companion_of(frame: pl.DataFrame, ledger: Ledger) -> Companion:
    """The rows with all that the ledger holds of them."""
    rows, values = tuple(ledger.rows), tuple(ledger.values)
    return Companion(frame, (*ledger.questions, *rows, *values, *ledger.repairs), rows, values)


def no_rows(kind: Kind) -> pl.DataFrame:
    """The frame of a file that gave none."""
    schema: dict[str, pl.DataType] = {"time": pl.Datetime("us", "UTC")} if kind.timed else {}
    for name in kind.names:
        schema[name] = pl.Boolean() if name in FLAGS else pl.Float64()
    return pl.DataFrame(schema=schema)


def read_rows(
    path: Path,
    time_zone: str,
    rules: tuple[ColumnRule, ...],
    kind: Kind,
    like: Written | None = None,
) -> RowsRead | Companion:
    """The rows of all tables in the file: whoever keeps it may write new headings half-way.
    `like`: how another notebook of the same owner is written, where this one leaves it open."""
    ledger = Ledger(file_name(path))
    try:
        text = load_text(path)
        for told, count in text.repairs:
            ledger.repair(told, count)
        tables = read_tables(text.data, ledger)
    except LogFileError as fault:
        return Companion(no_rows(kind), (problem_of(fault.told, file=file_name(path)),))
    tables = [with_whole_values(kind.unpack(one) if kind.unpack else one) for one in tables]
    if not rules and (other := _other_kind(tables, kind)):
        told = other_kind(other, kind.what, ledger.file)
        return Companion(no_rows(kind), (problem_of(told, file=ledger.file),))
    like = like or Written(ledger.file)
    context = Context(path, rules, time_zone, ledger, text.name, like.order)
    read = [_read_table(table, context, kind, like) for table in tables]
    rows = [one.frame for one in read if one.frame.height]
    if not rows:
        return companion_of(no_rows(kind), ledger)
    columns = {name: c for one in read for name, c in one.columns.items()}
    headings = tuple(dict.fromkeys(heading for one in read for heading in one.headings))
    units = {name: unit for one in read for name, unit in one.written.units.items()}
    order = next((one.written.date_order for one in read if one.written.date_order), "")
    written = Written(ledger.file, units, order, ledger.local_times)
    return RowsRead(pl.concat(rows), columns, headings, ledger, written)


def _other_kind(tables: Sequence[Table], kind: Kind) -> str:
    """What the headings say the file is, where that is another kind which lacks what this one
    cannot do without, a time included; a log's speed is no reading of the dash."""
    named = {n for t in tables for n in named_by(t.layout.headings, t.layout.units)}
    other = kind_of(named)
    mine = {kind.means.get(name, name) for name in named} & set(kind.names)
    lacks = not mine or not mine >= set(kind.must) or (kind.timed and other == PROFILE)
    return other if other != kind.what and (lacks or (kind.what, other) == (DASH, LOG)) else ""


def _read_table(table: Table, context: Context, kind: Kind, like: Written) -> RowsRead:
    ledger, names, units, order = context.ledger, kind.names, dict(like.units), ""
    layout = table.layout
    found = candidates(layout.headings, layout.units, context.rules, companion=True)
    every = named_by_unit([_meant(c, kind) for c in found], names)
    allowed = (*names, "time", "date", "elapsed")
    unknown = tuple(c for c in every if c.target not in allowed and c.heading and c.rule is None)
    mine = [c for c in every if c.target in allowed]
    if kind.choose:
        mine, table = kind.choose(mine, table)
    assignment = assign(mine, table.frame, ledger)
    frame = pl.DataFrame({"line": pl.Series(table.lines, dtype=pl.UInt32)})
    if kind.timed:
        others = (*assignment.unused, *unknown)
        moments = read_times(table, assignment.times, others, context, day_is_enough=True)
        if moments.us is None:
            ledger.set_aside_rows(message("time-unknown"), table.lines)
            _ask_missing(assignment.channels, unknown, kind, table, ledger)
            return RowsRead(frame.clear(), assignment.channels, layout.headings, ledger, like)
        order = moments.order
        time = moments.us.cast(pl.Datetime("us")).dt.replace_time_zone("UTC")
        frame = frame.with_columns(time.alias("time"))
    read = {
        name: _values(name, assignment.channels[name], table, kind, units, ledger)
        for name in tellers_first(assignment.channels)
    }
    values = {name: series for name, series in read.items() if series is not None}
    _ask_missing(values, unknown, kind, table, ledger)
    odometer = assignment.channels.get("indicated_distance_m")
    shown = table.frame[odometer.column] if odometer else pl.lit(None, pl.String)
    empty = pl.lit(None, pl.Float64)
    frame = frame.with_columns(shown.alias("shown"), *(empty.alias(name) for name in names))
    frame = frame.with_columns(series.alias(name) for name, series in values.items())
    if kind.timed and kind.must:
        # a row that only its date keeps out lies between those before and behind it
        whole = pl.all_horizontal(pl.col(name).is_not_null() for name in kind.must)
        frame = frame.with_columns(undated=(whole & pl.col("time").is_null()).cum_sum())
    if kind.timed:
        frame = frame.filter(pl.col("time").is_not_null())
    frame = kind.finish(frame, table, ledger) if kind.finish else frame
    written = Written(ledger.file, units, order, ledger.local_times)
    return RowsRead(frame, assignment.channels, layout.headings, ledger, written)


def _meant(c: Candidate, kind: Kind) -> Candidate:
    """Open headings mean what the companion has: a weather file's temperature is the air's."""
    target = kind.means.get(c.target or "")
    return c if target is None else replace(c, target=target, is_open=False)


def _values(
    name: str, c: Candidate, table: Table, kind: Kind, units: dict[str, str], ledger: Ledger
) -> pl.Series | None:
    """The column in the unit of its quantity; None where that is not known. A word that cannot
    be read is no tick, and what a price cannot be read from is no fault. `units`: those of the
    columns read before; its own is added."""
    cells = table.frame[c.column]
    numbers = (
        kind.numbers(c, name, table)
        if kind.numbers
        else read_numbers(name, cells, None, table.decimal)
    )
    told = replace(numbers, bad=numbers.bad & False) if name == "price" else numbers
    open_unit = c.unit is None and not c.unit_text and numbers.unit is None
    if open_unit and (others := unit_by_others(name, units, c.heading)):
        c = replace(c, unit=others[0])
        ledger.repair(others[1], column=c.heading)
    channel = read_channel(name, c, told, cells, table.lines, ledger, units=kind.units.get(name))
    if not isinstance(channel, Channel):
        return None
    units[name] = channel.unit
    return channel.values.set(numbers.bad, 0.0) if name in FLAGS else channel.values


def _ask_missing(
    found: Container[str],
    open_columns: Sequence[Candidate],
    kind: Kind,
    table: Table,
    ledger: Ledger,
) -> None:
    """What the file cannot do without, and which of its headings there are to choose from."""
    numeric = [c for c in open_columns if _is_numeric(table.head()[c.column], table.decimal)]
    rising = [c.heading for c in numeric if rises(table.head()[c.column], table.decimal)]
    others = [c.heading for c in numeric if c.heading not in rising]
    asked = [line for question in ledger.questions for line in proposed_lines(question)]
    for name in kind.must:
        if name in found or any(short_name(name) in line for line in asked):
            continue
        if name == "altitude_m" and "grade_percent" in found:
            continue
        units = kind.units.get(name) or units_to_ask(name)
        counts = name in ("distance_m", "indicated_distance_m")
        columns = (rising or others) if counts else (others or rising)
        lines = [rule_line(h, name, unit) for h in columns for unit in units]
        if name == "altitude_m":
            lines += [rule_line(h, "grade_percent", "%") for h in others]
        told = message(
            "which-name/beside",
            file=UserText(ledger.file, "file"),
            channel=UserText(_WORDS.get(name) or short_name(name)),
            answer=answer(lines),
        )
        ledger.ask(told)


def _is_numeric(cells: pl.Series, decimal: str) -> bool:
    numbers = to_numbers(cells, decimal)
    return numbers.values.null_count() * 2 < len(cells)
