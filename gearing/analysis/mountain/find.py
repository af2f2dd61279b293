"""Question three, from study, logs and route profiles to the finding."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.mountain.assumptions import assumed_figure
from gearing.analysis.mountain.check import compare
from gearing.analysis.mountain.climbs import logged_climbs
from gearing.analysis.mountain.contradictions import contradictions
from gearing.analysis.mountain.draws import make_draws
from gearing.analysis.mountain.holds import NO_TIRES, cruise, gear_grades, hill_speeds, startability
from gearing.analysis.mountain.inputs import Inputs, missing
from gearing.analysis.mountain.known import known_inputs, with_mass
from gearing.analysis.mountain.passes import with_other_passes
from gearing.analysis.mountain.pooled import with_pooled_rise
from gearing.analysis.mountain.result import ModelCheck, MountainFinding, Route
from gearing.analysis.mountain.roads_asked import roads_asked
from gearing.analysis.mountain.routes import FRAME_SCHEMA, judge_route, unjudged
from gearing.analysis.mountain.warn import mountain_warnings, unread_profiles
from gearing.analysis.sides import BySide
from gearing.messages import Message, Quantity, Text, UserText, message
from gearing.statistics.estimate import Estimate, unknown
from gearing.units import MPH_MPS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gearing.analysis.mountain.draws import Draws
    from gearing.messages import StudyWarning
    from gearing.study.model import Route as DeclaredRoute
    from gearing.study.model import Side, Study

    Profiles = Mapping[str, pl.DataFrame | Sequence[pl.DataFrame]]

DRAWS = 200
MAX_TRIPS = 240  # more say no more of the vehicle, and cost time
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
    model = road_model(study, revolutions_per_km, steps=steps, trips=trips)
    if not isinstance(model, RoadModel):
        return _cannot_tell(study, model, seed, draws, unread, reverse=reverse)
    inputs, turns, usual = model.inputs, model.turns, model.usual
    steps, sides = model.steps, model.trips
    drawn = make_draws(inputs, model.known, draws, seed)
    judged = [_route(one, model, profiles, drawn, reverse=reverse) for one in study.routes]
    routes = tuple(route for route, _ in judged)
    altitude = mean_altitude(profiles, study)
    check = compare(steps, sides, model.inputs_from, turns)
    engine = inputs.powertrain.engine
    free = any(one.target_speed_mps is None for one in study.routes)
    return MountainFinding(
        routes=routes,
        routes_why=None if judged else NO_ROUTES,
        startability_percent=startability(drawn, altitude),
        gears=gear_grades(drawn, altitude),
        gears_why=None,
        gears_altitude_m=altitude,
        hills=hill_speeds(drawn, altitude),
        cruise=cruise(drawn, _cruise_speeds(study), altitude),
        peak_power_kw=engine.peak_power_w / 1000,
        lugging_rpm=engine.lugging_rpm,
        peak_torque_rpm=engine.peak_torque_rpm,
        efficient_rpm=engine.efficient_rpm,
        parameters=tuple(inputs.parameters.values()),
        assumed=_assumed(inputs) + ((usual.told,) if free else ()),
        climbs=logged_climbs(steps, sides),
        model_check=check,
        draws=draws,
        seed=seed,
        warnings=(
            *unread,
            *contradictions(study, inputs),
            *mountain_warnings(study, routes, check, inputs, turns),
        ),
        frame=pl.concat([frame for _, frame in judged])
        if judged
        else pl.DataFrame(schema=FRAME_SCHEMA),
        asked=roads_asked(steps, sides, drawn),
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

    @property
    def turns(self) -> dict[Side, float]:
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
) -> RoadModel | Message:
    """What the routes are driven with, or what is missing; arguments as of `find_mountain`."""
    known = _known_sides(revolutions_per_km)
    reason = missing(study, mass_too=False) or (None if known else NO_TIRES)
    if reason is not None:
        return reason
    sides = _usable_trips(study, trips, known)
    if sides is not None and steps is not None:
        sides, steps = _thinned(sides, steps)
        steps = with_pooled_rise(steps)
    turns = {side: one.value for side, one in known.items() if one.value is not None}
    with_its_mass = with_mass(study, steps, sides, turns)
    reason = missing(with_its_mass)
    if reason is not None:
        return reason
    weighed = study.vehicle.mass_kg is not None
    inputs = known_inputs(with_its_mass, steps, sides, turns, weighed=weighed)
    return RoadModel(with_its_mass, weighed, known, steps, sides, inputs, _usual_speed(steps))


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


def _thinned(sides: pl.DataFrame, steps: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """At most `MAX_TRIPS` trips, evenly over each side's time, and their steps."""
    if sides.height > MAX_TRIPS:
        parts = []
        for part in sides.partition_by("side", maintain_order=True):
            count = max(1, round(MAX_TRIPS * part.height / sides.height))
            kept = np.unique(np.linspace(0, part.height - 1, count).round().astype(np.int64))
            parts.append(part[kept.tolist()])
        sides = pl.concat(parts)
        steps = steps.filter(pl.col("trip").is_in(sides["trip"].implode()))
    # one chunk, so that sums have one order
    return sides, steps.rechunk()


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
        gears=(),
        gears_why=reason,
        gears_altitude_m=None,
        hills=(),
        cruise=BySide((), ()),
        peak_power_kw=None,
        lugging_rpm=None,
        peak_torque_rpm=None,
        efficient_rpm=None,
        parameters=(),
        assumed=(),
        climbs=(),
        model_check=_no_check(reason),
        draws=draws,
        seed=seed,
        warnings=unread,
        frame=pl.DataFrame(schema=FRAME_SCHEMA),
    )


def _no_check(why: Text) -> ModelCheck:
    return ModelCheck(
        stretches=0, km=0.0, bias_kmh=None, rms_kmh=None, median_absolute_percent=None, why=why
    )


def _route(
    declared: DeclaredRoute, model: RoadModel, profiles: Profiles, draws: Draws, *, reverse: bool
) -> tuple[Route, pl.DataFrame]:
    passes = model.passes(declared, profiles)
    if not passes:
        why = message("profile-unread", file=UserText(declared.profile.name, "file"))
        return unjudged(declared.name, why, reverse=reverse), pl.DataFrame(schema=FRAME_SCHEMA)
    wanted, limits_rule = model.wanted(declared)
    return judge_route(
        declared.name, passes, wanted, draws, limits_rule=limits_rule, reverse=reverse
    )


def _cruise_speeds(study: Study) -> tuple[float, ...]:
    wanted = {round(r.target_speed_mps * 3.6, 1) for r in study.routes if r.target_speed_mps}
    return tuple(sorted(wanted | set(CRUISE_KMH)))


def _assumed(inputs: Inputs) -> tuple[Message, ...]:
    """What is neither declared nor measured."""
    figures = (assumed_figure(one) for one in inputs.parameters.values() if one.assumed)
    return (*figures, *inputs.other_assumptions)
