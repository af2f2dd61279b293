"""Recorders that write a value only when it changes: the last one stands until the next."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from gearing.logs.ledger import Ledger
from gearing.messages import message

MIN_VALUES = 100
MIN_BLANK = 0.05  # of rows without the value
MAX_PLACES = 0.5  # different values, of those given: with fewer, some follow each other by chance
MAX_REPEATS = 0.002  # a damaged or doubled row


def hold_unchanged(samples: pl.DataFrame, names: Sequence[str], ledger: Ledger) -> pl.DataFrame:
    """Blanks filled with the value before, where no value is ever written twice running.

    Told by the channels that come in steps: whole units written at every row, or polled in turn,
    repeat themselves again and again. All of them must say so. `samples` are in ascending time,
    `names` the channels with rows that were written without a value: one that lacks some because
    they were set aside is not held.
    """
    stepped = [n for n in names if _in_steps(samples.get_column(n))]
    if not stepped or not all(_never_twice(samples[n]) for n in stepped):
        return samples
    once = [n for n in names if _never_twice(samples[n])]
    held = samples.with_columns(pl.col(once).forward_fill())
    filled = sum(samples[n].null_count() - held[n].null_count() for n in once)
    ledger.repair(message("held-values"), filled)
    return held


def _never_twice(column: pl.Series) -> bool:
    given = column.drop_nulls()
    return len(given) > 0 and int((given.diff() == 0).sum()) <= MAX_REPEATS * len(given)


def _in_steps(column: pl.Series) -> bool:
    """Enough values of few kinds, and blanks between them."""
    given = len(column) - column.null_count()
    if given < MIN_VALUES or column.null_count() < MIN_BLANK * len(column):
        return False
    return column.drop_nulls().n_unique() <= MAX_PLACES * given
