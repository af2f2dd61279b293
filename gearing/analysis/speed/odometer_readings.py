"""The odometer as shown beside true distance: readings at both ends of road that is known.

Road is known where all drives between two readings are logged by a receiver, each beginning where
the one before ended, or where a measured stretch begins and ends at them. An odometer shows whole
units; what it hides of the first and the last is its error, and falls with distance.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import polars as pl

from gearing.analysis.sides import BySide, by_side
from gearing.messages import message
from gearing.statistics.estimate import NORMAL_95, Estimate, unknown
from gearing.study.model import Study
from gearing.trips.declared import noted_within
from gearing.trips.geodesy import apart_m
from gearing.trips.record import TripRecord
from gearing.units import MILE_M

JOINS_M = 400.0  # from where one drive ends to where the next begins: moved about a yard, no drive
RECEIVER_ERROR = 0.002  # of distance over many drives, deviation: common practice, no source
STRETCH_ERROR = 0.001  # of a stretch between markers: common practice, no source
# of these, what each stretch has for itself and what all have alike: half of the variance each
APART = 1 / np.sqrt(2)
AT_THE_MARK = timedelta(minutes=3)  # a reading this near to a stretch's end is taken at it
UNIT_M = (160.9344, 100.0, MILE_M, 1000.0)  # tenths and whole, miles and km
MAX_LOG_FACTOR = 0.2  # beyond no tire and no setting goes: another odometer, or drives unlogged
METHOD = "odometer-readings"


@dataclass(frozen=True, slots=True)
class KnownRoad:
    """Between two readings: what the odometer advanced and what is true [m], and the relative
    standard error of the one over the other."""

    side: str
    start: datetime
    end: datetime
    shown_m: float
    true_m: float
    error: float
    by: str  # "receiver" | "measured"


def odometer_factors(
    study: Study, records: Sequence[TripRecord], fillups: pl.DataFrame | None
) -> BySide[Estimate]:
    """True over shown distance of each period, from every stretch of known road in it."""
    roads = known_roads(study, records, fillups)
    return by_side(lambda side: _pooled([road for road in roads if road.side == side]))


def known_roads(
    study: Study, records: Sequence[TripRecord], fillups: pl.DataFrame | None
) -> tuple[KnownRoad, ...]:
    """All of it, in order of time."""
    readings = _readings(study, fillups)
    unit = _unit(readings)
    found = _measured(study, readings, unit, records)
    logged = sorted((r for r in records if r.has_receiver), key=lambda r: r.start)
    if len(logged) == len(records):
        found += _driven(logged, readings, unit)
    sound = [r for r in found if abs(np.log(r.true_m / r.shown_m)) < MAX_LOG_FACTOR]
    return tuple(sorted(sound, key=lambda road: road.start))


def _readings(study: Study, fillups: pl.DataFrame | None) -> list[tuple[datetime, float]]:
    """Moments and odometer readings [m]: of the dash, and of fills that have a time of day."""
    found = [(r.at, r.odometer_m) for r in study.dash if r.odometer_m is not None]
    if fillups is not None and fillups.height:
        # a fill noted by its day stands at noon
        clock = pl.col("time").dt.convert_time_zone(study.time_zone).dt.time()
        timed = fillups.filter(clock != pl.time(12, 0, 0)).drop_nulls("indicated_distance_m")
        found += list(timed.select("time", "indicated_distance_m").iter_rows())
    return sorted(found)


def _unit(readings: Sequence[tuple[datetime, float]]) -> float:
    """The largest unit all readings are whole multiples of; tenths of a mile where none."""
    values = np.array([m for _, m in readings])
    for unit in sorted(UNIT_M, reverse=True):
        if len(values) and np.all(np.abs(values / unit - np.round(values / unit)) < 0.02):
            return unit
    return UNIT_M[0]


def _measured(
    study: Study,
    readings: Sequence[tuple[datetime, float]],
    unit: float,
    records: Sequence[TripRecord],
) -> list[KnownRoad]:
    """Stretches of declared length with a reading at either end."""
    found = []
    for stretch in study.measured:
        ends = [_at(readings, moment) for moment in (stretch.start, stretch.end)]
        if stretch.distance_m is None or ends[0] is None or ends[1] is None:
            continue
        side = side_at(study, stretch.start, records)
        shown = ends[1] - ends[0]
        if side is not None and shown > 0:
            error = float(np.hypot(_hidden(unit, shown), APART * STRETCH_ERROR))
            found.append(
                KnownRoad(
                    side, stretch.start, stretch.end, shown, stretch.distance_m, error, "measured"
                )
            )
    return found


def _at(readings: Sequence[tuple[datetime, float]], moment: datetime) -> float | None:
    near = [(abs(at - moment), shown) for at, shown in readings if abs(at - moment) <= AT_THE_MARK]
    return min(near)[1] if near else None


def side_at(study: Study, moment: datetime, records: Sequence[TripRecord]) -> str | None:
    """The period of a moment: by date, by the only period there is, else by the drives around."""
    if study.after is not None and study.after.start is not None:
        return "after" if moment >= study.after.start else "before"
    if study.before is None or study.after is None:
        return "after" if study.before is None else "before"
    ordered = sorted(records, key=lambda r: r.start)
    around = [r for r in ordered if r.start <= moment][-1:] + [
        r for r in ordered if r.start >= moment
    ][:1]
    sides = {r.side for r in around}
    return sides.pop() if len(sides) == 1 else None


def _hidden(unit: float, shown_m: float) -> float:
    """Relative standard error of whole units at both ends: the difference of two uniform ones."""
    return float(unit / np.sqrt(6.0) / shown_m)


def _driven(
    records: Sequence[TripRecord], readings: Sequence[tuple[datetime, float]], unit: float
) -> list[KnownRoad]:
    """Stretches between readings with every drive logged."""
    found = []
    for (start, first), (end, last) in itertools.pairwise(readings):
        way = _way(records, start, end)
        if way is None or last <= first:
            continue
        side, true, unsure = way
        errors = (_hidden(unit, last - first), APART * RECEIVER_ERROR, unsure / (last - first))
        error = float(np.linalg.norm(errors))
        found.append(KnownRoad(side, start, end, last - first, true, error, "receiver"))
    return found


def _way(
    records: Sequence[TripRecord], noted: datetime, again: datetime
) -> tuple[str, float, float] | None:
    """Period, true distance [m] between two moments, and its standard error [m] where they are
    noted by the minute and the vehicle drove in it; None unless a chain of drives, each from where
    the last one ended, leads over both."""
    spans = [noted_within(at) for at in (noted, again)]
    start, end = (first + (last - first) / 2 for first, last in spans)
    at = [i for i, r in enumerate(records) if r.end > start and r.start < end]
    if not at:
        return None
    inside = [records[i] for i in at]
    # a reading some time away from the drives: the one before or behind shows whether all between
    # them and it were logged
    earlier, later = max(at[0] - 1, 0), at[-1] + 2
    if start >= inside[0].start - AT_THE_MARK:
        earlier = at[0]
    elif not at[0]:
        return None
    if end <= inside[-1].end + AT_THE_MARK:
        later = at[-1] + 1
    elif later > len(records):
        return None
    if not all(_joined(a, b) for a, b in itertools.pairwise(records[earlier:later])):
        return None
    sides = {r.side for r in inside}
    if len(sides) != 1:
        return None
    in_minutes = [sum(_between(r, *span) for r in inside) for span in spans]
    unsure = float(np.linalg.norm(in_minutes) / np.sqrt(12.0))  # of a uniform one
    return sides.pop(), sum(_between(r, start, end) for r in inside), unsure


def _joined(one: TripRecord, following: TripRecord) -> bool:
    """Whether a drive begins where the one before it ended."""
    last = one.steps.select("end_latitude_deg", "end_longitude_deg").drop_nulls().tail(1)
    first = following.steps.select("latitude_deg", "longitude_deg").drop_nulls().head(1)
    if last.is_empty() or first.is_empty():
        return False
    return apart_m(*last.row(0), *first.row(0)) < JOINS_M


def _between(record: TripRecord, start: datetime, end: datetime) -> float:
    """True distance [m] of the part of a drive that lies between two moments."""
    if start <= record.start and end >= record.end:
        return record.true_m
    steps = record.steps.select(
        a=pl.col("start_s").cast(pl.Float64),
        b=(pl.col("start_s") + pl.col("duration_s")).cast(pl.Float64),
        m=pl.col("distance_m").cast(pl.Float64).fill_null(0.0),
    )
    a, b, way = (steps[name].to_numpy() for name in ("a", "b", "m"))
    inside = np.clip(np.minimum(b, end.timestamp()) - np.maximum(a, start.timestamp()), 0.0, None)
    return float(np.sum(way * inside / np.maximum(b - a, 1e-6)))


def _pooled(roads: Sequence[KnownRoad]) -> Estimate:
    """Precision-weighted; what a receiver does to all distances alike does not average out."""
    if not roads:
        return unknown(message("no-known-road"))
    logs = np.array([np.log(road.true_m / road.shown_m) for road in roads])
    weight = np.array([road.error**-2 for road in roads])
    mean = float(np.sum(weight * logs) / weight.sum())
    error = float(weight.sum() ** -0.5)
    common = min(RECEIVER_ERROR if road.by == "receiver" else STRETCH_ERROR for road in roads)
    half = NORMAL_95 * float(np.hypot(error, APART * common))
    value, low, high = (float(np.exp(mean + z * half)) for z in (0.0, -1.0, 1.0))
    return Estimate(value, low, high, len(roads), METHOD)
