"""Does the new gearing suit a route? One rule in two parts, over the draws of what is not known.

The vehicle on this road by itself, whatever held before. It does not suit where in over half
the draws it cannot set off on the steepest 50 m, or falls below lugging speed in its lowest
gear, or no gear holds a descent at the speed wanted there and the service brakes take more than
eight full stops from that speed. It suits with care where any of these happens in over 5 % of the
draws, where in over 5 % no gear holds a descent however short its braking, where the service
brakes take more than one full stop along the road or may get too hot, or it hunts, or climbs with
an open converter, or where the owner's own logs show worse of one of its hills than the model does.

The change. With care where a climb's sustained lowest speed falls by over 5 km/h, where the
service brakes' work rises by over a full stop, or a descent is held no longer that was before.

Eight stops: by the Grade Severity Rating System (FHWA-RD-79-116, from memory) one stop of a laden
five-axle truck from 60 mph warms its brakes by 90 of the 350 degF there are, and a long descent
cools them by about as much again as it is long.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.messages import Message, Quantity, Text, message

if TYPE_CHECKING:
    from gearing.analysis.mountain.result import Verdict
    from gearing.statistics.arrays import Array, Mask


START_M = 50.0
# the sample's Quill Gap asks for care by points 100 m apart, and by points 500 m apart for none
WIDEST_M = 300.0
FAILS_SHARE = 0.5
CARE_SHARE = 0.05
CARE_SPEED_KMH = 5.0
CARE_STOPS = 1.0
FAILS_STOPS = 8.0
CARE_OPEN_MINUTES = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """By draw, how the vehicle on the new tires stands on the road; and the central changes.

    `unheld`: no gear holds a descent at the speed wanted there; `stops` is what the service brakes
    take along the road in full stops from the speed wanted; `descents`: what asks for care on one
    of them by itself, and where.
    `lowest_falls_kmh` is the largest fall of any climb's sustained lowest speed, None without a
    before; `unheld_before` likewise, and `stops_rise`, of the mean of the draws.
    """

    cannot_start: Mask
    below_lugging: Mask
    unheld: Mask
    stops: Array
    descents: tuple[Text, ...] = ()
    hunting: int = 0
    open_minutes: float = 0.0
    logged: tuple[Message, ...] = ()  # what the owner's logs show worse than the model
    unheld_before: Mask | None = None
    lowest_falls_kmh: float | None = None
    stops_rise: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """Both parts and the worse of them, each with what to watch or what fails."""

    verdict: Verdict
    change: Verdict
    vehicle: Verdict
    minds_change: tuple[Text, ...]
    minds_vehicle: tuple[Text, ...]

    @property
    def care(self) -> tuple[Text, ...]:
        """What to watch, or what fails, of both parts."""
        return self.minds_vehicle + self.minds_change


def unseen_between(widest_m: float) -> tuple[Message, ...]:
    """That a profile with points so far apart [m] may hide what asks for care."""
    if widest_m <= WIDEST_M:
        return ()
    return (message("watch/between-points", apart=Quantity(widest_m / 1000, "km", 1)),)


def judge(evidence: Evidence) -> Judgement:
    """The verdict of one way of a route."""
    vehicle, minds_vehicle = _vehicle(evidence)
    minds_change = _change(evidence)
    change: Verdict = "suits with care" if minds_change else "suits"
    worse = vehicle if vehicle != "suits" else change
    return Judgement(
        verdict=worse,
        change=change,
        vehicle=vehicle,
        minds_change=minds_change,
        minds_vehicle=minds_vehicle,
    )


def _vehicle(evidence: Evidence) -> tuple[Verdict, tuple[Text, ...]]:
    hard = evidence.unheld & (evidence.stops > FAILS_STOPS)
    faults = [
        (evidence.cannot_start, message("watch/cannot-start", length=Quantity(START_M, "m"))),
        (evidence.below_lugging, message("watch/lugs")),
        (hard, message("watch/not-held", stops=round(FAILS_STOPS))),
    ]
    shares = [(float(np.mean(flags)), told) for flags, told in faults]
    fails = [_in_drives(share, told) for share, told in shares if share > FAILS_SHARE]
    minds: list[Text] = [_in_drives(s, t) for s, t in shares if CARE_SHARE < s <= FAILS_SHARE]
    minds.extend(evidence.descents or _along_the_road(evidence, hard))
    if evidence.hunting:
        minds.append(message("watch/gears-hunt"))
    if evidence.open_minutes > CARE_OPEN_MINUTES:
        minutes = Quantity(evidence.open_minutes, "min")
        minds.append(message("watch/converter-open", minutes=minutes))
    minds.extend(evidence.logged)
    if fails:
        return "does not suit", (*fails, *minds)
    return ("suits with care" if minds else "suits"), tuple(minds)


def _along_the_road(evidence: Evidence, hard: Mask) -> list[Message]:
    """What asks for care of all descents together where none does by itself."""
    unheld, stops = float(np.mean(evidence.unheld)), np.quantile(evidence.stops, 1 - CARE_SHARE)
    found = []
    if unheld > CARE_SHARE and float(np.mean(hard)) <= FAILS_SHARE:
        found.append(_in_drives(unheld, message("watch/steepest-not-held")))
    if stops > CARE_STOPS:
        found.append(message("watch/brakes", stops=Quantity(float(stops), "-", 1)))
    return found


def _change(evidence: Evidence) -> tuple[Message, ...]:
    minds = []
    falls = evidence.lowest_falls_kmh
    if falls is not None and falls > CARE_SPEED_KMH:
        minds.append(message("watch/slower", falls=Quantity(falls, "km/h")))
    rise = evidence.stops_rise
    if rise is not None and rise > CARE_STOPS:
        minds.append(message("watch/more-braking", stops=Quantity(rise, "-", 1)))
    if evidence.unheld_before is not None:
        lost = float(np.mean(evidence.unheld & ~evidence.unheld_before))
        if lost > CARE_SHARE:
            minds.append(_in_drives(lost, message("watch/held-before")))
    return tuple(minds)


def _in_drives(share: float, told: Message) -> Message:
    """What happens in a share of the draws."""
    return message("watch", drives=round(100 * share), what=told)
