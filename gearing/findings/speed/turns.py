"""Revolutions a km of the drive tires, and what the computer in effect is programmed with."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gearing.findings.final_drive import pooled_axle_turns
from gearing.findings.identification import Identification
from gearing.findings.sides import SIDES, BySide
from gearing.findings.speed.factor import NOT_DRIVEN
from gearing.findings.trip_figures import TripFigures
from gearing.statistics.estimate import NORMAL_95, Estimate, unknown
from gearing.study.model import Study
from gearing.vehicle.tire import parse_size

# what one tire of a size and tread may differ from the published figure by: common practice
PUBLISHED_DOUBT = 0.01
# of what is declared alone, the share of its half-width below which logs have told the tire
TOLD_BY_LOGS = 0.6
MAX_HALF_WIDTH = 0.035  # a tire less well known than this is not told, in logs


@dataclass(frozen=True, slots=True)
class Turns:
    """Revolutions a km; `basis` "engine speed and ratios", "published" or "size"."""

    value: float | None
    low: float | None
    high: float | None
    n: int | None
    method: str | None
    basis: str | None
    why: str | None = None

    @property
    def estimate(self) -> Estimate:
        return Estimate(self.value, self.low, self.high, self.n, self.method, self.why)


@dataclass(frozen=True, slots=True)
class Programmed:
    """Revolutions a km: what the computer in effect uses, and what it should. `change_percent`:
    from the one to the other, which rests on no tire, axle or gear: only on true and indicated
    speed."""

    now: Estimate
    should_be: Estimate
    change_percent: Estimate


def with_basis(estimate: Estimate, basis: str | None) -> Turns:
    return Turns(
        estimate.value, estimate.low, estimate.high, estimate.n, estimate.method, basis,
        estimate.why,
    )  # fmt: skip


def tire_turns(study: Study, figures: TripFigures, side: str) -> Turns:
    """The best figure there is for a period's drive tires, rolling under load: by all evidence
    together, with the range of what it rests on."""
    period, found = study.period(side), figures.identification
    if period is None:
        return with_basis(unknown(f"the study has no [{side}] period"), None)
    declared = found.declared.published.of(side) or found.declared.size.of(side)
    tire = found.judgement.circumference[SIDES.index(side)]  # type: ignore[arg-type]
    low, high = tire.interval()
    pooled = pooled_axle_turns(figures, side) if found.named else None
    alone = NORMAL_95 * declared.error if declared else np.inf
    measured = pooled is not None and 0.5 * (high - low) < TOLD_BY_LOGS * alone
    if declared is None and not measured:
        return with_basis(_no_figure(period.drive_tire), None)
    if 0.5 * (high - low) > MAX_HALF_WIDTH:
        return with_basis(unknown(_unsettled(found)), None)
    basis = "engine speed and ratios" if measured else declared.key.rpartition(".")[2]
    value, sampling = tire.value, 0.0
    if pooled is not None and measured:
        value -= pooled.value - (found.level.of(side) or pooled.value)
        sampling = 0.5 * float(np.diff(pooled.interval())[0])
    ends = value - np.hypot(tire.value - low, sampling), value + np.hypot(high - tire.value, sampling)
    return with_basis(
        Estimate(
            *(1000 * float(np.exp(-x)) for x in (value, ends[1], ends[0])),
            pooled.n if pooled is not None and measured else None,
            pooled.method if pooled is not None and measured else _BASIS.get(basis, basis),
        ),
        _BASIS.get(basis, basis),
    )


_BASIS = {
    "drive_tire": "size", "revolutions_per_mile": "published", "revolutions_per_km": "published",
}  # fmt: skip


def _no_figure(size: str) -> Estimate:
    try:
        parse_size(size)
    except ValueError as error:
        return unknown(str(error))
    return unknown("neither a size nor a published figure tells the tire")


def _unsettled(found: Identification) -> str:
    keys = found.judgement.contradicted
    if keys:
        return "what is declared does not fit the logs, see the warnings: " + ", ".join(keys)
    return "tire, axle and gear ratios leave too much open: give a published figure for the tire"


def programmed(study: Study, factor: BySide[Estimate], turns: BySide[Turns]) -> Programmed:
    """programmed = factor x actual, for factor = true / indicated = programmed / actual turns.

    Where the new tires are only planned, what the computer uses shows on the old ones.
    """
    side = "after" if study.after is not None else "before"
    actual, now = turns.of(side), factor.of(side)
    change = now.map(lambda k: 100 * (1 / k - 1))
    if study.vehicle.speed_source == "front wheels":
        why = unknown(
            "speed is taken at the front wheels: the computer counts the steer tires, whose turns "
            "are not measured by engine speed"
        )
        return Programmed(why, why, change)
    if not actual.estimate.known:
        return Programmed(actual.estimate, actual.estimate, change)
    if now.why == NOT_DRIVEN and factor.before.known and turns.before.estimate.known:
        in_effect = product(factor.before, turns.before.estimate)
        return Programmed(in_effect, actual.estimate, change)
    if not now.known:
        why = unknown(now.why or "the odometer factor is not known")
        return Programmed(why, actual.estimate, change)
    return Programmed(product(now, actual.estimate), actual.estimate, change)


def product(a: Estimate, b: Estimate) -> Estimate:
    """Of two independent estimates, relative half-widths added in squares."""
    if a.value is None or b.value is None or a.low is None or b.low is None:
        return unknown(a.why or b.why or "not known")
    assert a.high is not None
    assert b.high is not None
    half_width = np.hypot(
        0.5 * np.log(a.high / a.low) if a.low > 0 else 0.0,
        0.5 * np.log(b.high / b.low) if b.low > 0 else 0.0,
    )
    value = a.value * b.value
    counts = [n for n in (a.n, b.n) if n is not None]
    return Estimate(
        value, float(value * np.exp(-half_width)), float(value * np.exp(half_width)),
        min(counts, default=None), a.method,
    )  # fmt: skip
