"""Question three, from study, logs and route profiles to the finding."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from gearing.findings.mountain.check import compare
from gearing.findings.mountain.climbs import logged_climbs
from gearing.findings.mountain.holds import NO_TIRES, cruise, gear_grades, startability
from gearing.findings.mountain.inputs import Inputs, make_inputs, missing, with_temperature
from gearing.findings.mountain.lanes import make_draws
from gearing.findings.mountain.learned import learn
from gearing.findings.mountain.result import ModelCheck, MountainFinding, Route
from gearing.findings.mountain.routes import FRAME_SCHEMA, judge_route, unjudged
from gearing.findings.mountain.shifts import see_shifts
from gearing.findings.sides import BySide
from gearing.statistics.estimate import Estimate, unknown

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gearing.findings.mountain.lanes import Draws
    from gearing.study.model import Side, Study

    Profiles = Mapping[str, pl.DataFrame | Sequence[pl.DataFrame]]

DRAWS = 200
DEFAULT_TARGET_MPS = 55 * 0.44704
CRUISE_KMH = (80.0, 90.0, 105.0)
NO_ROUTES = "the study names no [[route]]"


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
        judge each route the other way round.
    """
    seed = study.seed if seed is None else seed
    known = _known_sides(revolutions_per_km)
    reason = missing(study) or (None if known else NO_TIRES)
    if reason is not None:
        return _cannot_tell(study, reason, seed, draws)
    sides = _usable_trips(trips, known)
    turns = {side: one.value for side, one in known.items() if one.value is not None}

    def inputs_from(some: pl.DataFrame | None) -> Inputs:
        return _inputs(study, steps, some, turns)

    inputs = inputs_from(sides)
    drawn = make_draws(inputs, known, draws, seed)
    judged = [
        _route(name, target, profiles, drawn, reverse)
        for name, target in ((route.name, route.target_speed_mps) for route in study.routes)
    ]
    engine = inputs.powertrain.engine
    return MountainFinding(
        routes=tuple(route for route, _ in judged),
        routes_why=None if judged else NO_ROUTES,
        startability_percent=startability(drawn, 0.0),
        gears=gear_grades(drawn, 0.0),
        gears_why=None,
        cruise=cruise(drawn, _cruise_speeds(study), 0.0),
        lugging_rpm=engine.lugging_rpm,
        peak_torque_rpm=engine.peak_torque_rpm,
        parameters=tuple(inputs.parameters.values()),
        assumed=_assumed(inputs),
        climbs=logged_climbs(steps, sides),
        model_check=compare(steps, sides, inputs_from, turns),
        draws=draws,
        seed=seed,
        warnings=(),
        frame=pl.concat([frame for _, frame in judged])
        if judged
        else pl.DataFrame(schema=FRAME_SCHEMA),
    )


def _known_sides(revolutions: BySide[Estimate]) -> dict[Side, Estimate]:
    sides: dict[Side, Estimate] = {}
    if revolutions.before.known:
        sides["before"] = revolutions.before
    if revolutions.after.known:
        sides["after"] = revolutions.after
    return sides


def _usable_trips(trips: pl.DataFrame | None, known: dict[Side, Estimate]) -> pl.DataFrame | None:
    """`trip`, `side` and temperature of the trips that count, on tires that are known."""
    if trips is None or trips.height == 0:
        return None
    kept = trips.filter(pl.col("side").is_in(list(known)))
    return kept.filter(pl.col("used")) if "used" in kept.columns else kept


def _inputs(
    study: Study,
    steps: pl.DataFrame | None,
    sides: pl.DataFrame | None,
    turns: dict[Side, float],
) -> Inputs:
    """Declared or assumed, then what the logs of these trips add."""
    usual = make_inputs(study, {}, None)
    weather = _logged_weather(sides, steps)
    if weather is not None:
        usual = with_temperature(usual, *weather)
    learned = learn(steps, sides, usual, turns)
    seen = see_shifts(steps, sides, usual.powertrain, turns)
    inputs = make_inputs(study, learned.parameters, None if seen is None else seen.points)
    return inputs if weather is None else with_temperature(inputs, *weather)


def _cannot_tell(study: Study, reason: str, seed: int, draws: int) -> MountainFinding:
    return MountainFinding(
        routes=tuple(unjudged(route.name, reason) for route in study.routes),
        routes_why=None if study.routes else NO_ROUTES,
        startability_percent=BySide(unknown(reason), unknown(reason)),
        gears=(),
        gears_why=reason,
        cruise=BySide((), ()),
        lugging_rpm=None,
        peak_torque_rpm=None,
        parameters=(),
        assumed=(),
        climbs=(),
        model_check=_no_check(reason),
        draws=draws,
        seed=seed,
        warnings=(),
        frame=pl.DataFrame(schema=FRAME_SCHEMA),
    )


def _no_check(why: str) -> ModelCheck:
    return ModelCheck(
        stretches=0, km=0.0, bias_kmh=None, rms_kmh=None, median_absolute_percent=None, why=why
    )


def _route(
    name: str,
    target_mps: float | None,
    profiles: Profiles,
    draws: Draws,
    reverse: bool,
) -> tuple[Route, pl.DataFrame]:
    given = profiles.get(name)
    if given is None:
        return (
            unjudged(name, "its profile could not be read"),
            pl.DataFrame(schema=FRAME_SCHEMA),
        )
    passes = [given] if isinstance(given, pl.DataFrame) else list(given)
    return judge_route(name, passes, target_mps or DEFAULT_TARGET_MPS, draws, reverse=reverse)


def _cruise_speeds(study: Study) -> tuple[float, ...]:
    wanted = {round(r.target_speed_mps * 3.6, 1) for r in study.routes if r.target_speed_mps}
    return tuple(sorted(wanted | set(CRUISE_KMH)))


def _logged_weather(
    trips: pl.DataFrame | None, steps: pl.DataFrame | None
) -> tuple[float, float, float] | None:
    """Mean altitude [m], outside temperature [degC] there and its spread over the days [K]."""
    if trips is None or steps is None or "ambient_temperature_c" not in trips.columns:
        return None
    known = trips["ambient_temperature_c"].drop_nulls()
    altitude = steps["altitude_m"].drop_nulls().mean() if "altitude_m" in steps.columns else None
    if known.len() == 0 or not isinstance(altitude, float):
        return None
    mean = known.mean()
    deviation = known.std() if known.len() > 1 else None
    assert isinstance(mean, float)
    spread = 2 * deviation if isinstance(deviation, float) else 0.0
    return altitude, mean, max(spread, 5.0)


def _assumed(inputs: Inputs) -> tuple[str, ...]:
    """What is neither declared nor measured, in words."""
    figures = tuple(
        f"{one.label} {one.value:.3g} ({one.low:.3g} to {one.high:.3g})"
        + (f" {one.unit}" if one.unit != "-" else "")
        for one in inputs.parameters.values()
        if one.assumed
    )
    return figures + inputs.other_assumptions
