"""Single dates in words: months by name, a start in a preamble or a file name, the study's form."""

from __future__ import annotations

import contextlib
import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone

from gearing.logs.headings import fold
from gearing.logs.timestamps.date_order import DAY_FIRST, MONTH_FIRST, OPEN, YEAR_FIRST

_MONTHS = {
    1: "jan january januar janvier janv enero ene janner gennaio gen januari janeiro stycznia sty",
    2: "feb february februar fevrier fevr fev febrero febbraio februari fevereiro lutego lut",
    3: "mar march marz mrz mars marzo maerz maart mrt marco marca",
    4: "apr april avril avr abril abr aprile kwietnia kwi",
    5: "may mai mayo maggio mag mei maio maj maja",
    6: "jun june juni juin junio giugno giu junho czerwca cze",
    7: "jul july juli juillet juil julio luglio lug julho lipca lip",
    8: "aug august aout agosto ago augustus augusti sierpnia sie",
    9: "sep sept september septembre septiembre settembre set setembro wrzesnia wrz",
    10: "oct october oktober okt octobre octubre ottobre ott outubro out pazdziernika paz",
    11: "nov november novembre noviembre novembro listopada lis",
    12: "dec december dezember dez decembre diciembre dic dicembre dezembro grudnia gru",
}
_YEAR_FIRST = re.compile(
    r"(?<!\d)(?P<y>\d{4})(?P<sep>[-_./]?)(?P<m>\d{2})(?P=sep)(?P<d>\d{2})"
    r"(?=\d{4}(?:\d\d)?(?!\d)|\D|$)"
)
_DAY_MONTH_NAMED = re.compile(
    r"(?<!\d)(?P<d>\d{1,2})(?:st|nd|rd|th)?\.?[-./_ ]{1,2}(?P<m>[^\W\d_]{3,10})\.?"
    r"[-./_ ,]{1,2}(?P<y>\d{4})(?!\d)"
)
_MONTH_NAMED_DAY = re.compile(
    r"(?P<m>[^\W\d_]{3,10})\.?[-_ ](?P<d>\d{1,2})(?:st|nd|rd|th)?[-_ ,]{1,2}(?P<y>\d{4})(?!\d)"
)
_YEAR_LAST = re.compile(
    r"(?<!\d)(?P<first>\d{1,2})(?P<sep>[./_-])(?P<second>\d{1,2})(?P=sep)(?P<y>\d{4})(?!\d)"
)
# second, a.m. or p.m., and zone, behind hour and minute
_CLOCK_END = (
    r"(?:[.,]\d+)?(?:[\s_]*([ap])\.?m(?![^\W\d_]))?\s*"
    r"((?:utc|gmt)?[+-](?:0\d|1[0-4]):[0-5]\d|(?<=\s)[+-](?:0\d|1[0-4])[0-5]\d|(?:z|utc|gmt)(?![^\W_]))?"
)
_CLOCK = re.compile(r"(?<!\d)(\d{1,2}):(\d\d)(?::(\d\d))?(?!\d)" + _CLOCK_END, re.IGNORECASE)
# right behind a date other signs part it too, or none, where it is two or three pairs of digits
_CLOCK_BEHIND = re.compile(
    r"[T_ ,;-]*(?=\d{1,2}[:h._-]\d|\d{4}(?:\d\d)?(?!\d))"
    r"(\d{1,2})[:h._-]?(\d\d)(?:[:m._-]?(\d\d)(?!\d))?" + _CLOCK_END,
    re.IGNORECASE,
)
# a moment of something else: of the export, of the firmware, of the end
_NO_START = re.compile(
    r"(?i)export|download|print|firmware|software|version|build|built|generated|calibrat"
    r"|install|\bends?\b|\bstop|\bende|\bfin\b"
)
_BUDDHIST = 2500
_ORDER_WORDS = (
    (r"day[ -]first|^d{1,2}\W+m", DAY_FIRST),
    (r"month[ -]first|^m{1,2}\W+d", MONTH_FIRST),
    (r"year[ -]first|^y{2,4}\W+m", YEAR_FIRST),
)
TIME_UNITS = ("s", "ms", "min", "h", "d")  # that a count without one may be in
_TIME_UNITS = "ns|us|ms|s|sec|seconds?|min|minutes?|h|hours?|d|days?"
MONTH_NUMBERS = {name: number for number, names in _MONTHS.items() for name in names.split()}


@dataclass(frozen=True, slots=True)
class TimeRule:
    """What the study says of a time column's form, as written under [columns] as its unit."""

    unit: str | None = None  # s, ms, us, min, h, d
    order: str = ""  # of day, month and year
    elapsed: bool = False
    since: datetime | None = None
    weeks: int = 0


def parse_time_rule(text: str | None) -> TimeRule:
    """The form a study gives: "s", "ms", "dd/mm/yyyy", "day first", "s since 2026-03-01 08:00"."""
    if not text:
        return TimeRule()
    low = text.strip().lower()
    since = re.search(r"\bsince\s+(\S.*)$", low)
    start = _since(since[1]) if since else None
    unit = re.match(rf"^(?:elapsed\s+)?({_TIME_UNITS})\b", low)
    names = {"sec": "s", "second": "s", "seconds": "s", "minute": "min", "minutes": "min"}
    names |= {"hour": "h", "hours": "h", "day": "d", "days": "d"}
    order = next((name for form, name in _ORDER_WORDS if re.search(form, low)), "")
    weeks = re.search(r"\+\s*(\d+)\s*weeks", low)
    return TimeRule(
        names.get(unit[1], unit[1]) if unit else None,
        order,
        "elapsed" in low or since is not None,
        start,
        int(weeks[1]) if weeks else 0,
    )


def _since(text: str) -> datetime | None:
    """The moment a study names, which may lie before any log."""
    moment, _ = find_start(text)
    with contextlib.suppress(ValueError):
        return moment or datetime.fromisoformat(text.strip()[:10])
    return moment


def _at_clock(day: datetime, clock: re.Match[str] | None) -> datetime | None:
    """`day` at the time of day found, with its zone where one is written; None if it is none."""
    if clock is None:
        return None
    hour, minute, second = int(clock[1]), int(clock[2]), int(clock[3] or 0)
    if clock[4]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + 12 * (clock[4].lower() == "p")
    if hour > 23 or minute > 59 or second > 59:
        return None
    moment = day.replace(hour=hour, minute=minute, second=second)
    offset = re.search(r"([+-])(\d\d):?(\d\d)$", clock[5] or "")
    if offset is None:
        return moment.replace(tzinfo=UTC) if clock[5] else moment
    ahead = timedelta(hours=int(offset[2]), minutes=int(offset[3]))
    return moment.replace(tzinfo=timezone(ahead if offset[1] == "+" else -ahead))


def month_number(text: str | None) -> int | None:
    """1 to 12 of a month in digits or by name; None where it is none."""
    if text is None:
        return None
    return int(text) if text.isdigit() else MONTH_NUMBERS.get(fold(text))


def day_number(year: int | None, month: int | None, day: int | None) -> int | None:
    """Days since 1970 of a date; None where there is no such day. Of two digits the year is one
    from 1980 to 2079; one of the Buddhist era is 543 more (Thai calendar, from memory)."""
    if year is None or month is None or day is None:
        return None
    if year < 100:
        year += 2000 if year < 80 else 1900
    elif year > _BUDDHIST:
        year -= 543
    try:
        return (date(year, month, day) - date(1970, 1, 1)).days
    except ValueError:
        return None


def find_start(text: str, order: str = "") -> tuple[datetime | None, bool]:
    """A date, with time of day where there is one, in a preamble line or a file name.

    Returns the moment (local where no zone is written) and whether the time of day is known. A
    date that may be day first or month first is taken only where `order` says which.
    """
    number, end = _first_day(text, order)
    if number is None:
        return None, False
    day = datetime(1970, 1, 1) + timedelta(days=number)  # noqa: DTZ001 # local until known
    moment = _at_clock(day, _CLOCK_BEHIND.match(text, end)) or _at_clock(day, _CLOCK.search(text))
    return moment or day, moment is not None


def start_order(text: str) -> str:
    """What a date in a preamble line or a file name says of the order of day and month, where it
    is written with the year last: proved, open, or nothing."""
    number, end = _first_day(text, "")
    if number is None:
        return "" if _first_day(text, DAY_FIRST)[0] is None else OPEN
    for found in _YEAR_LAST.finditer(text):
        if found.end() == end and max(int(found["first"]), int(found["second"])) > 12:
            return DAY_FIRST if int(found["first"]) > 12 else MONTH_FIRST
    return ""


def best_start(preamble: tuple[str, ...], order: str = "") -> tuple[datetime | None, bool]:
    """The preamble's line that reads like a start; a date and a time on two lines are joined."""
    date_only: datetime | None = None
    clock = None
    for line in start_lines(preamble):
        moment, known = find_start(line, order)
        if moment is not None and known:
            return moment, True
        if moment is not None and date_only is None:
            date_only = moment
        elif moment is None and clock is None and (":" in line):
            clock = _clock_in(line)
    if date_only is not None and (moment := _at_clock(date_only, clock)) is not None:
        return moment, True
    return date_only, False


def start_lines(preamble: tuple[str, ...]) -> tuple[str, ...]:
    """The lines that do not speak of another moment than the start."""
    return tuple(line for line in preamble if not _NO_START.search(line))


def _clock_in(line: str) -> re.Match[str] | None:
    word = re.search(r"(?i)time|start|zeit|beginn|heure|hora", line)
    return _CLOCK.search(line, word.end()) if word else None


def _first_day(text: str, order: str) -> tuple[int | None, int]:
    """Days since 1970 of the date in the text, and where it ends."""
    for pattern in (_YEAR_FIRST, _DAY_MONTH_NAMED, _MONTH_NAMED_DAY, _YEAR_LAST):
        for found in pattern.finditer(text):
            year = int(found["y"])
            number = _day_of(found, year, order) if 1979 < year < 2100 else None
            if number is not None:
                return number, found.end()
    return None, 0


def _day_of(found: re.Match[str], year: int, order: str) -> int | None:
    parts = found.groupdict()
    if "m" in parts:
        return day_number(year, month_number(parts["m"]), int(parts["d"]))
    first, second = int(parts["first"]), int(parts["second"])
    if second > 12:
        return day_number(year, first, second)
    if first > 12 or parts["sep"] == "." or first == second or order == DAY_FIRST:
        return day_number(year, second, first)
    # open: not taken on a guess
    return day_number(year, first, second) if order == MONTH_FIRST else None
