"""What the change of tires did to speed and distance: the relative correction, from all evidence.

The odometer factor after over that before. A computer's count, a needle, an odometer, a road
driven twice and the tires' declared figures all speak of the same ratio, each with an error of its
own; they are weighed together. Declared figures that do not fit what is measured give way.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from gearing.analysis.sides import SIDES, BySide
from gearing.analysis.speed.measured import MeasuredDistances
from gearing.analysis.speed.needle_fit import NeedleFit
from gearing.analysis.speed.turns import PUBLISHED, SIZE, Turns
from gearing.messages import Items, Measured, Message, Text, message
from gearing.statistics.estimate import NORMAL_95, Estimate, unknown
from gearing.study.model import Study
from gearing.vehicle.tire import parse_size

MAX_APART = 3.0  # standard errors, by which declared figures may miss what is measured
SAME_TIRE_ERROR = 0.004  # of a steer tire that stayed, by wear and pressure: common practice


@dataclass(frozen=True, slots=True)
class _Evidence:
    log: float
    error: float
    source: Message
    declared: bool = False


@dataclass(frozen=True, slots=True)
class Relative:
    """`factor`: odometer factor after over before, and what it rests on. `setting`: what a
    computer's revolutions a distance must be multiplied by to show as it did before the change;
    `true_setting`: to show what is true, where that is known."""

    factor: Estimate
    by: Text
    setting: Estimate
    true_setting: Estimate
    tires: Estimate  # way per turn of the drive tires, after over before
    tires_by: Text
    told: Text | None = None
    setting_told: Text | None = None


def relative_factor(
    study: Study,
    factor: BySide[Estimate],
    needle: NeedleFit | None,
    measured: MeasuredDistances,
    turns: BySide[Turns],
) -> Relative:
    """All evidence of the ratio, weighed."""
    if study.before is None or study.after is None:
        nothing = message("one-set-of-tires")
        why = unknown(nothing)
        return Relative(why, nothing, why, _true(study, factor), why, nothing)
    evidence = _measured(factor, needle, measured)
    drive = _drive_tires(turns)
    told = _steer(study) if study.vehicle.speed_source == "front wheels" else drive
    if told is not None and (not evidence or abs(_apart(evidence, told)) < MAX_APART):
        evidence.append(told)
    # what a computer at the driveline counts speaks of the drive tires too
    counted = study.vehicle.speed_source in ("output shaft", "drive wheels")
    tires, tires_by = _told(evidence if counted else [one for one in (drive,) if one], "")
    ratio, by = _told(evidence, study.vehicle.speed_source)
    if not ratio.known:
        # a figure that is declared and not believed has its own reason
        reasons = (turns.of(side).why for side in SIDES)
        by = next((why for why in reasons if isinstance(why, Message)), by)
        ratio = unknown(by)
        return Relative(ratio, by, ratio, _true(study, factor), tires, tires_by)
    setting = ratio.map(lambda k: 1 / k)
    percent = ratio.map(lambda k: 100 * (k - 1))
    return Relative(
        ratio,
        by,
        setting,
        _true(study, factor),
        tires,
        tires_by,
        message("goes-faster", percent=_shown(percent, "%", 1), by=by),
        message("setting-to-show-as-before", factor=_shown(setting, "-", 4)),
    )


def _shown(of: Estimate, unit: str, places: int) -> Measured:
    assert of.figures is not None
    return Measured(*of.figures, unit, places)


def _true(study: Study, factor: BySide[Estimate]) -> Estimate:
    now = factor.after if study.after is not None else factor.before
    return now.map(lambda k: 1 / k)


def _measured(
    factor: BySide[Estimate], needle: NeedleFit | None, measured: MeasuredDistances
) -> list[_Evidence]:
    found = []
    if factor.before.known and factor.after.known:
        error = math.hypot(_error(factor.before), _error(factor.after))
        log = math.log(_value(factor.after) / _value(factor.before))
        found.append(_Evidence(log, error, message("odometer-by/measured")))
    if needle is not None and (ratio := needle.relative()).known:
        found.append(
            _Evidence(math.log(_value(ratio)), _error(ratio), message("odometer-by/needle"))
        )
    for road in measured.roads:
        if road.holds and road.ratio.known:
            source = message("odometer-by/road")
            found.append(_Evidence(math.log(_value(road.ratio)), _error(road.ratio), source))
    return found


def _told(evidence: list[_Evidence], source: str) -> tuple[Estimate, Message]:
    """The ratio, and what it rests on; `source`: which turns the computer counts, where the ratio
    is of its count."""
    if not evidence:
        return unknown(message("no-ratio")), message("no-ratio")
    log, error = _weighed(evidence)
    half = NORMAL_95 * error
    low, high = math.exp(log - half), math.exp(log + half)
    sources = Items(tuple(one.source for one in evidence))
    by = message("ratio-by", sources=sources)
    if source and all(one.declared for one in evidence):
        by = (
            message("ratio-by/unknown", sources=sources)
            if source == "unknown"
            else message("ratio-by/declared", sources=sources)
        )
    return Estimate(math.exp(log), low, high, len(evidence), "all-evidence"), by


def _drive_tires(turns: BySide[Turns]) -> _Evidence | None:
    """By the figures of the drive tires."""
    both = turns.map(lambda one: one.estimate)
    if not (both.before.known and both.after.known):
        return None
    error = math.hypot(_error(both.before), _error(both.after))
    log = math.log(_value(both.before) / _value(both.after))
    bases = {turns.before.basis, turns.after.basis}
    if SIZE in bases:
        return _Evidence(log, error, message("odometer-by/size"), declared=True)
    if PUBLISHED in bases:
        return _Evidence(log, error, message("odometer-by/published"), declared=True)
    return _Evidence(log, error, message("odometer-by/engine"), declared=True)


def _steer(study: Study) -> _Evidence | None:
    assert study.before is not None
    assert study.after is not None
    sizes = [study.before.steer_tire, study.after.steer_tire]
    if None in sizes:
        return None
    source = message("odometer-by/steer")
    if sizes[0] == sizes[1]:
        return _Evidence(0.0, SAME_TIRE_ERROR, source, declared=True)
    try:
        first, second = (parse_size(str(size)).rolling_circumference_m for size in sizes)
    except ValueError:
        return None
    return _Evidence(math.log(second / first), 0.0125 * math.sqrt(2), source, declared=True)


def _weighed(evidence: list[_Evidence]) -> tuple[float, float]:
    weights = [one.error**-2 for one in evidence]
    total = sum(weights)
    return sum(w * one.log for w, one in zip(weights, evidence, strict=True)) / total, total**-0.5


def _apart(evidence: list[_Evidence], told: _Evidence) -> float:
    log, error = _weighed(evidence)
    return (told.log - log) / math.hypot(told.error, error)


def _value(of: Estimate) -> float:
    assert of.value is not None
    return of.value


def _error(of: Estimate) -> float:
    """Relative standard error; never nothing, or one source would silence all others."""
    assert of.ends is not None
    low, high = of.ends
    return max(0.5 * math.log(high / low) / NORMAL_95, 1e-5)
