"""Where a table's headings stand, what parts its fields, and which lines are no records yet."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from dataclasses import dataclass

from gearing.logs.headings import PID_ALONE, ROLES, Match, is_source, recognise
from gearing.units import find_unit

DELIMITERS = (",", ";", "\t", "|")
MAX_BLOCK = 6  # heading rows stacked on one another
FEW_RECORDS, SURE_RECORDS = 3, 20  # below headings that name a time, and below any
SEEN_LONG = 200  # lines, to know a log of one value a row by
_BELOW = 1 + MAX_BLOCK + SURE_RECORDS  # lines, that show whether a line heads records
LOOKED_PAST = 60  # lines of records, for a table parted by another sign
LONGEST_HEADING = 400_000  # characters: thousands of columns
_SHORT_LOOK = 100  # lines, enough where records follow the headings on top
_FIRST_LOOK = 400  # lines; ten times as many where these hold no headings
_NUMBER = re.compile(r"^[-+]?(\d+([.,]\d*)?|[.,]\d+)([eE][-+]?\d+)?$")
HEAD_BYTES = 4096
_RECORD = re.compile(rb"(?m)^\d")
_QUOTED = re.compile(rb'(?<![^,;\t|\n])"[^"]{1,120}"(?=[,;\t|\n])')
_NO_LETTERS = bytes(i for i in range(256) if not (i < 128 and chr(i).isalpha()))
_NO_DIGITS = bytes(i for i in range(256) if not (i < 128 and chr(i).isdigit()))
_PARAMETERS = re.compile(r"(?<![0-9A-Za-z.:-])01[0-9A-F]{2}(?![0-9A-Za-z.:-])")
_BEFORE_PARAMETERS = tuple(f"{sign}01" for sign in (*DELIMITERS, '"'))
_DATE_OR_TIME = re.compile(r"^['\"]?\d{1,4}[-/.:]\s?\d{1,2}[-/.:]\d{1,4}")


@dataclass(frozen=True, slots=True)
class Layout:
    """How a table is laid out. Indices count lines from 0 within the text given."""

    delimiter: str
    headings: tuple[str, ...]  # stacked rows joined, repeats numbered
    units: tuple[str, ...]  # of the units row; "" where there is none
    named: int  # headings up to the last that is not blank
    heading_index: int
    units_index: int | None
    data_index: int  # first line after the heading block
    data_offset: int  # its byte
    block: tuple[bytes, ...]  # the heading block's lines, stripped
    preamble: tuple[str, ...]


def clean_field(text: str) -> str:
    """A field without the blanks and quotes around it."""
    return text.strip().strip('"').strip()


def split_fields(line: str, delimiter: str) -> list[str]:
    """The fields of one line, quotes and blanks around them taken off."""
    if '"' not in line:
        return [field.strip() for field in line.split(delimiter)]
    try:
        return [clean_field(f) for f in next(csv.reader([line], delimiter=delimiter), [])]
    except csv.Error:
        return [clean_field(f) for f in line.split(delimiter)]


def unbroken_headings(data: bytes) -> tuple[bytes, int]:
    """The text with line ends inside quoted headings as blanks, and how many there were:
    spreadsheets write `"Speed` and `(km/h)"` in two lines. Below the first line that begins with
    a digit nothing is looked at."""
    head = data[:HEAD_BYTES]
    record = _RECORD.search(head)
    head = head[: record.start()] if record else head
    joined = _QUOTED.sub(lambda field: field[0].replace(b"\n", b" "), head)
    broken = head.count(b"\n") - joined.count(b"\n")
    return joined + data[len(head) :] if broken else data, broken


def find_layout(data: bytes) -> Layout | None:
    """The heading block of the first table in `data` (UTF-8, LF), or None."""
    for look in (_SHORT_LOOK, *(_FIRST_LOOK * 10**power for power in range(4))):
        lines = _first_lines(data, look)
        found, seen = _best_heading(lines)
        short = look == _SHORT_LOOK and seen + _BELOW > look
        if len(lines) < look or (found is not None and found[2] >= 2 and not short):
            break
    if found is None or found[2] < 2:
        long = _without_headings(lines[:SEEN_LONG])
        if long is not None:
            return long
    if found is None:
        found = _unknown_heading(lines[:2000])
    if found is None:
        return None
    index, delimiter, _ = found
    return _block(data, lines, index, delimiter)


def _first_lines(data: bytes, count: int) -> list[str]:
    head = data[: _offset_of_line(data, count)].decode("utf-8", errors="replace")
    return head.removesuffix("\n").split("\n")


def _best_heading(lines: list[str]) -> tuple[tuple[int, str, int] | None, int]:
    """Line, delimiter and count of known names of the line that names most quantities, and how
    many lines were looked at for it."""
    best: tuple[int, str, int] | None = None
    best_rank = (False, 0)
    sure, read_by = len(lines), ""  # the line from which on records are read, and their delimiter
    index = 0
    for index, line in enumerate(lines):
        if index > sure + LOOKED_PAST:
            break
        if not _may_be_heading(line):
            continue
        for delimiter in DELIMITERS:
            # richer headings below records are those of a recorder that began anew
            if delimiter not in line or (index >= sure and delimiter == read_by):
                continue
            fields = split_fields(line.removeprefix("#"), delimiter)
            if sum(map(_is_value, fields)) > 0.3 * len(fields):
                continue
            targets = {m.target for f in fields if f and (m := _known(f))}
            known = len(targets)
            if not known:
                continue
            # a row of names with records below it comes before one without
            rank = (_record_below(lines, index, delimiter, len(fields)), known)
            if best is None or rank > best_rank:
                best, best_rank = (index, delimiter, known), rank
            if index < sure and _heads_records(lines, index, delimiter, len(fields), targets):
                sure, read_by = index + MAX_BLOCK, delimiter
    return best, index


def _heads_records(
    lines: list[str], index: int, delimiter: str, width: int, targets: set[str]
) -> bool:
    """Whether the rows below are read by these headings, and no short table above the real one."""
    rows = 0
    timed = len(targets) > 1 and bool(targets & {"time", "date", "elapsed"})
    for at in range(index + 1, min(index + _BELOW, len(lines))):
        line = lines[at]
        if rows >= FEW_RECORDS and line[:1].isdigit() and line.count(delimiter) == width - 1:
            rows += 1  # as those above: not looked at field by field
            continue
        fields = split_fields(line, delimiter)
        values = sum(map(_is_value, fields))
        kind = "record" if values else _kind(fields, width)
        if kind == "record" and len(fields) in (width, width + 1):
            rows += values * 2 >= sum(map(bool, fields))
        elif rows >= FEW_RECORDS and timed:
            more = {m.target for f in fields if f and (m := _known(f))}
            return 2 * len(targets & more) > len(targets)  # the same recorder, begun anew
        elif rows or kind == "record":
            return False
    return rows >= (FEW_RECORDS if timed else SURE_RECORDS)


def _record_below(lines: list[str], index: int, delimiter: str, width: int) -> bool:
    below = [split_fields(line, delimiter) for line in lines[index + 1 : index + 1 + MAX_BLOCK]]
    return any(len(f) >= width / 2 and _kind(f, width) == "record" for f in below if any(f))


def is_heading(line: bytes, delimiter: str) -> bool:
    """A line in mid-file that names at least two quantities and carries no value."""
    if len(line) > 20_000:
        return False
    fields = [f for f in split_fields(line.decode("utf-8", errors="replace"), delimiter) if f]
    if len(fields) < 2 or any(map(_is_value, fields)):
        return False
    return len({m.target for f in fields if (m := _known(f))}) >= max(2, len(fields) / 3)


def is_units_row(line: bytes, layout: Layout) -> bool:
    """A line of units that is none of the heading block's own."""
    fields = split_fields(line.decode("utf-8", errors="replace"), layout.delimiter)
    return line.strip() not in layout.block and _kind(fields, len(layout.headings)) == "units"


def is_record(line: str, delimiter: str, width: int) -> bool:
    """A line of so many fields, most of them values."""
    fields = split_fields(line, delimiter)
    return len(fields) == width and sum(map(_is_value, fields)) * 2 >= width


def _known(field: str) -> Match | None:
    return recognise(field, True) if len(field) < 200 else None


def _may_be_heading(line: str) -> bool:
    """Enough letters to be words."""
    if len(line) > LONGEST_HEADING:
        return False
    start = line[:2000]
    if start.isascii():  # most are, and counted without a step for each character
        plain = start.encode()
        letters, digits = (len(plain.translate(None, no)) for no in (_NO_LETTERS, _NO_DIGITS))
        return letters > digits or _names_parameters(start)
    return sum(map(str.isalpha, start)) > sum(map(str.isdigit, start))


def _names_parameters(line: str) -> bool:
    """Numbers of the standard's parameters in the place of names: Time;0104;010C;010D."""
    if not any(sign in line for sign in _BEFORE_PARAMETERS):
        return False
    numbers = _PARAMETERS.findall(line)
    return len(numbers) > 1 and len(set(numbers)) == len(numbers)


def _is_value(field: str) -> bool:
    """A number, a date or a time: what stands in a record."""
    if len(field) == 4 and field[:2] == "01" and PID_ALONE.match(field):
        return False
    return bool(_NUMBER.match(field) or _DATE_OR_TIME.match(field))


def _unknown_heading(lines: list[str]) -> tuple[int, str, int] | None:
    """A row of words over rows of values with as many fields, where no name is known."""
    for index, line in enumerate(lines[:-1]):
        for delimiter in DELIMITERS if len(line) <= LONGEST_HEADING else ():
            fields = split_fields(line, delimiter)
            if len(fields) < 2 or any(map(_is_value, fields)):
                continue
            below = [split_fields(other, delimiter) for other in lines[index + 1 : index + 6]]
            alike = [f for f in below if len(f) == len(fields) <= 2 * sum(map(_is_value, f))]
            if len(alike) >= min(2, len(below)) and alike:
                return index, delimiter, 0
    return None


def _without_headings(lines: list[str]) -> Layout | None:
    """One value a row and no headings: a column of standard parameters' names or numbers, one
    that counts or dates the rows, and one of numbers."""
    filled = [line for line in lines if line.strip() and len(line) < 500]
    for delimiter in DELIMITERS:
        rows = [split_fields(line, delimiter) for line in filled]
        width = max(map(len, rows), default=0)
        rows = [(row + [""] * width)[:width] for row in rows]
        if width < 3 or len(rows) < SURE_RECORDS:
            continue
        columns = list(zip(*rows, strict=True))
        named = [_share(column, _is_parameter) > 0.6 for column in columns]
        moments = [
            not is_name and _share(column, _is_value) > 0.9 and _is_rising(column)
            for is_name, column in zip(named, columns, strict=True)
        ]
        values = [  # how many there are: what never varies numbers the recorder
            len(set(column)) * (not (is_name or is_time) and _share(column, _is_value) > 0.5)
            for is_name, is_time, column in zip(named, moments, columns, strict=True)
        ]
        if sum(named) != 1 or not any(moments) or not any(values):
            continue
        headings = [""] * width
        headings[moments.index(True)] = "time"
        headings[named.index(True)] = "parameter"
        headings[values.index(max(values))] = "value"
        units = [_share(column, _is_unit) > 0.6 for column in columns]
        if True in units and not headings[units.index(True)]:
            headings[units.index(True)] = "unit"
        return Layout(delimiter, tuple(headings), ("",) * width, width, 0, None, 0, 0, (), ())
    return None


def _share(column: tuple[str, ...], holds: Callable[[str], bool]) -> float:
    filled = [field for field in column if field]
    return sum(map(holds, filled)) / len(filled) if filled else 0.0


def _is_parameter(field: str) -> bool:
    if PID_ALONE.match(field) and not field.isdigit():
        return True
    match = None if _is_value(field) and not PID_ALONE.match(field) else _known(field)
    return match is not None and match.target not in ROLES


def _is_rising(column: tuple[str, ...]) -> bool:
    """Never falls as text or as a number: what a clock does."""
    given = [field for field in column if field]
    try:
        numbers = [float(field.replace(",", ".")) for field in given]
    except ValueError:
        return len(set(given)) > 2 and given == sorted(given)
    return len(set(numbers)) > 2 and numbers == sorted(numbers)


def _block(data: bytes, lines: list[str], index: int, delimiter: str) -> Layout:
    top = split_fields(lines[index].removeprefix("#"), delimiter)
    rows, units, units_index = [top], [""] * len(top), None
    above = _row_above(lines, index, delimiter, top)
    if above is not None:
        rows.insert(0, above)
    at = index + 1
    while at < len(lines) and at - index < MAX_BLOCK:
        fields = split_fields(lines[at].removeprefix("#"), delimiter)
        kind = _kind(fields, len(top))
        if kind == "units" and units_index is None:
            units, units_index = (fields + [""] * len(top))[: len(top)], at
        elif kind == "words":
            rows.append((fields + [""] * len(top))[: len(top)])
        elif kind != "blank" or not _more_block_below(lines, at, delimiter, len(top)):
            break
        at += 1
    headings = _joined(rows)
    named = max((i for i, h in enumerate(headings) if h), default=0) + 1
    offset = _offset_of_line(data, at)
    return Layout(
        delimiter,
        _numbered(headings),
        tuple(units),
        named,
        index,
        units_index,
        at,
        offset,
        tuple(b for line in lines[index:at] if len(b := line.strip().encode()) > 1),
        tuple(lines[:index]),
    )


def _kind(fields: list[str], width: int) -> str:
    """What a line below the headings is: units, words (a further heading row), blank, record."""
    filled = [f for f in fields if f]
    if not filled:
        return "blank"
    if len(fields) < width / 2 or len(fields) > width + 1:
        return "record"
    if any(map(_is_value, filled)):
        return "record"
    units = sum(_is_unit(f) for f in filled)
    if units * 2 >= len(filled):
        return "units"
    has_digit = sum(any(c.isdigit() for c in f) for f in filled)
    if len(filled) >= max(2, width / 2) and has_digit * 2 < len(filled) and len(filled) > 1:
        return "words"
    return "record"


def _is_unit(field: str) -> bool:
    bare = field.strip("[](){}<> ")
    if is_source(bare):  # 'GPS' names the receiver here, not grams per second
        return False
    return bool(
        find_unit(bare) is not None
        or (field[:1] in "[(" and field[-1:] in "])")
        or re.fullmatch(r"(?i)(iso ?8601|utc|[dmyhs:./ -]{6,}|°|deg|-|bool|text|string)", bare)
    )


def _more_block_below(lines: list[str], at: int, delimiter: str, width: int) -> bool:
    return any(
        _kind(split_fields(line, delimiter), width) == "units" for line in lines[at + 1 : at + 2]
    )


def _row_above(lines: list[str], index: int, delimiter: str, top: list[str]) -> list[str] | None:
    """A group row over the headings (GPS, GPS, ECU ...), where repeats below need one."""
    named = [f for f in top if f]
    if index == 0 or len(set(named)) == len(named):
        return None
    fields = split_fields(lines[index - 1], delimiter)
    filled = [f for f in fields if f]
    if len(fields) != len(top) or len(filled) < 2 or any(map(_is_value, filled)):
        return None
    carried, last = [], ""
    for field in fields:  # a blank cell continues the group to its left
        last = field or last
        carried.append(last)
    return carried


def _joined(rows: list[list[str]]) -> list[str]:
    width = len(rows[0])
    return [" / ".join(part for row in rows if (part := row[i])) for i in range(width)]


def _numbered(headings: list[str]) -> tuple[str, ...]:
    seen: dict[str, int] = {}
    out = []
    for heading in headings:
        seen[heading] = seen.get(heading, 0) + 1
        repeated = heading and seen[heading] > 1
        out.append(f"{heading} #{seen[heading]}" if repeated else heading)
    return tuple(out)


def _offset_of_line(data: bytes, index: int) -> int:
    at = 0
    for _ in range(index):
        found = data.find(b"\n", at)
        if found < 0:
            return len(data)
        at = found + 1
    return at
