"""Days from which clocks count, and counts read from another day than they were made from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

import polars as pl

from gearing.logs.assign import Candidate
from gearing.logs.column_rule import rule_line
from gearing.logs.ledger import Ledger, answer
from gearing.logs.order import DAY, WEEKS_1024
from gearing.logs.timestamps.dates import find_start
from gearing.logs.timestamps.parsed import Form, ParsedTimes
from gearing.messages import Moment, UserText, message

GPS_BEGAN = datetime(1980, 1, 6, tzinfo=UTC)  # IS-GPS-200
GPS_BEGAN_S = round(GPS_BEGAN.timestamp())
# Leap seconds since, by the day from which they hold (IERS Bulletin C)
_LEAPS = ((1_483_228_800, 18), (1_435_708_800, 17), (1_341_100_800, 16), (0, 15))
# Counts of days between 2000 and 2045, and the one that 1970 began with: spreadsheets', modified
# Julian, of matrix programs (day 1 is the first of the year 0), since 1970, Julian
_DAY_COUNTS = (
    (36_526, 53_005, 25_569.0),
    (53_005, 68_100, 40_587.0),
    (730_486, 746_930, 719_529.0),
    (10_957, 27_400, 0.0),
    (2_451_544, 2_468_000, 2_440_587.5),
)
_MAX_STEP_DAYS = 0.01  # from row to row
# GPS weeks count to 1024: from 2019-04-07 on, a receiver that does not know it counts from
# 1999-08-22 again (interface specification IS-GPS-200, from memory). Seconds of GPS up to 2028,
# taken for seconds since 1970, are of before 2018
_ROLLED_FROM = datetime(1999, 8, 22, tzinfo=UTC)
_ROLLED_TO = datetime(2012, 1, 1, tzinfo=UTC)
_GPS_TO = datetime(2018, 1, 1, tzinfo=UTC)
_LATEST = datetime(2045, 1, 1, tzinfo=UTC)
_NEAR = 2 * DAY
_BEGUN_WITHIN = timedelta(minutes=10)  # of the moment a name gives
_EARLIEST_US, _LATEST_US = 0, round(datetime(2100, 1, 1, tzinfo=UTC).timestamp() * 1e6)
# What a count read from the wrong day is off by, where times are written so, and what is told:
# spreadsheets may count from 1904-01-01 in place of 1899-12-30
_MISCOUNTS = (
    ("", WEEKS_1024, message("week-rollover")),
    ("time-form/epoch", GPS_BEGAN_S * 1_000_000, message("counted-from-1980")),
    ("time-form/serial-days", 1462 * DAY, message("counted-from-1904")),
)


def day_of_1970(value: pl.Series) -> float | None:
    """What a count of days, with a fraction of one a row, had reached on 1970-01-01; None where
    the numbers are none."""
    given = value.drop_nulls()
    low, high = given.min(), given.max()
    if not (isinstance(low, float) and isinstance(high, float)) or (given == given.round(0)).all():
        return None
    steps = given.diff().drop_nulls()
    step = steps.filter(steps != 0).abs().median()
    if not isinstance(step, float) or step >= _MAX_STEP_DAYS:
        return None
    return next((day for least, most, day in _DAY_COUNTS if least <= low <= high < most), None)


def leap_seconds(since_1970_s: float) -> int:
    """How many seconds GPS is ahead of UTC."""
    return next((leap for begins, leap in _LEAPS if since_1970_s >= begins), 0)


def from_gps(since_1980_us: pl.Series) -> pl.Series:
    """Microseconds since 1970, UTC, of those that GPS counts."""
    us = since_1980_us + GPS_BEGAN_S * 1_000_000
    first = us.first(ignore_nulls=True)
    return us - leap_seconds(first / 1e6) * 1_000_000 if isinstance(first, int) else us


def named_days(texts: Iterable[str], others: Iterable[pl.Series]) -> Iterator[int]:
    """Microseconds since 1970 of the days that a file's name, its preamble and its other columns
    of dates give, no zone applied."""
    for text in texts:
        moment, _ = find_start(text)
        if moment is not None:
            yield round(moment.replace(tzinfo=UTC).timestamp() * 1e6)
    for us in others:
        first = us.first(ignore_nulls=True)
        if isinstance(first, int):
            yield first


def on_named_day(us: pl.Series, form: Form, days: Iterable[int], ledger: Ledger) -> pl.Series:
    """Times read from the wrong day moved to the day that is named."""
    first = us.first(ignore_nulls=True)
    codes = {"", *(one.code for one in form)}
    if not isinstance(first, int):
        return us
    for day in days:
        for code, shift, told in _MISCOUNTS:
            if code in codes and abs(day - first - shift) < _NEAR:
                ledger.repair(told, len(us) - us.null_count())
                return from_gps(us) if code == "time-form/epoch" else us + shift
    if "time-form/serial-days" in codes and not any(abs(day - first) < _NEAR for day in days):
        later = datetime.fromtimestamp(first / 1e6 + 1462 * 86_400, UTC)
        ledger.repair(message("counted-from-1900", day=Moment.day(later)))
    return us


def in_afternoon(stamps: ParsedTimes, texts: Iterable[str], ledger: Ledger) -> ParsedTimes:
    """Times of a clock of twelve hours that says neither a.m. nor p.m., as of the afternoon where
    one of the texts puts the first row there."""
    first = stamps.us.first(ignore_nulls=True)
    if stamps.zoned or stamps.kind not in ("instant", "clock") or not isinstance(first, int):
        return stamps
    of_day = stamps.us % DAY
    if not of_day.is_between(DAY // 24, DAY // 24 * 13, closed="left").all():
        return stamps
    half_day = timedelta(microseconds=first % DAY + DAY // 2)
    for moment, known in map(find_start, texts):
        if moment is None or not known:
            continue
        away = moment.replace(tzinfo=None) - datetime.combine(moment.date(), time()) - half_day
        if abs(away) < _BEGUN_WITHIN:
            ledger.repair(message("twelve-hours"), len(stamps.us))
            return replace(stamps, us=stamps.us + DAY // 2)
    return stamps


def of_logs(us: pl.Series) -> pl.Series:
    """Times without those that no clock of a log gives: of another calendar, or damaged."""
    low, high = us.min(), us.max()
    if isinstance(low, int) and isinstance(high, int) and _EARLIEST_US <= low <= high < _LATEST_US:
        return us
    return us.set(((us < _EARLIEST_US) | (us >= _LATEST_US)).fill_null(False), None)


def ask_old(c: Candidate, us: pl.Series, form: Form, days: Iterable[int], ledger: Ledger) -> None:
    """Dates from before the receivers' second week count ended may lie 1024 weeks back, those of
    a count be counted from 1980, and those of no log at all from another day."""
    last = us.last(ignore_nulls=True)
    if c.rule is not None or not isinstance(last, int):
        return
    at, unit = datetime.fromtimestamp(0, UTC) + timedelta(microseconds=last), _epoch_unit(form)
    since_1980 = (f"{unit} since {GPS_BEGAN:%Y-%m-%d}",) if unit else ()
    year = Moment(str(at.year))

    def lines(*units: str) -> list[str]:
        return [rule_line(c.heading, "time", one) for one in (*units, None)]

    if _ROLLED_FROM <= at < _ROLLED_TO:
        told = message("old-dates", year=year, answer=answer(lines("+ 1024 weeks", *since_1980)))
    elif unit and _ROLLED_TO <= at < _GPS_TO:
        if any(abs(day - last) < _NEAR for day in days):
            return
        told = message("old-dates/gps", year=year, answer=answer(lines(*since_1980)))
    elif unit and not _ROLLED_FROM <= at < _LATEST:
        since = lines(f"{unit} since 2001-01-01", f"{unit} since 1904-01-01")
        told = message("old-dates/count", year=year, answer=answer(since))
    else:
        return
    ledger.ask(told, c.heading)


def _epoch_unit(form: Form) -> str:
    """The unit of a count since 1970; empty where times are written otherwise."""
    counts = [dict(one.fields)["unit"] for one in form if one.code == "time-form/epoch"]
    return counts[0].text if counts and isinstance(counts[0], UserText) else ""
