"""Decimal point or decimal comma, decided by the whole file's cells."""

from __future__ import annotations

import polars as pl

_LOOK = 2000


def decimal_sign(frame: pl.DataFrame, delimiter: str) -> str:
    """ "," where cells carry a decimal comma and none a decimal point, else "."."""
    if frame.height == 0:
        return "."
    head = pl.concat([frame.head(_LOOK), frame.tail(_LOOK)]) if frame.height > _LOOK else frame
    cells = pl.concat(head.get_columns())
    with_comma = cells.filter(cells.str.contains(",", literal=True))
    if with_comma.is_empty():
        return "."
    comma, point = _plain(with_comma, ","), _plain(cells, ".")
    by_comma, by_point = _grouped(with_comma, ","), _grouped(cells, ".")
    # where the one sign parts other than groups of three, the other parts thousands; and a comma
    # inside a cell of a file parted by commas can only have been quoted
    if comma > by_comma and by_point:
        point -= by_point
    if delimiter == "," or point > by_point:
        comma -= by_comma
    return "," if comma > point else "."


def _plain(cells: pl.Series, sign: str) -> int:
    """Numbers with that sign, a unit or a sign of currency behind them or not."""
    return _count(cells, rf"\d*\{sign}\d+(?:[eE][-+]?\d+)?")


def _grouped(cells: pl.Series, sign: str) -> int:
    """Those it would part in groups of three."""
    return _count(cells, rf"[1-9]\d{{0,2}}(?:\{sign}\d{{3}})+")


def _count(cells: pl.Series, number: str) -> int:
    return int(cells.str.contains(rf"^\s*[-+]?{number}\s*(?:[^\d\s.,:/-].*)?$").sum())
