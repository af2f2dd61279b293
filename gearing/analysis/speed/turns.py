"""Revolutions a km of the drive tires, and what the computer in effect is programmed with."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from gearing.analysis.final_drive import pooled_axle_turns
from gearing.analysis.identification import Identification
from gearing.analysis.sides import BySide, by_side
from gearing.analysis.speed.factor import NOT_DRIVEN
from gearing.analysis.trip_figures import TripFigures
from gearing.messages import Message, MessageError, Quantity, Text, message, names
from gearing.statistics.estimate import NORMAL_95, Estimate, product, unknown
from gearing.study.model import Study
from gearing.vehicle.tire import parse_size

# what one tire of a size and tread may differ from the published figure by: common practice
PUBLISHED_DOUBT = 0.01
# of what is declared alone, the share of its half-width below which logs have told the tire
TOLD_BY_LOGS = 0.6
MEASURED = message("turns-basis/measured")
PUBLISHED, SIZE = message("turns-basis/published"), message("turns-basis/size")
SURE = 0.99  # of what is typed into a computer the interval is to hold more than 95 %
DOUBTED = 0.1  # chance of being plainly wrong above which a declared figure does not stand alone
MAX_HALF_WIDTH = 0.035  # a tire less well known than this is not told, in logs


@dataclass(frozen=True, slots=True)
class Turns:
    """Revolutions a km; `basis` MEASURED, PUBLISHED or SIZE."""

    value: float | None
    low: float | None
    high: float | None
    n: int | None
    method: str | None
    basis: Message | None
    why: Text | None = None

    @property
    def estimate(self) -> Estimate:
        """The revolutions a km [1/km] without their basis."""
        return Estimate(self.value, self.low, self.high, self.n, self.method, self.why)


@dataclass(frozen=True, slots=True)
class Programmed:
    """Revolutions a km: what the computer in effect uses, and what it should. `change_percent`:
    from the one to the other, which rests on no tire, axle or gear: only on true and indicated
    speed."""

    now: Estimate
    should_be: Estimate
    change_percent: Estimate


def with_basis(estimate: Estimate, basis: Message | None) -> Turns:
    """An estimate of revolutions a km [1/km], with what it rests on."""
    return Turns(
        estimate.value, estimate.low, estimate.high, estimate.n, estimate.method, basis,
        estimate.why,
    )  # fmt: skip


def tire_turns(study: Study, figures: TripFigures, side: str) -> Turns:
    """The best figure there is for a period's drive tires, rolling under load: by all evidence
    together, with the range of what it rests on."""
    period, found = study.period(side), figures.identification
    if period is None:
        return with_basis(unknown(message("no-period", after=side == "after")), None)
    declared = found.declared.published.of(side) or found.declared.size.of(side)
    tire = found.judgement.circumference[0 if side == "before" else 1]
    low, high = tire.interval(SURE)
    half_width, likely = 0.5 * (high - low), 0.5 * float(np.diff(tire.interval())[0])
    pooled = pooled_axle_turns(figures, side) if found.named else None
    alone = NORMAL_95 * declared.error if declared else np.inf
    if pooled is not None and likely < min(TOLD_BY_LOGS * alone, MAX_HALF_WIDTH):
        moved = pooled.value - (found.level.of(side) or pooled.value)
        sampling = 0.5 * float(np.diff(pooled.interval())[0])
        estimate = _turns(
            tire.value - moved,
            float(np.hypot(tire.value - low, sampling)),
            float(np.hypot(high - tire.value, sampling)),
        )
        measured = replace(estimate, n=pooled.n, method=pooled.method)
        return with_basis(measured, MEASURED)
    if declared is None:
        return with_basis(_no_figure(period.drive_tire), None)
    by_size = declared is found.declared.size.of(side)
    estimate = _turns(declared.log, NORMAL_95 * declared.error, NORMAL_95 * declared.error)
    if found.judgement.wrong.get(declared.key, 0.0) > DOUBTED:
        if half_width > MAX_HALF_WIDTH:
            return with_basis(unknown(_unsettled(found, side)), None)
        estimate = _turns(tire.value, tire.value - low, high - tire.value)
    method, basis = ("size", SIZE) if by_size else ("published", PUBLISHED)
    return with_basis(replace(estimate, method=method), basis)


def own_over_usual(study: Study, side: str) -> float:
    """A period's axle ratio over the vehicle's, which is the one the road model drives with."""
    own, usual = study.axle_ratio(side), study.vehicle.axle_ratio
    return own / usual if own and usual else 1.0


def for_usual_axle(study: Study, turns: BySide[Turns]) -> BySide[Estimate]:
    """Revolutions a km of the drive tires that give, with the vehicle's axle ratio, the engine
    speed of each period's own."""
    return by_side(
        lambda side: turns.of(side).estimate.map(lambda one: one * own_over_usual(study, side))
    )


def _turns(log_circumference: float, below: float, above: float) -> Estimate:
    """Revolutions a km from the log of a circumference and what it may lie below and above."""
    ends = (log_circumference, log_circumference + above, log_circumference - below)
    value, low, high = (1000 * float(np.exp(-x)) for x in ends)
    return Estimate(value, low, high)


def _no_figure(size: str) -> Estimate:
    try:
        parse_size(size)
    except MessageError as error:
        return unknown(error.told)
    return unknown(message("turns-unknown/no-figure"))


def _unsettled(found: Identification, side: str) -> Message:
    keys = found.judgement.contradicted
    if keys:
        return message("turns-unknown/contradicted", keys=names(keys, joint=","))
    published, size = found.declared.published.of(side), found.declared.size.of(side)
    if published is not None and size is not None:
        apart = 100 * abs(float(np.expm1(published.log - size.log)))
        return message("turns-unknown/apart", after=side == "after", apart=Quantity(apart, "%", 1))
    return message("turns-unknown/open")


def programmed(study: Study, factor: BySide[Estimate], turns: BySide[Turns]) -> Programmed:
    """programmed = factor x actual, for factor = true / indicated = programmed / actual turns.

    Where the new tires are only planned, what the computer uses shows on the old ones.
    """
    side = "after" if study.after is not None else "before"
    actual, now = turns.of(side), factor.of(side)
    change = now.map(lambda k: 100 * (1 / k - 1))
    if study.vehicle.speed_source == "front wheels":
        why = unknown(message("programmed-unknown/front-wheels"))
        return Programmed(why, why, change)
    if not actual.estimate.known:
        return Programmed(actual.estimate, actual.estimate, change)
    if now.why == NOT_DRIVEN and factor.before.known and turns.before.estimate.known:
        in_effect = product(factor.before, turns.before.estimate)
        return Programmed(in_effect, actual.estimate, change)
    if not now.known:
        return Programmed(now, actual.estimate, change)
    return Programmed(product(now, actual.estimate), actual.estimate, change)
