"""Candidates driven along one route, both ways, beside what they are compared with."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.mountain.beside_logs import log_disagreements_on
from gearing.analysis.mountain.descents import cares_down
from gearing.analysis.mountain.driven import JOULE_PER_KWH, steepest
from gearing.analysis.mountain.figures import (
    STEEP_DESCENT_M,
    hold_down,
    top_gear_grades,
)
from gearing.analysis.mountain.routes import (
    SideOnWay,
    batches_within,
    drive_routes,
    evaluate_side,
    verdict_of,
    way_names,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from gearing.analysis.mountain.beside_logs import ComparedHill
    from gearing.analysis.mountain.draws import Draws
    from gearing.analysis.mountain.routes import Course, Way
    from gearing.analysis.mountain.verdict import Judgement
    from gearing.messages import Text
    from gearing.statistics.arrays import Array

MIN_DESCENT = 0.015


@dataclass(frozen=True, slots=True)
class Fuel:
    """Both coefficients of the Willans line by draw, over the central one's."""

    slope: Array
    turning: Array
    l_per_h_per_krpm: float


@dataclass(frozen=True, slots=True)
class Driven:
    """One set of tires one way: figures by draw (n,), the verdict, and what holds it downhill."""

    route: Text
    figures: dict[str, Array]
    minutes: Array
    judgement: Judgement
    gear_down: int | None
    held_mps: float | None


def draw_fuel(draws: Draws) -> Fuel:
    """The engine's fuel line is not known well, and is the same for all candidates.

    The line's share that goes with revolutions is what tires and axles change, so that its range
    belongs into every difference.
    """
    rng = np.random.default_rng([draws.seed, 1])

    def over_central(name: str) -> Array:
        deviates = np.concatenate([[0.0], rng.standard_normal(draws.count - 1)])
        drawn = draws.inputs.draw(name, deviates) / draws.inputs.central(name)
        return np.maximum(drawn, 0.1)

    turning = draws.inputs.powertrain.engine.willans.l_per_h_per_krpm
    return Fuel(over_central("l_per_kwh"), over_central("l_per_h_per_krpm"), turning)


def drive_candidates(
    draws: Draws,
    courses: Sequence[Course],
    compared_with: str,
    fuel: Fuel,
    hills: Sequence[ComparedHill] = (),
) -> Iterator[tuple[str, Driven]]:
    """Every set of tires of `draws` along the courses in order, one way and then the other.

    Driven in batches, that of `compared_with` in the first, so that memory stays bounded. Where
    the logs of `hills` show worse than the model, that stands against every set of tires.
    """
    keys = sorted(draws.sides, key=lambda key: key != compared_with)
    sizes = [2 * draws.count * one.roads[0].grade.size for one in courses]
    for batch in batches_within([size * len(keys) for size in sizes]):
        base: dict[Text, SideOnWay] = {}
        for some in batches_within([sum(sizes[batch])] * len(keys)):
            turns = {key: draws.revolutions_per_km[key] for key in keys[some]}
            fitted, roads = replace(draws, revolutions_per_km=turns), courses[batch]
            for course, ways in zip(
                roads, drive_routes(fitted, [one.roads for one in roads]), strict=True
            ):
                for way, name in zip(ways, way_names(course.name, reverse=False), strict=True):
                    worse, _ = log_disagreements_on(way.road, hills)
                    for key in keys[some]:
                        one = evaluate_side(fitted, way, key)
                        was = base.setdefault(name, one)  # that compared with comes first
                        careful = cares_down(fitted, key, one.driven, way.stretches)
                        judgement = verdict_of(way, one, was, worse, careful)
                        yield key, _driven(way, name, one, judgement, fuel)


def _driven(way: Way, name: Text, one: SideOnWay, judgement: Judgement, fuel: Fuel) -> Driven:
    driven, powertrain = one.driven, one.driven.powertrain
    stops = driven.brake_stops(one.steepest_down.load.mass_kg)
    gear, held = _gear_down(one)
    return Driven(
        route=name,
        figures={
            "top_gear_share": driven.gear_share(len(powertrain.gear_ratios)),
            "top_gear_sustains_percent": 100 * top_gear_grades(way.road, one.steepest_up),
            "sustained_lowest_kmh": 3.6 * driven.sustained_by_draw(way.climbs),
            "downshifts_under_drive": driven.under_drive().sum(axis=0).astype(np.float64),
            "liters": _liters(one, fuel),
            "brake_kwh": driven.service_brake_j / JOULE_PER_KWH,
            "brake_stops": stops,
        },
        minutes=driven.seconds / 60,
        judgement=judgement,
        gear_down=gear,
        held_mps=held,
    )


def _liters(one: SideOnWay, fuel: Fuel) -> Array:
    """Fuel by draw [L], the fuel line drawn too; the central draw's is as driven."""
    driven = one.driven
    moving = driven.duration_s - driven.road.stop_s[1:, None]
    turned = driven.engine_rpm * moving * (driven.fuel_l > 0)
    by_turning = turned.sum(axis=0, dtype=np.float64) / 3.6e6 * fuel.l_per_h_per_krpm
    found: Array = (driven.liters - by_turning) * fuel.slope + by_turning * fuel.turning
    return found


def _gear_down(one: SideOnWay) -> tuple[int | None, float | None]:
    """The highest gear that holds the steepest 500 m at the speed wanted, and what it holds."""
    road, downgrade = one.driven.road, -one.driven.steepest(STEEP_DESCENT_M, -1)
    grade, piece = steepest(road, STEEP_DESCENT_M, -1)
    if grade > -MIN_DESCENT:
        return None, None
    down = hold_down(one.steepest_down, downgrade, float(road.target_mps[piece]))
    return (None, None) if down.held_mps is None else (down.gear, float(down.held_mps[0]))
