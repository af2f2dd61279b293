"""The trade's oldest check: indicated distance against a stretch of known length.

A declared stretch with a length gives a factor without any receiver; the same road driven in
both periods gives the ratio of circumferences from indicated distance alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gearing.analysis.identification.quantization import NONE
from gearing.analysis.sides import SIDES
from gearing.analysis.trip_figures import TripFigures
from gearing.messages import Message, message
from gearing.statistics.estimate import NORMAL_95, Estimate, unknown
from gearing.study.model import Study
from gearing.trips.record import TripRecord
from gearing.trips.sums import Stretch

# the moments at which a stretch begins and ends are known to this: common practice, no source
MOMENT_S = 0.7
# a road driven twice is not driven on one line: lanes and curves, common practice, no source
SAME_ROAD = 0.001
# one vehicle's factor from day to day: common practice, no source
DAY_TO_DAY = 0.001


@dataclass(frozen=True, slots=True)
class MeasuredStretch:
    """One declared stretch: `factor` declared over indicated distance, `receiver_km` beside."""

    trip: str
    side: str
    declared_km: float | None
    road: str | None
    indicated_km: float | None
    receiver_km: float | None
    factor: Estimate
    _error: float  # relative, the stretch's own
    _common: float  # relative, shared by all stretches: rounding that could not be told


@dataclass(frozen=True, slots=True)
class SameRoad:
    """One road driven in both periods: `ratio` of circumferences, after over before, from
    indicated distance alone; it holds while the computer's setting is the same."""

    road: str
    before_km: float
    after_km: float
    ratio: Estimate
    holds: bool
    note: Message


@dataclass(frozen=True, slots=True)
class MeasuredDistances:
    stretches: tuple[MeasuredStretch, ...]
    roads: tuple[SameRoad, ...]

    def factor(self, side: str) -> Estimate | None:
        """Odometer factor of one period from its declared lengths, longer ones counting more;
        None where there is none."""
        known = [
            row
            for row in self.stretches
            if row.side == side and row.factor.value is not None and row.declared_km is not None
        ]
        if not known:
            return None
        length = np.array([row.declared_km for row in known], dtype=np.float64)
        share = length / length.sum()
        mean = float(np.sum(share * np.array([row.factor.value for row in known])))
        own = float(np.sqrt(np.sum(share**2 * np.array([row._error for row in known]) ** 2)))
        common = float(np.sum(share * np.array([row._common for row in known])))
        # tires differ from day to day by what no single stretch shows
        wide = mean * (NORMAL_95 * float(np.hypot(own, DAY_TO_DAY / np.sqrt(len(known)))) + common)
        return Estimate(mean, mean - wide, mean + wide, len(known), "measured-stretches")


def measured_distances(
    study: Study, records: Sequence[TripRecord], figures: TripFigures
) -> MeasuredDistances:
    """All declared stretches that a log covers whole."""
    rows = tuple(
        _row(study, record, stretch, figures) for record in records for stretch in record.stretches
    )
    roads = sorted({row.road for row in rows if row.road})
    found = [same for road in roads if (same := _road(study, road, rows)) is not None]
    return MeasuredDistances(rows, tuple(found))


def _row(
    study: Study, record: TripRecord, stretch: Stretch, figures: TripFigures
) -> MeasuredStretch:
    declared = study.measured[stretch.index]
    hidden = figures.rounding.quantization_offset_mps(record.name)
    indicated = (
        None if stretch.indicated_m is None else stretch.indicated_m + hidden * stretch.indicated_s
    )
    if stretch.counter_m is not None and (record.counter is None or record.counter.step_m < 20):
        indicated = stretch.counter_m
    seconds = max(stretch.indicated_s, 1.0)
    error = float(np.hypot(MOMENT_S * np.sqrt(2) / seconds, 2e-4))
    common = 0.0
    if indicated and indicated != stretch.counter_m:
        rounding = figures.rounding.trips.get(record.name, NONE)
        open_mps = max(rounding.high_mps - hidden, hidden - rounding.low_mps)
        common = open_mps * seconds / indicated
    factor = unknown(message("stretch-unknown/no-length"))
    if not stretch.complete:
        factor = unknown(message("stretch-unknown/not-whole"))
    elif indicated is None or indicated <= 0:
        factor = unknown(message("stretch-unknown/not-indicated"))
    elif declared.distance_m is not None:
        value = declared.distance_m / indicated
        reach = (NORMAL_95 * error + common) * value
        factor = Estimate(value, value - reach, value + reach, 1, "declared-over-indicated")
    return MeasuredStretch(
        record.name,
        record.side,
        None if declared.distance_m is None else declared.distance_m / 1000,
        declared.road,
        None if indicated is None or not stretch.complete else indicated / 1000,
        None if stretch.true_m is None else stretch.true_m / 1000,
        factor,
        error,
        common,
    )


def _road(study: Study, road: str, rows: Sequence[MeasuredStretch]) -> SameRoad | None:
    by: dict[str, tuple[float, float]] = {}
    for side in SIDES:
        some = [
            (row.indicated_km, row._error)
            for row in rows
            if row.road == road and row.side == side and row.indicated_km is not None
        ]
        if not some:
            return None
        value = float(np.mean([km for km, _ in some]))
        own = float(np.mean([error for _, error in some])) / np.sqrt(len(some))
        by[side] = value, float(np.hypot(own, SAME_ROAD / np.sqrt(len(some))))
    before, after = by["before"], by["after"]
    ratio = before[0] / after[0]
    reach = NORMAL_95 * float(np.hypot(before[1], after[1]))
    driveline = study.vehicle.speed_source in ("output shaft", "drive wheels")
    note = message("same-road-note/driveline") if driveline else message("same-road-note/unknown")
    return SameRoad(
        road,
        before[0],
        after[0],
        Estimate(
            ratio, ratio * float(np.exp(-reach)), ratio * float(np.exp(reach)), 2, "same-road"
        ),
        driveline,
        note,
    )
