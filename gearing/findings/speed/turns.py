"""Turns a km of the drive tires, and what the computer in effect is programmed with."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gearing.findings.final_drive import pooled_shift
from gearing.findings.sides import BySide
from gearing.findings.speed.factor import NOT_DRIVEN
from gearing.findings.trip_figures import TripFigures
from gearing.statistics.estimate import Estimate, unknown
from gearing.study.model import Period, Study
from gearing.vehicle.tire import parse_size

# what one tire of a size and tread may differ from the published figure by: common practice
PUBLISHED_DOUBT = 0.01


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
    """What the computer in effect uses, and what it should: turns of the tire a km."""

    now: Estimate
    should_be: Estimate


def with_basis(estimate: Estimate, basis: str | None) -> Turns:
    return Turns(
        estimate.value, estimate.low, estimate.high, estimate.n, estimate.method, basis,
        estimate.why,
    )  # fmt: skip


def measured_turns(study: Study, figures: TripFigures, side: str) -> Estimate:
    """From engine or shaft speed against true speed, the declared ratios taken out."""
    axle = study.vehicle.axle_ratio
    if axle is None:
        return unknown("the study gives no axle_ratio")
    if not figures.comb.absolute:
        return unknown("no output-shaft speed is logged and the study gives no gear_ratios")
    pooled = pooled_shift(figures, side)
    if pooled is None:
        return unknown("no trip shows engine or output-shaft speed with true speed")
    return pooled.estimate().map(lambda turns: 1000 * turns / axle)


def tire_turns(study: Study, figures: TripFigures, side: str) -> Turns:
    """The best figure there is for a period's drive tires, rolling under load."""
    period = study.before if side == "before" else study.after
    if period is None:
        return with_basis(unknown(f"the study has no [{side}] period"), None)
    measured = measured_turns(study, figures, side)
    if measured.known and _plausible(measured.value, period):
        return with_basis(measured, "engine speed and ratios")
    if period.revolutions_per_km is not None:
        turns = period.revolutions_per_km
        spread = turns * PUBLISHED_DOUBT
        return with_basis(
            Estimate(turns, turns - spread, turns + spread, None, "published"), "published"
        )
    try:
        size = parse_size(period.drive_tire)
    except ValueError as error:
        return with_basis(unknown(str(error)), None)
    low, high = size.revolutions_per_km_range
    return with_basis(Estimate(size.revolutions_per_km, low, high, None, "size"), "size")


def _plausible(turns: float | None, period: Period) -> bool:
    """Ratios declared wrong would make nonsense of the tire: 6 % from its size is the limit."""
    try:
        nominal = period.revolutions_per_km or parse_size(period.drive_tire).revolutions_per_km
    except ValueError:
        return turns is not None
    return turns is not None and abs(float(np.log(turns / nominal))) < 0.06


def programmed(study: Study, factor: BySide[Estimate], turns: BySide[Turns]) -> Programmed:
    """programmed = factor x actual, for factor = true / indicated = programmed / actual turns.

    Where the new tires are only planned, what the computer uses shows on the old ones.
    """
    side = "after" if study.after is not None else "before"
    actual, now = turns.of(side), factor.of(side)
    if study.vehicle.speed_source == "front wheels":
        why = unknown(
            "speed is taken at the front wheels: the computer counts the steer tires, whose turns "
            "are not measured by engine speed"
        )
        return Programmed(why, why)
    if not actual.estimate.known:
        return Programmed(actual.estimate, actual.estimate)
    if now.why == NOT_DRIVEN and factor.before.known and turns.before.estimate.known:
        return Programmed(product(factor.before, turns.before.estimate), actual.estimate)
    if not now.known:
        return Programmed(unknown(now.why or "the odometer factor is not known"), actual.estimate)
    return Programmed(product(now, actual.estimate), actual.estimate)


def product(a: Estimate, b: Estimate) -> Estimate:
    """Of two independent estimates, relative half-widths added in squares."""
    if a.value is None or b.value is None or a.low is None or b.low is None:
        return unknown(a.why or b.why or "not known")
    assert a.high is not None
    assert b.high is not None
    reach = np.hypot(
        0.5 * np.log(a.high / a.low) if a.low > 0 else 0.0,
        0.5 * np.log(b.high / b.low) if b.low > 0 else 0.0,
    )
    value = a.value * b.value
    counts = [n for n in (a.n, b.n) if n is not None]
    return Estimate(
        value, float(value * np.exp(-reach)), float(value * np.exp(reach)),
        min(counts, default=None), a.method,
    )  # fmt: skip
