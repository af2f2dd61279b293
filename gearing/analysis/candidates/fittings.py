"""What each candidate would put on the vehicle: tires with their revolutions, and an axle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.identification.declared import PUBLISHED_ERROR, SIZE_ERROR
from gearing.analysis.speed.turns import PUBLISHED, SIZE
from gearing.messages import Message, MessageError
from gearing.statistics.estimate import NORMAL_95, Estimate, unknown
from gearing.vehicle.tire import parse_size

if TYPE_CHECKING:
    from gearing.analysis.sides import BySide
    from gearing.analysis.speed.turns import Turns
    from gearing.study.model import Candidate, Period, Side, Study

SIDES: tuple[Side, ...] = ("before", "after")
SAME_FIGURE = 5e-4  # share by which two published figures of one tire may differ by rounding


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """Tires on an axle. `tire` names the tires apart from the axle: "before" and "after" are those
    of the periods; two fittings of one `tire` share what is not known of it."""

    name: str
    period: Side | None
    tire: str
    drive_tire: str | None
    revolutions_per_km: Estimate
    basis: Message | None
    axle_ratio: float | None

    @property
    def key(self) -> tuple[str, float | None]:
        """What two fittings that drive alike share: tire and axle ratio."""
        return self.tire, self.axle_ratio


def as_it_is(study: Study) -> Side:
    """The period whose tires and axle are on the vehicle: after the change once that was driven."""
    after = study.after
    driven = after is not None and bool(after.logs or (after.start is not None and study.logs))
    return "after" if driven or study.before is None else "before"


def period_fittings(study: Study, turns: BySide[Turns]) -> tuple[Fitting, ...]:
    """The tires and axle of each period that is declared."""
    return tuple(
        Fitting(
            name=side,
            period=side,
            tire=side,
            drive_tire=period.drive_tire,
            revolutions_per_km=turns.of(side).estimate,
            basis=turns.of(side).basis,
            axle_ratio=study.axle_ratio(side),
        )
        for side in SIDES
        if (period := study.period(side)) is not None
    )


def candidate_fittings(
    study: Study, periods: tuple[Fitting, ...], present: Side
) -> tuple[Fitting, ...]:
    """Each candidate's; what it leaves out is as on the vehicle at present."""
    of = {one.tire: one for one in periods}
    return tuple(_fitting(study, one, of, of[present]) for one in study.candidates)


def _fitting(
    study: Study, candidate: Candidate, periods: dict[str, Fitting], present: Fitting
) -> Fitting:
    axle = present.axle_ratio if candidate.axle_ratio is None else candidate.axle_ratio
    size, published = candidate.drive_tire, candidate.revolutions_per_km
    if size is None and published is None:
        same: Fitting | None = present
    else:
        # of two periods on one size, the one whose axle it is, else the present one
        likely = sorted(
            periods.values(), key=lambda one: (one.axle_ratio != axle, one.tire != present.tire)
        )
        alike = [p for p in likely if _same_tire(study.period(p.tire), size, published)]
        same = alike[0] if alike else None
    if same is not None:
        tire, turns, basis, drive_tire = (
            same.tire, same.revolutions_per_km, same.basis, same.drive_tire,
        )  # fmt: skip
    else:
        turns, basis = _declared(size, published)
        tire, drive_tire = f"{_designation(size)} {published}", size
    return Fitting(
        name=candidate.name,
        period=None,
        tire=tire,
        drive_tire=drive_tire,
        revolutions_per_km=turns,
        basis=basis,
        axle_ratio=axle,
    )


def _same_tire(period: Period | None, size: str | None, published: float | None) -> bool:
    """Whether a candidate's tire is that of a period: same size, and no other figure for it."""
    if period is None:
        return False
    if size is not None and _designation(size) != _designation(period.drive_tire):
        return False
    if published is None:
        return True
    own = period.revolutions_per_km
    return own is not None and abs(published / own - 1) < SAME_FIGURE


def _designation(size: str | None) -> str | None:
    try:
        return None if size is None else parse_size(size).designation
    except ValueError:
        return size


def _declared(size: str | None, published: float | None) -> tuple[Estimate, Message | None]:
    """Revolutions a km as published, else from the size, each with what one tire may differ by."""
    if published is not None:
        value, error, basis, method = published, PUBLISHED_ERROR, PUBLISHED, "published"
    elif size is not None:
        try:
            value = parse_size(size).revolutions_per_km
        except MessageError as fault:
            return unknown(fault.told), None
        error, basis, method = SIZE_ERROR, SIZE, "size"
    else:
        raise ValueError("a candidate's tire has neither size nor figure")
    by = float(np.exp(NORMAL_95 * error))
    return Estimate(value, value / by, value * by, None, method), basis
