"""A column of time as it is read, whatever its form."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from gearing.messages import Message

Form = tuple[Message, ...]  # how times are written


@dataclass(frozen=True, slots=True)
class ParsedTimes:
    """A column of time as read. `us` is microseconds since 1970 as written (no zone applied).

    `kind` is instant | date | clock (a time of day) | elapsed | unknown; `zoned` says `us` is UTC
    already. `order` is that of day, month and year as the column proves it, "open" where it
    leaves it open, and empty where it does not matter.
    """

    us: pl.Series  # Int64, null where unreadable
    kind: str
    zoned: bool
    form: Form
    order: str = ""
    mended: int = 0  # broken dates taken from the rows around them


def no_time(length: int) -> pl.Series:
    """No moment at all, so many times."""
    return pl.repeat(None, length, dtype=pl.Int64, eager=True)
