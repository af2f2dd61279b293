"""One route, one way, one set of tires: the road model's histories turned into figures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.mountain.result import (
    Descent,
    GradeSection,
    RouteSide,
    SectionSide,
    Spread,
)
from gearing.analysis.mountain.verdict import START_M
from gearing.vehicle.longitudinal import FULL_LOAD_SHARE
from gearing.vehicle.powertrain import shaft_tables

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from gearing.analysis.mountain.sections import Stretch
    from gearing.vehicle.climb import Holding
    from gearing.vehicle.ensemble import Run
    from gearing.vehicle.powertrain import Powertrain
    from gearing.vehicle.road import Road

    Array = NDArray[np.float64]
    History = NDArray[np.float32]

JOULE_PER_KWH = 3.6e6
HUNT_WITHIN_S = 60.0
STEEP_DESCENT_M = 500.0
HOLDS_SHARE = 0.95  # of the draws: a gear that holds in fewer is not said to hold
START_MARGIN = 0.02  # of grade, to gather speed with; common practice, no source
SUSTAINED_M = 300.0


@dataclass(frozen=True, slots=True)
class Driven:
    """The vehicles of one side and way: time series of shape (k, n), n draws, the first central."""

    powertrain: Powertrain
    road: Road
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
    stalled: NDArray[np.bool_]
    engine_brake_j: Array
    retarder_j: Array
    service_brake_j: Array
    under_way: NDArray[np.bool_]  # (k, n): driven freely, as `freely_driven` says

    @classmethod
    def of(
        cls, run: Run, place: slice, powertrain: Powertrain, road: Road, speed_factor: Array
    ) -> Driven:
        return cls(
            powertrain=powertrain,
            road=road,
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
                run.speed_mps[:, place], run.load[:, place], road, speed_factor
            ),
        )

    def lowest(self, first: int, last: int) -> tuple[Array, NDArray[np.int64]]:
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

    def downshifts(self, first: int, last: int) -> NDArray[np.bool_]:
        """Changes to a lower gear by piece and draw."""
        lower: NDArray[np.bool_] = np.diff(self.gear[first : last + 1], axis=0) < 0
        return lower

    def under_drive(self, first: int, last: int) -> NDArray[np.bool_]:
        """Those that the engine's pull asks for, not a descent or a stop ahead."""
        lower: NDArray[np.bool_] = self.downshifts(first, last)
        return lower & (self.load[first + 1 : last + 1] > 0)

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

    def brake_stops(self, mass_kg: Array) -> tuple[Array, Array]:
        """The service brakes' work on descents by draw, in full stops and in kWh.

        A stop is from the speed wanted where they work, in the mean over the length.
        """
        road = self.road
        falls = (road.grade < -0.005) & np.isclose(road.target_mps, road.limit_mps)[1:]
        work = (self.service_brake_n[falls] * road.step_m[falls, None]).sum(
            axis=0, dtype=np.float64
        )
        if not falls.any():
            return work, work
        square = np.average(road.limit_mps[1:][falls] ** 2, weights=road.step_m[falls])
        return work / (mass_kg * square / 2), work / JOULE_PER_KWH

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


def freely_driven(
    speed_mps: History, load: History, road: Road, speed_factor: Array
) -> NDArray[np.bool_]:
    """Pieces (k, n) driven freely: not moving off, not slowing for what lies ahead."""
    target = road.target_mps[1:, None] * speed_factor
    free = np.isclose(road.target_mps, road.limit_mps)[1:, None]
    losing = np.diff(speed_mps, axis=0, prepend=speed_mps[:1]) < 0
    settled = free & ((speed_mps >= 0.97 * target) | (losing & (load >= FULL_LOAD_SHARE)))
    # from where it has once settled, until the next stop
    section = np.cumsum(road.stop_s[1:] > 0)
    for part in np.unique(section):
        rows = slice(*np.searchsorted(section, [part, part + 1]))
        settled[rows] = np.maximum.accumulate(settled[rows], axis=0)
    return settled & free


def route_side(
    driven: Driven, climbs: tuple[Stretch, ...], descending: Holding, starting: Holding
) -> RouteSide:
    """The figures of one side one way; what gears hold at the steepest places down and up."""
    last = driven.load.shape[0] - 1
    lowest, piece = _lowest_on(driven, climbs)
    at = int(piece[0])
    downshifts = driven.downshifts(0, last).sum(axis=0)
    under_drive = driven.under_drive(0, last)[:, 0]
    stops, _ = driven.brake_stops(descending.load.mass_kg)
    brake = driven.service_brake_j / JOULE_PER_KWH
    figures = {
        "minutes": driven.seconds / 60,
        "liters": driven.liters,
        "lowest_speed_kmh": lowest * 3.6,
        "downshifts": downshifts.astype(np.float64),
        "minutes_at_full_load": driven.full_load_s / 60,
        "brake_kwh": brake,
    }
    return RouteSide(
        minutes=float(figures["minutes"][0]),
        liters=float(driven.liters[0]),
        lowest_speed_kmh=float(figures["lowest_speed_kmh"][0]),
        sustained_lowest_kmh=driven.sustained(climbs) * 3.6,
        top_gear_sustains_percent=top_gear_sustains(driven.road, starting),
        gear_time_share=driven.gear_time_share,
        downshifts_under_drive=int(under_drive.sum()),
        downshifts_at_km=tuple((driven.road.edge_m[1:-1][under_drive] / 1000).round(2).tolist()),
        converter_open_minutes=driven.converter_open_minutes,
        brake_stops=float(np.quantile(stops, 0.95)),
        lowest_at_km=float(driven.road.edge_m[at + 1] / 1000),
        gear_at_lowest=int(driven.gear[at, 0]),
        engine_rpm_at_lowest=float(driven.engine_rpm[at, 0]),
        downshifts=int(downshifts[0]),
        minutes_at_full_load=float(figures["minutes_at_full_load"][0]),
        margin_before_downshift_percent=driven.margin_percent(at),
        hunting=driven.hunting(0, last),
        starts_on_steepest=bool(starts(driven, starting)[0]),
        descent=descent(driven, descending),
        spread={name: spread(values) for name, values in figures.items()},
    )


def _lowest_on(driven: Driven, climbs: tuple[Stretch, ...]) -> tuple[Array, NDArray[np.int64]]:
    """Lowest speed on any climb, or on the whole road where it has none."""
    if not climbs:
        return driven.lowest(0, driven.load.shape[0] - 1)
    found = [driven.lowest(one.first, one.last) for one in climbs]
    speeds = np.stack([speed for speed, _ in found])
    pieces = np.stack([piece for _, piece in found])
    which = np.argmin(speeds, axis=0)
    each = np.arange(speeds.shape[1])
    return speeds[which, each], pieces[which, each]


def spread(values: Array) -> Spread:
    low, high = np.percentile(values, [2.5, 97.5])
    return Spread(float(low), float(high))


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


def starts(driven: Driven, holding: Holding) -> NDArray[np.bool_]:
    """By draw, whether the lowest gear sets off on the steepest 50 m with something in hand."""
    grade, _ = steepest(driven.road, START_M, 1)
    steepest_start = np.minimum(holding.startability(), holding.grip_limit())
    able: NDArray[np.bool_] = steepest_start >= grade + START_MARGIN
    return able


def falls_below_lugging(driven: Driven) -> NDArray[np.bool_]:
    """By draw, whether it stands still, or lugs in its lowest gear with the converter locked."""
    tables = shaft_tables(driven.powertrain)
    if driven.powertrain.converter is not None and tables.row_of_gear[0] == 0:
        return driven.stalled
    lugging = (
        (driven.gear == 1)
        & (driven.load >= FULL_LOAD_SHARE)
        & (driven.engine_rpm < driven.powertrain.engine.lugging_rpm)
        & driven.under_way
    )
    below: NDArray[np.bool_] = driven.stalled | lugging.any(axis=0)
    return below


def top_gear_sustains(road: Road, holding: Holding) -> float | None:
    """The grade [%] top gear holds at the speed wanted on most of the road; None if at none."""
    grade = float(top_gear_grades(road, holding)[0])
    return grade * 100 if np.isfinite(grade) else None


def top_gear_grades(road: Road, holding: Holding) -> Array:
    """The grade [-] by draw that top gear holds at the speed wanted on most of the road."""
    order = np.argsort(road.limit_mps[1:])
    along = np.cumsum(road.step_m[order])
    wanted = float(road.limit_mps[1:][order][np.searchsorted(along, along[-1] / 2)])
    return holding.grade_held(wanted, len(holding.powertrain.gear_ratios) - 1)


def unheld_descents(
    driven: Driven, holding: Holding, descents: tuple[Stretch, ...]
) -> NDArray[np.bool_]:
    """By draw, whether on some descent no gear holds the steepest 500 m at the speed wanted."""
    unheld = np.zeros(driven.seconds.shape, dtype=np.bool_)
    gears = range(len(holding.powertrain.gear_ratios))
    for one in descents:
        grade, piece = steepest(driven.road, STEEP_DESCENT_M, -1, one.first, one.last)
        wanted = float(driven.road.limit_mps[piece + 1])
        held = np.stack([holding.downgrade_held(wanted, gear) for gear in gears])
        unheld |= np.nan_to_num(held, nan=-1.0).max(axis=0) < -grade
    return unheld


def descent(driven: Driven, holding: Holding) -> Descent | None:
    """What holds the steepest 500 m down; None where the road never falls by 1.5 %."""
    grade, piece = steepest(driven.road, STEEP_DESCENT_M, -1)
    if grade > -0.015:
        return None
    by_gear = held_by_gear(holding, -grade)
    wanted = float(driven.road.target_mps[piece])
    gear, held = gear_for_descent(holding, by_gear.__getitem__, wanted)
    known = None if held is None else held[np.isfinite(held)] * 3.6
    # no one driver stands for all, and the work of each jumps where a lower gear just fits
    service = float(driven.service_brake_j.mean())
    engine = float(driven.engine_brake_j.mean())
    total = service + engine
    return Descent(
        gear=gear,
        held_speed_kmh=None if held is None else float(held[0]) * 3.6,
        brake_kwh=service / JOULE_PER_KWH,
        brake_share=service / total if total > 0 else 0.0,
        steepest_percent=-grade * 100,
        engine_and_retarder_kwh=engine / JOULE_PER_KWH,
        retarder_kwh=float(driven.retarder_j.mean()) / JOULE_PER_KWH,
        held_by_gear_kmh={
            str(gear): float(speed[0]) * 3.6 if np.isfinite(speed[0]) else None
            for gear, speed in by_gear.items()
        },
        held_spread_kmh=None if known is None else spread(known),
    )


def held_by_gear(holding: Holding, downgrade: float) -> dict[int, Array]:
    """By gear (from 1), the speed [m/s] each draw holds on a downgrade; nan where it does not."""
    gears = range(len(holding.powertrain.gear_ratios))
    return {gear + 1: holding.held_speed_down(downgrade, gear) for gear in gears}


def gear_for_descent(
    holding: Holding, held: Callable[[int], Array], wanted_mps: float
) -> tuple[int | None, Array | None]:
    """The highest gear that holds a downgrade at or under a speed, and what each draw holds.

    `held` gives what each draw holds in a gear (from 1) [m/s]. A gear holds that does so in the
    central draw and in 95 % of all. Where none does: the lowest gear that can be driven at that
    speed, and None.
    """
    lowest_usable = None
    governed = holding.powertrain.engine.governed_rpm
    for gear in range(len(holding.powertrain.gear_ratios), 0, -1):
        speed = held(gear)
        holds = speed <= wanted_mps
        if holds[0] and holds.mean() >= HOLDS_SHARE:
            return gear, speed
        if float(holding.rpm(wanted_mps, gear - 1)[0]) <= governed:
            lowest_usable = gear
    return lowest_usable, None


def section_side(driven: Driven, stretch: Stretch) -> SectionSide:
    """The central draw's figures on one grade section; brake work is the mean of the draws."""
    first, last = stretch.first, stretch.last
    rows = slice(first, last + 1)
    lowest, piece = driven.lowest(first, last)
    at = int(piece[0])
    seconds = driven.duration_s[rows, 0]
    full = driven.load[rows, 0] >= FULL_LOAD_SHARE
    force = driven.service_brake_n[rows].mean(axis=1, dtype=np.float64)
    brake = (force * driven.road.step_m[rows]).sum() / JOULE_PER_KWH
    return SectionSide(
        lowest_speed_kmh=float(lowest[0] * 3.6),
        gear=int(driven.gear[at, 0]),
        engine_rpm=float(driven.engine_rpm[at, 0]),
        full_load_share=float((seconds * full).sum() / seconds.sum()),
        downshifts=int(driven.downshifts(first, last)[:, 0].sum()),
        minutes=float(seconds.sum() / 60),
        liters=float(driven.fuel_l[rows, 0].sum()),
        margin_before_downshift_percent=driven.margin_percent(at) if stretch.climbs else None,
        hunting=driven.hunting(first, last),
        brake_kwh=float(brake),
    )


def grade_section(
    road: Road, stretch: Stretch, before: Driven | None, after: Driven | None
) -> GradeSection:
    return GradeSection(
        from_km=float(road.edge_m[stretch.first] / 1000),
        to_km=float(road.edge_m[stretch.last + 1] / 1000),
        mean_grade_percent=stretch.mean_grade * 100,
        steepest_grade_percent=stretch.steepest * 100,
        rise_m=stretch.rise_m,
        before=None if before is None else section_side(before, stretch),
        after=None if after is None else section_side(after, stretch),
    )
