"""Did consumption per true distance change? The whole answer, from trips and road steps."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.findings.fuel import rules
from gearing.findings.fuel.adjust import COVERED_LEAST, Adjusted, adjust
from gearing.findings.fuel.days import (
    Table,
    centred_by_road,
    day_levels,
    joined_roads,
    make_table,
    shared_cells,
)
from gearing.findings.fuel.enough import Enough, chance_of, how_much_more
from gearing.findings.fuel.expected import expected_from_gearing, final_drive_change
from gearing.findings.fuel.facts import (
    Facts,
    both_sides,
    day_frame,
    idle_of,
    long_enough,
    side_facts,
)
from gearing.findings.fuel.fillups import (
    Tanks,
    change_from_fillups,
    engine_computer_scale,
    full_to_full,
)
from gearing.findings.fuel.model import ChangePercent, FuelFinding, Part, Physics
from gearing.findings.fuel.parts import parts_of
from gearing.findings.fuel.physics import ON_TRIAL
from gearing.findings.fuel.plan import plan_of
from gearing.findings.fuel.rows import Rows, joined_steps, make_rows, marked
from gearing.findings.fuel.tables import days_table, disagreement_of, segments_table
from gearing.findings.fuel.verdict import judge
from gearing.findings.fuel.weather import at_times
from gearing.findings.fuel.worth import worth_of
from gearing.findings.sides import BySide
from gearing.statistics.arrays import sum_by
from gearing.statistics.comparison import percent
from gearing.statistics.estimate import Estimate, unknown
from gearing.statistics.two_sides import SideChange, change_between

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.statistics.arrays import Array
    from gearing.study.model import Study

NO_FUEL = (
    "no log of this side carries fuel: a fuel rate (PID 5E, SPN 183), a count of fuel used "
    "(SPN 250) or, on a gasoline engine, air flow (PID 10) is needed. Air flow cannot give a "
    "diesel's fuel: a diesel runs at whatever air it gets"
)
LEAST_SHARED_M = 2000.0


@dataclass(frozen=True, slots=True)
class _Compared:
    """Everything the comparison of days came to."""

    indicated: SideChange | None
    true_distance: SideChange | None
    moving: SideChange | None
    matched: Estimate
    matched_levels: Array | None
    adjusted: Adjusted | None
    adjusted_estimate: Estimate


def find_fuel(
    study: Study,
    trips: pl.DataFrame,
    steps: pl.DataFrame,
    *,
    odometer: BySide[Estimate],
    fillups: pl.DataFrame | None,
    weather: pl.DataFrame | None,
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
    """
    joined = marked(joined_steps(trips, steps))
    every_day = day_frame(joined)
    days = long_enough(every_day)
    rows = make_rows(study, joined, weather) if joined.height else None
    table = make_table(rows) if rows is not None else None
    facts = _facts(study, joined, days, rows, table, fillups, weather)
    compared = _compare(study, days, rows, table, facts)
    tanks = _tanks(trips, fillups, odometer)
    by_fill = (
        unknown("the study names no fill-up log (fillups = ...)")
        if tanks is None
        else change_from_fillups(tanks, odometer)
    )
    change = ChangePercent(
        _percent(compared.indicated, _why_not(days, "indicated_m"), "indicated distance"),
        _percent(compared.true_distance, _why_not(days, "true_m"), "true distance"),
        compared.matched,
        compared.adjusted_estimate,
        by_fill,
    )
    return _finding(
        study, trips, joined, days, every_day, rows, table, facts, compared, change, tanks, odometer
    )


def _finding(
    study: Study,
    trips: pl.DataFrame,
    joined: pl.DataFrame,
    days: pl.DataFrame,
    every_day: pl.DataFrame,
    rows: Rows | None,
    table: Table | None,
    facts: Facts,
    compared: _Compared,
    change: ChangePercent,
    tanks: Tanks | None,
    odometer: BySide[Estimate],
) -> FuelFinding:
    claim = study.claim.consumption_change_percent if study.claim else None
    adjusted = compared.adjusted
    has_fuel = days.height > 0
    judged = change.adjusted if change.adjusted.known else change.matched
    verdict, why = (
        judge(
            judged,
            claim_percent=claim,
            margin_percent=study.margin_percent,
            fewest_days=facts.fewest_days,
        )
        if has_fuel
        else (None, NO_FUEL)
    )
    enough = _enough(facts, compared, claim)
    physics_half = 100 * 1.96 * adjusted.change.known_error if adjusted is not None else None
    warnings = list(rules.told(facts)) if has_fuel else []
    if physics_half is not None and (warned := rules.seasons(physics_half, claim)) is not None:
        warnings.append(warned)
    worth, worth_why = worth_of(study, change.adjusted, _moving_rate(days))
    return FuelFinding(
        change_percent=change,
        parts=_parts(compared, change, odometer),
        smallest_detectable_percent=enough.smallest_percent,
        smallest_detectable_percent_why=enough.smallest_why,
        more_driving_km=enough.more_km,
        more_driving_km_why=enough.more_why,
        verdict=verdict,
        verdict_why=why,
        claim_percent=claim,
        margin_percent=study.margin_percent,
        expected_percent=(
            expected_from_gearing(adjusted.rows, adjusted.learned, final_drive_change(trips))
            if adjusted is not None
            else unknown("needs the adjusted comparison")
        ),
        engine_computer_scale=(
            engine_computer_scale(tanks, joined)
            if tanks is not None
            else BySide(*(2 * [unknown("the study names no fill-up log (fillups = ...)")]))
        ),
        idle=BySide(*(idle_of(every_day.filter(pl.col("side") == s)) for s in ("before", "after"))),
        sides=both_sides(facts),
        physics=_physics(adjusted, rows),
        physics_half_width_percent=physics_half,
        day_scatter_percent=None if adjusted is None else 100 * adjusted.change.deviation,
        persistence=None if adjusted is None else adjusted.change.persistence,
        chance=None if adjusted is None else chance_of(adjusted, rows, study.seed),
        worth=worth,
        worth_why=worth_why,
        plan=plan_of(study, days, rows, table) if facts.after.amount.days == 0 else None,
        set_apart_km=_set_apart(joined),
        weather_used=_weather_words(facts, adjusted),
        disagreement=disagreement_of(change),
        warnings=tuple(warnings),
        days=days_table(days, rows, adjusted, compared.matched_levels),
        segments=segments_table(rows, table),
    )


def _moving_rate(days: pl.DataFrame) -> float | None:
    """L/100 km before the change without what was burnt standing, which tires do not touch."""
    before = days.filter(pl.col("side") == "before")
    way = float(before["true_m"].sum())
    return float((before["liters"] - before["idle_liters"]).sum()) / way * 1e5 if way else None


def _facts(
    study: Study,
    joined: pl.DataFrame,
    days: pl.DataFrame,
    rows: Rows | None,
    table: Table | None,
    fillups: pl.DataFrame | None,
    weather: pl.DataFrame | None,
) -> Facts:
    shared = 0.0
    if rows is not None and table is not None:
        after = _after(rows)
        both = shared_cells(table, after)
        late = after[table.day]
        total = float(table.distance_m[late].sum())
        shared = float(table.distance_m[late & both[table.cell]].sum()) / total if total else 0.0
    covered = at_times(weather, joined["start_s"].to_numpy()).covered if joined.height else 0.0
    other = 0.0
    if fillups is not None and "other_l" in fillups.columns:
        other = float(fillups["other_l"].fill_null(0.0).sum())
    return Facts(
        study,
        side_facts(study, joined, days, rows, after=False),
        side_facts(study, joined, days, rows, after=True),
        shared,
        covered,
        other,
    )


def _after(rows: Rows) -> NDArray[np.bool_]:
    return np.array([day.after for day in rows.days], dtype=bool)


def _compare(
    study: Study, days: pl.DataFrame, rows: Rows | None, table: Table | None, facts: Facts
) -> _Compared:
    indicated = _by_day(days, "liters", "indicated_m")
    true = _by_day(days, "liters", "true_m")
    moving = _by_day(
        days.with_columns(moving_l=pl.col("liters") - pl.col("idle_liters")), "moving_l", "true_m"
    )
    if rows is None or table is None:
        why = _why_not(days, "true_m") or (
            "no temperature from any source: log it, or give a weather file (weather = ...)"
        )
        no_road = why if days.is_empty() else "no step of road is fit to compare"
        return _Compared(indicated, true, moving, unknown(no_road), None, None, unknown(why))
    numbers = _numbers_of(days, rows)
    way = sum_by(rows.day, rows.distance_m, len(rows.days))
    numbers = numbers[way[numbers] >= LEAST_SHARED_M]
    matched, levels = _matched(rows, table, numbers)
    adjusted, estimate = _adjusted(study, rows, table, numbers, way, facts)
    return _Compared(indicated, true, moving, matched, levels, adjusted, estimate)


def _by_day(days: pl.DataFrame, liters: str, distance: str) -> SideChange | None:
    """Log ratio per day of two columns, sides compared."""
    known = days.drop_nulls([liters, distance]).filter(
        (pl.col(liters) > 0) & (pl.col(distance) > 0)
    )
    sides = [known.filter(pl.col("side") == side) for side in ("before", "after")]
    if min(side.height for side in sides) < 2:
        return None
    logs = [np.log(s[liters].to_numpy() / s[distance].to_numpy()) for s in sides]
    return change_between(*logs, lengths=np.concatenate([s[distance].to_numpy() for s in sides]))


def _why_not(days: pl.DataFrame, distance: str) -> str | None:
    """Why no comparison of days is possible, or None."""
    if days.is_empty():
        return NO_FUEL
    counts = [
        days.filter((pl.col("side") == side) & pl.col(distance).is_not_null()).height
        for side in ("before", "after")
    ]
    if min(counts) >= 2:
        return None
    if distance == "indicated_m" and days[distance].null_count() == days.height:
        return "no log carries the indicated speed or distance together with fuel"
    return (
        f"there are {counts[0]} days with fuel before the change and {counts[1]} after; two a "
        "side are the least that can be compared, four the least that can be judged"
    )


def _percent(change: SideChange | None, why: str | None, what: str) -> Estimate:
    if change is None:
        return unknown(why or "there are under two days a side")
    return Estimate(
        percent(change.value),
        percent(change.low),
        percent(change.high),
        change.n_before + change.n_after,
        f"fuel per {what}, days compared",
    )


def _numbers_of(days: pl.DataFrame, rows: Rows) -> NDArray[np.int64]:
    """Numbers, in `rows.days`, of the days compared; before, then after, in order of time."""
    index = {(day.after, day.day): number for number, day in enumerate(rows.days)}
    keys = [(side == "after", day) for side, day in days.select("side", "local_day").iter_rows()]
    return np.array([index[key] for key in keys if key in index], dtype=np.int64)


def _fewest(after: NDArray[np.bool_], days: NDArray[np.int64]) -> int:
    return min(int((~after[days]).sum()), int(after[days].sum()))


def _matched(rows: Rows, table: Table, numbers: NDArray[np.int64]) -> tuple[Estimate, Array | None]:
    after = _after(rows)
    used = shared_cells(table, after)
    shared = np.bincount(
        table.day, weights=np.where(used[table.cell], table.distance_m, 0.0), minlength=table.days
    )
    kept = numbers[shared[numbers] >= LEAST_SHARED_M]
    if _fewest(after, kept) < 2:
        return unknown(
            "the two periods share too little road: the same road in the same direction must be "
            "driven on two days in each"
        ), None
    levels = day_levels(table, table.distance_m, loyalty=0.0, used=used)
    levels = centred_by_road(levels, joined_roads(table, used), after, kept)
    kept = kept[np.isfinite(levels[kept])]
    if _fewest(after, kept) < 2:
        return unknown("no stretch of road joins two days of each period"), None
    before_days, after_days = kept[~after[kept]], kept[after[kept]]
    change = change_between(
        levels[before_days],
        levels[after_days],
        lengths=shared[np.concatenate([before_days, after_days])],
    )
    return (
        Estimate(
            percent(change.value),
            percent(change.low),
            percent(change.high),
            len(kept),
            "same road, same direction, days compared",
        ),
        levels,
    )


def _adjusted(
    study: Study,
    rows: Rows,
    table: Table,
    numbers: NDArray[np.int64],
    way: Array,
    facts: Facts,
) -> tuple[Adjusted | None, Estimate]:
    after = _after(rows)
    if _fewest(after, numbers) < 2:
        return None, unknown("fewer than two days a side can be compared")
    forbidden = [w for w in rules.told(facts) if w.code in rules.FORBIDS_ADJUSTED]
    if forbidden:
        return None, unknown(forbidden[0].text)
    adjusted = adjust(study, rows, table, numbers, way, weather_covered=facts.weather_covered)
    change = adjusted.change

    return adjusted, Estimate(
        percent(change.value),
        percent(change.low),
        percent(change.high),
        change.n_before + change.n_after,
        "same road work, speed, weather and load, days compared",
    )


def _tanks(
    trips: pl.DataFrame, fillups: pl.DataFrame | None, odometer: BySide[Estimate]
) -> Tanks | None:
    if fillups is None or fillups.is_empty():
        return None
    used = trips.filter(pl.col("used"))
    last = used.filter(pl.col("side") == "before")["end"].max()
    first = used.filter(pl.col("side") == "after")["start"].min()
    return full_to_full(fillups, odometer, last, first)  # type: ignore[arg-type]


def _parts(
    compared: _Compared, change: ChangePercent, odometer: BySide[Estimate]
) -> tuple[Part, ...]:
    if (
        compared.adjusted is None
        or compared.indicated is None
        or compared.true_distance is None
        or compared.moving is None
        or change.adjusted.value is None
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


def _enough(facts: Facts, compared: _Compared, claim: float | None) -> Enough:
    if compared.adjusted is None:
        why = compared.adjusted_estimate.why or "needs the adjusted comparison"
        return Enough(None, why, None, why)
    target = abs(claim) / 2 if claim else 2.0
    return how_much_more(
        compared.adjusted.change,
        target_percent=target,
        km_per_day=facts.after.amount.true_km / max(facts.after.amount.days, 1),
    )


def _physics(adjusted: Adjusted | None, rows: Rows | None) -> tuple[Physics, ...]:
    """Each range, what the logs made of it, and the points it may move the answer by."""
    if adjusted is None or rows is None:
        return ()
    after = _after(rows)
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
            float(np.clip(heard, 0.0, 1.0)),
            one.source,
        )
        for one, theta, d, push, heard in zip(
            adjusted.learned.ranges.each,
            adjusted.learned.theta,
            deviation,
            lever,
            adjusted.learned.learned,
            strict=True,
        )
        if one.name != ON_TRIAL
    )


def _set_apart(joined: pl.DataFrame) -> dict[str, float]:
    sums = (
        joined.filter(pl.col("mark").is_not_null())
        .group_by("mark")
        .agg(pl.col("distance_m").sum() / 1000)
        .sort("mark")
    )
    return dict(sums.iter_rows())


def _weather_words(facts: Facts, adjusted: Adjusted | None) -> str:
    """How wind entered, with the error of a day held out that decided it."""
    if adjusted is None:
        return "not used"
    ours = "each day's contrast between courses tells part of the wind; the rest is in the interval"
    if facts.weather_covered < COVERED_LEAST:
        return f"no weather file covers the driving; {ours}"
    assert adjusted.held_out_otherwise is not None
    errors = f"{100 * adjusted.held_out:.1f} against {100 * adjusted.held_out_otherwise:.1f} %"
    if adjusted.file_wind:
        return (
            f"the weather file's wind, brought down to the vehicle's height, is the start (a day "
            f"held out is missed by {errors} without); {ours}"
        )
    return (
        f"the weather file's wind is left out (a day held out is missed by {errors} with); {ours}"
    )
