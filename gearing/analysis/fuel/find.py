"""Did consumption per true distance change? The whole answer, from trips and road steps."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from gearing.analysis.fuel import rules
from gearing.analysis.fuel.compare import Compared, change_of, compare, why_not
from gearing.analysis.fuel.days import make_table
from gearing.analysis.fuel.enough import Enough, chance_of, enough_of, plain_check
from gearing.analysis.fuel.expected import expected_from_gearing, final_drive_change
from gearing.analysis.fuel.facts import (
    Facts,
    both_sides,
    day_frame,
    facts_of,
    idle_of,
    long_enough,
    set_apart,
)
from gearing.analysis.fuel.fillups import engine_computer_scale
from gearing.analysis.fuel.judgement import Judgement, judgement_of
from gearing.analysis.fuel.model import ChangePercent, FuelFinding
from gearing.analysis.fuel.no_days import why_no_days
from gearing.analysis.fuel.notebook import Notebook, enough_tanks, fills_far, notebook_of
from gearing.analysis.fuel.parts import parts_of
from gearing.analysis.fuel.plan import plan_of
from gearing.analysis.fuel.rows import Rows, make_rows
from gearing.analysis.fuel.savings import savings_of
from gearing.analysis.fuel.steps import joined_steps, marked
from gearing.analysis.fuel.tables import (
    days_table,
    disagreement_of,
    segments_table,
    weather_words,
)
from gearing.analysis.fuel.tanks import TankDistance
from gearing.analysis.fuel.tread import size_alone, tread_percent
from gearing.analysis.pooling import cut_or_rounded, shared_error
from gearing.analysis.sides import SIDES, BySide, by_side
from gearing.messages import Text, message
from gearing.statistics.estimate import NORMAL_95, Estimate, unknown
from gearing.trips.even_rows import MOST, interval_of

if TYPE_CHECKING:
    from gearing.analysis.fuel.adjust import Adjusted
    from gearing.messages import StudyWarning
    from gearing.study.model import Side, Study


NO_FILLUPS = message("no-fillups")
NO_WEATHER = message("no-wind-file")


@dataclass(frozen=True, slots=True)
class _Ground:
    """What the answer is made from: `joined` steps, `days` compared, `every_day` driven; `beyond`
    warns of a change that no tires make."""

    study: Study
    trips: pl.DataFrame
    odometer: BySide[Estimate]
    joined: pl.DataFrame
    days: pl.DataFrame
    every_day: pl.DataFrame
    rows: Rows | None
    facts: Facts
    notebook: Notebook
    compared: Compared
    no_weather: Text
    beyond: StudyWarning | None


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
    logged_s = by_side(lambda side: _logged_s(trips, side))
    facts = facts_of(study, joined, days, rows, air, table, fillups, weather, logged_s)
    doubt = _distance_doubt(trips)
    compared = compare(
        study, days, rows, table, facts, air=air, no_days=no_days, distance_doubt=doubt
    )
    distance = tank_distance or TankDistance(odometer, message("odometer-by/measured"))
    notebook = notebook_of(study, trips, steps, joined, fillups, weather, distance, no_fillups)
    beyond = rules.implausible(
        compared.adjusted_estimate if compared.adjusted_estimate.known else compared.matched
    )
    ground = _Ground(
        study, trips, odometer, joined, days, every_day, rows, facts, notebook, compared,
        no_weather, beyond,
    )  # fmt: skip
    return _finding(ground, _change(ground, distance, no_days, no_indicated, doubt), no_days)


def _logged_s(trips: pl.DataFrame, side: Side) -> float:
    own = trips.filter(pl.col("used") & (pl.col("side") == side) & pl.col("liters").is_not_null())
    return interval_of(own["interval_s"].to_numpy(), own["true_m"].to_numpy(), share=MOST)


def _distance_doubt(trips: pl.DataFrame) -> float:
    """Standard error of the change by true distance, in logarithms, from how distance and fuel
    were told: where positions cut the same corners on both sides it cancels, and so do the units
    that the rates are written in."""
    used = trips.filter(pl.col("used"))
    before, after = (shared_error(used.filter(pl.col("side") == side)) for side in SIDES)
    coarse = cut_or_rounded(used.filter(pl.col("liters") > 0), "fuel_coarse")
    return math.hypot(after - before, coarse / NORMAL_95)


def _change(
    ground: _Ground,
    distance: TankDistance,
    no_days: Text,
    no_indicated: Text | None,
    doubt: float,
) -> ChangePercent:
    """The five figures; a change no tires can make is none."""
    compared, days, beyond = ground.compared, ground.days, ground.beyond
    unlikely = beyond or rules.implausible(compared.matched)
    true_distance = change_of(
        compared.true_distance, why_not(days, "true_m", no_days), "true-distance-days"
    )
    by_dash = change_of(
        compared.indicated, why_not(days, "indicated_m", no_days), "indicated-distance-days"
    )
    if not true_distance.known and by_dash.known and distance.known and not no_indicated:
        true_distance = distance.corrected(by_dash)
    return ChangePercent(
        unknown(no_indicated) if no_indicated else by_dash,
        true_distance.widened(100 * doubt),
        compared.matched if unlikely is None else unknown(unlikely.told),
        compared.adjusted_estimate if beyond is None else unknown(beyond.told),
        ground.notebook.change,
    )


def _finding(ground: _Ground, change: ChangePercent, no_days: Text) -> FuelFinding:
    study, days, facts, notebook = ground.study, ground.days, ground.facts, ground.notebook
    adjusted = ground.compared.adjusted
    sides = both_sides(facts)
    logged = BySide(sides.before.liters_per_100km, sides.after.liters_per_100km)
    physics_half = None if adjusted is None else 100 * NORMAL_95 * adjusted.physics_error
    judgement = judgement_of(
        facts,
        change,
        notebook,
        no_days=no_days if days.is_empty() else None,
        beyond=ground.beyond,
        physics_half=physics_half,
    )
    return FuelFinding(
        change_percent=change,
        parts=parts_of(ground.compared, change, ground.odometer),
        verdict=judgement.verdict,
        verdict_why=judgement.why,
        verdict_basis=judgement.basis,
        claim_percent=facts.claim_percent,
        margin_percent=study.margin_percent,
        engine_computer_scale=(
            engine_computer_scale(notebook.tanks, ground.joined)
            if notebook.tanks is not None
            else BySide(change.fillups, change.fillups)
        ),
        tanks=notebook.answer.finding if notebook.answer else None,
        idle=BySide(*(idle_of(ground.every_day.filter(pl.col("side") == s)) for s in SIDES)),
        sides=sides,
        physics_half_width_percent=physics_half,
        size_change_percent=(
            change.adjusted
            if ground.beyond is not None
            else size_alone(study, None if adjusted is None else adjusted.change)
        ),
        tread_percent=tread_percent(study),
        plan=plan_of(study, days, ground.rows) if facts.after.amount.days == 0 else None,
        set_apart_km=set_apart(ground.joined),
        weather_used=weather_words(facts, adjusted, ground.rows, ground.no_weather),
        disagreement=disagreement_of(change),
        warnings=(*judgement.warnings, *fills_far(notebook, logged)),
        days=days_table(days, ground.rows, adjusted, ground.compared.matched_levels),
        segments=segments_table(ground.rows),
        **_of_adjusted(adjusted, study.seed, ground.trips),
        **_for_the_owner(ground, change, judgement),
    )


def _of_adjusted(adjusted: Adjusted | None, seed: int, trips: pl.DataFrame) -> dict[str, Any]:
    """What only days compared at the same road work tell."""
    if adjusted is None:
        nothing = unknown(message("needs-adjusted"))
        return {
            "expected_percent": nothing, "plain_percent": nothing, "physics": (),
            "day_scatter_percent": None, "autocorrelation": None, "chance": None,
        }  # fmt: skip
    return {
        "expected_percent": expected_from_gearing(
            adjusted.rows, adjusted.learned, final_drive_change(trips)
        ),
        "plain_percent": plain_check(adjusted),
        "physics": adjusted.physics,
        "day_scatter_percent": 100 * adjusted.change.deviation,
        "autocorrelation": adjusted.change.persistence,
        "chance": chance_of(adjusted, seed),
    }


def _for_the_owner(ground: _Ground, change: ChangePercent, judgement: Judgement) -> dict[str, Any]:
    """Whether it is enough and what it is worth, by what the verdict rests on."""
    enough = enough_of(ground.facts, ground.compared)
    savings, why = savings_of(ground.study, change.adjusted, _moving_rate(ground.days))
    answer = ground.notebook.answer
    if judgement.basis == "fillups" and answer is not None:
        enough = enough_tanks(ground.notebook)
        savings, why = savings_of(
            ground.study, change.fillups, answer.finding.liters_per_100km.before
        )
    if ground.beyond is not None:
        enough = Enough(None, ground.beyond.told, None, ground.beyond.told)
    return {
        "smallest_detectable_percent": enough.smallest_percent,
        "smallest_detectable_percent_why": enough.smallest_why,
        "more_driving_km": enough.more_km,
        "more_driving_km_why": enough.more_why,
        "deciding_km": enough.deciding_km,
        "savings": savings,
        "savings_why": why,
    }


def _moving_rate(days: pl.DataFrame) -> float | None:
    """L/100 km before the change without what was burnt standing, which tires do not touch."""
    before = days.filter((pl.col("side") == "before") & pl.col("true_m").is_not_null())
    way = float(before["true_m"].sum())
    return float((before["liters"] - before["idle_liters"]).sum()) / way * 1e5 if way else None
