"""A road as the longitudinal model drives it: short pieces of one grade, with target speeds.

Distances are along the road, in m; `grade` is rise over horizontal run [-].
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from gearing.messages import MessageError, Span, message
from gearing.vehicle.pace import GENTLE_PACE, deceleration_mps2

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.units import Array

    Mask = NDArray[np.bool_]

STEP_M = 50.0
MAX_PIECES = 16_000  # a road of over 400 km is cut coarser, so that memory stays bounded
STEEPEST_RISE = 0.7  # of the distance along the road: 45 degrees
# From which grade on pieces longer than this are halved: where speeds may collapse within one.
STEEP = ((0.03, 25.0), (0.06, 12.5))
UNREACHED_MPS = 60.0  # a target no heavy vehicle reaches: full load throughout
# Distance from a stop or the start, and the step used there.
_FINE = ((15.0, 1.0), (60.0, 4.0), (250.0, 12.5))


@dataclass(frozen=True, slots=True)
class Road:
    """`edge_m` of shape (k + 1,) bounds k pieces; the rest is by piece (k,) or by edge (k + 1,).

    `limit_mps` (by edge) is what may or shall be driven there, `slows_from_m2ps2` (2, k + 1) are
    the squares of the speed from which one can still slow down for what lies ahead, at half the
    usual pace and at the usual one; `stop_s` (by edge) is how long the vehicle stands.
    """

    edge_m: Array
    grade: Array
    altitude_m: Array  # at the middle of each piece
    limit_mps: Array
    slows_from_m2ps2: Array
    stop_s: Array

    @property
    def length_m(self) -> float:
        """Length of the road [m]."""
        return float(self.edge_m[-1] - self.edge_m[0])

    @property
    def step_m(self) -> Array:
        """Length of each piece [m], shape (k,)."""
        return np.diff(self.edge_m)

    @property
    def target_mps(self) -> Array:
        """The limit with the slowing for lower ones and halts ahead [m/s], shape (k + 1,)."""
        target: Array = np.sqrt(np.minimum(self.limit_mps**2, self.slows_from_m2ps2[1]))
        return target

    @property
    def unslowed(self) -> Mask:
        """Edges (k + 1,) where nothing ahead is slowed down for, not even gently."""
        unslowed: Mask = (self.slows_from_m2ps2[0] >= self.limit_mps**2) & (self.stop_s <= 0)
        return unslowed

    def raised(self, by_m: Array) -> Road:
        """The same road with its altitude raised by so much at each edge [m], shape (k + 1,).

        No piece becomes steeper than 45 degrees.
        """
        length = self.step_m
        sine = self.grade / np.sqrt(1 + self.grade**2) + np.diff(by_m) / length
        sine = np.clip(sine, -STEEPEST_RISE, STEEPEST_RISE)
        return replace(
            self,
            grade=sine / np.sqrt(1 - sine**2),
            altitude_m=self.altitude_m + (by_m[1:] + by_m[:-1]) / 2,
        )

    def reversed(self) -> Road:
        """The same road driven the other way."""
        edge = (self.edge_m[-1] - self.edge_m)[::-1]
        limit, stop = self.limit_mps[::-1], self.stop_s[::-1]
        return Road(
            edge_m=edge,
            grade=-self.grade[::-1],
            altitude_m=self.altitude_m[::-1],
            limit_mps=limit,
            slows_from_m2ps2=_slows_from(limit, stop, np.diff(edge)),
            stop_s=stop,
        )


def make_road(
    distance_m: Array,
    altitude_m: Array,
    target_mps: float | Array,
    *,
    stop_s: Array | None = None,
    step_m: float = STEP_M,
) -> Road:
    """A road through profile points, straight in altitude between them.

    `distance_m` (n,) ascending, `altitude_m` (n,), `target_mps` one speed or one a point (held
    from a point to the next), `stop_s` (n,) standing time at each point.

    Raises
    ------
    MessageError
        under two points, distances that do not ascend, or a grade steeper than 45 degrees.
    """
    distance = np.asarray(distance_m, dtype=np.float64)
    altitude = np.asarray(altitude_m, dtype=np.float64)
    if distance.size < 2 or np.any(np.diff(distance) <= 0):
        raise MessageError(message("road-unusable/points"))
    if not (np.all(np.isfinite(distance)) and np.all(np.isfinite(altitude))):
        raise MessageError(message("road-unusable/numbers"))
    distance = distance - distance[0]
    stops = np.zeros_like(distance) if stop_s is None else np.nan_to_num(np.asarray(stop_s))
    wanted = np.broadcast_to(np.asarray(target_mps, dtype=np.float64), distance.shape)
    changes = np.concatenate([[False], np.diff(wanted) != 0]) | (stops > 0)
    step_m = max(step_m, distance[-1] / MAX_PIECES)
    edge = _edges(distance, distance[changes], distance[stops > 0], step_m)
    length, rise = np.diff(edge), np.diff(np.interp(edge, distance, altitude))
    wild = np.flatnonzero(np.abs(rise) >= STEEPEST_RISE * length)
    if wild.size:
        ends = edge[wild[0]], edge[wild[0] + 1]
        first = np.searchsorted(distance, ends[0], side="right") - 1
        last = np.searchsorted(distance, ends[1])
        at = Span(float(distance[first]) / 1000, float(distance[last]) / 1000, "km", 2)
        raise MessageError(message("road-unusable/altitude", at=at))
    edge = _halved_where_steep(edge, distance, altitude)
    at_edge = np.interp(edge, distance, altitude)
    length, rise = np.diff(edge), np.diff(at_edge)
    piece = np.clip(np.searchsorted(distance, edge, side="right") - 1, 0, distance.size - 1)
    here = wanted[piece]
    # at a border the lower of the two limits holds
    limit = np.minimum(here, np.concatenate([here[:1], here[:-1]]))
    stop_at = np.zeros_like(edge)
    stop_at[np.searchsorted(edge, distance[stops > 0] - 1e-6)] = stops[stops > 0]
    return Road(
        edge_m=edge,
        grade=rise / np.sqrt(length**2 - rise**2),
        altitude_m=(at_edge[1:] + at_edge[:-1]) / 2,
        limit_mps=limit,
        slows_from_m2ps2=_slows_from(limit, stop_at, length),
        stop_s=stop_at,
    )


def even_road(distance_m: Array, altitude_m: Array, wanted_mps: Array) -> Road:
    """A road of as many equal pieces as `wanted_mps` (k + 1,) has edges for, from its first speed.

    For stretches driven side by side: they need the same number of pieces. `distance_m` and
    `altitude_m` (n,) are points of it.
    """
    edge = np.linspace(0.0, float(distance_m[-1] - distance_m[0]), wanted_mps.size)
    height = np.interp(edge, distance_m - distance_m[0], altitude_m)
    length, rise = np.diff(edge), np.diff(height)
    rise = np.clip(rise, -0.5 * length, 0.5 * length)
    stops = np.zeros_like(edge)
    return Road(
        edge_m=edge,
        grade=rise / np.sqrt(length**2 - rise**2),
        altitude_m=(height[1:] + height[:-1]) / 2,
        limit_mps=wanted_mps,
        slows_from_m2ps2=_slows_from(wanted_mps, stops, length),
        stop_s=stops,
    )


def _edges(distance: Array, must: Array, stops: Array, step_m: float) -> Array:
    """Piece borders: no piece over `step_m`, finer where one moves off.

    Of the profile's points those in `must` (limits change, stops), and all where they are so
    few that a grid would cut off their corners.
    """
    sparse = np.median(np.diff(distance)) >= 0.8 * step_m
    wanted = [distance if sparse else must, np.arange(0.0, distance[-1], step_m), distance[-1:]]
    for start in (0.0, *stops):
        for reach, fine in _FINE:
            wanted.append(start + np.arange(-reach, reach, min(fine, step_m)))
            wanted.append(np.array([start]))
    edge = np.unique(np.concatenate(wanted))
    edge = edge[(edge >= 0) & (edge <= distance[-1])]
    # drop borders closer than half a metre to the one before, but never a stop or an end
    keep = np.concatenate([[True], np.diff(edge) > 0.5])
    keep |= np.isin(edge, stops)
    keep[-1] = True
    edge = edge[keep]
    near = np.concatenate([np.diff(edge) < 1e-6, [False]])
    return np.asarray(edge[~near], dtype=np.float64)


def _halved_where_steep(edge: Array, distance: Array, altitude: Array) -> Array:
    """Pieces halved where a steep grade makes speeds collapse within one."""
    for steep, step_m in STEEP:
        rise, length = np.abs(np.diff(np.interp(edge, distance, altitude))), np.diff(edge)
        halved = (rise > steep * length) & (length > step_m)
        edge = np.sort(np.concatenate([edge, ((edge[1:] + edge[:-1]) / 2)[halved]]))
    return edge


def _slows_from(limit: Array, stop_s: Array, step: Array) -> Array:
    """Squares of speed (2, k + 1) to slow down from, as `Road` has them; 0 at a halt."""
    halts = stop_s > 0
    own = np.where(halts, 0.0, limit**2)
    paces = (GENTLE_PACE, 1.0)
    return np.stack([np.where(halts, 0.0, _squares_before(own, step, pace)) for pace in paces])


def _squares_before(own: Array, step: Array, pace: float) -> Array:
    """Squares of speed [m2/s2] at each edge from which a driver of that pace can still be down to
    what each edge ahead allows (`own`), whatever the edge itself does."""
    allowed, length = own.tolist(), step.tolist()
    found = own.tolist()
    for k in range(len(length) - 1, -1, -1):
        below = min(allowed[k + 1], found[k + 1])
        found[k] = below + 2 * pace * deceleration_mps2(below**0.5) * length[k]
    return np.array(found)
