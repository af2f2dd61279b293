"""Did consumption per true distance change? The whole answer, from trips and road steps."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.fuel import rules
from gearing.analysis.fuel.adjust import Adjusted
from gearing.analysis.fuel.compare import (
    Compared,
    change_of,
    compare,
    why_not,
)
from gearing.analysis.fuel.days import Table, make_table, shared_cells
from gearing.analysis.fuel.enough import Enough, chance_of, how_much_more, plain_check
from gearing.analysis.fuel.expected import expected_from_gearing, final_drive_change
from gearing.analysis.fuel.facts import (
    Facts,
    both_sides,
    climate_apart_k,
    day_frame,
    harder_percent,
    idle_of,
    long_enough,
    set_apart,
    side_facts,
)
from gearing.analysis.fuel.fillups import (
    engine_computer_scale,
)
from gearing.analysis.fuel.model import Basis, ChangePercent, FuelFinding, Part, Physics, Verdict
from gearing.analysis.fuel.no_days import why_no_days
from gearing.analysis.fuel.notebook import Notebook, count_of, enough_tanks, notebook_of
from gearing.analysis.fuel.parts import parts_of
from gearing.analysis.fuel.plan import plan_of
from gearing.analysis.fuel.ranges import NO_DOUBT, ON_TRIAL
from gearing.analysis.fuel.rows import Rows, make_rows
from gearing.analysis.fuel.steps import joined_steps, marked
from gearing.analysis.fuel.tables import (
    days_table,
    disagreement_of,
    segments_table,
    weather_words,
)
from gearing.analysis.fuel.tanks import TankDistance
from gearing.analysis.fuel.tread import size_alone, tread_percent
from gearing.analysis.fuel.verdict import judge
from gearing.analysis.fuel.weather import at_times
from gearing.analysis.fuel.worth import worth_of
from gearing.analysis.pooling import shared_error
from gearing.analysis.sides import BySide
from gearing.messages import Text, message
from gearing.statistics.estimate import NORMAL_95, Estimate, unknown

if TYPE_CHECKING:
    from gearing.analysis.fuel.temperature import AirTemperature
    from gearing.messages import StudyWarning
    from gearing.study.model import Study


NO_FILLUPS = message("no-fillups")
NO_WEATHER = message("no-wind-file")


@dataclass(frozen=True, slots=True)
class _Ground:
    """What the answer is made from: `joined` steps, `days` compared, `every_day` driven."""

    study: Study
    trips: pl.DataFrame
    joined: pl.DataFrame
    days: pl.DataFrame
    every_day: pl.DataFrame
    no_days: Text  # why there is none, where there is none
    rows: Rows | None
    facts: Facts
    notebook: Notebook


def find_fuel(
    study: Study,
    trips: pl.DataFrame,
    steps: pl.DataFrame,
    *,
    odometer: BySide[Estimate],
    fillups: pl.DataFrame | None,
    weather: pl.DataFrame | None,
    tank_distance: TankDistance | None = None,
    no_fillups: Text = NO_FILLUPS,
    no_weather: Text = NO_WEATHER,
    no_indicated: Text | None = None,
) -> FuelFinding:
    """Consumption after against before, five ways, with the verdict and what it rests on.

    Parameters
    ----------
    trips, steps
        one row a trip; one row each ~100 m of road. Trips with `used` false are kept out.
    odometer
        true over indicated distance of each side.
    fillups, weather
        the companion files' frames, or None.
    tank_distance
        what puts the odometer right between fills, where it is not `odometer`.
    no_fillups, no_weather
        why there is none, or none whose wind covers the driving.
    no_indicated
        why the indicated distance is not to be believed, where it is not.
    """
    joined = marked(joined_steps(trips, steps))
    every_day = day_frame(joined)
    days = long_enough(every_day)
    made = make_rows(study, joined, weather) if joined.height else None
    rows, air = made if made is not None else (None, None)
    table = make_table(rows) if rows is not None else None
    no_days = why_no_days(every_day)
    facts = _facts(study, joined, days, rows, air, table, fillups, weather)
    doubt = _distance_doubt(trips)
    compared = compare(
        study, days, rows, table, facts, air=air, no_days=no_days, distance_doubt=doubt
    )
    distance = tank_distance or TankDistance(odometer, message("odometer-by/measured"))
    notebook = notebook_of(study, trips, steps, joined, fillups, weather, distance, no_fillups)
    true_distance = change_of(
        compared.true_distance, why_not(days, "true_m", no_days), "true-distance-days"
    )
    by_dash = change_of(
        compared.indicated,
        why_not(days, "indicated_m", no_days),
        "indicated-distance-days",
    )
    if not true_distance.known and by_dash.known and distance.known and not no_indicated:
        true_distance = distance.corrected(by_dash)
    matched, adjusted = compared.matched, compared.adjusted_estimate
    beyond = rules.implausible(adjusted if adjusted.known else matched)
    if beyond is not None:
        matched = adjusted = unknown(beyond.told)
    change = ChangePercent(
        unknown(no_indicated) if no_indicated else by_dash,
        true_distance.widened(100 * doubt),
        matched,
        adjusted,
        notebook.change,
    )
    ground = _Ground(study, trips, joined, days, every_day, no_days, rows, facts, notebook)
    return _finding(ground, compared, change, odometer, no_weather, beyond)


def _distance_doubt(trips: pl.DataFrame) -> float:
    """Standard error of the change by true distance, in logarithms, from how that was told: where
    positions cut the same corners on both sides it cancels."""
    sides = [
        shared_error(trips.filter(pl.col("used") & (pl.col("side") == side)))
        for side in ("before", "after")
    ]
    return abs(sides[1] - sides[0])


def _finding(
    ground: _Ground,
    compared: Compared,
    change: ChangePercent,
    odometer: BySide[Estimate],
    no_weather: Text,
    beyond: StudyWarning | None,
) -> FuelFinding:
    study, days, rows, facts = ground.study, ground.days, ground.rows, ground.facts
    tanks = ground.notebook.tanks
    claim = study.claim.consumption_change_percent if study.claim else None
    adjusted = compared.adjusted
    physics_half = 100 * NORMAL_95 * adjusted.physics_error if adjusted is not None else None
    verdict, why, warnings, basis = _judged(ground, change, beyond, physics_half)
    enough = _enough(facts, compared, claim)
    if basis == "fillups":
        enough = enough_tanks(ground.notebook)
    if beyond is not None:
        enough = Enough(None, beyond.told, None, beyond.told)
    worth, worth_why = worth_of(study, change.adjusted, _moving_rate(days))
    if basis == "fillups" and (answer := ground.notebook.answer) is not None:
        worth, worth_why = worth_of(study, change.fillups, answer.finding.liters_per_100km.before)
    return FuelFinding(
        change_percent=change,
        parts=_parts(compared, change, odometer),
        smallest_detectable_percent=enough.smallest_percent,
        smallest_detectable_percent_why=enough.smallest_why,
        more_driving_km=enough.more_km,
        more_driving_km_why=enough.more_why,
        verdict=verdict,
        verdict_why=why,
        verdict_basis=basis,
        claim_percent=claim,
        margin_percent=study.margin_percent,
        expected_percent=(
            expected_from_gearing(adjusted.rows, adjusted.learned, final_drive_change(ground.trips))
            if adjusted is not None
            else unknown(message("needs-adjusted"))
        ),
        engine_computer_scale=(
            engine_computer_scale(tanks, ground.joined)
            if tanks is not None
            else BySide(*(2 * [change.fillups]))
        ),
        tanks=ground.notebook.answer.finding if ground.notebook.answer else None,
        idle=BySide(
            *(idle_of(ground.every_day.filter(pl.col("side") == s)) for s in ("before", "after"))
        ),
        sides=both_sides(facts),
        physics=_physics(adjusted, rows),
        physics_half_width_percent=physics_half,
        day_scatter_percent=None if adjusted is None else 100 * adjusted.change.deviation,
        persistence=None if adjusted is None else adjusted.change.persistence,
        size_change_percent=(
            change.adjusted
            if beyond is not None
            else size_alone(study, adjusted.change if adjusted is not None else None)
        ),
        tread_percent=tread_percent(study),
        chance=None if adjusted is None else chance_of(adjusted, study.seed),
        plain_percent=(
            unknown(message("needs-adjusted")) if adjusted is None else plain_check(adjusted)
        ),
        worth=worth,
        worth_why=worth_why,
        plan=plan_of(study, days, rows) if facts.after.amount.days == 0 else None,
        set_apart_km=set_apart(ground.joined),
        weather_used=weather_words(facts, adjusted, rows, no_weather),
        disagreement=disagreement_of(change),
        warnings=warnings,
        days=days_table(days, rows, adjusted, compared.matched_levels),
        segments=segments_table(rows),
    )


def _judged(
    ground: _Ground,
    change: ChangePercent,
    beyond: StudyWarning | None,
    physics_half: float | None,
) -> tuple[Verdict | None, Text, tuple[StudyWarning, ...], Basis | None]:
    """The verdict, the reason for it, every warning, and what the verdict rests on."""
    study, facts, notebook = ground.study, ground.facts, ground.notebook
    has_fuel = ground.days.height > 0
    claim = study.claim.consumption_change_percent if study.claim else None
    warnings = list(rules.told(facts)) if has_fuel else []
    if beyond is not None:
        warnings.append(beyond)
    verdict, why, basis = (
        _verdict(study, change, facts, warnings, claim)
        if has_fuel
        else (None, ground.no_days, None)
    )
    nothing_better = not change.adjusted.known and not change.matched.known and beyond is None
    if nothing_better and notebook.answer is not None and notebook.change.known:
        verdict, why = judge(
            notebook.change,
            claim_percent=claim,
            margin_percent=study.margin_percent,
            fewest_days=notebook.answer.fewest,
            unit="tanks",
        )
        basis = "fillups"
    elif not has_fuel and notebook.answer is not None and count_of(notebook.answer):
        verdict, why, basis = "cannot tell yet", notebook.change.why or "", "fillups"
    if physics_half is not None and (warned := rules.seasons(physics_half, claim)) is not None:
        warnings.append(warned)
    return verdict, why, (*warnings, *notebook.warnings), basis


def _verdict(
    study: Study,
    change: ChangePercent,
    facts: Facts,
    warnings: list[StudyWarning],
    claim: float | None,
) -> tuple[Verdict, Text, Basis]:
    """By the adjusted change, else by the matched where the periods are alike in all it leaves."""
    basis: Basis = "adjusted" if change.adjusted.known else "matched"
    for warning in warnings:
        if warning.code in rules.FORBIDS_ADJUSTED:
            return "cannot tell yet", warning.told, basis
    if not change.adjusted.known and (differs := rules.unlike(facts)):
        return "cannot tell yet", differs, basis
    verdict, why = judge(
        change.adjusted if change.adjusted.known else change.matched,
        claim_percent=claim,
        margin_percent=study.margin_percent,
        fewest_days=facts.fewest_days,
    )
    return verdict, why, basis


def _moving_rate(days: pl.DataFrame) -> float | None:
    """L/100 km before the change without what was burnt standing, which tires do not touch."""
    before = days.filter((pl.col("side") == "before") & pl.col("true_m").is_not_null())
    way = float(before["true_m"].sum())
    return float((before["liters"] - before["idle_liters"]).sum()) / way * 1e5 if way else None


def _facts(
    study: Study,
    joined: pl.DataFrame,
    days: pl.DataFrame,
    rows: Rows | None,
    air: AirTemperature | None,
    table: Table | None,
    fillups: pl.DataFrame | None,
    weather: pl.DataFrame | None,
) -> Facts:
    shared = None
    if rows is not None and table is not None and len(set(rows.is_after)) == 2:
        after = rows.is_after
        both = shared_cells(table, after)
        late = after[table.day]
        total = float(table.distance_m[late].sum())
        shared = float(table.distance_m[late & both[table.cell]].sum()) / total if total else 0.0
    covered = min(
        at_times(weather, joined["start_s"].filter(joined["side"] == side).to_numpy()).covered
        for side in ("before", "after")
    )
    other = 0.0
    if fillups is not None and "other_l" in fillups.columns:
        other = float(fillups["other_l"].fill_null(0.0).sum())
    return Facts(
        study,
        side_facts(study, joined, days, rows, after=False),
        side_facts(study, joined, days, rows, after=True),
        shared,
        covered,
        0.0 if rows is None else harder_percent(rows),
        other,
        temperature_known=air.known_share if air else 1.0,
        climate_apart_k=0.0 if rows is None else climate_apart_k(rows),
        sensors_apart_k=air.apart_k if air else None,
        sensor_stuck=air.stuck if air else False,
    )


def _parts(
    compared: Compared, change: ChangePercent, odometer: BySide[Estimate]
) -> tuple[Part, ...]:
    if (
        compared.adjusted is None
        or compared.indicated is None
        or compared.true_distance is None
        or compared.moving is None
        or change.adjusted.value is None
        or change.indicated.value is None
    ):
        return ()
    before, after = odometer.before.value, odometer.after.value
    return parts_of(
        rows=compared.adjusted.rows,
        ranges=compared.adjusted.learned.ranges,
        theta=compared.adjusted.learned.theta,
        days=compared.adjusted.compared,
        indicated=compared.indicated.value,
        true_distance=compared.true_distance.value,
        moving=compared.moving.value,
        adjusted=math.log1p(change.adjusted.value / 100),
        factor_change=math.log(after / before) if before and after else None,
    )


def _enough(facts: Facts, compared: Compared, claim: float | None) -> Enough:
    if compared.adjusted is None:
        why = compared.adjusted_estimate.why or message("needs-adjusted")
        return Enough(None, why, None, why)
    target = abs(claim) / 2 if claim else 2.0
    return how_much_more(
        compared.adjusted.change,
        target_percent=target,
        km_per_day=(facts.after.amount.true_km or 0.0) / max(facts.after.amount.days, 1),
    )


def _physics(adjusted: Adjusted | None, rows: Rows | None) -> tuple[Physics, ...]:
    """Each range, what the logs made of it, and the points it may move the answer by."""
    if adjusted is None or rows is None:
        return ()
    after = rows.is_after
    seen = adjusted.sensitivity[adjusted.compared]
    late = after[adjusted.compared]
    lever = seen[late].mean(axis=0) - seen[~late].mean(axis=0)
    deviation = np.sqrt(np.diag(adjusted.learned.covariance))
    return tuple(
        Physics(
            one.name,
            one.at(float(theta)),
            float(d) * (one.at(float(theta)) if one.relative else 1.0),
            one.unit,
            abs(100 * float(push * d)),
            float(np.clip(share, 0.0, 1.0)),
            one.source,
        )
        for one, theta, d, push, share in zip(
            adjusted.learned.ranges.each,
            adjusted.learned.theta,
            deviation,
            lever,
            adjusted.learned.learned,
            strict=True,
        )
        if one.name not in ON_TRIAL and one.deviation > NO_DOUBT
    )
