"""Roads side by side, as the road model reads them: tables of shape (pieces, roads).

Roads driven together need not be equally long: past a road's end its tables hold zeros, and
nobody drives there.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np

from gearing.units import STANDARD_GRAVITY_MPS2
from gearing.vehicle.road_load import along_and_across

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Any

    from numpy.typing import NDArray

    from gearing.units import Array
    from gearing.vehicle.road import Road

    Flags = NDArray[np.bool_]

AHEAD_M = 250.0  # the driver looks so far; common practice, no source
DIP_STOPS = 1.0  # a dip falls no more than that, beyond a grade of 1 % that holds itself
DIP_GRADE = 1
BEYOND_END_M = 1000.0
HELD_GRADES = np.arange(0.0, 0.2001, 0.01)  # what a gear may hold on a descent


@dataclass(frozen=True, slots=True)
class RoadTables:
    """By piece and road, but `start_mps` (1, roads): length and altitude, shares of a weight along
    and across the road and along the next 250 m; speed sought at the start and at each piece's
    end, limit and stop there; drop [m] still ahead that each of `HELD_GRADES` does not hold (a
    third axis); whether one slows there, and may run out a dip."""

    step_m: Array
    altitude_m: Array
    sine: Array
    cosine: Array
    ahead: Array
    start_mps: Array
    target_mps: Array
    slows_from_m2ps2: Array
    limit_mps: Array
    stop_s: Array
    descents_m: Array
    slows: Flags
    dips: Flags

    @staticmethod
    def of(roads: Sequence[Road]) -> RoadTables:
        """The tables of roads with equal counts of pieces."""

        def all_of(name: str) -> Array:
            return np.stack([getattr(road, name) for road in roads], axis=1)

        target, limit, descents = all_of("target_mps"), all_of("limit_mps")[1:], _descents(roads)
        sine, cosine = along_and_across(all_of("grade"))
        slows = np.diff(target, axis=0) < 0
        # not on a descent of more than a full stop, nor where a lower speed lies ahead
        drop_j = descents[:, :, DIP_GRADE] * STANDARD_GRAVITY_MPS2
        return RoadTables(
            step_m=all_of("step_m"),
            altitude_m=all_of("altitude_m"),
            sine=sine,
            cosine=cosine,
            ahead=np.stack([_ahead(road) for road in roads], axis=1),
            start_mps=target[:1],
            target_mps=target[1:],
            slows_from_m2ps2=np.stack([road.slows_from_m2ps2.T for road in roads], axis=1)[1:],
            limit_mps=limit,
            stop_s=all_of("stop_s")[1:],
            descents_m=descents,
            slows=slows,
            dips=(drop_j < DIP_STOPS * limit**2 / 2) & ~slows,
        )

    @staticmethod
    def joined(parts: Sequence[RoadTables]) -> RoadTables:
        """The roads of all parts in order."""
        if len(parts) == 1:
            return parts[0]
        names = [one.name for one in fields(RoadTables)]
        tables: list[Any] = [_stacked([getattr(one, name) for one in parts]) for name in names]
        return RoadTables(*tables)


def _stacked(tables: Sequence[Any]) -> Any:
    """Tables beside each other, those of shorter roads filled up with zeros."""
    pieces, ends = max(one.shape[0] for one in tables), np.cumsum([one.shape[1] for one in tables])
    out = np.zeros((pieces, ends[-1], *tables[0].shape[2:]), tables[0].dtype)
    for one, end in zip(tables, ends, strict=True):
        out[: one.shape[0], end - one.shape[1] : end] = one
    return out


def _descents(roads: Sequence[Road]) -> Array:
    """Drop still ahead [m] that a gear does not hold: shape (pieces, roads, grades held).

    From each piece to the foot of its descent, of what is steeper than a gear holds by itself.
    """
    step = np.stack([road.step_m for road in roads], axis=1)
    fall = -np.stack([along_and_across(road.grade)[0] for road in roads], axis=1)
    excess = (fall[:, :, None] - HELD_GRADES) * step[:, :, None]
    # a road that ends on a descent goes on as steep for a while
    left = np.maximum(excess[-1] / step[-1][:, None], 0.0) * BEYOND_END_M
    out = np.empty_like(excess)
    for piece in range(excess.shape[0] - 1, -1, -1):
        left = np.maximum(left + excess[piece], 0.0)
        out[piece] = left
    return out


def _ahead(road: Road) -> Array:
    """Rise [-] a metre of road over the next `AHEAD_M` from each piece's start."""
    sine, _ = along_and_across(road.grade)
    height = np.concatenate([[0.0], np.cumsum(sine * road.step_m)])
    here = road.edge_m[:-1]
    there = np.minimum(here + AHEAD_M, road.edge_m[-1])
    ahead: Array = (np.interp(there, road.edge_m, height) - height[:-1]) / (there - here)
    return ahead
