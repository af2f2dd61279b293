"""Figures of one route, one way, one set of tires, from what the road model drove."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.mountain.driven import JOULE_PER_KWH, steepest
from gearing.analysis.mountain.result import (
    Descent,
    GradeSection,
    RouteSide,
    SectionSide,
    Spread,
)
from gearing.analysis.mountain.verdict import START_M
from gearing.vehicle.blocks import FULL_LOAD_SHARE
from gearing.vehicle.powertrain import shaft_tables

if TYPE_CHECKING:
    from gearing.analysis.mountain.driven import Driven
    from gearing.analysis.mountain.sections import Stretch
    from gearing.statistics.arrays import Array, Index, Mask
    from gearing.vehicle.climb import Holding
    from gearing.vehicle.road import Road

STEEP_DESCENT_M = 500.0
HOLDS_SHARE = 0.95  # of the draws: a gear that holds in fewer is not said to hold
START_MARGIN = 0.02  # of grade, to gather speed with; common practice, no source


def route_side(
    driven: Driven, climbs: tuple[Stretch, ...], descending: Holding, starting: Holding
) -> RouteSide:
    """The figures of one side one way; what gears hold at the steepest places down and up."""
    last = driven.load.shape[0] - 1
    lowest, piece = _lowest_on(driven, climbs)
    at = int(piece[0])
    downshifts = driven.downshifts(0, last).sum(axis=0)
    under_drive = driven.under_drive()[:, 0]
    stops = driven.brake_stops(descending.load.mass_kg)
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
        # a count of one drive hangs on trifles
        downshifts=max(round(float(np.median(downshifts))), int(under_drive.sum())),
        minutes_at_full_load=float(figures["minutes_at_full_load"][0]),
        margin_before_downshift_percent=driven.margin_percent(at),
        hunting=driven.hunting(0, last),
        starts_on_steepest=bool(starts(driven, starting)[0]),
        descent=descent(driven, descending),
        spread={name: spread(values) for name, values in figures.items()},
    )


def _lowest_on(driven: Driven, climbs: tuple[Stretch, ...]) -> tuple[Array, Index]:
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
    """The 95 % range of draws (n,)."""
    low, high = np.percentile(values, [2.5, 97.5])
    return Spread(float(low), float(high))


def starts(driven: Driven, holding: Holding) -> Mask:
    """By draw, whether the lowest gear sets off on the steepest 50 m with something in hand."""
    steepest_start = np.minimum(holding.startability(), holding.grip_limit())
    able: Mask = steepest_start >= driven.steepest(START_M, 1) + START_MARGIN
    return able


def falls_below_lugging(driven: Driven) -> Mask:
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
    below: Mask = driven.stalled | lugging.any(axis=0)
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


def unheld_descents(driven: Driven, holding: Holding, descents: tuple[Stretch, ...]) -> Mask:
    """By draw, whether on some descent no gear holds the steepest 500 m at the speed wanted."""
    unheld = np.zeros(driven.seconds.shape, dtype=np.bool_)
    gears = range(len(holding.powertrain.gear_ratios))
    for one in descents:
        _, piece = steepest(driven.road, STEEP_DESCENT_M, -1, one.first, one.last)
        grade = driven.steepest(STEEP_DESCENT_M, -1, one.first, one.last)
        wanted = float(driven.road.limit_mps[piece + 1])
        held = np.stack([holding.downgrade_held(wanted, gear) for gear in gears])
        unheld |= np.nan_to_num(held, nan=-1.0).max(axis=0) < -grade
    return unheld


def descent(driven: Driven, holding: Holding) -> Descent | None:
    """What holds the steepest 500 m down; None where the road never falls by 1.5 %."""
    grade, piece = steepest(driven.road, STEEP_DESCENT_M, -1)
    if grade > -0.015:
        return None
    downgrade = -driven.steepest(STEEP_DESCENT_M, -1)
    down = hold_down(holding, downgrade, float(driven.road.target_mps[piece]))
    held = down.held_mps
    known = None if held is None else held[np.isfinite(held)] * 3.6
    # no one driver stands for all, and the work of each jumps where a lower gear just fits
    service = float(driven.service_brake_j.mean())
    engine = float(driven.engine_brake_j.mean())
    total = service + engine
    return Descent(
        gear=down.gear or down.usable,
        held_speed_kmh=None if held is None else float(held[0]) * 3.6,
        brake_kwh=service / JOULE_PER_KWH,
        brake_share=service / total if total > 0 else 0.0,
        steepest_percent=-grade * 100,
        engine_and_retarder_kwh=engine / JOULE_PER_KWH,
        retarder_kwh=float(driven.retarder_j.mean()) / JOULE_PER_KWH,
        held_by_gear_kmh=down.by_gear_kmh,
        held_spread_kmh=None if known is None else spread(known),
    )


@dataclass(frozen=True, slots=True)
class HeldDown:
    """What holds a downgrade without service brakes.

    `central_mps`: by gear (from 1) the speed [m/s] of the central draw, nan where it holds none.
    `gear` is the highest that holds it at or under the speed wanted, in the central draw and in
    95 % of all, and `held_mps` (n,) what each draw holds in it; None where none does. `usable` is
    the lowest gear that can be driven at that speed.
    """

    central_mps: dict[int, float]
    gear: int | None
    held_mps: Array | None
    usable: int | None

    @property
    def by_gear_kmh(self) -> dict[str, float | None]:
        """By gear, the speed [km/h] of the central draw; None where it holds none."""
        speeds = self.central_mps.items()
        return {str(gear): mps * 3.6 if np.isfinite(mps) else None for gear, mps in speeds}


def hold_down(holding: Holding, downgrade: Array, wanted_mps: float) -> HeldDown:
    """What holds each draw's downgrade [-], shape (n,), at a speed wanted [m/s]."""
    powertrain, central = holding.powertrain, holding.central()
    gears = range(len(powertrain.gear_ratios), 0, -1)
    speeds = {gear: float(central.held_speed_down(downgrade[:1], gear - 1)[0]) for gear in gears}
    turns = {gear: float(central.rpm(wanted_mps, gear - 1)[0]) for gear in gears}
    usable = [gear for gear in gears if turns[gear] <= powertrain.engine.governed_rpm]
    found, held = None, None
    for gear in gears:
        if speeds[gear] <= wanted_mps:
            held = holding.held_speed_down(downgrade, gear - 1)
            if (held <= wanted_mps).mean() >= HOLDS_SHARE:
                found = gear
                break
    by_gear = {gear: speeds[gear] for gear in reversed(gears)}
    return HeldDown(by_gear, found, None if found is None else held, usable[-1] if usable else None)


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
    """A stretch of a road with its figures on each set of tires."""
    return GradeSection(
        from_km=float(road.edge_m[stretch.first] / 1000),
        to_km=float(road.edge_m[stretch.last + 1] / 1000),
        mean_grade_percent=stretch.mean_grade * 100,
        steepest_grade_percent=stretch.steepest * 100,
        rise_m=stretch.rise_m,
        before=None if before is None else section_side(before, stretch),
        after=None if after is None else section_side(after, stretch),
    )
