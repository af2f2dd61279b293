"""One route, one way, one set of tires, as the road model drove it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.vehicle.blocks import FULL_LOAD_SHARE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.analysis.mountain.sections import Stretch
    from gearing.statistics.arrays import Array, Index, Mask
    from gearing.vehicle.ensemble import Run
    from gearing.vehicle.powertrain import Powertrain
    from gearing.vehicle.road import Road

    History = NDArray[np.float32]

JOULE_PER_KWH = 3.6e6
HUNT_WITHIN_S = 60.0
SUSTAINED_M = 300.0


@dataclass(frozen=True, slots=True)
class Driven:
    """The vehicles of one side and way: time series of shape (k, n), n draws, the first central.

    `roads` are the road as told, and as it would be with other drifts of its altitude; `which`
    (n,) says which of them each draw is on.
    """

    powertrain: Powertrain
    roads: tuple[Road, ...]
    which: Index
    speed_mps: History
    gear: NDArray[np.int8]
    engine_rpm: History
    load: History
    service_brake_n: History
    duration_s: History
    fuel_l: History
    seconds: Array
    liters: Array
    full_load_s: Array
    stalled: Mask
    engine_brake_j: Array
    retarder_j: Array
    service_brake_j: Array
    under_way: Mask  # (k, n): driven freely, as `freely_driven` says

    @classmethod
    def of(
        cls,
        run: Run,
        place: slice,
        powertrain: Powertrain,
        roads: tuple[Road, ...],
        which: Index,
        speed_factor: Array,
    ) -> Driven:
        """The vehicles at `place` of a run, on roads of one way."""
        return cls(
            powertrain=powertrain,
            roads=roads,
            which=which,
            speed_mps=run.speed_mps[:, place],
            gear=run.gear[:, place],
            engine_rpm=run.engine_rpm[:, place],
            load=run.load[:, place],
            service_brake_n=run.service_brake_n[:, place],
            duration_s=run.duration_s[:, place],
            fuel_l=run.fuel_l[:, place],
            seconds=run.seconds[place],
            liters=run.liters[place],
            full_load_s=run.full_load_s[place],
            stalled=run.stalled[place],
            engine_brake_j=run.engine_brake_j[place],
            retarder_j=run.retarder_j[place],
            service_brake_j=run.service_brake_j[place],
            under_way=freely_driven(
                run.speed_mps[:, place], run.load[:, place], roads[0], speed_factor
            ),
        )

    @property
    def road(self) -> Road:
        """The road as told."""
        return self.roads[0]

    def steepest(
        self, length_m: float, sign: int, first: int = 0, last: int | None = None
    ) -> Array:
        """By draw, the steepest mean grade [-] of its road over a length; see `steepest`."""
        found = [steepest(road, length_m, sign, first, last)[0] for road in self.roads]
        by_draw: Array = np.array(found)[self.which]
        return by_draw

    def lowest(self, first: int, last: int) -> tuple[Array, Index]:
        """Lowest speed [m/s] sustained from piece `first` to `last` by draw, and the piece.

        Where full load sets the speed that counts; else the lowest driven freely.
        """
        rows = slice(first, last + 1)
        speed, free = self.speed_mps[rows], self.under_way[rows]
        at_full = free & (self.load[rows] >= FULL_LOAD_SHARE)
        counted = np.where(at_full.any(axis=0), at_full, free)
        counted = np.where(counted.any(axis=0), counted, True)
        speeds = np.where(counted, speed, np.inf)
        piece = np.argmin(speeds, axis=0)
        found = speeds[piece, np.arange(speed.shape[1])].astype(np.float64)
        return found, piece + first

    def sustained(self, climbs: tuple[Stretch, ...]) -> float:
        """The lowest mean speed [m/s] of the central draw over 300 m of a climb, driven freely.

        Of the whole road where it has no climb.
        """
        return float(self.sustained_by_draw(climbs, slice(1))[0])

    def sustained_by_draw(self, climbs: tuple[Stretch, ...], draws: slice = slice(None)) -> Array:
        """The same of some of the draws [m/s], shape (n,)."""
        edge, step = self.road.edge_m, self.road.step_m[:, None]
        slowness = _summed(step / self.speed_mps[:, draws])
        free = _summed(step * self.under_way[:, draws])
        rows = [range(one.first, one.last + 1) for one in climbs] or [range(step.size)]
        starts = np.array([edge[row] for one in rows for row in one])
        window = min(SUSTAINED_M, self.road.length_m)
        ends = np.minimum(starts + window, edge[-1])
        starts = ends - window
        mean = window / (_between(edge, slowness, ends) - _between(edge, slowness, starts))
        whole = _between(edge, free, ends) - _between(edge, free, starts) >= 0.99 * window
        lowest: Array = np.where(whole | ~whole.any(axis=0), mean, np.inf).min(axis=0)
        return lowest

    def downshifts(self, first: int, last: int) -> Mask:
        """Changes to a lower gear by piece and draw."""
        lower: Mask = np.diff(self.gear[first : last + 1], axis=0) < 0
        return lower

    def under_drive(self) -> Mask:
        """Those of all the way that the engine's pull asks for, not a descent or a stop ahead."""
        return self.downshifts(0, len(self.load) - 1) & (self.load[1:] > 0)

    def gear_share(self, gear: int) -> Array:
        """A gear's share of the time under way, by draw."""
        seconds = self.duration_s - self.road.stop_s[1:, None]
        share: Array = (seconds * (self.gear == gear)).sum(axis=0, dtype=np.float64)
        share /= seconds.sum(axis=0, dtype=np.float64)
        return share

    @property
    def gear_time_share(self) -> dict[str, float]:
        """By gear, the share of the central draw's time under way."""
        seconds = self.duration_s[:, 0] - self.road.stop_s[1:]
        total = np.bincount(self.gear[:, 0], seconds, len(self.powertrain.gear_ratios) + 1)
        return {str(gear): float(s / total.sum()) for gear, s in enumerate(total) if s > 0}

    @property
    def converter_open_minutes(self) -> float:
        """Time [min] of the central draw at full load in a gear whose converter does not lock."""
        if self.powertrain.converter is None:
            return 0.0
        opened = (self.gear[:, 0] < self.powertrain.converter.lockup_gear) & self.under_way[:, 0]
        opened &= self.load[:, 0] >= FULL_LOAD_SHARE
        return float((self.duration_s[:, 0] * opened).sum() / 60)

    @property
    def falls(self) -> Mask:
        """Which pieces of road go down, where nothing but the speed wanted bounds the speed."""
        road = self.road
        return (road.grade < -0.005) & np.isclose(road.target_mps, road.limit_mps)[1:]

    @property
    def stop_mps(self) -> float:
        """The speed a full stop is from [m/s]: that wanted on this road's descents, in the mean
        (of its square) over their length; 0 without any."""
        road, falls = self.road, self.falls
        if not falls.any():
            return 0.0
        return float(np.average(road.limit_mps[1:][falls] ** 2, weights=road.step_m[falls]) ** 0.5)

    def stops(self, work_j: Array, mass_kg: Array) -> Array:
        """Work of the service brakes by draw [J] in full stops."""
        speed = self.stop_mps
        return work_j / (mass_kg * speed**2 / 2) if speed else np.zeros_like(work_j)

    def brake_stops(self, mass_kg: Array) -> Array:
        """The service brakes' work on descents by draw, in full stops."""
        falls = self.falls
        work = (self.service_brake_n[falls] * self.road.step_m[falls, None]).sum(
            axis=0, dtype=np.float64
        )
        return self.stops(work, mass_kg)

    def hunting(self, first: int, last: int) -> int:
        """Times the central draw goes to and fro between two gears and back within a minute.

        One change down for a short hill and up again after it is none.
        """
        gear, load = self.gear[first : last + 1, 0], self.load[first : last + 1, 0]
        clock = np.cumsum(self.duration_s[first : last + 1, 0])
        changes = np.flatnonzero(np.diff(gear) != 0)
        count = 0
        for one, two, three in zip(changes, changes[1:], changes[2:], strict=False):
            back = gear[two + 1] == gear[one] and gear[three + 1] == gear[two]
            driving = load[one : three + 2].min() >= 0
            if back and driving and clock[three] - clock[one] < HUNT_WITHIN_S:
                count += 1
        return count

    def margin_percent(self, piece: int) -> float | None:
        """How far the central draw's engine speed lies above the full-load downshift there."""
        gear = int(self.gear[piece, 0])
        point = self.powertrain.shift_points.down_full[gear - 1]
        if gear == 1 or point <= 0 or not np.isfinite(point):
            return None
        return float((self.engine_rpm[piece, 0] / point - 1) * 100)


def _summed(values: Array) -> Array:
    """Sums along the road up to each edge, shape (k + 1, n), of values by piece (k, n)."""
    total = np.zeros((values.shape[0] + 1, values.shape[1]))
    np.cumsum(values, axis=0, dtype=np.float64, out=total[1:])
    return total


def _between(edge: Array, values: Array, at: Array) -> Array:
    """Values (k + 1, n) given at edges, straight between them, at places (m,): shape (m, n)."""
    place = np.clip(np.searchsorted(edge, at, side="right") - 1, 0, edge.size - 2)
    share = ((at - edge[place]) / (edge[place + 1] - edge[place]))[:, None]
    found: Array = values[place] + share * (values[place + 1] - values[place])
    return found


def freely_driven(speed_mps: History, load: History, road: Road, speed_factor: Array) -> Mask:
    """Pieces (k, n) driven freely: not moving off, not slowing for what lies ahead."""
    target = road.target_mps[1:, None] * speed_factor
    free = road.unslowed[1:, None]
    losing = np.diff(speed_mps, axis=0, prepend=speed_mps[:1]) < 0
    settled = free & ((speed_mps >= 0.97 * target) | (losing & (load >= FULL_LOAD_SHARE)))
    # from where it has once settled, until the next stop
    section = np.cumsum(road.stop_s[1:] > 0)
    for part in np.unique(section):
        rows = slice(*np.searchsorted(section, [part, part + 1]))
        settled[rows] = np.maximum.accumulate(settled[rows], axis=0)
    return settled & free


def steepest(
    road: Road, length_m: float, sign: int, first: int = 0, last: int | None = None
) -> tuple[float, int]:
    """Steepest mean grade [-] over a length, up (sign 1) or down (-1), and its middle piece.

    Between pieces `first` and `last`.
    """
    low, high = road.edge_m[first], road.edge_m[-1 if last is None else last + 1]
    step = road.step_m
    sine = road.grade / np.sqrt(1 + road.grade**2)
    height = np.concatenate([[0.0], np.cumsum(sine * step)])
    window = min(length_m, high - low)
    inside = (road.edge_m >= low) & (road.edge_m <= high - window + 1e-6)
    starts_at = road.edge_m[inside]
    ends = np.interp(starts_at + window, road.edge_m, height)
    rise = (ends - height[inside]) / window
    best = int(np.argmax(sign * rise))
    middle = int(np.searchsorted(road.edge_m, starts_at[best] + window / 2)) - 1
    along = float(rise[best])
    grade: float = along / (1 - along**2) ** 0.5
    return grade, min(max(middle, 0), step.size - 1)
