"""Does the new gearing suit a route? One rule, over the draws of what is not known for sure.

It does not suit if in over half the draws it cannot set off on the steepest 50 m, or falls
below lugging speed in its lowest gear, or no gear holds the steepest descent under governed
speed where one did before. It suits with care if any of these happens in over 5 % of the
draws, or a climb's lowest speed falls by over 5 km/h, or the work left to the service brakes
rises by over 5 % (and 0.1 kWh). A descent that asks much of the service brakes is none to call
suited, though the old tires did no better: so too with care where in over 5 % of the draws no
gear holds the steepest descent under governed speed on either tires, or the service brakes take
more on one descent than a full stop from the speed wanted there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.findings.mountain.result import Verdict

FAILS_SHARE = 0.5
CARE_SHARE = 0.05
CARE_SPEED_KMH = 5.0
CARE_BRAKE_SHARE = 0.05
CARE_BRAKE_KWH = 0.1
CARE_STOPS = 1.0  # common practice, no source


@dataclass(frozen=True, slots=True)
class Braking:
    """The descent that asks most of the service brakes: from where to where on the way driven,
    their work in all but a twentieth of the draws, and how many full stops from the speed wanted
    there that is."""

    from_km: float
    to_km: float
    kwh: float
    stops: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """By draw, what goes wrong on the new tires; and the central changes.

    `lowest_falls_kmh` is the largest fall of any climb's lowest speed, None without a before;
    `brake_before_kwh` likewise, brake work being the mean of the draws. `never_held`: no gear holds
    the steepest descent, nor did before.
    """

    cannot_start: NDArray[np.bool_]
    below_lugging: NDArray[np.bool_]
    loses_descent: NDArray[np.bool_]
    never_held: NDArray[np.bool_]
    lowest_falls_kmh: float | None
    brake_before_kwh: float | None
    brake_after_kwh: float
    hardest: Braking | None = None


def judge(evidence: Evidence) -> tuple[Verdict, tuple[str, ...]]:
    """The verdict, and in words what to mind or what fails."""
    before, after = evidence.brake_before_kwh, evidence.brake_after_kwh
    unheld = "no gear holds the steepest descent under governed speed"
    once = ", where one did before" if before is not None else ""
    faults = [
        (evidence.cannot_start, "it cannot set off on the steepest 50 m"),
        (evidence.below_lugging, "it falls below lugging speed in its lowest gear"),
        (evidence.loses_descent, unheld + once),
    ]
    shares = [(float(np.mean(flags)), words) for flags, words in faults]
    failing = tuple(_share_words(s, words) for s, words in shares if s > FAILS_SHARE)
    descents = _descent_words(evidence, unheld)
    if failing:
        return "does not suit", (*failing, *descents)
    care = [_share_words(s, words) for s, words in shares if s > CARE_SHARE]
    falls = evidence.lowest_falls_kmh
    if falls is not None and falls > CARE_SPEED_KMH:
        care.append(f"a climb's lowest speed falls by {falls:.0f} km/h")
    if before is not None:
        more = after - before
        if more > CARE_BRAKE_KWH and more > CARE_BRAKE_SHARE * before:
            by = f"by {more / before * 100:.0f} %, " if before >= 1 else ""
            rise = f"{by}from {before:.1f} to {after:.1f} kWh"
            care.append(f"the work left to the service brakes rises {rise}")
    care.extend(descents)
    return ("suits with care" if care else "suits"), tuple(care)


def _descent_words(evidence: Evidence, unheld: str) -> tuple[str, ...]:
    """What a descent asks of the service brakes, whatever the old tires did."""
    found = []
    never = float(np.mean(evidence.never_held))
    if never > CARE_SHARE:
        found.append(_share_words(never, f"{unheld}, and none did before"))
    hardest = evidence.hardest
    if hardest is not None and hardest.stops > CARE_STOPS:
        found.append(
            f"on the descent from {hardest.from_km:.1f} to {hardest.to_km:.1f} km the service "
            f"brakes take up to {hardest.kwh:.1f} kWh (in 95 % of the draws), as much as "
            f"{hardest.stops:.1f} full stops from the speed wanted there"
        )
    return tuple(found)


def _share_words(share: float, words: str) -> str:
    return f"in {share * 100:.0f} % of the draws {words}"
