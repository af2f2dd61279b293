"""From strings to numbers: null markers, decimal comma, units in cells, codes, plausible range."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from math import isfinite, pi

import numpy as np
import polars as pl

from gearing.logs.thousands import parts_thousands
from gearing.quantities import Quantity
from gearing.units import BY_NAME, convert, find_unit

# What recorders write where there is no value; compared in lower case, blanks taken off
NULL_MARKERS = (
    "", "-", "--", "---", "----", ".", "..", "?", "*", "#", "n/a", "na", "n.a.", "#n/a", "#na",
    "nan", "null", "none", "nil", "nodata", "no data", "no_data", "no value", "unavailable",
    "not available", "invalid", "unknown", "undefined", "missing", "err", "error", "#value!",
    "#div/0!", "inf", "-inf", "+inf", "infinity", "-infinity", "n.v.", "k.a.", "k. a.", "keine",
    "ungultig", "ungültig", "nv", "n.d.", "nd", "s/d", "s.d.", "sin datos", "no disponible",
    "m", "indisponible", "non disponible", "no fix", "out of range", "timeout", "stopped", "\\n",
    "(null)", "<null>", "nan()", "1.#qnan", "-1.#ind", "1.#inf", "-1.#inf", "#ref!", "undef",
    "inv", "***", "…",
)  # fmt: skip
# Numbers that recorders write for "no value", whatever the unit
SENTINELS = (
    1e10, -1e10, 1e9, -1e9, 1e30, 1e20, -1e20, 9.9e37, 1e37, 3.4028234663852886e38,
    -999.0, -9999.0, -99999.0, -999999.0, -999.25, -9999.0, 9999.0, 99999.0, 999999.0, 9999999.0,
    65535.0, 65534.0, 32767.0, -32768.0, 2147483647.0, -2147483648.0, 4294967295.0, 4294967294.0,
    4211081215.0,
)  # fmt: skip
_TRUE = ("true", "on", "yes", "active", "engaged", "locked", "1", "ja", "ein", "oui", "si", "sí",
         "vrai", "an", "aktiv", "actif", "activo", "y", "j", "full", "voll", "plein",
         "x")  # fmt: skip
_FALSE = ("false", "off", "no", "inactive", "not engaged", "disengaged", "unlocked", "0", "nein",
          "aus", "non", "faux", "inaktiv", "inactif", "inactivo", "not active", "n", "partial",
          "teil")  # fmt: skip
_NEUTRAL = ("n", "neutral", "leerlauf", "p", "park", "point mort")
_REVERSE = ("r", "reverse", "rev", "ruckwarts", "rückwärts", "marche arriere")
_TRIPS = ("trip", "trips", "fahrt", "trajet", "viaje")
ROUNDED = 1.01  # half the steps of two rounded numbers, and what a conversion adds
ON_THE_MEAN = 1e-3  # of the total: what is more is another figure
ROWS_A_TRIP = 100  # a counter of whole kilometers or miles goes on sooner, at a row a second
_WITH_UNIT = r"^([-+]?\d[\d.,' \u00a0\u202f]*?(?:[eE][-+]?\d+)?)\s*([^\d\s.,'].*|\s1/.+)$"
_GROUP, _GROUP_COMMA = r"[,' \u00a0\u202f]", r"[.' \u00a0\u202f]"
_THOUSANDS = r"^[-+]?\d{1,3}(?:[,' \u00a0\u202f]\d{3})+(?:\.\d+)?$"
_THOUSANDS_COMMA = r"^[-+]?\d{1,3}(?:[.' \u00a0\u202f]\d{3})+(?:,\d+)?$"


@dataclass(frozen=True, slots=True)
class Numbers:
    """A column as numbers: `values` Float64, `bad` the cells that carry text but no number."""

    values: pl.Series
    bad: pl.Series
    unit: str | None = None  # written in the cells behind the numbers
    thousands: int = 0


@lru_cache(maxsize=4)
def nowhere(length: int) -> pl.Series:
    """A mask of no cell, made once for all columns of a log."""
    return pl.Series(np.zeros(length, np.bool_))


def to_numbers(cells: pl.Series, decimal: str) -> Numbers:
    """Cast strings; what is neither number nor null marker is marked bad."""
    none = nowhere(len(cells))
    if cells.dtype == pl.Float64:
        return Numbers(_finite(cells), none)
    blank = cells.null_count()
    thousands = 0
    if parts_thousands(cells, decimal):
        cells, thousands = _without_sign(cells, decimal)
    elif decimal == ",":
        cells, thousands = _without_points(cells)
    text = cells.str.replace(",", ".", literal=True) if decimal == "," else cells
    values = text.cast(pl.Float64, strict=False)
    if values.null_count() == blank:
        return Numbers(_finite(values), none, None, thousands)
    second = _second_try(cells, values, decimal)
    return replace(second, thousands=second.thousands + thousands)


def _without_sign(cells: pl.Series, decimal: str) -> tuple[pl.Series, int]:
    count = int(cells.str.contains(decimal, literal=True).sum())
    return cells.str.replace(decimal, "", literal=True), count


def _without_points(cells: pl.Series) -> tuple[pl.Series, int]:
    """Where the decimal sign is a comma, a point that parts groups of three is taken out: 1.234
    is twelve hundred there."""
    grouped = cells.str.contains(r"^\s*[-+]?[1-9]\d{0,2}(?:\.\d{3})+(?:,\d*)?\s*$").fill_null(False)
    count = int(grouped.sum())
    if count == 0:
        return cells, 0
    bare = cells.str.replace_all(".", "", literal=True)
    return pl.select(pl.when(grouped).then(bare).otherwise(cells)).to_series(), count


def _finite(values: pl.Series) -> pl.Series:
    if values.null_count() == 0 and isfinite(values.sum()):  # one that is not makes the sum so
        return values
    return values.set(~values.is_finite(), None)


def _second_try(cells: pl.Series, values: pl.Series, decimal: str) -> Numbers:
    """The cells the plain cast refused: blanks around, markers, units, thousands."""
    failed = (values.is_null() & cells.is_not_null()).arg_true()
    text = cells.gather(failed).str.strip_chars().str.strip_chars('"').str.strip_chars()
    text = text.str.strip_prefix("'")
    low = text.str.to_lowercase()
    marker = low.is_in(NULL_MARKERS)
    got, grouped = _grouped_numbers(text, decimal)
    unit = None
    rest = (got.is_null() & ~marker).arg_true()
    if len(rest):
        parts = text.gather(rest).str.extract_groups(_WITH_UNIT)
        unit = _unit_of(parts.struct.field("2"), len(cells) - cells.null_count())
        if unit is not None:
            fits = parts.struct.field("2").is_in([unit])
            number, parted = _grouped_numbers(parts.struct.field("1"), decimal)
            got = got.scatter(rest, pl.select(pl.when(fits).then(number)).to_series())
            grouped = grouped.scatter(rest, parted & fits)
        elif len(rest) * 10 > len(cells) - cells.null_count() and _is_hex(cells):
            # those that are numbers too are none of that size
            nothing = pl.repeat(None, len(cells), dtype=pl.Float64, eager=True)
            return Numbers(nothing, cells.is_not_null())
    values = _finite(values.scatter(failed, got))
    bad = np.zeros(len(cells), np.bool_)
    bad[failed.to_numpy()] = (got.is_null() & ~marker).to_numpy()
    return Numbers(values, pl.Series(bad), unit, int((grouped & ~marker & got.is_not_null()).sum()))


def _is_hex(cells: pl.Series) -> bool:
    """Whether all cells are bytes in sixteens' digits: 0AF0."""
    return bool(cells.str.contains(r"^\s*(?:0[xX])?[0-9A-Fa-f]{2,8}\s*$").all())


def _grouped_numbers(text: pl.Series, decimal: str) -> tuple[pl.Series, pl.Series]:
    """Numbers whose thousands may be parted, and which are so."""
    grouped = text.str.contains(_THOUSANDS_COMMA if decimal == "," else _THOUSANDS)
    # apostrophes and blanks are dropped anywhere, the other sign only where it groups by three
    plain = pl.select(
        pl.when(grouped)
        .then(text.str.replace_all(_GROUP_COMMA if decimal == "," else _GROUP, ""))
        .otherwise(text)
    ).to_series()
    if decimal == ",":
        plain = plain.str.replace(",", ".", literal=True)
    return plain.cast(pl.Float64, strict=False), grouped.fill_null(False)


def _unit_of(endings: pl.Series, filled: int) -> str | None:
    """The unit behind the numbers, where most cells carry the same known one."""
    counted = endings.drop_nulls().value_counts(sort=True)
    if counted.height == 0:
        return None
    ending, count = counted.row(0)
    if count * 2 < filled or find_unit(ending) is None:
        return None
    return str(ending)


def to_flags(cells: pl.Series) -> Numbers:
    """On and off in words or numbers as 1 and 0."""
    number = cells.cast(pl.Float64, strict=False)
    if number.null_count() == cells.null_count():
        return Numbers(_finite(number), number.is_nan() & False)
    low = cells.str.strip_chars().str.to_lowercase()
    number = cells.str.strip_chars().cast(pl.Float64, strict=False)
    values = pl.select(
        pl.when(low.is_in(_TRUE)).then(1.0).when(low.is_in(_FALSE)).then(0.0).otherwise(number)
    ).to_series()
    bad = cells.is_not_null() & values.is_null() & ~low.is_in(NULL_MARKERS)
    return Numbers(values, bad)


def to_gears(cells: pl.Series, decimal: str) -> Numbers:
    """Gears as numbers; neutral and park 0, reverse -1; D1, 3rd and the like by their digit."""
    plain = to_numbers(cells, decimal)
    if not plain.bad.any():
        return plain
    low = cells.str.strip_chars().str.to_lowercase()
    digit = low.str.extract(r"^(?:d|m|s|gear|gang)?\s*(\d{1,2})(?:st|nd|rd|th)?$").cast(pl.Float64)
    values = pl.select(
        pl.when(plain.values.is_not_null())
        .then(plain.values)
        .when(low.is_in(_NEUTRAL))
        .then(0.0)
        .when(low.is_in(_REVERSE))
        .then(-1.0)
        .otherwise(digit)
    ).to_series()
    bad = cells.is_not_null() & values.is_null() & ~low.is_in(NULL_MARKERS)
    return Numbers(values, bad)


def codes_and_outliers(
    raw: pl.Series, values: pl.Series, quantity: Quantity
) -> tuple[pl.Series, pl.Series] | None:
    """Where a number is a code for 'not available', the quantity's own or a general one, and
    where it is none and lies outside the plausible range; None where nothing is of either kind.

    `raw` is as written, `values` in the quantity's unit.
    """
    low, high = values.min(), values.max()
    least, most = (low, high) if raw is values else (raw.min(), raw.max())
    if not (isinstance(low, float) and isinstance(high, float)):
        return None
    if not (isinstance(least, float) and isinstance(most, float)):
        return None
    bottom = -np.inf if quantity.low is None else quantity.low - 1e-9 * max(1, abs(quantity.low))
    top = np.inf if quantity.high is None else quantity.high * (1 + 1e-9)
    beyond = low < bottom or high > top
    sentinels = [code for code in SENTINELS if least <= code <= most]
    near = {code: 1e-6 * max(1.0, abs(code)) for code in quantity.codes}
    own = [code for code in near if low - near[code] < code < high + near[code]]
    if not (beyond or sentinels or own):
        return None
    number = values.to_numpy()
    code = np.isin(raw.to_numpy(), sentinels) if sentinels else np.zeros(len(raw), np.bool_)
    for value in own:
        code |= np.abs(number - value) < near[value]
    outside = ((number < bottom) | (number > top)) & ~code
    return (pl.Series(code), pl.Series(outside)) if code.any() or outside.any() else None


def in_unit(values: pl.Series, source: str, target: str) -> pl.Series:
    """Values converted between two named units; of an angle a grade is its tangent."""
    if target == "%" and BY_NAME[source].dimension == "angle":
        return (convert(values, source, "deg") * (pi / 180)).tan() * 100
    return values if source == target else convert(values, source, target)


def alike(one: pl.Series, unit: str | None, other: pl.Series, other_unit: str | None) -> bool:
    """Whether two columns hold the same: in one unit, or in two of them but for their rounding."""
    if unit == other_unit or unit is None or other_unit is None:
        return unit == other_unit and one.equals(other)
    if BY_NAME[unit].dimension != BY_NAME[other_unit].dimension:
        return False
    here, there = (
        cells.cast(pl.String).str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
        for cells in (one, other)
    )
    here = in_unit(here, unit, other_unit)
    known = here.is_not_null() & there.is_not_null()
    if not known.any() or (here.is_null() != there.is_null()).any():
        return False
    apart = (here - there).filter(known).to_numpy()
    rounded = np.abs(apart).max() <= (_step(here) + _step(there)) / 2 * ROUNDED
    total = ON_THE_MEAN * np.abs(there.filter(known).to_numpy().sum())
    return bool(rounded and np.abs(apart.sum()) <= total)


def _step(values: pl.Series) -> float:
    """The least that two of the values are apart: what they are rounded to."""
    steps = np.diff(np.unique(values.drop_nulls().to_numpy().round(6)))
    return float(steps.min()) if len(steps) else 0.0


def numbers_trips(heading: str, unit: str | None, cells: pl.Series) -> bool:
    """Whether a column headed 'Trip' counts trips and no distance: 1, 2, 3, each for long."""
    if unit is not None or heading.strip().lower() not in _TRIPS:
        return False
    given = cells.cast(pl.Float64, strict=False).drop_nulls()
    if not len(given) or (given != given.round(0)).any() or not (given >= 1).all():
        return False
    return given.n_unique() * ROWS_A_TRIP <= len(given) and bool((given.diff() <= 1).all())


def whole_steps(raw: pl.Series) -> bool:
    """True where every number as written is whole and they vary: a rounded channel."""
    given = (raw.drop_nulls() if raw.null_count() else raw).to_numpy()
    # counting different values is dear: the first rows mostly tell
    for rows in (1000, len(given)):
        if not (given[:rows] == np.rint(given[:rows])).all():
            return False
    return len(given) >= 20 and any(len(np.unique(given[:n])) > 3 for n in (1000, 100_000))
