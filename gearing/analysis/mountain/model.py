"""What the routes are driven with: the vehicle from study and logs, its draws, its own hills."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import polars as pl

from gearing.analysis.mountain.beside_logs import ComparedHill, compare_hills
from gearing.analysis.mountain.climbs import find_hills
from gearing.analysis.mountain.draws import make_draws
from gearing.analysis.mountain.holds import NO_TIRES
from gearing.analysis.mountain.inputs import Inputs, kind_of, missing, shown_kind
from gearing.analysis.mountain.known import known_inputs, with_mass
from gearing.analysis.mountain.passes import with_other_passes
from gearing.analysis.mountain.pooled import with_pooled_rise
from gearing.analysis.mountain.routes import plan_route, unjudged
from gearing.messages import Message, Quantity, UserText, message
from gearing.statistics.estimate import Estimate
from gearing.trips.steps import with_all_columns
from gearing.units import MPH_MPS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gearing.analysis.mountain.draws import Draws
    from gearing.analysis.mountain.result import Route
    from gearing.analysis.mountain.routes import Course
    from gearing.analysis.sides import BySide
    from gearing.study.model import Route as DeclaredRoute
    from gearing.study.model import Side, Study
    from gearing.trips.shifts import Upshifts

    Profiles = Mapping[str, pl.DataFrame]

DRAWS = 200
DEFAULT_TARGET_MPS = 55 * MPH_MPS
NO_ROUTES = message("no-routes")
USUAL_SHARE = 0.85  # of the road is driven at this speed or slower


@dataclass(frozen=True, slots=True)
class UsualSpeed:
    """The speed wanted on routes that name none [m/s], and whether the logs show it."""

    speed_mps: float
    driven: bool
    told: Message


@dataclass(frozen=True)
class RoadModel:
    """The vehicle as the routes are driven with it, and what it was learned from.

    `study` has a mass, found from the logs where none is declared (not `weighed`); `known` are the
    revolutions a km [1/km] of each period's tires, scaled to the vehicle's own axle ratio; `draws`
    are those of both periods.
    """

    study: Study
    weighed: bool
    known: dict[Side, Estimate]
    steps: pl.DataFrame
    trips: pl.DataFrame
    inputs: Inputs
    usual: UsualSpeed
    draws: Draws
    kind_told: tuple[Message, ...] = ()  # that the logs show the kind of transmission

    @property
    def turns(self) -> dict[Side, float]:
        """Revolutions a km [1/km] of each period."""
        return {side: one.value for side, one in self.known.items() if one.value is not None}

    def inputs_from(self, some: pl.DataFrame) -> Inputs:
        """Inputs as these trips alone would have them."""
        return known_inputs(self.study, self.steps, some, self.turns, weighed=self.weighed)

    @cached_property
    def hills(self) -> tuple[ComparedHill, ...]:
        """The hills of the logs beside the model on the tires they were driven on."""
        return compare_hills(find_hills(self.steps, self.trips), self.draws, self.usual.speed_mps)

    def course(
        self, route: DeclaredRoute, profiles: Profiles, *, reverse: bool = False
    ) -> Course | Route:
        """One route as it will be driven, or unjudged, with why."""
        given = profiles.get(route.name)
        if given is None:
            why = message("profile-unread", file=UserText(route.profile.name, "file"))
            return unjudged(route.name, why, reverse=reverse)
        declared, usual = route.target_speed_mps, self.usual
        return plan_route(
            route.name,
            with_other_passes(given, self.steps),
            declared or usual.speed_mps,
            self.draws.seed,
            # where nobody says, posted limits rule over a speed that is not the logs' own
            limits_rule=declared is None and not usual.driven,
            reverse=reverse,
        )


def road_model(
    study: Study,
    revolutions_per_km: BySide[Estimate],
    *,
    steps: pl.DataFrame | None = None,
    trips: pl.DataFrame | None = None,
    upshifts: Upshifts | None = None,
    seed: int | None = None,
    draws: int = DRAWS,
) -> RoadModel | Message:
    """What the routes are driven with, or what is missing.

    Parameters
    ----------
    revolutions_per_km
        of the drive tires [1/km], each side; unknown sides are left out.
    steps, trips
        road steps and trips table of the logs, for what they can say of the vehicle.
    upshifts
        of all trips, for the kind of transmission.
    seed
        of the draws; the study's own where None.
    draws
        how many vehicles and days are drawn besides the central one.
    """
    seed = study.seed if seed is None else seed
    known = _known_sides(revolutions_per_km)
    reason = missing(study, mass_too=False) or (None if known else NO_TIRES)
    if reason is not None:
        return reason
    study, kind_told = _with_kind(study, upshifts)
    sides = _usable_trips(study, trips, known)
    # one chunk, so that sums have one order
    steps = with_pooled_rise(with_all_columns(steps).rechunk())
    turns = {side: one.value for side, one in known.items() if one.value is not None}
    with_its_mass = with_mass(study, steps, sides, turns)
    reason = missing(with_its_mass)
    if reason is not None:
        return reason
    weighed = study.vehicle.mass_kg is not None
    inputs = known_inputs(with_its_mass, steps, sides, turns, weighed=weighed)
    drawn = make_draws(inputs, known, draws, seed)
    usual = _usual_speed(steps)
    return RoadModel(with_its_mass, weighed, known, steps, sides, inputs, usual, drawn, kind_told)


def _with_kind(study: Study, upshifts: Upshifts | None) -> tuple[Study, tuple[Message, ...]]:
    """The study with the kind of transmission that the logs show, where none is declared."""
    vehicle = study.vehicle
    if upshifts is None or vehicle.transmission is not None or not vehicle.gear_ratios:
        return study, ()
    kind = shown_kind(upshifts, vehicle.gear_ratios[0])
    if kind is None:
        return study, ()
    told = message("assumed/kind-from-logs", kind=kind_of(kind), shifts=upshifts.count)
    return replace(study, vehicle=replace(vehicle, transmission=kind)), (told,)


def _known_sides(revolutions: BySide[Estimate]) -> dict[Side, Estimate]:
    sides: dict[Side, Estimate] = {}
    if revolutions.before.known:
        sides["before"] = revolutions.before
    if revolutions.after.known:
        sides["after"] = revolutions.after
    return sides


def _usable_trips(
    study: Study, trips: pl.DataFrame | None, known: dict[Side, Estimate]
) -> pl.DataFrame:
    """`trip`, `side` and temperature of the trips that count, on tires that are known.

    Trips under a `[[load]]` of its own are out: their weight is not the vehicle's usual one.
    """
    if trips is None or trips.is_empty():
        return pl.DataFrame(schema={"trip": pl.String, "side": pl.String})
    kept = trips.filter(pl.col("side").is_in(list(known)))
    if "used" in kept.columns:
        kept = kept.filter(pl.col("used"))
    if {"start", "end"} <= set(kept.columns):
        for load in study.loads:
            other = (pl.col("start") < load.end) & (pl.col("end") > load.start)
            kept = kept.filter(~other)
    return kept


def _usual_speed(steps: pl.DataFrame) -> UsualSpeed:
    rows = steps.select("speed_mps", "distance_m").drop_nulls().sort("speed_mps")
    along = rows["distance_m"].cum_sum()
    if rows.height >= 100:
        place = int(along.search_sorted(USUAL_SHARE * float(along[-1])))
        speed = float(rows["speed_mps"][min(place, rows.height - 1)])
        told = message("assumed/driven-speed", speed=Quantity(speed * 3.6, "km/h"))
        return UsualSpeed(speed, True, told)
    told = message("assumed/posted-speed", speed=Quantity(DEFAULT_TARGET_MPS * 3.6, "km/h"))
    return UsualSpeed(DEFAULT_TARGET_MPS, False, told)


def mean_altitude(profiles: Profiles, study: Study) -> float:
    """Mean altitude of the routes' profiles [m]; sea level without any."""
    means = []
    for route in study.routes:
        given = profiles.get(route.name)
        if given is not None and "altitude_m" in given.columns:
            mean = given["altitude_m"].mean()
            if isinstance(mean, float):
                means.append(mean)
    return sum(means) / len(means) if means else 0.0
