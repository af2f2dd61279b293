"""Latitude and longitude in the forms they are written in, as signed decimal degrees."""

from __future__ import annotations

import re

import polars as pl

from gearing.logs.values import NULL_MARKERS, Numbers, to_numbers

POSITION = ("latitude_deg", "longitude_deg")
SIDES = {"latitude_deg": "latitude_side", "longitude_deg": "longitude_side"}
LETTERS = {"latitude_deg": ("N", "S"), "longitude_deg": ("E", "W", "O")}
_MAX_DEGREES = {"latitude_deg": 90.0, "longitude_deg": 180.0}
MIN_WHOLE = 1e5  # degrees and minutes without a mark between end at 18,000
_SOUTH_OR_WEST = re.compile(r"(?i)(?:°|\bdeg(?:rees)?|[\[( ])\s*[SW](?:est|outh)?\s*[\])]?\s*$")
_DMS = (
    r"""^(\d{1,3}(?:\.\d*)?)\s*[°:\sº]?\s*(?:(\d{1,2}(?:\.\d*)?)\s*['′:\s]?\s*)?"""
    r"""(?:(\d{1,2}(?:\.\d*)?)\s*["″']*)?$"""
)


def to_degrees(
    name: str, cells: pl.Series, side: pl.Series | None, decimal: str, around: bool = False
) -> Numbers:
    """Decimal degrees, with hemisphere letter, as degrees, minutes and seconds, or in the NMEA
    form of degrees and minutes without a mark between (3854.1234). `side` is the column of
    hemisphere letters, where the file has one; `around` says that longitudes beyond 180 degrees
    are of the west, and no degrees and minutes."""
    numbers = _angles(cells, decimal, LETTERS[name])
    high = numbers.values.max()
    if around and isinstance(high, float) and 180 < high <= 360:
        values = numbers.values.set((numbers.values > 180).fill_null(False), None)
        values = values.fill_null(numbers.values - 360)
    else:
        values = _without_minutes(numbers.values, _MAX_DEGREES[name])
    if side is not None:
        west = _west_letters(side)
        letter = side.str.strip_chars().str.to_uppercase().str.slice(0, 1)
        values = _on_side(values, _sign(letter, west))
    return Numbers(values, numbers.bad, numbers.unit, numbers.thousands)


def on_other_side(heading: str, values: pl.Series) -> bool:
    """Whether the heading says that the degrees, without a sign, are of the south or the west."""
    low = values.min()
    return _SOUTH_OR_WEST.search(heading) is not None and isinstance(low, float) and low > 0


def _angles(cells: pl.Series, decimal: str, letters: tuple[str, ...]) -> Numbers:
    if cells.dtype == pl.Float64:
        return to_numbers(cells, decimal)
    sided = cells.str.contains(r"[NSEWOnsewo]\s*\"?$|^\s*\"?[NSEWOnsewo]").fill_null(False)
    plain = to_numbers(cells.set(sided, None), decimal)
    if not plain.bad.any() and not sided.any():
        return plain
    text = cells.str.strip_chars().str.to_uppercase().str.replace(",", ".", literal=True)
    letter = text.str.extract(r"([NSEWO])")
    sign = _sign(letter, _west_letters(letter))
    minus = pl.select(pl.when(text.str.starts_with("-")).then(-1.0).otherwise(1.0)).to_series()
    bare = text.str.replace_all(r"[NSEWO+\-]", "").str.strip_chars()
    number = bare.cast(pl.Float64, strict=False)  # 4412.0066N: degrees and minutes in one
    parts = bare.str.extract_groups(_DMS)
    degrees, minutes, seconds = (
        parts.struct.field(str(i)).cast(pl.Float64, strict=False) for i in (1, 2, 3)
    )
    angle = degrees + minutes.fill_null(0) / 60 + seconds.fill_null(0) / 3600
    fine = (minutes.fill_null(0) < 60) & (seconds.fill_null(0) < 60)
    angle = number.zip_with(number.is_not_null(), angle.set(~fine, None))
    angle = angle.set(~letter.is_in(letters).fill_null(True), None)  # of the other one
    signed = _on_side(angle * minus, sign)
    values = pl.select(
        pl.when(plain.values.is_not_null()).then(plain.values).otherwise(signed)
    ).to_series()
    low = cells.str.strip_chars().str.to_lowercase()
    bad = cells.is_not_null() & values.is_null() & ~low.is_in(NULL_MARKERS)
    return Numbers(values, bad)


def _on_side(values: pl.Series, sign: pl.Series) -> pl.Series:
    """Values on the side of their letter: a minus before a W says the same side twice."""
    return pl.select(pl.when(sign < 0).then(-values.abs()).otherwise(values * sign)).to_series()


def _west_letters(letters: pl.Series) -> tuple[str, ...]:
    """What stands for west: W; and O beside E (oeste, ouest). Beside W an O is east (Ost); alone
    it stays open and gives no position."""
    given = set(letters.str.strip_chars().str.to_uppercase().str.slice(0, 1).unique().to_list())
    return ("W", "O") if "O" in given and "E" in given else ("W",)


def _sign(letter: pl.Series, west: tuple[str, ...]) -> pl.Series:
    """-1 for south and west, 1 for north, east and no letter, null for an O that stays open."""
    given = set(letter.unique().to_list())
    east_too = "O" in given and "W" in given
    return pl.select(
        pl.when(letter.is_in(["S", *west]))
        .then(-1.0)
        .when((letter == "O") & pl.lit(not east_too))
        .then(None)
        .otherwise(1.0)
    ).to_series()


def _without_minutes(values: pl.Series, most: float) -> pl.Series:
    """Degrees of values written as degrees and minutes (38 54.1234' as 3854.1234): told by being
    beyond any angle, all with minutes below 60."""
    low, high = values.min(), values.max()
    if isinstance(low, float) and isinstance(high, float) and low >= -most and high <= most:
        return values
    size = values.abs().drop_nulls()
    middle = size.median()
    if not isinstance(middle, float) or middle <= most:
        return values
    beyond = size.filter(size > most)
    if not ((beyond % 100 < 60) & (beyond / 100 <= most)).all():
        return values
    degrees = (values.abs() / 100).floor()
    angle = degrees + (values.abs() - degrees * 100) / 60
    return angle * values.sign()


def whole_degrees(values: pl.Series) -> tuple[str, ...]:
    """The units in which whole numbers far beyond any angle can be degrees; none where they are
    not. What lies beyond 180 degrees in millionths is written in ten-millionths."""
    low, high = values.min(), values.max()
    if not (isinstance(low, float) and isinstance(high, float) and max(-low, high) >= MIN_WHOLE):
        return ()
    size = values.abs().drop_nulls()
    middle = size.median()
    if not isinstance(middle, float) or middle < MIN_WHOLE or not (size == size.round(0)).all():
        return ()
    return ("1e-7 deg",) if middle > 180e6 else ("1e-7 deg", "1e-6 deg")
