"""When each row was taken: from the text of the time columns to moments as written.

Forms read: ISO 8601 with and without zone; dates in any order of day, month and year, with
month names; epoch seconds, milliseconds, microseconds and nanoseconds; date and time of day in
two columns; time of day alone; elapsed time. Day-first or month-first is decided by the whole
column; where it stays open it is asked.
"""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from gearing.logs.timestamps.date_order import DAY_FIRST, MONTH_FIRST, OPEN, ORDERS, YEAR_FIRST
from gearing.logs.timestamps.dates import TimeRule, day_number, month_number
from gearing.logs.timestamps.numeric import clock_of_digits, is_clock_of_digits, numeric_times
from gearing.logs.timestamps.parsed import Form, ParsedTimes, no_time
from gearing.logs.timestamps.zones import ahead_by_column, ahead_of_utc, zone_in_heading
from gearing.messages import message

_YEARS = (15, 40)  # of this century, of logs
_FOUR_DIGITS = 1000
_TIME_BASIC = r"T(\d{2})(\d{2})(\d{2}(?:[.,]\d+)?)?()(Z|z|[+-]\d{2}:?\d{2})?\s*$"
_TIME = (
    r"(?:^|[\sT,;@-])\s*(\d{1,2})[:hH.](\d{2})(?:[:m.](\d{2}(?:[.,:]\d+)?))?s?"
    r"\s*([AaPp]\.?\s?[Mm]\.?)?\s*(Z|z|(?:UTC|GMT)?[+-]\d{1,2}(?::?\d{2})?|[A-Z]{3,4})?\s*$"
)
# C's asctime, with or without a zone: Tue Feb 10 08:20:32 GMT-07:00 2026
_ASCTIME = (
    r"^\s*(?:\pL{3}\s+)?(\pL{3})\s+(\d{1,2})\s+(\d{1,2}:\d\d:\d\d(?:\.\d+)?)\s*(\S*)\s+(\d{4})\s*$"
)
# digits alone, 20260210082032, down to the hour, and a day with the hour alone, 2026-02-10 08
_RUN = (
    r"^(20\d\d(?:0[1-9]|1[0-2])(?:0[1-9]|[12]\d|3[01]))([01]\d|2[0-4])"
    r"(?:([0-5]\d)([0-5]\d(?:\.\d+)?)?)?$"
)
_DOTTED = r"^\s*\d{1,2}\.\d{1,2}\.(\d{2})\s*$"
# a date and a time of day with one sign throughout: 2026:02:10 08:20:32, 2026_02_10_08_20_32
_ONE_SIGN = r"^(20\d\d)[:_](\d\d)[:_](\d\d)[ T_]+(\d\d)[:_](\d\d)[:_](\d\d)"
_BARE_HOUR = r"^(\d{4}[-/.]\d{1,2}[-/.]\d{1,2})[T ](\d{1,2})$"
_YMD = r"^\s*(\d{4})[-/.]\s?(\d{1,2})[-/.]\s?(\d{1,2})"
_YMD_PLAIN = r"^\s*(\d{4})(\d{2})(\d{2})"
_WEEKDAY = r"^\s*(?:[^\d\W]{2,10}\.?,?\s+)?"
_XYZ = _WEEKDAY + r"(\d{1,2})[-/. ]{1,2}(\d{1,2}|[^\d\W]{3,10})\.?[-/. ,]{1,2}(\d{4}|\d{2})"
_MONTH_FIRST_NAMED = _WEEKDAY + r"([^\d\W]{3,10})\.?\s+(\d{1,2}),?\s+(\d{4})"


# forenoon and afternoon in front of the time, and the signs of Chinese, Japanese and Korean dates
_HALF_IN_FRONT = r"(?:^|\s)([AP]M)\s*(\d{1,2}:\d\d(?::\d\d(?:\.\d+)?)?)"
_EAST_ASIAN = {
    "上午": "AM ", "午前": "AM ", "오전": "AM ", "下午": "PM ", "午後": "PM ", "오후": "PM ",
    "年": "-", "月": "-", "日": " ", "년 ": "-", "월 ": "-", "일": " ",
    "时": ":", "時": ":", "시 ": ":", "分": ":", "분 ": ":", "秒": "", "초": "",
}  # fmt: skip
# dates in another form than most: so large a part, and so many, are no damaged cells
_MIN_OTHER, _FEWEST_OTHER = 0.1, 3
_ISO = (message("time-form/iso"),)
_UNKNOWN = (message("time-form/unknown"),)
_FORM_OF = {
    DAY_FIRST: (message("time-form/day-first"),),
    MONTH_FIRST: (message("time-form/month-first"),),
    YEAR_FIRST: _ISO,
}
_MONTH_NAME = (message("time-form/month-name"),)


def parse_times(cells: pl.Series, rule: TimeRule, unit: str | None, decimal: str) -> ParsedTimes:
    """One column of time, its form decided by the column as a whole."""
    text = cells.str.strip_chars() if _padded(cells) else cells
    fast = _iso_fast(text)
    if fast is not None:
        return fast
    number = text.str.replace(",", ".", literal=True) if decimal == "," else text
    value = number.cast(pl.Float64, strict=False)
    given = int(text.is_not_null().sum())
    if given == 0:
        return ParsedTimes(no_time(len(cells)), "unknown", False, (message("time-form/empty"),))
    if value.is_not_null().sum() * 2 > given:
        compact = text.str.contains(rf"^20\d{{6}}$|{_RUN}")
        if unit is None and not rule.elapsed and is_clock_of_digits(text, value):
            return clock_of_digits(value)
        if not (compact.sum() * 2 > given):
            return numeric_times(number, value, rule, unit)
    return _textual(text, rule)


def _padded(cells: pl.Series) -> bool:
    return any(cell != cell.strip() for cell in cells.head(50).to_list() if cell)


_ISO_FORMS = (
    ("%Y-%m-%dT%H:%M:%SZ", True),
    ("%Y-%m-%dT%H:%M:%S", False),
    ("%Y-%m-%d %H:%M:%S", False),
    ("%Y-%m-%dT%H:%M:%S%.3fZ", True),
    ("%Y-%m-%d %H:%M:%S%.3f", False),
    ("%Y-%m-%dT%H:%M:%S%.3f", False),
)


def _iso_fast(text: pl.Series) -> ParsedTimes | None:
    """The plain ISO forms all through the column, by the fast parser; None where any differs."""
    head = text.head(20)
    head = head.drop_nulls() if head.null_count() else head
    if len(head) == 0:
        return None
    for form, zoned in _ISO_FORMS:
        trial = head.str.to_datetime(form, strict=False, time_unit="us", cache=False)
        if trial.null_count() or trial.dt.year().le(_FOUR_DIGITS - 1).any():
            continue  # another form, or 14-05-26, which is no year 14
        read = text.str.to_datetime(form, strict=False, time_unit="us", cache=False)
        if read.null_count() == text.null_count():
            return ParsedTimes(read.cast(pl.Int64), "instant", zoned, _ISO)
    return None


def parted_digits(cells: pl.Series) -> pl.Series:
    """Dates of six digits with signs between, 140526 as receivers write it (NMEA 0183) or with
    the year in front, where one of the two can be the year of a log; else as they are."""
    given = cells.drop_nulls().unique().str.strip_chars()
    if not len(given) or not given.str.contains(r"^\d{6}$").all():
        return cells
    ends = (given.str.slice(at, 2).cast(pl.Int64) for at in (0, 4))
    if not any(year.is_between(*_YEARS).all() for year in ends):
        return cells
    return cells.str.replace(r"^\s*(\d\d)(\d\d)(\d\d)\s*$", "${1}-${2}-${3}")


def _textual(text: pl.Series, rule: TimeRule) -> ParsedTimes:
    given = int(text.is_not_null().sum())
    if text.head(20).str.contains("[午오年년时時시]").any():
        text = text.str.replace_many(_EAST_ASIAN).str.strip_chars(" :")
    if text.head(20).str.contains(_HALF_IN_FRONT).any():
        text = text.str.replace(_HALF_IN_FRONT, " ${2} ${1}").str.strip_chars()
    if text.head(20).str.contains(_ONE_SIGN).any():
        text = text.str.replace(_ONE_SIGN, "${1}-${2}-${3} ${4}:${5}:${6}")
    if text.head(20).str.contains(_ASCTIME).any():
        text = text.str.replace(_ASCTIME, "${1} ${2}, ${5} ${3} ${4}")
    if text.head(20).str.contains(rf"{_RUN}|{_BARE_HOUR}").any():
        text = text.str.replace(r"^(20\d{8})$", "${1}00")
        text = text.str.replace(_RUN, "${1}T${2}${3}${4}").str.replace(_BARE_HOUR, "${1} ${2}:00")
    # a look at the ends tells which of the two the column can carry at all
    look = pl.concat([text.head(500), text.tail(500)]).drop_nulls()
    none = no_time(len(text))
    clock, zone_us, zoned = none, none, False
    if look.str.contains(r"\d[:hH.]\d\d|T\d{4}").any():
        clock, zone_us, zoned = _time_of_day(text)
    local: Form = ()
    if not zoned and look.str.contains(r"\d\s*(?:[AP]M\s*)?[B-Z][A-Z]{2,3}\s*$").any():
        local = (message("time-form/zone-unknown"),)
    form: Form = _UNKNOWN
    days, order = none.cast(pl.Int32), ""
    if look.str.contains(r"\d[-/. ]\s?[\d\pL]{1,10}[-/. ,]+\d|\pL\s+\d|^\d{8}").any():
        days, order, form = _days(text, rule)
    dated, timed = int(days.is_not_null().sum()), int(clock.is_not_null().sum())
    if dated and timed and look.str.contains(_DOTTED).all():
        dated, timed = (dated, 0) if _years_behind(text) else (0, timed)
    if dated * 2 > given and timed * 2 > given:
        days, mended = mended_days(days, clock.is_not_null())
        us = days.cast(pl.Int64) * 86_400_000_000 + clock
        if zoned:
            us = us - zone_us
        return ParsedTimes(us, "instant", zoned, (*form, *local), order, mended)
    if dated * 2 > given:
        return ParsedTimes(days.cast(pl.Int64) * 86_400_000_000, "date", False, form, order)
    # behind digits that give no date it is no time of day alone
    bare = not look.str.replace(_TIME, "").str.contains(r"\d").any()
    if timed * 2 > given and bare:
        first = clock.drop_nulls().head(1).to_list()
        elapsed = rule.elapsed or (bool(first) and first[0] < 1_000_000)
        how = message("time-form/elapsed-clock" if elapsed else "time-form/time-of-day")
        kind = "elapsed" if elapsed else "clock"
        return ParsedTimes(clock - zone_us if zoned else clock, kind, zoned, (how,))
    return ParsedTimes(no_time(len(text)), "unknown", False, _UNKNOWN)


def _years_behind(text: pl.Series) -> bool:
    """Whether three numbers with points, 07.02.26, end in a year and no second: years only rise
    from row to row, or only fall."""
    last = text.drop_nulls().str.extract(_DOTTED).cast(pl.Int64, strict=False).drop_nulls()
    return last.n_unique() < 3 or last.is_sorted() or last.is_sorted(descending=True)


def mended_days(days: pl.Series, timed: pl.Series) -> tuple[pl.Series, int]:
    """Days with the broken ones among good ones taken from their neighbours, where those before
    and behind agree and the row's time of day can be read; and how many."""
    if not days.null_count():
        return days, 0
    before, behind = days.forward_fill(), days.backward_fill()
    fill = days.is_null() & timed & (before == behind).fill_null(False)
    return days.zip_with(~fill, before), int(fill.sum())


def _time_of_day(text: pl.Series) -> tuple[pl.Series, pl.Series, bool]:
    """Microseconds since midnight, the zone's offset, and whether the column gives zones."""
    plain = text.str.to_time("%H:%M:%S", strict=False, cache=False)
    if plain.null_count() == text.null_count():
        return plain.cast(pl.Int64) // 1000, no_time(len(text)), False
    basic = text.head(20).str.contains(r"^\s*\d{8}T\d{4}").any()
    parts = text.str.extract_groups(_TIME_BASIC if basic else _TIME)
    hour, minute = (parts.struct.field(str(i)).cast(pl.Int64, strict=False) for i in (1, 2))
    second = (
        parts.struct.field("3").str.replace("[,:]", ".").cast(pl.Float64, strict=False)
    ).fill_null(0.0)
    half = parts.struct.field("4").str.to_lowercase().str.slice(0, 1)
    hour = pl.select(
        pl.when(half == "p").then(hour % 12 + 12).when(half == "a").then(hour % 12).otherwise(hour)
    ).to_series()
    us = hour * 3_600_000_000 + minute * 60_000_000 + (second * 1e6).round(0).cast(pl.Int64)
    fine = (minute < 60) & (second < 61) & (hour < 48)
    us = us.set(~fine.fill_null(False), None)
    ahead = ahead_of_utc(parts.struct.field("5"))
    zoned = int(ahead.is_not_null().sum()) * 2 > int(us.is_not_null().sum())
    return us, ahead.fill_null(0) if zoned else no_time(len(text)).fill_null(0), zoned


def in_zone_of_heading(stamps: ParsedTimes, text: str) -> ParsedTimes:
    """The column at the zone its heading names, where its cells name none."""
    ahead = zone_in_heading(text)
    if ahead is None or stamps.zoned or stamps.kind not in ("instant", "clock"):
        return stamps
    form = (*stamps.form, message("time-form/zone-by-heading"))
    return replace(stamps, us=stamps.us - ahead, zoned=True, form=form)


def in_zone_of_column(stamps: ParsedTimes, cells: pl.Series) -> ParsedTimes:
    """The column at the zones that another gives, where they tell each of its rows."""
    if stamps.zoned or stamps.kind not in ("instant", "clock"):
        return stamps
    ahead = ahead_by_column(cells)
    if (stamps.us.is_not_null() & ahead.is_null()).any():
        return stamps
    form = (*stamps.form, message("time-form/zone-by-column"))
    return replace(stamps, us=stamps.us - ahead, zoned=True, form=form)


def _days(text: pl.Series, rule: TimeRule) -> tuple[pl.Series, str, Form]:
    """Days since 1970 of the date in each cell, the order (as in `ParsedTimes`), and the form."""
    unique = text.str.replace(r"[T\s]+\d{1,2}[:hH].*$|T\d{4}.*$", "").alias("d")
    counted = unique.drop_nulls().value_counts(sort=True)
    keys = counted["d"]
    days, order, form = _days_of(keys, counted["count"], rule)
    if len(keys) == 0:
        return pl.repeat(None, len(text), dtype=pl.Int32, eager=True), "", form
    table = pl.DataFrame({"d": keys, "n": days})
    joined = unique.to_frame("d").join(table, on="d", how="left", maintain_order="left")
    return joined["n"], order, form


def _days_of(keys: pl.Series, weight: pl.Series, rule: TimeRule) -> tuple[pl.Series, str, Form]:
    """The days of different dates, by the form that most of them have; where a good part has
    another, those by that."""
    days, order, form = _one_form(keys, weight, rule)
    left = days.is_null() & keys.is_not_null()
    if order == OPEN or int(weight.filter(left).sum()) < _MIN_OTHER * int(weight.sum()):
        return days, order, form
    if left.sum() < _FEWEST_OTHER or left.all():
        return days, order, form
    others, other_order, _ = _one_form(keys.filter(left), weight.filter(left), rule)
    if others.null_count() * 2 > len(others):
        return days, order, form
    if order and other_order and order != other_order:
        # what could be either cannot be told here
        return days, OPEN, form
    return days.scatter(left.arg_true(), others), order or other_order, form


def _one_form(keys: pl.Series, weight: pl.Series, rule: TimeRule) -> tuple[pl.Series, str, Form]:
    found = _civil(keys, _YMD, (1, 2, 3))
    if _most(found, weight):
        return found, "", _ISO
    found = _civil(keys, _YMD_PLAIN, (1, 2, 3))
    if _most(found, weight):
        return found, "", (message("time-form/iso-basic"),)
    found = _civil(keys, _MONTH_FIRST_NAMED, (3, 1, 2))
    if _most(found, weight):
        return found, "", _MONTH_NAME
    parts = keys.str.extract_groups(_XYZ).struct.unnest()
    if parts["2"].str.contains(r"\pL").fill_null(False).any():
        return _civil(keys, _XYZ, ORDERS[DAY_FIRST]), "", _MONTH_NAME
    order, proved = _order(keys, weight, parts.cast(pl.Int64, strict=False), rule)
    return _civil(keys, _XYZ, ORDERS[order]), proved, _FORM_OF[order]


def _most(found: pl.Series, weight: pl.Series) -> bool:
    return int(weight.filter(found.is_not_null()).sum()) * 2 > int(weight.sum())


def _order(
    keys: pl.Series, weight: pl.Series, parts: pl.DataFrame, rule: TimeRule
) -> tuple[str, str]:
    """The order of dates of three numbers, and the order as in `ParsedTimes`. `weight` is how many
    rows have each date: most rows decide, not one damaged cell."""
    if rule.order:
        return rule.order, ""

    def rows(part: str, low: int, high: int) -> int:
        return int(weight.filter(parts[part].is_between(low, high).fill_null(False)).sum())

    # 26/05/14 has its year in front; 26/05/20 may have it at either end
    half = int(weight.sum()) / 2
    other = MONTH_FIRST
    if min(rows("1", *_YEARS), rows("2", 1, 12), rows("3", 1, 31)) > half:
        if rows("3", *_YEARS) <= half:
            return YEAR_FIRST, YEAR_FIRST
        other = YEAR_FIRST
    elif (over := rows("1", 13, 31) - rows("2", 13, 31)) != 0:
        found = DAY_FIRST if over > 0 else MONTH_FIRST
        return found, found
    day, other_day = (parts[str(ORDERS[one][2])] for one in (DAY_FIRST, other))
    # a point between the numbers is written day first, everywhere it is written at all
    dotted = keys.str.contains(r"^\s*\d{1,2}\.\d{1,2}\.\d")
    if (day == other_day).fill_null(True).all() or dotted.sum() * 2 > len(keys):
        return DAY_FIRST, ""
    varied = (day.n_unique(), other_day.n_unique())
    if min(varied) == 1 and max(varied) > 2:  # one month, or year, and several days
        found = other if varied[0] == 1 else DAY_FIRST
        return found, found
    return DAY_FIRST, OPEN


def _civil(keys: pl.Series, pattern: str, order: tuple[int, int, int]) -> pl.Series:
    """Days since 1970 from the year, month and day groups; null where there is no such day."""
    parts = keys.str.extract_groups(pattern)
    year = parts.struct.field(str(order[0])).cast(pl.Int64, strict=False)
    month_text = parts.struct.field(str(order[1]))
    day = parts.struct.field(str(order[2])).cast(pl.Int64, strict=False)
    months = [month_number(m) for m in month_text.to_list()]
    days = [
        day_number(y, m, d) for y, m, d in zip(year.to_list(), months, day.to_list(), strict=True)
    ]
    return pl.Series("n", days, dtype=pl.Int32)
