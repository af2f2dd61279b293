"""What is declared of moments and says nothing, or other than the logs: told, each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from gearing.analysis.speed.measured import MOMENT_S, MeasuredDistances
from gearing.analysis.speed.needle_fit import on_stretch
from gearing.analysis.speed.odometer_readings import AT_THE_MARK
from gearing.analysis.speed.rule_limits import SLOWEST_READ_MPS, far_off
from gearing.messages import (
    Items,
    Message,
    Moment,
    Quantity,
    StudyWarning,
    UserText,
    message,
    warning,
)
from gearing.statistics.estimate import NORMAL_95
from gearing.study.model import Measured, Study
from gearing.trips.record import TripRecord
from gearing.trips.sums import Stretch

# a declared length is known better than this, and so is a receiver's: common practice, no source
MAX_OFF_RECEIVER = 0.03
# other tires, wear and a wrong setting move a computer's count by less: common practice, no source
MAX_OFF_COUNT = 0.15
MAX_NAMED = 5


def declared_warnings(
    study: Study, records: Sequence[TripRecord], measured: MeasuredDistances
) -> list[StudyWarning]:
    """What of `[[measured]]`, `[[dash]]` and `[[load]]` is left out, and lengths that the logs
    speak against."""
    return [
        *_measured_left_out(study, records),
        *_lengths_against(study, records),
        *_roads_of_one_period(study, records, measured),
        *_dash_left_out(study, records),
        *_loads_left_out(study, records),
    ]


def _by_index(records: Sequence[TripRecord]) -> dict[int, list[Stretch]]:
    found: dict[int, list[Stretch]] = defaultdict(list)
    for record in records:
        for stretch in record.stretches:
            found[stretch.index].append(stretch)
    return found


def _measured_left_out(study: Study, records: Sequence[TripRecord]) -> list[StudyWarning]:
    seen = _by_index(records)
    reasons: dict[Message, list[datetime]] = defaultdict(list)
    for index, declared in enumerate(study.measured):
        stretches = seen.get(index, [])
        if not stretches and _read_on(study, declared):
            continue
        if not stretches:
            reasons[message("measured-why/no-log")].append(declared.start)
        elif not any(one.complete for one in stretches):
            reasons[message("measured-why/not-whole")].append(declared.start)
        elif all(not one.indicated_m and not one.counter_m for one in stretches):
            reasons[message("measured-why/not-indicated")].append(declared.start)
    return [
        warning(message("measured-left-out", moments=_moments(study, starts), why=why))
        for why, starts in reasons.items()
    ]


def _read_on(study: Study, stretch: Measured) -> bool:
    """Whether the dash was read on a stretch, or at its ends: no log is needed then."""
    ends = (stretch.start, stretch.end)
    odometer = [r.at for r in study.dash if r.odometer_m is not None]
    noted = all(any(abs(at - end) <= AT_THE_MARK for at in odometer) for end in ends)
    needle = any(on_stretch(study, r) is stretch for r in study.dash)
    return stretch.distance_m is not None and (noted or needle)


def _lengths_against(study: Study, records: Sequence[TripRecord]) -> list[StudyWarning]:
    found = []
    for index, stretches in sorted(_by_index(records).items()):
        declared = study.measured[index]
        for one in stretches:
            against = _against(declared, one)
            if against is not None:
                by_receiver, km = against
                found.append(_length_warning(study, declared, km, by_receiver=by_receiver))
    return found


def _against(declared: Measured, stretch: Stretch) -> tuple[bool, float] | None:
    """Whether the receiver, else the vehicle's computer, contradicts the declared length, and the
    length by that [km]; None where neither does."""
    if declared.distance_m is None or not stretch.complete:
        return None
    seconds = max((declared.end - declared.start).total_seconds(), 1.0)
    moments = NORMAL_95 * MOMENT_S * float(np.sqrt(2)) / seconds
    for by_receiver, length, most in (
        (True, stretch.true_m, MAX_OFF_RECEIVER),
        (False, stretch.counter_m or stretch.indicated_m, MAX_OFF_COUNT),
    ):
        if length:
            off = abs(declared.distance_m / length - 1)
            return (by_receiver, length / 1000) if off > most + moments else None
    return None


def _length_warning(
    study: Study, declared: Measured, km: float, *, by_receiver: bool
) -> StudyWarning:
    assert declared.distance_m is not None
    said = declared.distance_m / 1000
    return warning(
        message(
            "measured-disagrees",
            moment=_moments(study, [declared.start]),
            declared=Quantity(said, "km", 1),
            found=Quantity(km, "km", 1),
            receiver=by_receiver,
            off=Quantity(abs(100 * (said / km - 1)), "%"),
            much=said > km,
        )
    )


def _roads_of_one_period(
    study: Study, records: Sequence[TripRecord], measured: MeasuredDistances
) -> list[StudyWarning]:
    if study.before is None or study.after is None:
        return []
    told = {one.road for one in measured.roads}
    logged = {
        declared.road
        for index in _by_index(records)
        if (declared := study.measured[index]).road and declared.road not in told
    }
    return [
        warning(message("measured-one-period", road=UserText(road)))
        for road in sorted(road for road in logged if road)
    ]


def _dash_left_out(study: Study, records: Sequence[TripRecord]) -> list[StudyWarning]:
    seen = {shown.index: shown.true_mps for record in records for shown in record.shown}
    reasons: dict[Message, list[datetime]] = defaultdict(list)
    for index, reading in enumerate(study.dash):
        if reading.speed_mps is None:
            continue  # an odometer reading needs no log at its moment
        true = seen.get(index)
        if index not in seen and on_stretch(study, reading) is not None:
            continue
        if index not in seen:
            reasons[message("dash-why/no-log")].append(reading.at)
        elif true is None:
            reasons[message("dash-why/no-true-speed")].append(reading.at)
        elif true < SLOWEST_READ_MPS:
            reasons[message("dash-why/slow")].append(reading.at)
        elif far_off(reading.speed_mps, true):
            reasons[message("dash-why/far-off")].append(reading.at)
    return [
        warning(message("dash-left-out", moments=_moments(study, moments), why=why))
        for why, moments in reasons.items()
    ]


def _loads_left_out(study: Study, records: Sequence[TripRecord]) -> list[StudyWarning]:
    starts = [
        load.start
        for load in study.loads
        if not any(record.start < load.end and load.start < record.end for record in records)
    ]
    if not starts or not records:
        return []
    return [warning(message("load-left-out", moments=_moments(study, starts)))]


def _moments(study: Study, moments: Iterable[datetime]) -> Items | Message:
    """In the study's own time zone, the first few of them."""
    zone = ZoneInfo(study.time_zone)
    local = [Moment(f"{at.astimezone(zone):%Y-%m-%dT%H:%M:%S}") for at in sorted(moments)]
    named, more = Items(tuple(local[:MAX_NAMED]), ","), len(local) - MAX_NAMED
    return message("moments-and-more", moments=named, more=more) if more > 0 else named
