"""Trips that drove in the other period's gears, and not in their own's."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gearing.analysis.identification.gear_fit import NEAR, TripClusters
from gearing.analysis.sides import SIDES

# the share of a trip's road in another's gears from which they drove alike; of a period's trips,
# what are few. Common practice, no source
ALIKE, FEW = 0.5, 0.4


def misplaced(trips: Sequence[tuple[str, TripClusters]]) -> frozenset[str]:
    """Trips in the gears, where they stand, of most of the other period's and of few of their own:
    filed under the wrong period, or the only drives in other gears."""
    found = []
    for side, one in trips:
        alike = [(s == side, _met(one, t) > ALIKE) for s, t in trips if t is not one]
        own, other = ([met for here, met in alike if here is same] for same in (True, False))
        if len(own) >= 2 and other and np.mean(own) < FEW and np.mean(other) > 1 - FEW:
            found.append(one.name)
    kept = [side for side, one in trips if one.name not in found]
    return frozenset(found) if all(kept.count(side) >= 2 for side in SIDES) else frozenset()


def _met(one: TripClusters, other: TripClusters) -> float:
    """Share of a trip's road in gears that another drove, where they stand."""
    near = np.abs(one.log_ratio[:, None] - other.log_ratio[None, :]).min(axis=1) < NEAR
    return float(one.distance_m[near].sum() / one.distance_m.sum())
