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
    comma = int(with_comma.str.contains(r"^\s*[-+]?\d*,\d+(?:[eE][-+]?\d+)?\s*$").sum())
    point = int(cells.str.contains(r"^\s*[-+]?\d*\.\d+(?:[eE][-+]?\d+)?\s*$").sum())
    if delimiter == ",":
        # a comma inside a cell can only have been quoted; thousands are written so as well
        comma -= int(with_comma.str.contains(r"^\s*[-+]?[1-9]\d{0,2}(,\d{3})+\s*$").sum())
    return "," if comma > point else "."
