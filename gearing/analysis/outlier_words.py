"""What the verdicts on trips say to the reader."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Protocol

from gearing.messages import StudyWarning

NO_CHANGE = (
    "Neither the odometer factor nor the engine's turns a distance differ between the periods: "
    "either the tires turn alike or the logs are not what the study says. Every trip is kept."
)
_CODE = {
    "computer reprogrammed": "computer-reprogrammed",
    "turns changed": "turns-changed",
    "swapped earlier": "tires-swapped-earlier",
    "swapped later": "tires-swapped-later",
}
_NAMED_TRIPS = 20


class _Point(Protocol):
    """What is told of a change inside a period."""

    @property
    def kind(self) -> str: ...
    @property
    def trip(self) -> str: ...
    @property
    def trips(self) -> tuple[str, ...]: ...
    @property
    def text(self) -> str: ...


def step_text(
    trip: str, when: datetime, factor: float | None, turns: float | None, *, both: bool
) -> str:
    """A step of the log `factor`, of the log `turns`, or of both; `both`: whether both figures
    are known in the period at all."""
    head = f"From trip {trip} of {when:%Y-%m-%d} on"
    since = "What is given as in effect holds since then."
    if factor is not None and turns is not None:
        return (
            f"{head} both the odometer factor ({_percent(factor)}) and the engine's turns a "
            f"distance ({_percent(turns)}) differ: other tires or another axle ratio. {since}"
        )
    if factor is not None:
        return f"{head} the odometer factor differs by {_percent(factor)}" + (
            f" while the engine's turns a distance do not: that is what a reprogrammed computer "
            f"does. {since}"
            if both
            else ", which a reprogrammed computer does, and other tires or logs of the other "
            "period do as well: the engine's turns a distance, which would tell, are not known. "
            f"{since}"
        )
    return f"{head} the engine's turns a distance differ by {_percent(turns or 0.0)}" + (
        " while the odometer factor does not: another axle ratio or tire with the computer set to "
        f"match. {since}"
        if both
        else f": other tires or another axle ratio. The odometer factor is not known. {since}"
    )


def _percent(log: float) -> str:
    return f"{100 * math.expm1(log):+.2f} %"


def warnings_of(
    misfiled: Sequence[tuple[str, str]],
    unsure: str,
    points: Sequence[_Point],
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
        StudyWarning(_CODE[p.kind], p.text, p.trips if len(p.trips) <= _NAMED_TRIPS else (p.trip,))
        for p in points
    ]
    apart = tuple(name for name, f in flags.items() if any(x.endswith("-apart") for x in f))
    if apart:
        found.append(
            StudyWarning(
                "trip-apart",
                f"{len(apart)} trip{'s show' if len(apart) > 1 else ' shows'} figures that fit "
                f"neither period; {'they are' if len(apart) > 1 else 'it is'} kept out of the "
                "pooled figures.",
                apart,
            )
        )
    if seen is False:
        found.append(StudyWarning("no-tire-change-seen", NO_CHANGE))
    return found


def _misfiled(trips: tuple[str, ...], side: str, *, unsure: bool = False) -> StudyWarning:
    other = "after" if side == "before" else "before"
    if len(trips) == 1:
        text = (
            f"Trip {trips[0]} is filed under {side} but its figures are those of the {other} "
            "period and not of its own. It is kept out; move its file if you agree."
        )
    else:
        text = (
            f"{len(trips)} trips are filed under {side} but their figures are those of the {other} "
            "period and not of their own. They are kept out; move their files if you agree."
        )
    if unsure:
        text += " If the computer was reprogrammed just before it, leave it: the next trip tells."
    return StudyWarning("misfiled", text, trips)
