"""A file of what the dash showed: speedometer or odometer readings, many in a row."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import polars as pl

from gearing.logs.column_rule import ColumnRule
from gearing.logs.companions import Companion, Kind, Written, companion_of, read_rows
from gearing.logs.kinds import DASH

_KIND = Kind(
    what=DASH,
    names=("indicated_speed_mps", "indicated_distance_m"),
    means={"speed": "indicated_speed_mps", "distance_m": "indicated_distance_m"},
    units={"indicated_distance_m": ("mi", "km"), "indicated_speed_mps": ("mph", "km/h")},
)


def read_dash_rows(
    path: Path,
    time_zone: str,
    rules: tuple[ColumnRule, ...] = (),
    like: Written | None = None,
) -> Companion:
    """Readings: `time` (UTC), `indicated_speed_mps` as the needle showed it, and
    `indicated_distance_m` as the odometer did; ascending time, null where a row has none.
    `like`: how the fill-ups are written, for what is left open here."""
    read = read_rows(path, time_zone, rules, _KIND, like)
    if isinstance(read, Companion):
        return read
    empty = pl.all_horizontal(pl.col(_KIND.names).is_null())
    kept = read.ledger.without(read.frame, empty).sort("time", maintain_order=True)
    found = companion_of(kept.select("time", *_KIND.names), read.ledger)
    return replace(found, written=read.written)
