"""A file of what the dash showed: speedometer or odometer readings, many in a row."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import polars as pl

from gearing.logs.column_rule import ColumnRule
from gearing.logs.companions import Companion, RowsRead, Written, companion_of, read_rows
from gearing.logs.notebook_columns import DASH
from gearing.messages import message


def read_dash_rows(
    path: Path,
    time_zone: str,
    rules: tuple[ColumnRule, ...] = (),
    like: Written | None = None,
) -> Companion:
    """Readings: `time` (UTC), `indicated_speed_mps` as the needle showed it, and
    `indicated_distance_m` as the odometer did; ascending time, null where a row has none.
    `like`: how the fill-ups are written, for what is left open here."""
    read = read_rows(path, time_zone, rules, DASH, timed=True, like=like)
    if not isinstance(read, RowsRead):
        return read
    frame, ledger = read.frame, read.ledger
    empty = frame.select(pl.all_horizontal(pl.col(DASH).is_null())).to_series()
    ledger.set_aside_rows(message("no-values"), frame["line"].filter(empty).to_numpy())
    kept = frame.filter(~empty).sort("time", maintain_order=True)
    return replace(companion_of(kept.select("time", *DASH), ledger), written=read.written)
