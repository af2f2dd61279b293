"""What is declared of moments and says nothing, or other than the logs: told, each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from gearing.analysis.speed.measured import MOMENT_S, MeasuredDistances
from gearing.analysis.speed.rules import SLOWEST_READ_MPS, far_off
from gearing.messages import StudyWarning
from gearing.statistics.estimate import NORMAL_95
from gearing.study.model import Measured, Study
from gearing.trips.record import TripRecord
from gearing.trips.sums import Stretch

# a declared length is known better than this, and so is a receiver's: common practice, no source
MAX_OFF_RECEIVER = 0.03
# other tires, wear and a wrong setting move a computer's count by less: common practice, no source
MAX_OFF_COUNT = 0.15
MAX_NAMED = 5
_LOOK = " Check the date, the time and its zone."
_LOOK_UNIT = " Check its unit, the date, the time and its zone."


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
    reasons: dict[tuple[str, str], list[datetime]] = defaultdict(list)
    for index, declared in enumerate(study.measured):
        stretches = seen.get(index, [])
        if not stretches:
            reasons["lies in no log", _LOOK].append(declared.start)
        elif not any(one.complete for one in stretches):
            reasons["is covered whole by no log", ""].append(declared.start)
        elif all(not one.indicated_m and not one.counter_m for one in stretches):
            reasons["has no indicated speed logged on it", ""].append(declared.start)
    return [
        StudyWarning(
            "measured-left-out",
            f"What [[measured]] declares from {_moments(study, starts)} {reason}, and is left out."
            + advice,
        )
        for (reason, advice), starts in reasons.items()
    ]


def _lengths_against(study: Study, records: Sequence[TripRecord]) -> list[StudyWarning]:
    found = []
    for index, stretches in sorted(_by_index(records).items()):
        declared = study.measured[index]
        for one in stretches:
            against = _against(declared, one)
            if against is not None:
                name, km = against
                found.append(_length_warning(study, declared, name, km))
    return found


def _against(declared: Measured, stretch: Stretch) -> tuple[str, float] | None:
    """Who speaks against the declared length, and the length it has by that [km]."""
    if declared.distance_m is None or not stretch.complete:
        return None
    seconds = max((declared.end - declared.start).total_seconds(), 1.0)
    moments = NORMAL_95 * MOMENT_S * float(np.sqrt(2)) / seconds
    for name, length, most in (
        ("the receiver", stretch.true_m, MAX_OFF_RECEIVER),
        ("the vehicle's computer", stretch.counter_m or stretch.indicated_m, MAX_OFF_COUNT),
    ):
        if length:
            off = abs(declared.distance_m / length - 1)
            return (name, length / 1000) if off > most + moments else None
    return None


def _length_warning(study: Study, declared: Measured, name: str, km: float) -> StudyWarning:
    assert declared.distance_m is not None
    said = declared.distance_m / 1000
    return StudyWarning(
        "measured-disagrees",
        f"What [[measured]] declares from {_moments(study, [declared.start])} to be {said:.1f} km "
        f"long is {km:.1f} km by {name}: {abs(100 * (said / km - 1)):.0f} % too "
        f"{'much' if said > km else 'little'} is declared. Check the length and the two moments.",
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
        StudyWarning(
            "measured-one-period",
            f"The road {road!r} under [[measured]] is covered whole, with indicated speed, by no "
            "two logs of which one is from before the change and one from after: it compares "
            "nothing.",
        )
        for road in sorted(road for road in logged if road)
    ]


def _dash_left_out(study: Study, records: Sequence[TripRecord]) -> list[StudyWarning]:
    seen = {shown.index: shown.true_mps for record in records for shown in record.shown}
    reasons: dict[tuple[str, str], list[datetime]] = defaultdict(list)
    for index, reading in enumerate(study.dash):
        if reading.speed_mps is None:
            continue  # an odometer reading needs no log at its moment
        true = seen.get(index)
        if index not in seen:
            reasons["no log was under way then", _LOOK].append(reading.at)
        elif true is None:
            reasons["no true speed is logged then", ""].append(reading.at)
        elif true < SLOWEST_READ_MPS:
            reasons["the vehicle stood or was too slow then", _LOOK].append(reading.at)
        elif far_off(reading.speed_mps, true):
            reasons["no needle is so far from the true speed", _LOOK_UNIT].append(reading.at)
    return [
        StudyWarning(
            "dash-left-out",
            f"What [[dash]] gives as shown by the needle at {_moments(study, moments)} is left "
            f"out: {reason}.{advice}",
        )
        for (reason, advice), moments in reasons.items()
    ]


def _loads_left_out(study: Study, records: Sequence[TripRecord]) -> list[StudyWarning]:
    starts = [
        load.start
        for load in study.loads
        if not any(record.start < load.end and load.start < record.end for record in records)
    ]
    if not starts or not records:
        return []
    text = f"What [[load]] declares from {_moments(study, starts)} lies in no log, and changes no "
    return [StudyWarning("load-left-out", text + "figure of the logs." + _LOOK)]


def _moments(study: Study, moments: Iterable[datetime]) -> str:
    """In the study's own time zone, the first few of them."""
    zone = ZoneInfo(study.time_zone)
    named = [f"{at.astimezone(zone):%Y-%m-%d %H:%M:%S}" for at in sorted(moments)]
    more = len(named) - MAX_NAMED
    return ", ".join(named[:MAX_NAMED]) + (f" and {more} more" if more > 0 else "")
