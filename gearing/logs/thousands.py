"""Numbers whose thousands are parted by what reads like their decimal sign: 1.764 for 1764."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.logs.ledger import Ledger
from gearing.messages import message

if TYPE_CHECKING:
    from gearing.logs.assign import Candidate

MAX_THOUSANDS = 10  # turns a minute, fewer than any engine makes
NEARLY = 1e-6  # whole, of tenths
SEEN, MIN_PARTED = 2000, 20  # cells, that tell whether the decimal sign parts thousands


def in_groups(cells: pl.Series, decimal: str) -> bool:
    """Whether the decimal sign never stands but before three digits, as one that parts thousands
    does."""
    seen = cells.head(SEEN).drop_nulls().str.strip_chars()
    three = seen.str.contains(rf"^[1-9]\d{{0,2}}[{decimal}]\d{{3}}$")
    fits = three | seen.str.contains(r"^\d{1,3}$")
    return int(three.sum()) >= MIN_PARTED and bool(fits.all())


def parts_thousands(cells: pl.Series, decimal: str) -> bool:
    """Whether it does part thousands in this column: 950 beside 1.234."""
    hundreds = cells.head(SEEN).drop_nulls().str.strip_chars().str.contains(r"^[1-9]\d\d$")
    return bool(hundreds.any()) and in_groups(cells, decimal)


def may_part_thousands(values: pl.Series) -> bool:
    """The first look at numbers for that: hundreds beside fractions, or less than ten
    with more than tenths."""
    seen = values.head(SEEN).to_numpy()
    seen = seen[np.isfinite(seen)]
    hundreds, less = seen[seen >= 100], seen[seen < 100]
    if not len(less) or not (less % 1 > 0).any():
        return False
    if len(hundreds):
        return bool((hundreds % 1 == 0).any())
    tenths = less * 10 % 1
    few = less.max() < MAX_THOUSANDS and not ((less != 0) & (less < 1)).any()
    return bool(few and ((tenths > NEARLY) & (tenths < 1 - NEARLY)).any())


def without_thousands(
    columns: dict[str, Candidate], frame: pl.DataFrame, decimal: str, ledger: Ledger
) -> pl.DataFrame:
    """Columns, by channel, in groups of three without the sign between, where one of them proves
    that the decimal sign parts thousands: by hundreds without it, or as turns that no engine
    makes."""
    grouped = {
        name: c
        for name, c in columns.items()
        if frame[c.column].dtype == pl.String and in_groups(frame[c.column], decimal)
    }
    proved = any(parts_thousands(frame[c.column], decimal) for c in grouped.values())
    if not proved and (c := grouped.get("engine_speed_rpm")) is not None:
        turns = frame[c.column].str.replace(decimal, ".", literal=True)
        high = turns.cast(pl.Float64, strict=False).max()
        proved = isinstance(high, float) and high < MAX_THOUSANDS
    for c in grouped.values() if proved else ():
        parted = int(frame[c.column].str.contains(decimal, literal=True).sum())
        ledger.repair(message("thousands-separator"), parted, column=c.heading)
        frame = frame.with_columns(pl.col(c.column).str.replace(decimal, "", literal=True))
    return frame
