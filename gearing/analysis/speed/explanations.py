"""Every explanation that fits what the two circumferences show, and what would tell them apart.

Seen from a receiver, true over indicated distance (A, in logs after less before) and engine
turns a true distance (B) are two estimators. Other tires move both, by as much and opposite, if
the computer counts turns of the driveline and was left alone. So does another axle ratio behind
an output-shaft sensor. A reprogrammed computer moves A alone. Where the data cannot single one
out, all that fit are named.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from gearing.analysis.identification import Identification
from gearing.analysis.pooling import PooledLog, difference
from gearing.analysis.sides import BySide
from gearing.messages import Message, Quantity, message
from gearing.statistics.estimate import Estimate, unknown
from gearing.study.model import Study
from gearing.trips.record import declared_revolutions_per_km

# two estimators are never held to agree better than this, percent
MIN_TOLERANCE = 0.15
# of nominal or published figures of two sizes against one another, percent
SIZE_TOLERANCE = 2.0

NO_FACTOR = message("change-unknown/factor")
NOT_SEEN = message("change-unknown/not-seen")
ROLL_OUT = message("what-tells/roll-out")
READ_SETTING = message("what-tells/setting")


@dataclass(frozen=True, slots=True)
class Explanation:
    """One cause: whether it fits all that is seen, by how much it would have to be, and the
    observation that would tell it from the others that fit."""

    cause: Message
    fits: bool
    by_percent: Estimate
    text: Message
    tell_apart: Message


@dataclass(frozen=True, slots=True)
class Reconciled:
    """The two estimators in percent, their sum (0 where one change of tires or axle explains
    both), whether that sum is nothing, and the explanations, those that fit first."""

    factor_change_percent: Estimate
    revolutions_change_percent: Estimate
    expected_percent: Estimate
    together_percent: Estimate
    agree: bool | None
    explanations: tuple[Explanation, ...]


def reconcile(
    study: Study,
    factor: BySide[PooledLog | None],
    turns: BySide[PooledLog | None],
    identification: Identification,
) -> Reconciled:
    """What moved between the periods and what may have moved it."""
    a, b = _change(factor), _change(turns)
    expected = _expected(study)
    together = _sum(a, b)
    agree = None if together is None else _nothing(together)
    found = _explain(study, a, b, expected, identification)
    return Reconciled(
        _percent(a, NO_FACTOR),
        _percent(b, message("change-unknown/revolutions")),
        expected,
        _percent(together, message("change-unknown/one-of-two")),
        agree,
        tuple(sorted(found, key=lambda e: not e.fits)),
    )


def _change(side: BySide[PooledLog | None]) -> PooledLog | None:
    if side.before is None or side.after is None:
        return None
    return difference(side.after, side.before)


def _sum(a: PooledLog | None, b: PooledLog | None) -> PooledLog | None:
    if a is None or b is None:
        return None
    error = float(np.hypot(a.error, b.error))
    # true distance stands in both, turned over: what they share cancels
    return PooledLog(
        a.value + b.value, error, min(a.degrees, b.degrees), 0.0, min(a.n, b.n), a.kind, a.unit
    )


def _percent(log: PooledLog | None, why: Message) -> Estimate:
    return unknown(why) if log is None else log.estimate().map(lambda f: 100 * (f - 1))


def _negated(log: PooledLog) -> PooledLog:
    return replace(log, value=-log.value)


def _nothing(log: PooledLog) -> bool:
    """Whether a change in logs may as well be none."""
    low, high = log.interval()
    return abs(log.value) < max(0.5 * (high - low), MIN_TOLERANCE / 100)


def _expected(study: Study) -> Estimate:
    """How much larger around the new tires are by published figures or size, percent."""
    before = declared_revolutions_per_km(study.before)
    after = declared_revolutions_per_km(study.after)
    if before is None or after is None:
        return unknown(message("change-unknown/declared"))
    value = 100 * (before / after - 1)
    return Estimate(
        value, value - SIZE_TOLERANCE, value + SIZE_TOLERANCE, None, "published-or-size"
    )


def _explain(
    study: Study,
    a: PooledLog | None,
    b: PooledLog | None,
    expected: Estimate,
    identification: Identification,
) -> list[Explanation]:
    source = study.vehicle.speed_source
    driveline = source in ("output shaft", "drive wheels")
    maybe_driveline = source != "front wheels"
    found: list[Explanation] = []
    if a is None and b is None:
        return found
    still_a = a is not None and _nothing(a)
    still_b = b is not None and _nothing(b)
    agree = a is not None and b is not None and _nothing(_combined(a, b))
    size = _combined_size(a, b)
    found.append(_tires(a, b, agree, size, expected, maybe_driveline, still_a and still_b))
    found.append(_axle(a, b, agree, size, source, still_a, still_b))
    found.append(_computer(a, b, still_a, still_b))
    if a is not None and b is not None:
        found.append(_tires_and_computer(a, b, still_b, agree, expected))
    if not driveline:
        found.append(_front(a, b, still_a, still_b, source))
    if b is not None and len(identification.ratio_offsets) > 1:
        found.append(_gear(b, identification.ratio_offsets, still_b))
    if still_a and still_b:
        found.append(
            Explanation(
                message("cause/nothing"),
                True,
                unknown(message("change-unknown/nothing")),
                message("cause-told/nothing"),
                message("what-tells/sidewalls"),
            )
        )
    return found


def _combined(a: PooledLog, b: PooledLog) -> PooledLog:
    total = _sum(a, b)
    assert total is not None
    return total


def _combined_size(a: PooledLog | None, b: PooledLog | None) -> PooledLog | None:
    """The larger circumference that A and -B together show."""
    parts = [p for p in (a, None if b is None else _negated(b)) if p is not None]
    if not parts:
        return None
    weight = np.array([1 / p.error**2 for p in parts])
    value = float(np.sum([w * p.value for w, p in zip(weight, parts, strict=True)]) / weight.sum())
    error = float(1 / np.sqrt(weight.sum()))
    return PooledLog(
        value, error, min(p.degrees for p in parts), 0.0, min(p.n for p in parts), parts[0].kind,
        parts[0].unit, max(p.shared for p in parts),
    )  # fmt: skip


def _tires(
    a: PooledLog | None,
    b: PooledLog | None,
    agree: bool,
    size: PooledLog | None,
    expected: Estimate,
    maybe_driveline: bool,
    still: bool,
) -> Explanation:
    estimator = size if agree else (_negated(b) if b is not None else a)
    by = _percent(estimator, NOT_SEEN)
    fits = not still and (agree or (a is None) != (b is None)) and (maybe_driveline or a is None)
    told = message("cause-told/tires", by=_larger(by))
    if by.value is not None and expected.value is not None:
        near = abs(by.value - expected.value) <= SIZE_TOLERANCE
        told = message(
            "cause-told/tires-as-declared" if near else "cause-told/tires-not-as-declared",
            by=_larger(by),
            expected=Quantity(expected.value, "%", 1, sign=True),
        )
        fits = fits and near
    return Explanation(message("cause/tires"), fits, by, told, ROLL_OUT)


def _axle(
    a: PooledLog | None,
    b: PooledLog | None,
    agree: bool,
    size: PooledLog | None,
    source: str,
    still_a: bool,
    still_b: bool,
) -> Explanation:
    estimator = size if (agree and size is not None) else (None if b is None else _negated(b))
    ratio = None if estimator is None else _negated(estimator)
    if source in ("output shaft", "unknown"):
        fits = b is not None and not still_b and (agree or a is None)
        told = message("cause-told/axle-behind-shaft", by=_higher(_percent(ratio, NOT_SEEN)))
    else:
        fits = b is not None and not still_b and (still_a or a is None)
        told = message("cause-told/axle-before-wheels", by=_higher(_percent(ratio, NOT_SEEN)))
    by = _percent(ratio, message("change-unknown/engine"))
    return Explanation(message("cause/axle"), fits, by, told, message("what-tells/axle-plate"))


def _computer(
    a: PooledLog | None, b: PooledLog | None, still_a: bool, still_b: bool
) -> Explanation:
    fits = a is not None and not still_a and (still_b or b is None)
    by = _percent(a, NO_FACTOR)
    told = message("cause-told/computer", by=_higher(by))
    return Explanation(message("cause/computer"), fits, by, told, READ_SETTING)


def _tires_and_computer(
    a: PooledLog, b: PooledLog, still_b: bool, agree: bool, expected: Estimate
) -> Explanation:
    tires = _percent(_negated(b), NOT_SEEN)
    setting = _percent(_combined(a, b), NOT_SEEN)
    near = (
        expected.value is None
        or tires.value is None
        or abs(tires.value - expected.value) <= SIZE_TOLERANCE
    )
    return Explanation(
        message("cause/tires-and-computer"),
        not still_b and not agree and near,
        tires,
        message("cause-told/tires-and-computer", by=_larger(tires), counts=_less(setting)),
        READ_SETTING,
    )


def _front(
    a: PooledLog | None, b: PooledLog | None, still_a: bool, still_b: bool, source: str
) -> Explanation:
    fits = (a is not None and b is not None) and (still_a != still_b or source == "front wheels")
    return Explanation(
        message("cause/front-wheels"),
        fits,
        _percent(a, NO_FACTOR),
        message("cause-told/front-wheels"),
        message("what-tells/sensor"),
    )


def _gear(b: PooledLog, offsets: dict[int, float], still_b: bool) -> Explanation:
    worst, gear = max(((abs(move), g) for g, move in offsets.items()), default=(0.0, 0))
    others = [abs(move) for g, move in offsets.items() if g != gear]
    fits = (
        bool(others) and not still_b and worst > 0.01 and worst > 3 * max(max(others), 0.002)
    )  # one gear moved against all others
    told = (
        message("cause-told/one-gear", gear=gear, by=Quantity(100 * worst, "%", 1))
        if fits
        else message("cause-told/every-gear", within=Quantity(100 * worst, "%", 2))
    )
    by = _percent(b if fits else None, NOT_SEEN)
    return Explanation(
        message("cause/one-gear"), fits, by, told, message("what-tells/gear-by-gear")
    )


def larger(percent: float) -> Message:
    """By how much larger or smaller."""
    by = Quantity(abs(percent), "%", 1)
    return message("change/larger" if percent > 0 else "change/smaller", by=by)


def _larger(by: Estimate) -> Message:
    return message("change/unknown") if by.value is None else larger(by.value)


def _higher(by: Estimate) -> Message:
    if by.value is None:
        return message("change/unknown")
    size = Quantity(abs(by.value), "%", 1)
    return message("change/higher" if by.value > 0 else "change/lower", by=size)


def _less(by: Estimate) -> Message:
    if by.value is None:
        return message("change/unknown")
    size = Quantity(abs(by.value), "%", 1)
    return message("change/less" if by.value > 0 else "change/more", by=size)
