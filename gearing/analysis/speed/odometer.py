"""What the odometer shows, what is true since the change, and distance by month."""

from __future__ import annotations

import itertools
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import polars as pl

from gearing.analysis.sides import BySide
from gearing.analysis.speed.factor import FactorLevel
from gearing.analysis.trip_figures import TripFigures
from gearing.messages import Message, Text, message
from gearing.statistics.estimate import Estimate, unknown
from gearing.study.model import Study
from gearing.trips.record import TripRecord

SERVICE_KM = 10_000.0
SET_OUT = timedelta(days=1)  # a reading noted this long before the first drive is of its start


@dataclass(frozen=True, slots=True)
class Odometer:
    """Since the change: `shown_km` the odometer advanced, `true_km` it went; `overshoot_km` true
    less shown. `service_true_km`: true distance when the odometer has advanced 10,000 km."""

    shown_at_change_km: float | None
    shown_now_km: float | None
    shown_km: float | None
    true_km: Estimate
    overshoot_km: Estimate
    service_true_km: Estimate
    source: Message | None
    why: Text | None = None


@dataclass(frozen=True, slots=True)
class Month:
    """True and indicated distance of one local month; `estimated_km` of the true distance is
    from indicated distance times the period's factor, where there was no receiver.
    `indicated_km` is None unless the computer's count is known for all of it, so that the two
    may be held against each other."""

    month: str
    side: str
    trips: int
    true_km: float
    indicated_km: float | None
    estimated_km: float


def odometer(
    study: Study,
    records: Sequence[TripRecord],
    factor: BySide[Estimate],
    levels: Sequence[FactorLevel] = (),
) -> Odometer:
    """The odometer since the tires were changed, from its logged count or declared readings.

    What it advanced goes by the factor of its time where there are several `levels`.
    """
    after = factor.after
    service = after.map(lambda k: SERVICE_KM * k)
    readings, source = _readings(study, records)
    if len(readings) < 2:
        why = message("odometer-unknown/no-readings")
        return Odometer(None, None, None, unknown(why), unknown(why), service, None, why)
    if any(then < shown for (_, shown), (_, then) in itertools.pairwise(readings)):
        why = message("odometer-unknown/falling")
        return Odometer(None, None, None, unknown(why), unknown(why), service, None, why)
    first, last = readings[0][1], readings[-1][1]
    shown = (last - first) / 1000
    if not after.known:
        return Odometer(first / 1000, last / 1000, shown, after, after, service, source)
    way = after.map(lambda k: k * shown) if len(levels) < 2 else _by_level(readings, levels)
    return Odometer(
        first / 1000,
        last / 1000,
        shown,
        way,
        way.map(lambda km: km - shown),
        service,
        source,
    )


def _by_level(readings: list[tuple[float, float]], levels: Sequence[FactorLevel]) -> Estimate:
    """True km by the factor in effect from reading to reading; between two of different levels
    it may have been either."""
    begins = [level.at.timestamp() for level in levels]
    value = low = high = 0.0
    for (start, shown), (end, then) in itertools.pairwise(readings):
        near = [max(bisect_right(begins, moment) - 1, 0) for moment in (start, end)]
        some = [level.odometer_factor for level in levels[near[0] : near[1] + 1]]
        km = (then - shown) / 1000
        for k in some:
            if k.value is None or k.low is None or k.high is None:
                return unknown(message("odometer-unknown/some-levels"))
            value += k.value * km / len(some)
        low += km * min(k.low for k in some if k.low is not None)
        high += km * max(k.high for k in some if k.high is not None)
    return Estimate(value, low, high, len(readings), "factor-of-each-level")


def _readings(
    study: Study, records: Sequence[TripRecord]
) -> tuple[list[tuple[float, float]], Message]:
    """Moments and odometer readings (m) after the change, in order."""
    counted: list[tuple[float, float]] = []
    for record in records:
        if record.side == "after" and record.counter is not None:
            counted.append((record.start.timestamp(), record.counter.first_m))
            counted.append((record.end.timestamp(), record.counter.last_m))
    counted.sort()
    rising = all(b[1] >= a[1] for a, b in itertools.pairwise(counted))
    begin = _begin(records)
    dash = sorted(
        (reading.at.timestamp(), reading.odometer_m)
        for reading in study.dash
        if reading.odometer_m is not None and begin is not None and reading.at >= begin
    )
    if len(dash) >= 2:
        return dash, message("odometer-source/declared")
    return (counted if rising else []), message("odometer-source/logged")


def _begin(records: Sequence[TripRecord]) -> datetime | None:
    """From when on a reading is of the new tires: it may be noted before setting out."""
    starts = [r.start for r in records if r.side == "after"]
    if not starts:
        return None
    first = min(starts)
    ends = [r.end for r in records if r.side == "before" and r.end <= first]
    return max([first - SET_OUT, *ends])


def distance_by_month(figures: TripFigures) -> tuple[Month, ...]:
    """For service and records: every trip counts, by its local month; one filed under the wrong
    tires counts for those it was driven on."""
    if figures.trips.height == 0:
        return ()
    side, misfiled = pl.col("side").cast(pl.String), pl.col("trip").is_in(figures.verdicts.misfiled)
    other = side.replace({"before": "after", "after": "before"})
    rows = (
        figures.trips.with_columns(
            month=pl.col("local_day").dt.strftime("%Y-%m"),
            side=pl.when(misfiled).then(other).otherwise(side),
        )
        .group_by("month", "side", maintain_order=True)
        .agg(
            pl.len().alias("trips"),
            (pl.col("true_m").sum() / 1000).alias("true_km"),
            (pl.col("indicated_m").sum() / 1000).alias("indicated_km"),
            pl.col("indicated_m").count().alias("counted"),
            (pl.col("true_m").filter(~pl.col("measured_by_receiver")).sum() / 1000).alias("guess"),
        )
        .sort("month", "side", descending=[False, True])
    )
    return tuple(
        Month(
            row["month"], row["side"], row["trips"], row["true_km"],
            row["indicated_km"] if row["counted"] == row["trips"] else None, row["guess"],
        )
        for row in rows.iter_rows(named=True)
    )  # fmt: skip
