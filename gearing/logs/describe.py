"""How a log was read, for `gearing inspect`: as plain data and as a table for the terminal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from datetime import datetime
from typing import Any

from gearing.logs.answers import usable_for
from gearing.logs.model import Column, Reading
from gearing.messages import Items, Message, Moment, Problem, UserText, message, names
from gearing.messages.columns import in_columns
from gearing.messages.render import METRIC, Field
from gearing.quantities import QUANTITIES

_DELIMITERS: dict[str, Field] = {
    ",": message("delimiter/comma"),
    ";": message("delimiter/semicolon"),
    "\t": message("delimiter/tab"),
    "|": message("delimiter/pipe"),
}
LONG_M = 10_000.0  # an odometer's count; no altitude and no step is so long
_WIDE = 44  # a heading longer than this is shortened in the table


def describe(reading: Reading) -> dict[str, Any]:
    """Everything `gearing inspect --format json` prints of one file; plain types only.

    `rows_read` = `rows_used` + `rows_set_aside`. Values of columns are in the channel's unit.
    """
    aside = sum(p.count for p in reading.set_aside_rows)
    return {
        "file": reading.file,
        "kind": reading.dialect.kind,
        "dialect": asdict(reading.dialect) | {"time_form": _told(reading.dialect.time_form)},
        "start": moment(reading, 0),
        "end": moment(reading, -1),
        "rows_read": reading.rows_read,
        "rows_used": reading.rows_used,
        "rows_set_aside": aside,
        "set_aside_rows": [_case(p) for p in reading.set_aside_rows],
        "set_aside_values": [_case(p) for p in reading.set_aside_values],
        "repairs": [_case(p) for p in reading.repairs],
        "questions": [_case(p) | {"remedy": p.remedy} for p in reading.questions],
        "columns": [_column(c) for c in reading.columns],
        "good_for": list(reading.good_for),
        "missing": {answer: [str(one) for one in what] for answer, what in reading.missing.items()},
    }


def moment(reading: Reading, index: int) -> str | None:
    """The time of a sample by its index, as ISO 8601; None where there are none."""
    if reading.samples.height == 0:
        return None
    taken: datetime = reading.samples["time"][index]
    return taken.strftime("%Y-%m-%dT%H:%M:%SZ")


def _case(p: Problem) -> dict[str, Any]:
    return {
        "code": p.code,
        "message": p.message,
        "column": p.column,
        "first_line": p.first_line,
        "last_line": p.last_line,
        "count": p.count,
        "value": p.value,
    }


def _column(c: Column) -> dict[str, Any]:
    own = QUANTITIES[c.channel].unit if c.channel in QUANTITIES else None
    return asdict(c) | {"how": _told(c.how), "values_in": own}


def _told(parts: Sequence[Message]) -> str:
    return METRIC.field(Items(tuple(parts), ","))


def as_text(reading: Reading, width: int | None = None) -> str:
    """The same as plain text: what was read, as what, and what to do about the rest; its table at
    most `width` wide."""
    if reading.failures and not (reading.columns or reading.rows_used):
        told = [f"{p.code}: {p.message} {p.remedy}".rstrip() for p in reading.failures]
        return "\n".join([_head([reading]), *(f"  {printable(one)}" for one in told)])
    questions = _questions(reading.questions) if reading.questions else ""
    return "\n\n".join(part for part in (recorder_text([reading], width), questions) if part)


def recorder_text(group: Sequence[Reading], width: int | None = None) -> str:
    """How logs of one recorder, with the same headings, were read, and what they are good for; the
    table at most `width` wide."""
    every = {name for reading in group for name in reading.samples.columns}
    parts = [
        _head(group),
        _columns_table(_merged_columns(group), width),
        _ledger_lines(message("aside-rows"), [p for r in group for p in r.set_aside_rows]),
        _ledger_lines(message("aside-values"), [p for r in group for p in r.set_aside_values]),
        _ledger_lines(message("repairs-made"), [p for r in group for p in r.repairs]),
        _answers(*usable_for(tuple(every))),
    ]
    return "\n\n".join(part for part in parts if part)


def _dialect_words(reading: Reading) -> str:
    """How the file is written, in one line."""
    d = reading.dialect
    written: list[Field] = [UserText(one) for one in (d.kind, d.encoding, d.compression) if one]
    if d.delimiter:
        sign = _DELIMITERS.get(d.delimiter, UserText(repr(d.delimiter)))
        written.append(message("fields-parted", delimiter=sign))
        written.append(message("decimal-sign", comma=d.decimal == ","))
    if d.heading_line:
        written.append(message("headings-line", line=d.heading_line))
    if d.units_line:
        written.append(message("units-line", line=d.units_line))
    if d.time_form:
        written.append(message("time-written", form=Items(d.time_form, ",")))
    return METRIC.field(Items(tuple(written), ","))


def _head(group: Sequence[Reading]) -> str:
    first, more = group[0], len(group) - 1
    file = printable(first.file)
    like = message("and-like-it", file=UserText(file, "file"), more=more)
    read, used = (sum(r.rows_read for r in group), sum(r.rows_used for r in group))
    lines: list[object] = [
        like if more else file,
        _dialect_words(first),
        message("rows-counted", read=read, used=used, aside=read - used),
    ]
    if dated := [reading for reading in group if reading.samples.height]:
        starts = min(dated, key=lambda reading: reading.samples["time"][0])
        ends = max(dated, key=lambda reading: reading.samples["time"][-1])
        begin, end = (Moment(moment(one, i) or "") for one, i in ((starts, 0), (ends, -1)))
        lines.append(message("time-covered", first=begin, last=end))
    if local := sum(reading.dialect.local for reading in group):
        told = message("local-times")
        some = message("local-times/some", local=told, logs=local)
        lines.append(some if local < len(group) else told)
    return "\n  ".join(map(str, lines))


def _merged_columns(group: Sequence[Reading]) -> tuple[Column, ...]:
    """Each heading as most of the logs have it, over the values of all that do."""
    merged = []
    for columns in zip(*(reading.columns for reading in group), strict=True):
        ways = Counter((c.channel, c.unit, c.how) for c in columns if c.filled or c.channel)
        way = ways.most_common(1)[0][0] if ways else None
        alike = [c for c in columns if way is None or (c.channel, c.unit, c.how) == way]
        others = len({(c.channel, c.unit) for c in columns}) > 1
        so_in = (message("read-so-in", logs=len(alike), all=len(columns)),)
        merged.append(
            replace(
                alike[0],
                filled=sum(c.filled for c in columns) / len(columns),
                low=min((c.low for c in alike if c.low is not None), default=None),
                high=max((c.high for c in alike if c.high is not None), default=None),
                how=(*alike[0].how, *(so_in if others else ())),
            )
        )
    return tuple(merged)


def _columns_table(columns: tuple[Column, ...], width: int | None = None) -> str:
    """How each heading was read, a line each, aligned; empty where there are none."""
    if not columns:
        return ""
    how = str(message("heading-how"))
    head = ("heading", "read as", "unit", "filled", "from", "to", how)
    rows = [(*_cells(one), _told(one.how)) for one in columns]
    ruled = [tuple("-" * max(len(row[i]) for row in (head, *rows)) for i in range(len(head)))]
    lines = in_columns(head, [*ruled, *rows], width=None, indent="  ")
    if width is not None and max(map(len, lines)) > width:
        lines = in_columns(head, rows, width, indent="  ")
    return "\n".join(lines)


def _cells(c: Column) -> tuple[str, ...]:
    unit = QUANTITIES[c.channel].unit if c.channel in QUANTITIES else ""
    ends = (None, None) if c.channel == "time" else (c.low, c.high)
    low, high = ("" if end is None else _figure(end, unit) for end in ends)
    return _short(c.heading), c.channel or "not used", c.unit or "", f"{c.filled:.0%}", low, high


def _figure(value: float, unit: str) -> str:
    """With its unit, long distances in kilometers; never with a power of ten."""
    if unit == "m" and abs(value) >= LONG_M:
        value, unit = value / 1000, "km"
    size = abs(value)
    number = f"{value:,.0f}" if size >= 10_000 else f"{value:.6g}" if size >= 1e-4 else "0"
    return number if unit == "-" else f"{number} {unit}".rstrip()


def _questions(questions: tuple[Problem, ...]) -> str:
    lines = ["Questions"]
    for p in questions:
        lines.append(f"  {printable(p.message)}")
        lines += [f"    {printable(line)}" for line in p.remedy.split("\n")]
    return "\n".join(lines)


def _ledger_lines(title: Message, problems: Sequence[Problem]) -> str:
    """One line a code and column, with how many, where and a value."""
    if not problems:
        return ""
    groups: dict[tuple[str, str], list[Problem]] = {}
    for p in problems:
        groups.setdefault((p.code, p.column), []).append(p)
    lines = [str(title)]
    for (code, column), cases in groups.items():
        count = sum(p.count for p in cases)
        text = cases[0].message if len(cases) == 1 else f"{cases[0].title}."
        where = _where(cases)
        at = f" in {column!r}" if column else ""
        value = f" ({printable(cases[0].value)[:40]!r})" if cases[0].value else ""
        lines.append(f"  {count:>7,}  {code}{at}: {printable(text)}{where}{value}")
    return "\n".join(lines)


def _where(cases: list[Problem]) -> str:
    first = [p.first_line for p in cases if p.first_line is not None]
    last = [p.last_line for p in cases if p.last_line is not None]
    if not first:
        return ""
    low, high = min(first), max(last or first)
    return f" Line {low}." if low == high else f" Lines {low} to {high}."


def _answers(good_for: Sequence[str], missing: Mapping[str, Sequence[Message]]) -> str:
    """What the logs are good for, and for what not, as lines."""
    lines = [message("good-for", answers=names(tuple(good_for), joint=","))] if good_for else []
    for answer, lacking in missing.items():
        lines.append(
            message("not-good-for", answer=UserText(answer), lacking=Items(tuple(lacking)))
        )
    return "\n".join(map(str, lines))


def _short(heading: str) -> str:
    text = printable(heading)
    return text if len(text) <= _WIDE else text[: _WIDE - 3] + "..."


def printable(text: str) -> str:
    """Without control characters: a file's words must not steer the terminal."""
    return "".join(c if c.isprintable() else " " for c in text)
