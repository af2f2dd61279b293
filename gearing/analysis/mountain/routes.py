"""One named route, both ways, both sets of tires: driven, measured, judged."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from gearing.analysis.mountain.beside_logs import log_disagreements_on
from gearing.analysis.mountain.descents import long_descents
from gearing.analysis.mountain.draws import Draws, holding, road_ensemble, road_of_draws
from gearing.analysis.mountain.drift import possible_heights
from gearing.analysis.mountain.driven import Driven, steepest
from gearing.analysis.mountain.figures import (
    STEEP_DESCENT_M,
    falls_below_lugging,
    grade_section,
    route_side,
    starts,
    unheld_descents,
)
from gearing.analysis.mountain.heights import ImpossibleGradeError, check_grades, missing_points
from gearing.analysis.mountain.profile import Profile, read_passes
from gearing.analysis.mountain.result import Route, RouteSide, RouteWay
from gearing.analysis.mountain.sections import altitude_at_edges, find_stretches
from gearing.analysis.mountain.verdict import Evidence, Judgement, judge, unseen_between
from gearing.messages import Items, MessageError, Text, UserText, message
from gearing.messages.told import field_of
from gearing.vehicle.longitudinal import drive_all
from gearing.vehicle.road import Road, make_road

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from gearing.analysis.mountain.beside_logs import ComparedHill
    from gearing.analysis.mountain.sections import Stretch
    from gearing.messages import Message
    from gearing.statistics.arrays import Array
    from gearing.vehicle.climb import Holding
    from gearing.vehicle.ensemble import Run

AT_ONCE = 12_000_000  # vehicles times pieces of road driven together: some 300 MB
FRAME_STEP_M = 50.0
DRIFTS = 12  # drifts drawn of a profile's altitude, shared by the draws
WAYS = ("forward", "reversed")
ONE_SIDE_WHY = message("new-turns-unknown")
# a limit of walking pace or less is a slip or a mark of a stop
LOWEST_LIMIT_MPS = 2.0

_SIDE_COLUMNS = {
    "speed_mps": pl.Float64,
    "gear": pl.Int32,
    "engine_rpm": pl.Float64,
    "load": pl.Float64,
    "service_brake_w": pl.Float64,  # mean of the draws, all else the central one
}
FRAME_SCHEMA: dict[str, type[pl.DataType]] = {
    "route": pl.String,
    "direction": pl.String,
    "distance_m": pl.Float64,
    "altitude_m": pl.Float64,
    **{f"{side}_{n}": t for side in ("before", "after") for n, t in _SIDE_COLUMNS.items()},
}


@dataclass(frozen=True, slots=True)
class Way:
    """One way of a route with the vehicles that drove it, by side."""

    road: Road
    driven: dict[str, Driven]
    climbs: tuple[Stretch, ...]
    stretches: tuple[Stretch, ...]


@dataclass(frozen=True, slots=True)
class JudgedRoute:
    """A route with its frame, of columns `FRAME_SCHEMA`, and the roads of its two ways by name."""

    route: Route
    frame: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=FRAME_SCHEMA))
    roads: tuple[tuple[Text, Road], ...] = ()


def way_names(name: str, *, reverse: bool) -> tuple[Text, Text]:
    """What the two ways of a route are called, the one judged first before the other."""
    other = message("other-way", route=UserText(name))
    return (other, name) if reverse else (name, other)


def unjudged(name: str, why: Text, *, reverse: bool = False) -> Route:
    """A route that cannot be judged, with the reason."""
    first, second = (
        RouteWay(name=one, before=None, after=None, verdict="cannot tell yet", verdict_why=why)
        for one in way_names(name, reverse=reverse)
    )
    return Route(**_as_way(first), reversed=second)


def _as_way(way: RouteWay) -> dict[str, Any]:
    return {one.name: getattr(way, one.name) for one in fields(RouteWay)}


@dataclass(frozen=True, slots=True)
class Course:
    """A route that can be driven: its profile, and the roads it may be, the way judged first."""

    name: str
    profile: Profile
    roads: tuple[Road, ...]


def plan_route(
    name: str,
    passes: Sequence[pl.DataFrame],
    target_mps: float,
    seed: int,
    *,
    limits_rule: bool = False,
    reverse: bool = False,
) -> Course | Route:
    """A route as it will be driven, or unjudged where its heights are no road's or have holes.

    `limits_rule`: where a limit is posted it is driven, `target_mps` elsewhere only. `reverse`
    takes the other way first.
    """
    try:
        profile, roads = read_roads(passes, target_mps, seed, limits_rule=limits_rule)
    except ImpossibleGradeError as error:
        told = unjudged(name, error.told, reverse=reverse)
        return replace(told, impossible_grade_percent=error.percent)
    except MessageError as error:
        return unjudged(name, error.told, reverse=reverse)
    if not roads:
        return _with_holes(name, profile, reverse=reverse)
    return Course(name, profile, tuple(road.reversed() for road in roads) if reverse else roads)


def judge_route(
    course: Course,
    ways: tuple[Way, Way],
    draws: Draws,
    *,
    reverse: bool = False,
    hills: Sequence[ComparedHill] = (),
) -> JudgedRoute:
    """A route by the drives of its two ways (`drive_routes`).

    `reverse` names the other way first. `hills` are those of the logs, which may lie on it.
    """
    names = way_names(course.name, reverse=reverse)
    named, other = (
        judge_way(draws, way, called, hills, course.profile.widest_m)
        for way, called in zip(ways, names, strict=True)
    )
    road, profile = course.roads[0], course.profile
    route = Route(
        **_as_way(named),
        reversed=other,
        length_km=road.length_m / 1000,
        climb_m=float(np.maximum(np.diff(altitude_at_edges(road)), 0).sum()),
        mended=profile.mended,
        elevation=profile.handling,
        smoothed=profile.smoothed,
        widest_spacing_km=profile.widest_m / 1000,
    )
    directions = WAYS[::-1] if reverse else WAYS
    frames = [_frame(course.name, d, way) for d, way in zip(directions, ways, strict=True)]
    roads_by_name = tuple((n, way.road) for n, way in zip(names, ways, strict=True))
    return JudgedRoute(route, pl.concat(frames), roads_by_name)


def _with_holes(name: str, profile: Profile, *, reverse: bool) -> Route:
    """A route whose profile has stretches without points: what is there nobody can tell."""
    why = message("profile-has-holes", holes=missing_points(profile.missing))
    return replace(
        unjudged(name, why, reverse=reverse),
        missing_km=tuple((low / 1000, high / 1000) for low, high in profile.missing),
        widest_spacing_km=profile.widest_m / 1000,
    )


def read_roads(
    passes: Sequence[pl.DataFrame], target_mps: float, seed: int, *, limits_rule: bool = False
) -> tuple[Profile, tuple[Road, ...]]:
    """The profile of a route's passes and its road, none where the profile has holes.

    At the wanted speed, or the posted limit where that is lower (or `limits_rule`). Where the
    altitude may drift, it is the likeliest road, and others that may be follow.

    Raises
    ------
    MessageError
        no profile, or heights that are no road's.
    """
    profile = read_passes(passes)
    if profile.missing:
        return profile, ()
    posted = np.isfinite(profile.limit_mps) & (profile.limit_mps >= LOWEST_LIMIT_MPS)
    most = profile.limit_mps if limits_rule else np.minimum(profile.limit_mps, target_mps)
    limit = np.where(posted, most, target_mps)
    road = make_road(profile.distance_m, profile.altitude_m, limit, stop_s=profile.stop_s)
    check_grades(profile.distance_m, profile.altitude_m)
    if not profile.drift_m:
        return profile, (road,)
    height = altitude_at_edges(road)
    possible = possible_heights(road.edge_m, height, profile.drift_m, DRIFTS, seed)
    return profile, tuple(road.raised(one - height) for one in possible.T)


def drive_routes(
    draws: Draws, courses: Sequence[tuple[Road, ...]], *, reverse: bool = False
) -> Iterator[tuple[Way, Way]]:
    """Each road driven on every set of tires of `draws`, and the other way round.

    A course has the roads of `read_roads`: each draw is on one of them, the central one on the
    first. Driven side by side, as many as memory allows.
    """
    vehicles = 2 * draws.count * len(draws.sides)
    for batch in batches_within([roads[0].grade.size * vehicles for roads in courses]):
        both = [(roads, tuple(one.reversed() for one in roads)) for roads in courses[batch]]
        ensembles = [road_ensemble(draws, roads=len(one), reverse=reverse) for one, _ in both]
        parts = [(e, (*one, *other)) for e, (one, other) in zip(ensembles, both, strict=True)]
        runs = drive_all(draws.inputs.powertrain, parts)
        for run, (one, other) in zip(runs, both, strict=True):
            yield _way(draws, run, 0, one), _way(draws, run, 1, other)


def batches_within(sizes: Sequence[int]) -> Iterator[slice]:
    """Slices of drives of these sizes that go together: at most `AT_ONCE` in all, one at least."""
    first, total = 0, 0
    for place, size in enumerate(sizes):
        if place > first and total + size > AT_ONCE:
            yield slice(first, place)
            first, total = place, 0
        total += size
    if sizes:
        yield slice(first, len(sizes))


def _way(draws: Draws, run: Run, number: int, roads: tuple[Road, ...]) -> Way:
    """One way (0 or 1) of a run of `road_ensemble`, by set of tires."""
    which = road_of_draws(draws.count, len(roads))
    factor, driven = draws.values["speed_factor"], {}
    for place, side in enumerate(draws.sides):
        first = (2 * place + number) * draws.count
        columns = slice(first, first + draws.count)
        driven[side] = Driven.of(run, columns, draws.inputs.powertrain, roads, which, factor)
    stretches = find_stretches(roads[0])
    return Way(roads[0], driven, tuple(s for s in stretches if s.climbs), stretches)


def judge_way(
    draws: Draws,
    way: Way,
    name: Text,
    hills: Sequence[ComparedHill] = (),
    widest_m: float = 0.0,
) -> RouteWay:
    """One way of a route, with the figures of `before` and `after` and the verdict; `widest_m` is
    the longest way [m] between two points of its profile."""
    by_side = {side: evaluate_side(draws, way, side) for side in way.driven}
    sides: dict[str, RouteSide] = {
        side: route_side(one.driven, way.climbs, one.steepest_down, one.steepest_up)
        for side, one in by_side.items()
    }
    sections = tuple(
        grade_section(way.road, one, way.driven.get("before"), way.driven.get("after"))
        for one in way.stretches
    )
    open_still = RouteWay(
        name=name,
        before=sides.get("before"),
        after=sides.get("after"),
        verdict="cannot tell yet",
        verdict_why=ONE_SIDE_WHY,
        sections=sections,
        descents=long_descents(draws, way.road, way.driven, way.stretches),
    )
    if "after" not in sides:
        return open_still
    worse, better = log_disagreements_on(way.road, hills)
    worse = [*worse, *unseen_between(widest_m)]
    sides_down = [one.after for one in open_still.descents if one.after is not None]
    careful = [told for one in sides_down for told in one.care]
    found = verdict_of(way, by_side["after"], by_side.get("before"), worse, careful)
    told = tuple(map(field_of, (*found.care, *better)))
    return replace(
        open_still,
        verdict=found.verdict,
        verdict_why=message("watch-all", what=Items(told, ";")) if told else None,
        care=found.care,
        change=found.change if "before" in sides else "cannot tell yet",
        vehicle=found.vehicle,
    )


def holding_at(draws: Draws, side: str, road: Road, sign: int) -> Holding:
    """What the gears hold at the altitude of the steepest place up (1) or down (-1)."""
    _, piece = steepest(road, STEEP_DESCENT_M, sign)
    return holding(draws, side, float(road.altitude_m[piece]))


@dataclass(frozen=True, slots=True)
class SideOnWay:
    """One set of tires one way of a route: its drive, and what gears hold at the altitude where the
    road is steepest down and up."""

    driven: Driven
    steepest_down: Holding
    steepest_up: Holding


def evaluate_side(draws: Draws, way: Way, side: str) -> SideOnWay:
    """One set of tires one way, with what its gears hold where the road is steepest."""
    down, up = (holding_at(draws, side, way.road, sign) for sign in (-1, 1))
    return SideOnWay(way.driven[side], down, up)


def verdict_of(
    way: Way,
    after: SideOnWay,
    before: SideOnWay | None,
    logged: Sequence[Message] = (),
    careful: Sequence[Text] = (),
) -> Judgement:
    """Whether the gearing after suits this way of a route, by itself and against before.

    `logged` is what the owner's logs show worse than the model there, `careful` what asks for
    care on one descent.
    """
    descents = tuple(one for one in way.stretches if not one.climbs)
    mass = after.steepest_down.load.mass_kg
    stops = after.driven.brake_stops(mass)
    evidence = Evidence(
        cannot_start=~starts(after.driven, after.steepest_up),
        below_lugging=falls_below_lugging(after.driven),
        unheld=unheld_descents(after.driven, after.steepest_down, descents),
        stops=stops,
        descents=tuple(careful),
        hunting=after.driven.hunting(0, after.driven.load.shape[0] - 1),
        open_minutes=after.driven.converter_open_minutes,
        logged=tuple(logged),
    )
    if before is None:
        return judge(evidence)
    was = before.driven.brake_stops(mass)
    falls = [before.driven.sustained((one,)) - after.driven.sustained((one,)) for one in way.climbs]
    return judge(
        replace(
            evidence,
            unheld_before=unheld_descents(before.driven, before.steepest_down, descents),
            lowest_falls_kmh=max(falls, default=0.0) * 3.6,
            stops_rise=float(stops.mean() - was.mean()),
        )
    )


def _series(driven: Driven, column: str) -> NDArray[np.generic]:
    """One column of the frame by piece."""
    if column == "service_brake_w":
        power: Array = (driven.service_brake_n * driven.speed_mps).mean(axis=1, dtype=np.float64)
        return power
    series: NDArray[np.generic] = getattr(driven, column)[:, 0]
    return series


def _frame(name: str, direction: str, way: Way) -> pl.DataFrame:
    """Every 50 m or so of one way: the central draw on each set of tires."""
    edge = way.road.edge_m
    wanted = np.arange(0.0, edge[-1] + FRAME_STEP_M / 2, FRAME_STEP_M)
    piece = np.unique(np.clip(np.searchsorted(edge, wanted) - 1, 0, edge.size - 2))
    columns: dict[str, object] = {
        "route": [name] * piece.size,
        "direction": [direction] * piece.size,
        "distance_m": edge[1:][piece],
        "altitude_m": altitude_at_edges(way.road)[1:][piece],
    }
    for side in ("before", "after"):
        driven = way.driven.get(side)
        for column in _SIDE_COLUMNS:
            columns[f"{side}_{column}"] = (
                [None] * piece.size if driven is None else _series(driven, column)[piece]
            )
    return pl.DataFrame(columns, schema=FRAME_SCHEMA)
