"""Columns that hold a part of a value, or two values in one: a moment written as year, month, day
and hour in columns of their own, degrees, minutes and seconds of a position likewise, a latitude
and a longitude in one field."""

from __future__ import annotations

import functools
from dataclasses import replace

import polars as pl

from gearing.logs.assign import Candidate
from gearing.logs.fast_path import HEAD_ROWS
from gearing.logs.headings import fold, recognise
from gearing.logs.layout import Layout
from gearing.logs.positions import POSITION
from gearing.logs.table import Table
from gearing.logs.timestamps.epochs import from_gps
from gearing.messages import message

_PARTS = {
    "year": {"year", "yr", "yyyy", "jahr", "annee", "ano"},
    "month": {"month", "mon", "mo", "mm", "monat", "mois", "mes"},
    "day": {"day", "dd", "dy", "tag", "jour", "dia"},
    "hour": {"hour", "hr", "hh", "hours", "stunde", "heure", "hora"},
    "minute": {"minute", "min", "minutes", "minuto"},
    "second": {"second", "sec", "ss", "seconds", "sekunde", "seconde", "segundo"},
}
_MUST = ("year", "month", "day", "hour")
# What a heading ends in that gives sixtieths of a degree, and sixtieths of those
_SIXTIETHS = (
    {"mins", "minuten", "minutos", "minuti", *_PARTS["minute"]},
    {"secs", "sekunden", "secondes", "segundos", "secondi", *_PARTS["second"]},
)
_PLACES = {
    "position", "location", "coordinates", "coordinate", "coords", "gps", "gps position",
    "gps location", "gps coordinates", "lat lon", "lat long", "lat lng", "latitude longitude",
    "latlon", "latlng", "koordinaten", "coordonnees", "coordenadas",
}  # fmt: skip
_PAIR = r"^[\s(\[]*([-+]?\d{1,2}[.,]\d+)[\s,;/|]+([-+]?\d{1,3}[.,]\d+)[\s)\]]*$"
_WHOLE = r"^\D*\d{1,3}(?:[.,]0*)?\D*$"
_MOSTLY = 0.9
_WEEK_S = 604_800


def has_compounds(layout: Layout) -> bool:
    """Whether any heading may be of such a column."""
    headings = layout.headings
    parts = _time_parts(headings) or _week_parts(headings) or _angle_parts(headings)
    return bool(parts) or _place_index(headings) is not None


def with_whole_values(table: Table) -> Table:
    """The table with a column for each value that others hold in parts, or two in one. Degrees
    get their minutes and seconds where they stand."""
    if angles := _angle_parts(table.layout.headings):
        frame = _with_sixtieths(table.frame, angles)
        table = replace(table, frame=frame, head=functools.cache(lambda: frame.head(HEAD_ROWS)))
    added: dict[str, pl.Series] = {}
    if parts := _time_parts(table.layout.headings):
        added["time"] = _moments(table.frame, parts)
    elif weeks := _week_parts(table.layout.headings):
        added["time"] = _of_weeks(table.frame, *weeks)
    index = _place_index(table.layout.headings)
    pair = table.frame[f"c{index}"].str.extract_groups(_PAIR) if index is not None else None
    if pair is not None and pair.struct.field("1").count() > _MOSTLY * table.frame.height:
        added["latitude"], added["longitude"] = (pair.struct.field(i) for i in ("1", "2"))
    if not added:
        return table
    return with_columns(table, added)


def with_columns(table: Table, added: dict[str, pl.Series]) -> Table:
    """The table with more columns of text behind its own, by their headings."""
    first = len(table.layout.headings)
    headings = (*table.layout.headings, *added)
    layout = replace(table.layout, headings=headings, named=len(headings))
    named = {f"c{first + i}": values for i, values in enumerate(added.values())}
    frame = table.frame.with_columns(**named)
    return replace(
        table, layout=layout, frame=frame, head=functools.cache(lambda: frame.head(HEAD_ROWS))
    )


@functools.lru_cache(maxsize=256)
def _time_parts(headings: tuple[str, ...]) -> dict[str, str]:
    """The columns of a moment's parts; none where the day and hour are not all there."""
    found: dict[str, str] = {}
    for index, heading in enumerate(headings):
        words = fold(heading)
        for part, names in _PARTS.items():
            if words in names:
                found.setdefault(part, f"c{index}")
    return found if all(part in found for part in _MUST) else {}


@functools.lru_cache(maxsize=256)
def _angle_parts(headings: tuple[str, ...]) -> dict[int, tuple[int, ...]]:
    """For each column of a latitude or longitude those of its minutes and seconds, by index."""
    first: dict[str, int] = {}
    parts: dict[str, dict[int, int]] = {}
    for index, heading in enumerate(headings):
        *words, last = fold(heading).split() or [""]
        power = next((i for i, names in enumerate(_SIXTIETHS) if last in names), None)
        match = recognise(heading if power is None else " ".join(words))
        if match is None or match.target not in POSITION:
            continue
        if power is None:
            first.setdefault(match.target, index)
        else:
            parts.setdefault(match.target, {}).setdefault(power, index)
    return {
        first[name]: tuple(of[power] for power in sorted(of))
        for name, of in parts.items()
        if name in first and 0 in of
    }


def without_parts(found: list[Candidate], headings: tuple[str, ...]) -> list[Candidate]:
    """The columns without those whose minutes and seconds stand with their degrees."""
    parts = {index for of in _angle_parts(headings).values() for index in of}
    how = (message("column-of-parts"),)
    return [replace(c, target=None, how=how) if c.index in parts else c for c in found]


def _with_sixtieths(frame: pl.DataFrame, angles: dict[int, tuple[int, ...]]) -> pl.DataFrame:
    """Whole degrees with their minutes and seconds behind them; others as they are."""
    for index, parts in angles.items():
        degrees = frame[f"c{index}"].str.strip_chars()
        if not degrees.drop_nulls().str.contains(_WHOLE).all():
            continue
        more = [frame[f"c{part}"].str.strip_chars().fill_null("?") for part in parts]
        turned = more[0].str.starts_with("-") & ~degrees.str.starts_with("-")
        sign = turned.replace_strict({True: "-", False: ""}, return_dtype=pl.String)
        cells = [sign + degrees, *(one.str.strip_prefix("-") for one in more)]
        joined = pl.DataFrame({str(i): cell for i, cell in enumerate(cells)})
        whole = joined.select(pl.concat_str(pl.all(), separator=" ").alias(f"c{index}"))
        frame = frame.with_columns(whole.to_series())
    return frame


@functools.lru_cache(maxsize=256)
def _week_parts(headings: tuple[str, ...]) -> tuple[str, str] | None:
    """The columns of a GPS week and the time in it, where no other column is the time."""
    named = [match.target if (match := recognise(heading)) else "" for heading in headings]
    if "time" in named or not {"gps_week", "time_of_week"} <= {*named}:
        return None
    return f"c{named.index('gps_week')}", f"c{named.index('time_of_week')}"


def _of_weeks(frame: pl.DataFrame, week: str, within: str) -> pl.Series:
    """Milliseconds since 1970 of each row, of weeks of GPS and seconds or milliseconds in them."""
    weeks, time = (
        frame[c].str.strip_chars().cast(pl.Float64, strict=False) for c in (week, within)
    )
    most = time.max()
    if isinstance(most, float) and most > _WEEK_S:
        time = time / 1000
    us = ((weeks * _WEEK_S + time) * 1000).round(0).cast(pl.Int64, strict=False) * 1000
    return (from_gps(us) // 1000).cast(pl.String)


def _moments(frame: pl.DataFrame, parts: dict[str, str]) -> pl.Series:
    """ISO 8601 of each row; null where a part is no number."""
    number = {
        part: frame[column].str.strip_chars().cast(pl.Float64, strict=False)
        for part, column in parts.items()
    }
    whole = pl.DataFrame(number).with_columns(pl.col(pl.Float64).cast(pl.Int64, strict=False))
    year = pl.when(pl.col("year") < 100).then(pl.col("year") + 2000).otherwise(pl.col("year"))
    two = [_two_digits(part) if part in parts else pl.lit("00") for part in list(_PARTS)[1:]]
    text = pl.format("{}-{}-{}T{}:{}:{}", year, *two)
    if "second" in number:
        thousandths = (number["second"] % 1 * 1000).round(0).cast(pl.Int64, strict=False)
        whole = whole.with_columns(ms=thousandths)
        text = pl.format("{}.{}", text, pl.col("ms").cast(pl.String).str.zfill(3))
    return whole.select(text).to_series()


def _two_digits(part: str) -> pl.Expr:
    return pl.col(part).cast(pl.String).str.zfill(2)


@functools.lru_cache(maxsize=256)
def _place_index(headings: tuple[str, ...]) -> int | None:
    known = {match.target for heading in headings if (match := recognise(heading))}
    if "latitude_deg" in known:
        return None
    places = (i for i, heading in enumerate(headings) if fold(heading) in _PLACES)
    return next(places, None)
