"""Single dates in words: months by name, a start in a preamble or a file name, the study's form."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from gearing.logs.headings import fold

_MONTHS = {
    1: "jan january januar janvier janv enero ene janner",
    2: "feb february februar fevrier fevr fev febrero",
    3: "mar march marz mrz mars marzo maerz",
    4: "apr april avril avr abril abr",
    5: "may mai mayo",
    6: "jun june juni juin junio",
    7: "jul july juli juillet juil julio",
    8: "aug august aout agosto ago",
    9: "sep sept september septembre septiembre",
    10: "oct october oktober okt octobre octubre",
    11: "nov november novembre noviembre",
    12: "dec december dezember dez decembre diciembre dic",
}
MONTH_NUMBERS = {name: number for number, names in _MONTHS.items() for name in names.split()}


@dataclass(frozen=True, slots=True)
class TimeRule:
    """What the study says of a time column's form, as written under [columns] as its unit."""

    unit: str | None = None  # s, ms, us, min, h
    day_first: bool | None = None
    elapsed: bool = False
    since: datetime | None = None
    weeks: int = 0


def parse_time_rule(text: str | None) -> TimeRule:
    """The form a study gives: "s", "ms", "dd/mm/yyyy", "day first", "s since 2026-03-01 08:00"."""
    if not text:
        return TimeRule()
    low = text.strip().lower()
    since = re.search(r"\bsince\s+(\S.*)$", low)
    start = _datetime_in(since[1]) if since else None
    unit = re.match(r"^(?:elapsed\s+)?(ns|us|ms|s|sec|seconds?|min|minutes?|h|hours?)\b", low)
    names = {"sec": "s", "second": "s", "seconds": "s", "minute": "min", "minutes": "min"}
    names |= {"hour": "h", "hours": "h"}
    day_first = None
    if re.search(r"day[ -]first|^d{1,2}\W+m", low):
        day_first = True
    elif re.search(r"month[ -]first|^m{1,2}\W+d", low):
        day_first = False
    weeks = re.search(r"\+\s*(\d+)\s*weeks", low)
    return TimeRule(
        names.get(unit[1], unit[1]) if unit else None,
        day_first,
        "elapsed" in low or since is not None,
        start,
        int(weeks[1]) if weeks else 0,
    )


def _datetime_in(text: str) -> datetime | None:
    found = re.search(
        r"(\d{4})-?(\d{2})-?(\d{2})(?:[T_ ]+(\d{1,2})[:h._-]?(\d{2})(?:[:m._-]?(\d{2}))?)?"
        r"\s*(z|utc)?",
        text,
        re.IGNORECASE,
    )
    if not found:
        return None
    parts = [int(g) if g else 0 for g in found.groups()[:6]]
    try:
        moment = datetime(*parts)  # type: ignore[arg-type] # noqa: DTZ001 # local until known
    except ValueError:
        return None
    return moment.replace(tzinfo=UTC) if found[7] else moment


def month_number(text: str | None) -> int | None:
    if text is None:
        return None
    return int(text) if text.isdigit() else MONTH_NUMBERS.get(fold(text))


def day_number(year: int | None, month: int | None, day: int | None) -> int | None:
    if year is None or month is None or day is None:
        return None
    if year < 100:
        year += 2000 if year < 80 else 1900
    try:
        return (date(year, month, day) - date(1970, 1, 1)).days
    except ValueError:
        return None


def find_start(text: str) -> tuple[datetime | None, bool]:
    """A date, with time of day where there is one, in a preamble line or a file name.

    Returns the local moment and whether the time of day is known.
    """
    found = _datetime_in(text)
    if found is not None and 1979 < found.year < 2100:
        known = bool(re.search(r"\d{4}-?\d{2}-?\d{2}[T_ -]+\d{1,2}[:h._-]?\d{2}", text))
        if not known:
            clock = re.search(r"\b(\d{1,2}):(\d{2})(?::(\d{2}))?\b", text)
            if clock and int(clock[1]) < 24 and int(clock[2]) < 60:
                seconds = int(clock[1]) * 3600 + int(clock[2]) * 60 + int(clock[3] or 0)
                return found + timedelta(seconds=seconds), True
        return found, known
    key = re.search(r"\b(\d{1,2})[./_-](\d{1,2}|[^\W\d]{3,9})[./_-](\d{4})(?!\d)", text)
    if key is None:
        key = re.search(r"(?<!\d)(\d{1,2})[._-](\d{1,2})[._-](\d{4})(?!\d)", text)
    if key is None:
        return None, False
    first, second, year = key[1], key[2], int(key[3])
    number = _day_in(first, second, year, "." in key[0])
    if number is None:
        return None, False
    moment = datetime(1970, 1, 1) + timedelta(days=number)  # noqa: DTZ001 # local until known
    clock = re.search(r"\b(\d{1,2}):(\d{2})(?::(\d{2}))?\b", text)
    if clock and int(clock[1]) < 24 and int(clock[2]) < 60:
        seconds = int(clock[1]) * 3600 + int(clock[2]) * 60 + int(clock[3] or 0)
        return moment + timedelta(seconds=seconds), True
    return moment, False


def best_start(preamble: tuple[str, ...]) -> tuple[datetime | None, bool]:
    """The preamble's line that reads like a start; a date and a time on two lines are joined."""
    date_only: datetime | None = None
    clock = None
    for line in preamble:
        moment, known = find_start(line)
        if moment is not None and known:
            return moment, True
        if moment is not None and date_only is None:
            date_only = moment
        elif moment is None and clock is None and (":" in line):
            clock = _clock_in(line)
    if date_only is not None and clock is not None:
        return date_only.replace(hour=clock[0], minute=clock[1], second=clock[2]), True
    return date_only, False


def _clock_in(line: str) -> tuple[int, int, int] | None:
    found = re.search(
        r"(?i)(?:time|start|zeit|beginn|heure|hora).*?\b(\d{1,2}):(\d{2})(?::(\d{2}))?\b", line
    )
    if not found or int(found[1]) > 23 or int(found[2]) > 59 or int(found[3] or 0) > 59:
        return None
    return int(found[1]), int(found[2]), int(found[3] or 0)


def _day_in(first: str, second: str, year: int, dotted: bool) -> int | None:
    if not second.isdigit():
        return day_number(year, month_number(second), int(first))
    if int(second) > 12:
        return day_number(year, int(first), int(second))
    if int(first) > 12 or dotted or first == second:
        return day_number(year, int(second), int(first))
    return None  # open: not taken on a guess
