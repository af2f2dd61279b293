"""What the verdicts on trips say to the reader."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from gearing.messages import (
    Message,
    Moment,
    Quantity,
    StudyWarning,
    UserText,
    message,
    warning,
)

if TYPE_CHECKING:
    from gearing.analysis.outliers import ChangePoint

_NAMED_TRIPS = 20


def swap_message(trips: int, trip: str, when: datetime, *, later: bool) -> Message:
    """That the tires were changed at another time than declared, by so many `trips`."""
    return message(
        "tires-swapped-later" if later else "tires-swapped-earlier",
        trips=trips,
        trip=UserText(trip, "trip"),
        date=Moment.day(when),
    )


def step_message(
    trip: str, when: datetime, factor: float | None, turns: float | None, *, both: bool
) -> Message:
    """A step of the log `factor`, of the log `turns`, or of both; `both`: whether both figures
    are known in the period at all."""
    named, date = UserText(trip, "trip"), Moment.day(when)
    if factor is not None and turns is not None:
        return message(
            "turns-changed/with-factor",
            trip=named,
            date=date,
            factor=_percent(factor),
            turns=_percent(turns),
        )
    if factor is not None:
        return message(
            "computer-reprogrammed/revolutions-same"
            if both
            else "computer-reprogrammed/revolutions-unknown",
            trip=named,
            date=date,
            factor=_percent(factor),
        )
    return message(
        "turns-changed/factor-same" if both else "turns-changed/factor-unknown",
        trip=named,
        date=date,
        turns=_percent(turns or 0.0),
    )


def _percent(log: float) -> Quantity:
    return Quantity(100 * math.expm1(log), "%", 2, sign=True)


def warnings_of(
    misfiled: Sequence[tuple[str, str]],
    unsure: str,
    points: Sequence[ChangePoint],
    flags: Mapping[str, list[str]],
    seen: bool | None,
) -> list[StudyWarning]:
    """What the reader must know. `misfiled`: trip and the side it is filed under; `unsure`: the
    trip whose odometer factor alone speaks, and may be a reprogrammed computer's first."""
    told = {trip for p in points if p.kind.startswith("swapped") for trip in p.trips}
    wrong = [(trip, side) for trip, side in misfiled if trip not in told]
    sure = [
        (tuple(trip for trip, own in wrong if own == side and trip != unsure), side)
        for side in ("before", "after")
    ]
    found = [_misfiled(trips, side) for trips, side in sure if trips]
    found += [_misfiled((trip,), side, unsure=True) for trip, side in wrong if trip == unsure]
    found += [
        warning(p.text, p.trips if len(p.trips) <= _NAMED_TRIPS else (p.trip,)) for p in points
    ]
    apart = tuple(name for name, f in flags.items() if any(x.endswith("-apart") for x in f))
    if apart:
        found.append(warning(message("trip-apart", trips=len(apart)), apart))
    if seen is False:
        found.append(warning(message("no-tire-change-seen")))
    return found


def _misfiled(trips: tuple[str, ...], side: str, *, unsure: bool = False) -> StudyWarning:
    after = side == "after"
    if len(trips) > 1:
        return warning(message("misfiled/several", trips=len(trips), after=after), trips)
    told = message(
        "misfiled/unsure" if unsure else "misfiled",
        trip=UserText(trips[0], "trip"),
        after=after,
    )
    return warning(told, trips)
