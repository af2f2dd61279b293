"""Question three, from study, logs and route profiles to the finding."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from gearing.analysis.mountain.assumptions import assumed_figure
from gearing.analysis.mountain.beside_logs import on_routes
from gearing.analysis.mountain.check import compare, no_check
from gearing.analysis.mountain.contradictions import contradictions
from gearing.analysis.mountain.holds import of_gears
from gearing.analysis.mountain.model import DRAWS, NO_ROUTES, RoadModel, mean_altitude, road_model
from gearing.analysis.mountain.result import MountainFinding
from gearing.analysis.mountain.roads_asked import roads_asked
from gearing.analysis.mountain.routes import (
    FRAME_SCHEMA,
    Course,
    JudgedRoute,
    drive_routes,
    judge_route,
    unjudged,
)
from gearing.analysis.mountain.warn import kind_warnings, mountain_warnings, unread_profiles
from gearing.analysis.sides import BySide
from gearing.messages import Message
from gearing.statistics.estimate import unknown

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gearing.analysis.mountain.inputs import Inputs
    from gearing.analysis.mountain.model import Profiles
    from gearing.messages import StudyWarning, Text
    from gearing.statistics.estimate import Estimate
    from gearing.study.model import Study
    from gearing.trips.shifts import Upshifts

CRUISE_KMH = (80.0, 90.0, 105.0)


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

    Arguments as of `road_model` and `mountain_of`.
    """
    model = road_model(
        study,
        revolutions_per_km,
        steps=steps,
        trips=trips,
        upshifts=upshifts,
        seed=seed,
        draws=draws,
    )
    found = mountain_of(
        study, model, profiles=profiles, upshifts=upshifts, reverse=reverse, no_profiles=no_profiles
    )
    return replace(found, seed=study.seed if seed is None else seed, draws=draws)


def mountain_of(
    study: Study,
    model: RoadModel | Message,
    *,
    profiles: Profiles,
    upshifts: Upshifts | None = None,
    reverse: bool = False,
    no_profiles: Mapping[str, Text] | None = None,
) -> MountainFinding:
    """What a model says of each named route.

    Parameters
    ----------
    model
        what the routes are driven with, or why nothing is.
    profiles
        by route name, with `distance_m` and `altitude_m` and, where known, `speed_limit_mps` and
        `stop_s`.
    upshifts
        of all trips, for the kind of transmission.
    reverse
        judge each route the other way round; its name says so.
    no_profiles
        by route name: why a route has no profile, and what to add.
    """
    unread = unread_profiles(study, no_profiles or {})
    if not isinstance(model, RoadModel):
        return _cannot_tell(study, model, unread, reverse=reverse)
    planned = [model.course(one, profiles, reverse=reverse) for one in study.routes]
    roads = [one.roads for one in planned if isinstance(one, Course)]
    ways = drive_routes(model.draws, roads, reverse=reverse)
    judged = [
        judge_route(one, next(ways), model.draws, reverse=reverse, hills=model.hills)
        if isinstance(one, Course)
        else JudgedRoute(one)
        for one in planned
    ]
    found = _finding(study, model, mean_altitude(profiles, study), judged)
    return replace(found, warnings=(*unread, *found.warnings, *kind_warnings(study, upshifts)))


def _finding(
    study: Study,
    model: RoadModel,
    altitude_m: float,
    judged: Sequence[JudgedRoute],
) -> MountainFinding:
    """All that is told once the routes are judged; gears are those at an altitude [m]."""
    inputs, draws, routes = model.inputs, model.draws, tuple(one.route for one in judged)
    check = compare(model.steps, model.trips, model.inputs_from, model.turns)
    free = any(one.target_speed_mps is None for one in study.routes)
    logged = on_routes(model.hills, [road for one in judged for road in one.roads])
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


def _cannot_tell(
    study: Study,
    reason: Text,
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
        draws=DRAWS,
        seed=study.seed,
        warnings=unread,
        frame=pl.DataFrame(schema=FRAME_SCHEMA),
    )


def _cruise_speeds(study: Study) -> tuple[float, ...]:
    wanted = {round(r.target_speed_mps * 3.6, 1) for r in study.routes if r.target_speed_mps}
    return tuple(sorted(wanted | set(CRUISE_KMH)))


def _assumed(inputs: Inputs) -> tuple[Message, ...]:
    """What is neither declared nor measured."""
    figures = (assumed_figure(one) for one in inputs.parameters.values() if one.assumed)
    return (*figures, *inputs.other_assumptions)
