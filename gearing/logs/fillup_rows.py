"""The rows of a fill-up log as people write them: exhaust fluid among the fuel, typed twice, one
stop in parts, trip miles."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import numpy.typing as npt
import polars as pl

from gearing.logs.ledger import Ledger
from gearing.logs.table import Table
from gearing.messages import message

THRIFTIEST_L_PER_M = 2e-5  # 2 L/100 km: no heavy vehicle, so what seems to take less is no trip
ONE_STOP = timedelta(hours=12)
_EXHAUST_FLUID = r"(?i)^(def|(diesel )?exhaust fluid|urea|aus ?32|harnstoff|urée|uree)$"
_ONE_FILL = ("time", "indicated_distance_m", "volume_l")


def fuel_only(frame: pl.DataFrame, table: Table, ledger: Ledger) -> pl.DataFrame:
    """Fill-ups without the rows that say in any cell that they are of exhaust fluid."""
    cells = table.frame.select(pl.col(pl.String).str.strip_chars().str.contains(_EXHAUST_FLUID))
    of_fluid = cells.select(pl.any_horizontal(pl.all().fill_null(False))).to_series()
    if cells.width == 0 or not of_fluid.any():
        return frame
    fluid = frame["line"].is_in(table.lines[of_fluid.to_numpy()].tolist())
    ledger.set_aside_rows(message("other-fluid"), frame["line"].filter(fluid).to_numpy())
    return frame.filter(~fluid)


def once(frame: pl.DataFrame, ledger: Ledger) -> pl.DataFrame:
    """Fill-ups without those typed twice."""
    whole = pl.all_horizontal(pl.col(_ONE_FILL).is_not_null())
    twice = whole & ~pl.struct(_ONE_FILL).is_first_distinct()
    ledger.set_aside_rows(message("repeated-row"), frame.filter(twice)["line"].to_numpy())
    return frame.filter(~twice)


def as_odometer(frame: pl.DataFrame, ledger: Ledger) -> pl.DataFrame:
    """Readings that fall, and go with the volume better than their differences do, are a trip
    meter's, set back at each fill-up: they are summed up. Ascending time."""
    way, volume = pl.col("indicated_distance_m"), pl.col("volume_l")
    frame = frame.sort("time", "indicated_distance_m", maintain_order=True)
    known = frame.drop_nulls("indicated_distance_m").with_columns(step=way.diff())
    by_reading, by_step = (
        known.filter(pl.col(name) > 0, volume > 0).select(volume / pl.col(name))["volume_l"]
        for name in ("indicated_distance_m", "step")
    )
    falls = (known["step"] < 0).any()
    usual = by_reading.median()
    if not falls or not isinstance(usual, float) or usual < THRIFTIEST_L_PER_M:
        return frame
    if len(by_step) and _spread(by_step.to_numpy()) <= _spread(by_reading.to_numpy()):
        return frame
    ledger.repair(message("trip-meter"), known.height)
    unknown = pl.when(way.is_null()).then(1.0)
    return frame.with_columns(
        way.fill_null(0.0).cum_sum(), missed=pl.max_horizontal("missed", unknown)
    )


def in_stops(frame: pl.DataFrame) -> pl.DataFrame:
    """Rows of one stop (a pump that cut off, two tanks) as one fill-up in parts: full with the
    last of them, missed with the first. Ascending time."""
    odometer, time = pl.col("indicated_distance_m"), pl.col("time")
    again = ((odometer.diff() == 0) & (time.diff() < ONE_STOP)).fill_null(False)
    frame = frame.with_columns(again=again, stop=(~again).cum_sum())
    last = ~pl.col("again").shift(-1, fill_value=False)
    return frame.with_columns(
        full=pl.col("full").any().over("stop") & last,
        missed=pl.col("missed").any().over("stop") & ~pl.col("again"),
    ).drop("again", "stop")


def _spread(rates: npt.NDArray[np.float64]) -> float:
    """Middle half of the values, in logarithms."""
    low, high = np.quantile(np.log(rates), [0.25, 0.75])
    return float(high - low)
