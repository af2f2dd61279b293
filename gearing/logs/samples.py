"""A table of strings to samples: the clock, the numbers, the units, the checks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import polars as pl

from gearing.logs.assign import UNKNOWN, Assignment, Candidate, assign, candidates
from gearing.logs.channels import FLAGS, SPEEDS, Channel, read_channels
from gearing.logs.checks import check_samples
from gearing.logs.column_rule import ColumnRule
from gearing.logs.compound import has_compounds, with_whole_values, without_parts
from gearing.logs.evidence import are_no_seconds, time_scale
from gearing.logs.fast_path import Plan
from gearing.logs.headings import ROLES
from gearing.logs.held import hold_unchanged
from gearing.logs.lacking import wanted_names
from gearing.logs.layout import Layout
from gearing.logs.ledger import Ledger, Lines
from gearing.logs.longform import is_long, widen
from gearing.logs.model import Column, How, empty_samples
from gearing.logs.order import in_order, sort_rows
from gearing.logs.placed import as_driven
from gearing.logs.polled import one_row_a_time, pair_positions
from gearing.logs.positions import POSITION
from gearing.logs.several import first_table, refuse_several, says_whose
from gearing.logs.sides import beside_positions, sides_by_letters
from gearing.logs.table import Table
from gearing.logs.timestamps.date_order import DateOrder
from gearing.logs.timestamps.utc import UtcTimes, ask_count, read_times
from gearing.messages import Message, UserText, message
from gearing.quantities import QUANTITIES

FIRST_CELLS = 200  # that tell whether a column holds numbers


@dataclass(frozen=True, slots=True)
class Context:
    """What is the same for all of one file."""

    path: Path
    rules: tuple[ColumnRule, ...]
    time_zone: str
    ledger: Ledger
    name: str  # of the file itself, inside an archive
    order: DateOrder | None = None  # of day and month, as other logs prove it
    zone_given: bool = False  # the file itself says that its times are of `time_zone`


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """The samples of one stretch of a file under one row of headings."""

    samples: pl.DataFrame
    rows: int
    columns: tuple[Column, ...]
    kind: str
    delimiter: str = ""
    decimal: str = "."
    heading_line: int | None = None
    units_line: int | None = None
    heading_lines: int = 0
    time_form: tuple[Message, ...] = ()
    date_order: str = ""


def read_part(table: Table, context: Context) -> Part:
    """Samples of one table; every row that does not become one goes to the ledger."""
    ledger, table = context.ledger, with_whole_values(table)
    layout = table.layout
    decimal, frame, lines = table.decimal, table.frame, table.lines
    found = candidates(layout.headings, layout.units, context.rules)
    found = without_parts(found, layout.headings)
    kind = "table"
    if is_long(found):
        kind = "long table"
        wide, lines, found = widen(frame, lines, found, context.rules, ledger)
        frame, table = wide, replace(table, frame=wide, lines=lines, head=lambda: wide)
    refuse_several(found, frame)
    found = sides_by_letters(first_table(found, frame, lines, ledger), frame)
    assignment = assign(found, frame, ledger)
    moments = read_times(table, assignment.times, assignment.unused, context)
    part = Part(
        samples=empty_samples(),
        rows=table.rows,
        columns=(),
        kind=kind,
        delimiter=layout.delimiter,
        decimal=decimal,
        heading_line=layout.heading_index + table.first_line if layout.data_index else None,
        units_line=None if layout.units_index is None else layout.units_index + table.first_line,
        heading_lines=layout.data_index - layout.heading_index,
        time_form=moments.form,
        date_order=moments.order,
    )
    channels, left = read_channels(assignment, frame, lines, moments, decimal, ledger)
    timed = moments.us.is_not_null().to_numpy() if moments.us is not None else slice(None)
    moments = _by_motion(moments, channels, assignment.times, ledger)
    channels, asked = as_driven(channels, assignment.channels, moments.relative_us, ledger)
    wanted_names(assignment, lambda c: _is_numeric(table.head()[c.column], decimal), ledger)
    columns = _columns(found, assignment, channels, left | asked, table, decimal)
    if moments.us is None:
        ledger.set_aside_rows(message("time-unknown"), lines[timed])  # not those set aside before
        return replace(part, columns=columns)
    if table.cut_line is not None:
        channels = _doubt_last(channels, found, frame, lines, ledger)
    values = {name: channels[name].values for name in QUANTITIES if name in channels}
    rows = {"line": pl.Series(lines, dtype=pl.UInt32), "us": moments.us} | values
    samples = in_order(pl.DataFrame(rows), ledger)
    if kind == "long table":
        samples = one_row_a_time(samples)
    blank = [name for name, channel in channels.items() if channel.blanks]
    samples = pair_positions(hold_unchanged(samples, blank, ledger), ledger)
    samples = check_samples(samples, {n: c.heading for n, c in channels.items()}, ledger)
    if kind == "table" and _sparse(samples):
        part = replace(part, kind="sparse table")
    return replace(part, samples=samples, columns=columns)


def _by_motion(
    moments: UtcTimes,
    channels: dict[str, Channel],
    times: tuple[Candidate, ...],
    ledger: Ledger,
) -> UtcTimes:
    """The moments with a count of no given unit in the one that positions and speed agree on; none
    where it is asked for, for as it is taken no vehicle moves so."""
    if moments.us is None or moments.count_us is None:
        return moments
    seconds = moments.us.cast(pl.Float64).to_numpy() / 1e6
    values = {name: channel.values.to_numpy() for name, channel in channels.items()}
    names, scale = (*POSITION, SPEEDS[0]), None
    if all(name in values for name in names):
        scale = time_scale(seconds, *(values[name] for name in names))
    if scale is None:
        if not are_no_seconds(seconds, (values[name] for name in SPEEDS if name in values)):
            return moments
        ask_count(times[0], ledger, too_fast=True)
        return replace(moments, us=None)
    more = (moments.count_us * (scale - 1)).round(0).cast(pl.Int64)
    ledger.repair(message("time-by-positions", scale=UserText(f"{scale:.4g}")))
    return replace(moments, us=moments.us + more, relative_us=moments.us + more)


def plan(layout: Layout, context: Context) -> Plan | None:
    """Which columns to read straight to numbers; None for long tables, whose cells are mixed, and
    where a column may hold a part of a value or two."""
    found = candidates(layout.headings, layout.units, context.rules)
    if is_long(found) or has_compounds(layout):
        return None
    known = [c for c in found if c.target is not None]
    text = {c.index for c in known if c.target in (*ROLES, "gear", *FLAGS)}
    numbers = frozenset(c.index for c in known) - text
    text |= {c.index for c in found if says_whose(c)} | beside_positions(found)
    return Plan(numbers, frozenset(text))


def _is_numeric(cells: pl.Series, decimal: str) -> bool:
    return _mostly_given(_as_numbers(cells, decimal))


def _mostly_given(numbers: pl.Series) -> bool:
    return len(numbers) > numbers.null_count() * 2


def _as_numbers(cells: pl.Series, decimal: str) -> pl.Series:
    """The first filled cells, null where one is no number."""
    cells = cells.drop_nulls().head(FIRST_CELLS)
    if decimal == ",":
        cells = cells.str.replace(",", ".", literal=True)
    return cells.cast(pl.Float64, strict=False)


def _doubt_last(
    channels: dict[str, Channel],
    found: list[Candidate],
    frame: pl.DataFrame,
    lines: Lines,
    ledger: Ledger,
) -> dict[str, Channel]:
    """The last value of a file without a final line end may be cut; it is set aside unless it
    has the form of those above it: as many decimals, and within their range."""
    heading = found[-1].heading
    name = next((n for n, c in channels.items() if c.heading == heading), None)
    if name is None or frame.height < 2:
        return channels
    cells = frame[found[-1].column].tail(50)
    decimals = cells.str.extract(r"[.,](\d*)$").str.len_chars().fill_null(0)
    channel = channels[name]
    values = channel.values.tail(50)
    last, above = values[-1], values[:-1].drop_nulls().to_numpy()
    if last is None:
        return channels
    alike = len(above) > 0 and decimals[-1] >= int(decimals[:-1].to_numpy().min())
    if alike and above.min() <= last <= above.max():
        return channels
    ledger.set_aside_values(message("maybe-cut"), heading, lines[-1:], str(cells[-1]))
    kept = channel.values.set(pl.Series(lines == lines[-1]), None)
    return channels | {name: replace(channel, values=kept)}


def _sparse(samples: pl.DataFrame) -> bool:
    """One or two values a row: the recorder polls one parameter after another."""
    names = [c for c in samples.columns if c not in ("time", "line")]
    if len(names) < 3 or samples.height == 0:
        return False
    filled = sum(samples.height - samples.get_column(n).null_count() for n in names)
    return filled / samples.height < 0.6 * len(names) and filled / samples.height < 3


def _columns(
    found: list[Candidate],
    assignment: Assignment,
    channels: dict[str, Channel],
    left: dict[int, How],
    table: Table,
    decimal: str,
) -> tuple[Column, ...]:
    """How each heading was read, in the order of the file.

    The share filled is of all rows, or of the first where an unused column was not read on; one
    that is not known has the range of its first rows, as written.
    """
    used = {c.index: name for name, c in assignment.channels.items()}
    unused = {c.index: c for c in assignment.unused}
    times = {c.index for c in assignment.times}
    out = []
    height = max(table.frame.height, 1)
    read = set(table.frame.columns)
    for c in found:
        cells = (table.frame if c.column in read else table.head()).get_column(c.column)
        filled = cells.count() / max(len(cells), 1)
        how = left.get(c.index) or (unused[c.index].how if c.index in unused else c.how)
        column = Column(heading=c.heading, channel=None, unit=c.unit, how=how, filled=filled)
        numbers = _as_numbers(cells, decimal) if how == UNKNOWN else None
        if numbers is not None and _mostly_given(numbers):
            low, high = numbers.min(), numbers.max()
            column = replace(column, low=low, high=high)  # type: ignore[arg-type]
        name = used.get(c.index, "")
        if c.index in times:
            column = replace(column, channel="time", how=c.how)
        elif name in channels:
            channel = channels[name]
            low, high = channel.values.min(), channel.values.max()
            column = replace(
                column,
                channel=name,
                unit=channel.unit,
                how=channel.how,
                filled=1 - channel.values.null_count() / height,
                low=float(low) if isinstance(low, int | float) else None,
                high=float(high) if isinstance(high, int | float) else None,
                step=channel.step,
            )
        out.append(column)
    return tuple(out)


def join_parts(parts: list[Part], ledger: Ledger) -> pl.DataFrame:
    """The samples of all parts of a file as one frame, channels in the order of the table."""
    if len(parts) == 1:
        return parts[0].samples
    frame = pl.concat([p.samples for p in parts], how="diagonal")
    names = ["time", "line", *(n for n in QUANTITIES if n in frame.columns and n != "time")]
    return sort_rows(frame.select(names), ledger)
