"""Does the new gearing suit a route? One rule, over the draws of what is not known for sure.

It does not suit if in over half the draws it cannot set off on the steepest 50 m, or falls
below lugging speed in its lowest gear, or no gear holds the steepest descent under governed
speed where one did before. It suits with care if any of these happens in over 5 % of the
draws, or a climb's lowest speed falls by over 5 km/h, or the work left to the service brakes
rises by over 5 % (and 0.1 kWh).
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """By draw, what goes wrong on the new tires; and the central changes.

    `lowest_falls_kmh` is the largest fall of any climb's lowest speed, None without a before;
    `brake_before_kwh` likewise.
    """

    cannot_start: NDArray[np.bool_]
    below_lugging: NDArray[np.bool_]
    loses_descent: NDArray[np.bool_]
    lowest_falls_kmh: float | None
    brake_before_kwh: float | None
    brake_after_kwh: float


def judge(evidence: Evidence) -> tuple[Verdict, tuple[str, ...]]:
    """The verdict, and in words what to mind or what fails."""
    faults = [
        (evidence.cannot_start, "it cannot set off on the steepest 50 m"),
        (evidence.below_lugging, "it falls below lugging speed in its lowest gear"),
        (
            evidence.loses_descent,
            "no gear holds the steepest descent under governed speed, where one did before",
        ),
    ]
    shares = [(float(np.mean(flags)), words) for flags, words in faults]
    failing = tuple(_share_words(s, words) for s, words in shares if s > FAILS_SHARE)
    if failing:
        return "does not suit", failing
    care = [_share_words(s, words) for s, words in shares if s > CARE_SHARE]
    falls = evidence.lowest_falls_kmh
    if falls is not None and falls > CARE_SPEED_KMH:
        care.append(f"a climb's lowest speed falls by {falls:.0f} km/h")
    before, after = evidence.brake_before_kwh, evidence.brake_after_kwh
    if before is not None:
        more = after - before
        if more > CARE_BRAKE_KWH and more > CARE_BRAKE_SHARE * before:
            rise = f"by {more / before * 100:.0f} %" if before > 0 else f"to {after:.1f} kWh"
            care.append(f"the work left to the service brakes rises {rise}")
    return ("suits with care" if care else "suits"), tuple(care)


def _share_words(share: float, words: str) -> str:
    return f"in {share * 100:.0f} % of the draws {words}"
