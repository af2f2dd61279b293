"""Rows of recorders that poll one parameter after another, put together where they belong."""

from __future__ import annotations

import polars as pl

from gearing.logs.ledger import Ledger
from gearing.logs.positions import POSITION
from gearing.messages import message

PAIR_WITHIN = "1s"  # a latitude and a longitude this near are of one fix


def one_row_a_time(samples: pl.DataFrame) -> pl.DataFrame:
    """Rows of the same time as one row, where no channel has two values at one time.

    `line` is the first of them. `samples` are in ascending time.
    """
    names = [n for n in samples.columns if n not in ("time", "line")]
    if not names or not (samples["time"].diff().dt.total_microseconds() == 0).any():
        return samples
    grouped = samples.group_by("time", maintain_order=True)
    most = grouped.agg(pl.col(names).count()).select(pl.max_horizontal(pl.col(names).max()))
    if most.item() > 1:
        return samples
    return grouped.agg(pl.col("line").first(), pl.col(names).drop_nulls().first())


def pair_positions(samples: pl.DataFrame, ledger: Ledger) -> pl.DataFrame:
    """A latitude alone in its row takes the longitude nearest in time, which leaves its own row.

    Only where no row at all carries both: then the recorder writes them so.
    """
    if not all(name in samples.columns and samples[name].null_count() for name in POSITION):
        return samples
    here, there = (samples[name].is_not_null() for name in POSITION)
    if (here & there).any() or not here.any() or not there.any():
        return samples
    other = samples.filter(there).select("time", pl.col("longitude_deg").alias("near"))
    joined = samples.filter(here).join_asof(
        other, on="time", strategy="nearest", tolerance=PAIR_WITHIN
    )
    paired = joined.filter(pl.col("near").is_not_null())
    if paired.height == 0:
        return samples
    ledger.repair(message("paired-position"), paired.height)
    column = samples.select("line", "time").join(
        paired.select("line", "near"), on="line", how="left", maintain_order="left"
    )["near"]
    return samples.with_columns(column.alias("longitude_deg"))
