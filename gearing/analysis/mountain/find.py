"""Question three, from study, logs and route profiles to the finding."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl

from gearing.analysis.mountain.assumptions import assumed_figure
from gearing.analysis.mountain.beside_logs import compare_hills, on_routes
from gearing.analysis.mountain.check import compare, no_check
from gearing.analysis.mountain.climbs import find_hills
from gearing.analysis.mountain.contradictions import contradictions
from gearing.analysis.mountain.draws import make_draws
from gearing.analysis.mountain.holds import NO_TIRES, of_gears
from gearing.analysis.mountain.inputs import Inputs, kind_of, missing, shown_kind
from gearing.analysis.mountain.known import known_inputs, with_mass
from gearing.analysis.mountain.passes import with_other_passes
from gearing.analysis.mountain.pooled import with_pooled_rise
from gearing.analysis.mountain.result import MountainFinding
from gearing.analysis.mountain.roads_asked import roads_asked
from gearing.analysis.mountain.routes import FRAME_SCHEMA, JudgedRoute, judge_route, unjudged
from gearing.analysis.mountain.warn import kind_warnings, mountain_warnings, unread_profiles
from gearing.analysis.sides import BySide
from gearing.messages import Message, Quantity, Text, UserText, message
from gearing.statistics.estimate import Estimate, unknown
from gearing.units import MPH_MPS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gearing.analysis.mountain.beside_logs import ComparedHill
    from gearing.analysis.mountain.draws import Draws
    from gearing.messages import StudyWarning
    from gearing.study.model import Route as DeclaredRoute
    from gearing.study.model import Side, Study
    from gearing.trips.shifts import Upshifts

    Profiles = Mapping[str, pl.DataFrame | Sequence[pl.DataFrame]]

DRAWS = 200
DEFAULT_TARGET_MPS = 55 * MPH_MPS
USUAL_SHARE = 0.85  # of the road is driven at this speed or slower
CRUISE_KMH = (80.0, 90.0, 105.0)
NO_ROUTES = message("no-routes")


def find_mountain(
    study: Study,
    *,
    profiles: Profiles,
    revolutions_per_km: BySide[Estimate],
    steps: pl.DataFrame | None = None,
    trips: pl.DataFrame | None = None,
    upshifts: Upshifts | None = None,
    seed: int | None = None,
    draws: int = DRAWS,
    reverse: bool = False,
    no_profiles: Mapping[str, Text] | None = None,
) -> MountainFinding:
    """What the new gearing does on each named route, up and down, and whether it suits.

    Parameters
    ----------
    profiles
        by route name: one frame, or several recorded passes of the same road, each with
        `distance_m` and `altitude_m` and, where known, `speed_limit_mps` and `stop_s`.
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
    reverse
        judge each route the other way round; its name says so.
    no_profiles
        by route name: why a route has no profile, and what to add.
    """
    seed = study.seed if seed is None else seed
    unread = unread_profiles(study, no_profiles or {})
    model = road_model(study, revolutions_per_km, steps=steps, trips=trips, upshifts=upshifts)
    if not isinstance(model, RoadModel):
        return _cannot_tell(study, model, seed, draws, unread, reverse=reverse)
    drawn = make_draws(model.inputs, model.known, draws, seed)
    hills = compare_hills(find_hills(model.steps, model.trips), drawn, model.usual.speed_mps)
    judged = [_route(one, model, profiles, drawn, hills, reverse=reverse) for one in study.routes]
    found = _finding(study, model, drawn, mean_altitude(profiles, study), judged, hills)
    warnings = (*unread, *found.warnings, *kind_warnings(study, upshifts))
    return replace(found, warnings=warnings)


def _finding(
    study: Study,
    model: RoadModel,
    draws: Draws,
    altitude_m: float,
    judged: Sequence[JudgedRoute],
    hills: Sequence[ComparedHill],
) -> MountainFinding:
    """All that is told once the routes are judged; gears are those at an altitude [m]."""
    inputs, routes = model.inputs, tuple(one.route for one in judged)
    check = compare(model.steps, model.trips, model.inputs_from, model.turns)
    free = any(one.target_speed_mps is None for one in study.routes)
    logged = on_routes(hills, [road for one in judged for road in one.roads])
    return MountainFinding(
        routes=routes,
        routes_why=None if judged else NO_ROUTES,
        **of_gears(draws, _cruise_speeds(study), altitude_m),
        parameters=tuple(inputs.parameters.values()),
        assumed=_assumed(inputs) + ((model.usual.told,) if free else ()) + model.kind_told,
        climbs=tuple(one for one in logged if one.rise_m > 0),
        logged_descents=tuple(one for one in logged if one.rise_m <= 0),
        model_check=check,
        draws=draws.count - 1,
        seed=draws.seed,
        warnings=(
            *contradictions(study, inputs),
            *mountain_warnings(study, routes, check, inputs, model.turns),
        ),
        frame=pl.concat([one.frame for one in judged] or [pl.DataFrame(schema=FRAME_SCHEMA)]),
        asked=roads_asked(model.steps, model.trips, draws),
    )


@dataclass(frozen=True, slots=True)
class UsualSpeed:
    """The speed wanted on routes that name none [m/s], and whether the logs show it."""

    speed_mps: float
    driven: bool
    told: Message


@dataclass(frozen=True, slots=True)
class RoadModel:
    """The vehicle as the routes are driven with it, and what it was learned from.

    `study` has a mass, found from the logs where none is declared (not `weighed`); `known` are the
    revolutions a km [1/km] of each period's tires, scaled to the vehicle's own axle ratio.
    """

    study: Study
    weighed: bool
    known: dict[Side, Estimate]
    steps: pl.DataFrame | None
    trips: pl.DataFrame | None
    inputs: Inputs
    usual: UsualSpeed
    kind_told: tuple[Message, ...] = ()  # that the logs show the kind of transmission

    @property
    def turns(self) -> dict[Side, float]:
        """Revolutions a km [1/km] of each period."""
        return {side: one.value for side, one in self.known.items() if one.value is not None}

    def inputs_from(self, some: pl.DataFrame | None) -> Inputs:
        """Inputs as these trips alone would have them."""
        return known_inputs(self.study, self.steps, some, self.turns, weighed=self.weighed)

    def passes(self, route: DeclaredRoute, profiles: Profiles) -> list[pl.DataFrame]:
        """All passes known of one route."""
        given = profiles.get(route.name)
        if given is None:
            return []
        if isinstance(given, pl.DataFrame):
            return with_other_passes(given, self.steps)
        return list(given)

    def wanted(self, route: DeclaredRoute) -> tuple[float, bool]:
        """The speed wanted on a route [m/s], and whether posted limits rule over it."""
        if route.target_speed_mps:
            return route.target_speed_mps, False
        return self.usual.speed_mps, route.target_speed_mps is None and not self.usual.driven


def road_model(
    study: Study,
    revolutions_per_km: BySide[Estimate],
    *,
    steps: pl.DataFrame | None = None,
    trips: pl.DataFrame | None = None,
    upshifts: Upshifts | None = None,
) -> RoadModel | Message:
    """What the routes are driven with, or what is missing; arguments as of `find_mountain`."""
    known = _known_sides(revolutions_per_km)
    reason = missing(study, mass_too=False) or (None if known else NO_TIRES)
    if reason is not None:
        return reason
    study, kind_told = _with_kind(study, upshifts)
    sides = _usable_trips(study, trips, known)
    if sides is not None and steps is not None:
        steps = with_pooled_rise(steps.rechunk())  # one chunk, so that sums have one order
    turns = {side: one.value for side, one in known.items() if one.value is not None}
    with_its_mass = with_mass(study, steps, sides, turns)
    reason = missing(with_its_mass)
    if reason is not None:
        return reason
    weighed = study.vehicle.mass_kg is not None
    inputs = known_inputs(with_its_mass, steps, sides, turns, weighed=weighed)
    usual = _usual_speed(steps)
    return RoadModel(with_its_mass, weighed, known, steps, sides, inputs, usual, kind_told)


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
) -> pl.DataFrame | None:
    """`trip`, `side` and temperature of the trips that count, on tires that are known.

    Trips under a `[[load]]` of its own are out: their weight is not the vehicle's usual one.
    """
    if trips is None or trips.height == 0:
        return None
    kept = trips.filter(pl.col("side").is_in(list(known)))
    if "used" in kept.columns:
        kept = kept.filter(pl.col("used"))
    if {"start", "end"} <= set(kept.columns):
        for load in study.loads:
            other = (pl.col("start") < load.end) & (pl.col("end") > load.start)
            kept = kept.filter(~other)
    return kept


def _usual_speed(steps: pl.DataFrame | None) -> UsualSpeed:
    if steps is not None and {"speed_mps", "distance_m"} <= set(steps.columns):
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
        first = given if isinstance(given, pl.DataFrame) or not given else given[0]
        if isinstance(first, pl.DataFrame) and "altitude_m" in first.columns:
            mean = first["altitude_m"].drop_nulls().mean()
            if isinstance(mean, float):
                means.append(mean)
    return sum(means) / len(means) if means else 0.0


def _cannot_tell(
    study: Study,
    reason: Text,
    seed: int,
    draws: int,
    unread: tuple[StudyWarning, ...],
    *,
    reverse: bool,
) -> MountainFinding:
    return MountainFinding(
        routes=tuple(unjudged(route.name, reason, reverse=reverse) for route in study.routes),
        routes_why=None if study.routes else NO_ROUTES,
        startability_percent=BySide(unknown(reason), unknown(reason)),
        gears_why=reason,
        model_check=no_check(reason),
        draws=draws,
        seed=seed,
        warnings=unread,
        frame=pl.DataFrame(schema=FRAME_SCHEMA),
    )


def _route(
    declared: DeclaredRoute,
    model: RoadModel,
    profiles: Profiles,
    draws: Draws,
    hills: Sequence[ComparedHill],
    *,
    reverse: bool,
) -> JudgedRoute:
    passes = model.passes(declared, profiles)
    if not passes:
        why = message("profile-unread", file=UserText(declared.profile.name, "file"))
        return JudgedRoute(unjudged(declared.name, why, reverse=reverse))
    wanted, limits_rule = model.wanted(declared)
    return judge_route(
        declared.name, passes, wanted, draws, limits_rule=limits_rule, reverse=reverse, hills=hills
    )


def _cruise_speeds(study: Study) -> tuple[float, ...]:
    wanted = {round(r.target_speed_mps * 3.6, 1) for r in study.routes if r.target_speed_mps}
    return tuple(sorted(wanted | set(CRUISE_KMH)))


def _assumed(inputs: Inputs) -> tuple[Message, ...]:
    """What is neither declared nor measured."""
    figures = (assumed_figure(one) for one in inputs.parameters.values() if one.assumed)
    return (*figures, *inputs.other_assumptions)
