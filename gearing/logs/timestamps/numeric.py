"""Times written as numbers: since an epoch, in days, as digits of a time of day, as a count."""

from __future__ import annotations

import polars as pl

from gearing.logs.timestamps.dates import TimeRule
from gearing.logs.timestamps.epochs import day_of_1970
from gearing.logs.timestamps.parsed import ParsedTimes, no_time
from gearing.messages import UserText, message

# Instants before and after which no log of a vehicle can be: the epoch forms are told by size
_EPOCH_LOW, _EPOCH_HIGH = 3.0e8, 4.2e9  # 1979 to 2103, seconds
SERIAL_DAY_1970 = 25_569.0  # 1970-01-01 in spreadsheets' days
MOSTLY, MIN_SECONDS = 0.99, 10  # rows, and different seconds, of times of day in digits alone
_LONGEST_S = 3e7  # of a log in one file, all but its ends
_EPOCH_SCALES = ((1.0, "s"), (1e3, "ms"), (1e6, "us"), (1e9, "ns"))
# Steps of 100 ns since the year 1 and since 1601: from and to (2000 to 2045), and the first from
# 1970 [s]; as nanoseconds since 1970 the former would be of 1990
_TICKS = ((6.3e17, 6.455e17, -62_135_596_800), (1.259e17, 1.401e17, -11_644_473_600))


def numeric_times(
    text: pl.Series, value: pl.Series, rule: TimeRule, unit: str | None
) -> ParsedTimes:
    """A column of numbers, its form told by their size, their steps and `unit`."""
    middle = _float(value.filter(value > 0).median())
    if not rule.elapsed and middle is not None:
        for low, high, began_s in _TICKS:
            if low < middle < high:
                return _ticks(text, value, began_s)
        for scale, name in _EPOCH_SCALES:
            fits = _EPOCH_LOW * scale < middle < _EPOCH_HIGH * scale
            if fits and (unit in (None, name) or _spread(value) < _LONGEST_S * scale):
                return _epoch(text, value, scale, name)
    if not rule.elapsed and unit is None and (day := day_of_1970(value)) is not None:
        us = ((value - day) * 86_400_000).round(0) * 1000  # to the millisecond
        spreadsheets = day == SERIAL_DAY_1970
        form = (message("time-form/serial-days" if spreadsheets else "time-form/days"),)
        return ParsedTimes(us.cast(pl.Int64, strict=False), "instant", False, form)
    scale_us = {"s": 1e6, "ms": 1e3, "us": 1.0, "ns": 1e-3, "min": 6e7, "h": 3.6e9, "d": 8.64e10}
    known = rule.unit or (unit if unit in scale_us else None) or _elapsed_unit(value)
    if known is None:
        form = (message("time-form/elapsed-open"),)
        return ParsedTimes(no_time(len(value)), "elapsed", False, form)
    us = (value * scale_us[known]).round(0)
    us = us.set(us.abs() > 4e15, None).cast(pl.Int64, strict=False)
    form = (message("time-form/elapsed", unit=UserText(known)),)
    return ParsedTimes(us, "elapsed", False, form)


def is_clock_of_digits(text: pl.Series, value: pl.Series) -> bool:
    """Hours, minutes and seconds without a sign between, 140500: no number ends in 60 to 99,
    which a count that runs on does not leave out."""
    given = value.drop_nulls()
    second, minute = given % 100, given // 100 % 100
    fits = (given >= 0) & (given < 240_000) & (second < 60) & (minute < 60)
    if int(fits.sum()) < MOSTLY * len(given):
        return False
    if text.drop_nulls().str.contains(r"^\d{6}(?:\.\d+)?$").all():
        return True
    varied = second.filter(fits).floor().n_unique() >= MIN_SECONDS
    low, high = _float(given.filter(fits).min()) or 0.0, _float(given.filter(fits).max()) or 0.0
    return varied and high - low > 100


def clock_of_digits(value: pl.Series) -> ParsedTimes:
    """Times of day from digits that `is_clock_of_digits`."""
    clock = ((value // 10_000 * 60 + value // 100 % 100) * 60 + value % 100) * 1e6
    us = clock.round(0).cast(pl.Int64, strict=False)
    return ParsedTimes(us, "clock", False, (message("time-form/time-of-day"),))


def _ticks(text: pl.Series, value: pl.Series, began_s: int) -> ParsedTimes:
    """Steps of 100 ns since `began_s`, local or not."""
    whole = text.cast(pl.Int64, strict=False)
    if whole.null_count() > value.null_count():
        whole = value.cast(pl.Int64, strict=False)
    form = (message("time-form/epoch", unit=UserText("100 ns")),)
    return ParsedTimes(whole // 10 + began_s * 1_000_000, "instant", False, form)


def _epoch(text: pl.Series, value: pl.Series, scale: float, name: str) -> ParsedTimes:
    """Epoch times by whole numbers where the text is whole: a float loses microseconds."""
    whole = text.cast(pl.Int64, strict=False)
    if whole.null_count() == value.null_count():
        us = whole * int(1e6 / scale) if scale <= 1e6 else whole // 1000
    else:
        us = (value * (1e6 / scale)).round(0).cast(pl.Int64, strict=False)
    inside = (us > int(_EPOCH_LOW * 1e6)) & (us < int(_EPOCH_HIGH * 1e6))
    us = us.set(~inside.fill_null(False), None)
    form = (message("time-form/epoch", unit=UserText(name)),)
    return ParsedTimes(us, "instant", True, form)


def _spread(value: pl.Series) -> float:
    """What the numbers rise by, all but their ends."""
    low, high = (_float(value.quantile(share)) or 0.0 for share in (0.1, 0.9))
    return high - low


def _elapsed_unit(value: pl.Series) -> str | None:
    """Seconds or milliseconds, by the step between rows; None where both are possible."""
    steps = value.drop_nulls().diff().drop_nulls()
    step = _float(steps.filter(steps > 0).median())
    if step is None:
        return None
    if step <= 5 or not (steps == steps.round(0)).all():
        return "s"
    # as seconds the log would run for over a day: it counts milliseconds
    span = _float(value.max()) or 0.0
    return "ms" if span - (_float(value.min()) or 0.0) > 86_400 else None


def _float(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) else None
