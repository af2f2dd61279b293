"""What to program: several computers each have a constant of their own, all for one tire.

Engine, transmission, brake and cluster computers count turns of a tire, turns of the output
shaft or pulses of its sensor, a mile or a km. Given here as equivalents, for the tire as it is
and as it will be at half wear, for one whole turn a mile is 0.2 %.
"""

from __future__ import annotations

from dataclasses import dataclass

from gearing.analysis.speed.turns import Programmed
from gearing.messages import Message, Quantity, message
from gearing.statistics.estimate import Estimate, unknown
from gearing.study.model import Study
from gearing.vehicle.drivetrain import per_mile, pulses_per_km, shaft_revolutions_per_km
from gearing.vehicle.tire import NEW_TREAD_M, WORN_TREAD_M, revolutions_at_half_wear

NO_PULSES = message("no-shaft-pulses")


@dataclass(frozen=True, slots=True)
class Constants:
    """One setting in every form a computer may ask for; `whole_rev_per_mile` is what one that
    takes whole turns a mile is given, `rounding_percent` what that costs."""

    tire_rev_per_mile: Estimate
    tire_rev_per_km: Estimate
    shaft_rev_per_mile: Estimate
    shaft_rev_per_km: Estimate
    pulses_per_mile: Estimate
    pulses_per_km: Estimate
    whole_rev_per_mile: int | None
    rounding_percent: float | None


@dataclass(frozen=True, slots=True)
class ToProgram:
    """`in_effect`: what the computer uses now; `now`: right for the tire as measured;
    `half_worn`: right on average over its life. `one_revolution_percent`: what one a mile is."""

    in_effect: Constants
    now: Constants
    half_worn: Constants
    one_revolution_percent: float | None
    tread_note: Message


def to_program(study: Study, programmed: Programmed, axle: Estimate) -> ToProgram:
    """All equivalents of the setting in effect and of the right one, by the `axle` ratio that the
    logs do not speak against."""
    period = study.after or study.before
    tread_m = period.tread_m if period is not None else None
    worn = programmed.should_be.map(
        lambda turns: revolutions_at_half_wear(turns, tread_m or NEW_TREAD_M)
    )
    worn_depth = _depth(WORN_TREAD_M)
    note = (
        message("tread-note/declared", worn=worn_depth)
        if tread_m is not None
        else message("tread-note/assumed", new=_depth(NEW_TREAD_M), worn=worn_depth)
    )
    should = programmed.should_be.value
    return ToProgram(
        constants(study, axle, programmed.now),
        constants(study, axle, programmed.should_be),
        constants(study, axle, worn),
        None if should is None else 100 / per_mile(should),
        note,
    )


def _depth(tread_m: float) -> Quantity:
    return Quantity(1000 * tread_m, "mm tread", 1)


def constants(study: Study, axle: Estimate, revolutions_per_km: Estimate) -> Constants:
    """A tire's turns a km in every other form."""
    ratio, per_turn = axle.value, study.vehicle.shaft_pulses
    if ratio is None:
        shaft = pulses = axle
    else:
        shaft = revolutions_per_km.map(lambda t: shaft_revolutions_per_km(t, ratio))
        pulses = unknown(NO_PULSES)
    if ratio is not None and per_turn is not None:
        pulses = revolutions_per_km.map(lambda t: pulses_per_km(t, ratio, per_turn))
    mile = revolutions_per_km.map(per_mile)
    whole = None if mile.value is None else round(mile.value)
    return Constants(
        mile,
        revolutions_per_km,
        shaft.map(per_mile),
        shaft,
        pulses.map(per_mile),
        pulses,
        whole,
        None if mile.value is None or whole is None else 100 * (whole / mile.value - 1),
    )
