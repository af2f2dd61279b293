"""Zones: by name or offset behind a time, in a heading or above the rows, and local time as UTC."""

from __future__ import annotations

import contextlib
import re
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import polars as pl

# minutes ahead of UTC: RFC 5322 (2008) section 4.3 for North America; the others of the tz database
_ZONE_NAMES = {
    "Z": 0, "UTC": 0, "GMT": 0, "EST": -300, "EDT": -240, "CST": -360, "CDT": -300,
    "MST": -420, "MDT": -360, "PST": -480, "PDT": -420,
    "CET": 60, "CEST": 120, "MEZ": 60, "MESZ": 120, "EET": 120, "EEST": 180,
    "WET": 0, "WEST": 60, "MSK": 180, "SAST": 120, "JST": 540, "KST": 540, "AWST": 480,
    "ACST": 570, "ACDT": 630, "AEST": 600, "AEDT": 660, "NZST": 720, "NZDT": 780,
    "AKST": -540, "AKDT": -480, "HST": -600,
}  # fmt: skip
_ZONE = r"^(?:UTC|GMT)?([+-])(\d{1,2}):?(\d{2})?$"
_NAME_IN_HEADING = re.compile(rf"[\[(]\s*({'|'.join(_ZONE_NAMES)})\s*[\])]")
_PLACE = re.compile(r"[A-Z][A-Za-z]+(?:/[A-Z][A-Za-z_-]+)+")
_PAIRS_OF_DIGITS = r"^[+-](?:0\d|1[0-4])[0-5]\d$"
MAX_HOURS = 14
_ZONE_IN_HEADING = re.compile(
    r"(?i)(?<![a-z])(?:utc|gmt|zulu)(?![a-z])\s*(?:([+-])\s*(\d{1,2})(?::?(\d{2}))?(?!\d))?"
)


def ahead_of_utc(zone: pl.Series) -> pl.Series:
    """Microseconds ahead of UTC by what stands behind the time; null where that is no known zone:
    the time is then local."""
    low = zone.str.to_uppercase()
    named = low.replace_strict(_ZONE_NAMES, default=None, return_dtype=pl.Int64)
    parts = low.str.extract_groups(_ZONE)
    hours, minutes = (parts.struct.field(i).cast(pl.Int64, strict=False) for i in ("2", "3"))
    size = hours * 60 + minutes.fill_null(0)
    signed = pl.select(pl.when(parts.struct.field("1") == "-").then(-size).otherwise(size))
    return named.fill_null(signed.to_series()) * 60_000_000


def ahead_by_column(cells: pl.Series) -> pl.Series:
    """Microseconds ahead of UTC of a column of zones: -06:00, -0600, MDT, and hours, minutes or
    seconds as numbers; null where a cell is none of these."""
    text = cells.str.strip_chars().str.replace(r"^(\d)", "+${1}")
    number = text.cast(pl.Float64, strict=False)
    size = number.abs()
    size_s = pl.select(
        pl.when(text.str.contains(_PAIRS_OF_DIGITS))
        .then(size // 100 * 3600 + size % 100 * 60)
        .when(size <= MAX_HOURS)
        .then(size * 3600)
        .when((size <= MAX_HOURS * 60) & (size % 15 == 0))
        .then(size * 60)
        .when((size <= MAX_HOURS * 3600) & (size % 900 == 0))
        .then(size)
    ).to_series()
    counted = (size_s * number.sign() * 1e6).cast(pl.Int64)
    return counted.zip_with(number.is_not_null(), ahead_of_utc(text))


def zone_in_heading(text: str) -> int | None:
    """Microseconds ahead of UTC that a heading or a units row names: UTC, GMT, UTC-7, (MDT)."""
    found = _ZONE_IN_HEADING.search(text)
    if found is None:
        name = _NAME_IN_HEADING.search(text)
        return _ZONE_NAMES[name[1]] * 60_000_000 if name else None
    minutes = int(found[2] or 0) * 60 + int(found[3] or 0)
    return (-minutes if found[1] == "-" else minutes) * 60_000_000


def zone_in_preamble(preamble: tuple[str, ...]) -> str:
    """The zone that stands in a field of its own above the rows, where a zone is spoken of."""
    return next((one for one in _zone_fields(preamble) if _ZONE_IN_HEADING.fullmatch(one)), "")


def place_of_zone(preamble: tuple[str, ...], column: pl.Series | None) -> str:
    """The zone of the tz database, America/Denver, that stands so above the rows or, the same in
    each row, in a column of zones; empty where there is none."""
    given = column.drop_nulls().unique().head(2).to_list() if column is not None else []
    for name in (*_zone_fields(preamble), *(given if len(given) == 1 else ())):
        with contextlib.suppress(ZoneInfoNotFoundError):
            if _PLACE.fullmatch(name.strip()):
                return ZoneInfo(name.strip()).key
    return ""


def _zone_fields(preamble: tuple[str, ...]) -> list[str]:
    if not any("zone" in line.lower() for line in preamble):
        return []
    return [field.strip() for line in preamble for field in re.split(r"[,;=\t]|: ", line)]


def to_utc(us: pl.Series, time_zone: str) -> tuple[pl.Series, int, int]:
    """Local microseconds as UTC, with the counts of rows told apart by order in the hour that
    comes twice, and of local times that do not exist (then the whole column is read at the
    offset before the change: the recorder's clock was not switched).
    """
    if time_zone == "UTC":
        return us, 0, 0
    local = us.cast(pl.Datetime("us"))
    early = local.dt.replace_time_zone(time_zone, ambiguous="earliest", non_existent="null")
    gaps = int(early.null_count() - local.null_count())
    if gaps:
        return _at_first_offset(us, local, time_zone), 0, gaps
    late = local.dt.replace_time_zone(time_zone, ambiguous="latest", non_existent="null")
    early_us = early.dt.convert_time_zone("UTC").cast(pl.Int64)
    late_us = late.dt.convert_time_zone("UTC").cast(pl.Int64)
    twice = (early_us != late_us).fill_null(False)
    count = int(twice.sum())
    if count == 0:
        return early_us, 0, 0
    # within the doubled hour, rows behind a jump back are the second pass
    back = (us.diff() < -1_800_000_000).fill_null(False) & twice
    passed = back.cast(pl.Int8).cum_sum() > 0
    if not back.any():
        before, after = _runs_on(us, twice)
        if before and after:  # through the hour once: the recorder's clock was not switched
            return _at_first_offset(us, local, time_zone), 0, count
        if after:  # from within the hour out of it: the second pass
            passed = twice
    mixed = pl.select(pl.when(twice & passed).then(late_us).otherwise(early_us)).to_series()
    return mixed, count, 0


def _at_first_offset(us: pl.Series, local: pl.Series, time_zone: str) -> pl.Series:
    """The whole column at the offset of its first moment."""
    first = local.drop_nulls().min()
    assert isinstance(first, datetime)
    offset = first.replace(tzinfo=ZoneInfo(time_zone)).utcoffset() or timedelta()
    return us - int(offset.total_seconds() * 1e6)


def _runs_on(us: pl.Series, twice: pl.Series) -> tuple[bool, bool]:
    """Whether rows run into the doubled hour from before it, and out of it, without a pause."""
    known = pl.DataFrame({"us": us, "twice": twice}).drop_nulls()
    inside = known["twice"].arg_true()
    first, last = int(inside[0]), int(inside[-1])
    step = known["us"].diff().abs() < 1_800_000_000
    before = first > 0 and bool(step[first])
    return before, last + 1 < known.height and bool(step[last + 1])
