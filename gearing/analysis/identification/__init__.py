"""Tires, axle, gears and computer of the whole study, judged together.

    identify(study, records, log_factors) -> Identification

Gears are told across both periods before any is named. What is declared is evidence beside the
logs (`declared`); trips of a period are laid over one another (`gear_fit`); the ways to tell one
period's gears from the other's are enumerated (`links`) and weighed with everything else at once
(`judgement`).
"""

from gearing.analysis.identification.identify import (
    Gear,
    Identification,
    TripGearing,
    identify,
)

__all__ = ["Gear", "Identification", "TripGearing", "identify"]
