"""What the rules of sufficiency and confounding look at: the two sides in figures."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.fuel.days import Table, shared_cells
from gearing.analysis.fuel.model import Amount, Idle
from gearing.analysis.fuel.no_days import MIN_DAY_M
from gearing.analysis.fuel.same_engine import SameEngine, same_engine
from gearing.analysis.fuel.steps import usual_interval_s
from gearing.analysis.fuel.weather import at_times
from gearing.analysis.sides import BySide
from gearing.statistics.arrays import sum_by
from gearing.units import STANDARD_GRAVITY_MPS2

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gearing.analysis.fuel.rows import Rows
    from gearing.analysis.fuel.temperature import AirTemperature
    from gearing.statistics.arrays import Array
    from gearing.study.model import Load, Study

MAX_ACCELERATION_MPS2 = 2.0  # what is gained faster over 100 m is an error of a receiver
FEWEST_STRETCHES = 30
UNDER_LOAD = 1.5  # times the work a metre of the road with fuel
_OF_DAYS = (
    "side", "local_day", "trip", "mark", "distance_m", "indicated_m", "fuel_l", "fuel_stopped_l",
    "duration_s", "stopped_s", "ambient_temperature_c",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class SideFacts:
    """One side. Temperatures [degC] and speeds [m/s] weighted by distance; `course_share` is
    0 where every road was driven both ways and 1 where all driving went one way;
    `regeneration_share` of the time; `driven_km` of all road logged, with fuel or without;
    `towing_days` and `load_days` of the days compared."""

    amount: Amount
    driven_km: float
    temperature_low_c: float | None
    temperature_high_c: float | None
    course_share: float
    regeneration_share: float
    towing_days: int
    load_days: int


@dataclass(frozen=True, slots=True)
class Facts:
    study: Study
    before: SideFacts
    after: SideFacts
    # of the after side's distance on roads driven on both sides; None where one side's are unknown
    shared_share: float | None
    weather_covered: float  # of the moments driven with wind, on the side with less
    harder_percent: float  # how much harder speed is gained after, on the same roads; 0 not known
    other_use_l: float  # taken from the tank for other than driving, by the fill-up log
    temperature_known: float = 1.0  # of the driving, by a log or a weather file
    climate_apart_k: float = 0.0  # what the periods differ by, where the climate alone tells
    sensors_apart_k: float | None = None  # what log and weather file disagree by about that
    sensor_stuck: bool = False
    logged_s: BySide[float] | None = None  # how far apart the logs' rows are
    steps_s: float = 1.0  # and those that the comparison is made of
    engine: SameEngine = field(default_factory=SameEngine)
    missing_under_load: float = 0.0  # share of the work

    @property
    def claim_percent(self) -> float | None:
        """The change of consumption claimed [%], negative for a saving."""
        claim = self.study.claim
        return claim.consumption_change_percent if claim else None

    @property
    def fewest_days(self) -> int:
        """Days on the shorter side."""
        return min(self.before.amount.days, self.after.amount.days)


def day_frame(joined: pl.DataFrame) -> pl.DataFrame:
    """One row a side and local day: sums over the steps whose fuel is known."""
    known = pl.col("fuel_l").is_not_null() & (pl.col("mark") != "filter-regeneration").fill_null(
        True
    )
    return (
        joined.select(_OF_DAYS)
        .filter(known)
        .rechunk()  # one chunk, one order of sums, however many threads filtered
        .lazy()
        .group_by("side", "local_day", maintain_order=True)
        .agg(
            trips=pl.col("trip").n_unique(),
            true_m=pl.when(pl.col("distance_m").is_not_null().all()).then(
                pl.col("distance_m").sum()
            ),
            indicated_m=pl.when(pl.col("indicated_m").is_not_null().any()).then(
                pl.col("indicated_m").sum()
            ),
            # what the dash would show: no fuel without the distance it was burnt on
            indicated_liters=pl.col("fuel_l").filter(pl.col("indicated_m").is_not_null()).sum(),
            liters=pl.col("fuel_l").sum(),
            idle_liters=pl.col("fuel_stopped_l").fill_null(0.0).sum(),
            moving_s=(pl.col("duration_s") - pl.col("stopped_s").fill_null(0.0)).sum(),
            stopped_s=pl.col("stopped_s").fill_null(0.0).sum(),
            temperature_c=pl.col("ambient_temperature_c").mean().cast(pl.Float64),
        )
        .sort(pl.col("side") == "after", "local_day")
        .collect()
    )


def long_enough(days: pl.DataFrame) -> pl.DataFrame:
    """Days with enough road to compare: 3 km, and a tenth of the usual day."""
    way = pl.coalesce("true_m", "indicated_m")
    usual = days.select(way).to_series().median()
    least = max(MIN_DAY_M, 0.1 * usual) if isinstance(usual, float) else MIN_DAY_M
    return days.filter((way >= least) & (pl.col("liters") > 0))


def _sum(frame: pl.DataFrame, column: str) -> float:
    return float(frame[column].fill_null(0.0).sum())


def amount(days: pl.DataFrame, temperature_c: float | None) -> Amount:
    """How much driving stands behind `days` of one side, at its mean temperature."""
    measured = days.filter(pl.col("true_m").is_not_null())
    way, liters, moving = (_sum(measured, name) for name in ("true_m", "liters", "moving_s"))
    return Amount(
        days=days.height,
        trips=int(days["trips"].sum()),
        true_km=way / 1000 if way or days.is_empty() else None,
        liters_per_100km=liters / way * 1e5 if way else None,
        mean_temperature_c=temperature_c,
        mean_speed_kmh=way / moving * 3.6 if moving else None,
    )


def idle_of(days: pl.DataFrame) -> Idle | None:
    """Running without moving on these days; None without one."""
    if days.is_empty():
        return None
    hours = _sum(days, "stopped_s") / 3600
    liters, total = _sum(days, "idle_liters"), _sum(days, "liters")
    return Idle(
        hours,
        liters / hours if hours > 0.02 else None,
        100 * liters / total if total > 0 else None,
    )


def side_facts(
    study: Study, joined: pl.DataFrame, days: pl.DataFrame, rows: Rows | None, after: bool
) -> SideFacts:
    """Facts of one side; `days` are those compared."""
    side = "after" if after else "before"
    mine = days.filter(pl.col("side") == side)
    steps = joined.select(
        "side", "local_day", "start_s", "duration_s", "regeneration_s", "distance_m"
    ).filter(pl.col("side") == side)
    low = high = middle = None
    course = 0.0
    if rows is not None:
        k = rows.after == float(after)
        if k.any():
            course = _one_way_share(rows, k)
            k = k & (rows.unlogged == 0)
        if k.any():
            low, high = (float(q) for q in np.quantile(rows.temperature_c[k], [0.1, 0.9]))
            middle = float(np.average(rows.temperature_c[k], weights=rows.distance_m[k]))
    duration = _sum(steps, "duration_s") or 1.0
    compared = steps.filter(pl.col("local_day").is_in(mine["local_day"].implode()))
    return SideFacts(
        amount(mine, middle),
        _sum(steps, "distance_m") / 1000,
        low,
        high,
        course,
        _sum(steps, "regeneration_s") / duration,
        _days_with([load for load in study.loads if load.towing], compared),
        _days_with([load for load in study.loads if load.mass_kg is not None], compared),
    )


def _days_with(loads: Sequence[Load], steps: pl.DataFrame) -> int:
    """Days on a part of which, at least, one of the loads was on."""
    within = [
        (pl.col("start_s") >= load.start.timestamp()) & (pl.col("start_s") < load.end.timestamp())
        for load in loads
    ]
    return steps.filter(pl.any_horizontal(within))["local_day"].n_unique() if within else 0


def _one_way_share(rows: Rows, kept: Array) -> float:
    """Length of the mean course vector, mean of days: 0 out and back, 1 straight one way."""
    weight = rows.distance_m[kept]
    day = rows.day[kept]
    n = len(rows.days)
    way = sum_by(day, weight, n)
    east = sum_by(day, weight * rows.east[kept], n)
    north = sum_by(day, weight * rows.north[kept], n)
    driven = way > 0
    return float(np.mean(np.hypot(east[driven], north[driven]) / way[driven]))


def harder_percent(rows: Rows) -> float:
    """How much harder speed is gained after than before [%], on stretches of road driven on both
    sides, each counting as often as the side that drove it less; 0 where there are too few.

    How hard: the mean of what is gained [m/s2], the harder counting for more, however often it is.
    """
    known = rows.cell >= 0
    place = 2 * rows.cell[known] + (rows.after[known] > 0)
    way = rows.distance_m[known]
    squares = rows.end_square[known] - rows.start_square[known]
    gained = np.clip(squares / (2 * way), 0.0, MAX_ACCELERATION_MPS2)
    size = 2 * (int(rows.cell.max(initial=0)) + 1)
    passed, once, twice = (
        sum_by(place, way * gained**power, size).reshape(-1, 2) for power in (0, 1, 2)
    )
    both = (passed > 0).all(axis=1)
    if both.sum() < FEWEST_STRETCHES:
        return 0.0
    weight = (passed.min(axis=1, keepdims=True) / np.maximum(passed, 1.0))[both]
    gain, hard = (weight * once[both]).sum(axis=0), (weight * twice[both]).sum(axis=0)
    if not gain.all():
        return 0.0
    before, after = hard / gain
    return 100 * (float(after / before) - 1)


def both_sides(facts: Facts) -> BySide[Amount]:
    """Amount of driving by side."""
    return BySide(facts.before.amount, facts.after.amount)


def climate_apart_k(rows: Rows) -> float:
    """What the periods' temperatures differ by where the climate alone tells them."""
    means = [rows.temperature_c[(rows.unlogged > 0) & (rows.after == late)] for late in (0.0, 1.0)]
    return float(means[1].mean() - means[0].mean()) if min(map(len, means)) else 0.0


def set_apart(joined: pl.DataFrame) -> dict[str, float]:
    """Road left out of the comparison by the reason for it, in words [km]."""
    sums = (
        joined.select("mark", way=pl.coalesce("distance_m", "indicated_m"))
        .filter(pl.col("mark").is_not_null())
        .group_by("mark", maintain_order=True)
        .agg(pl.col("way").sum() / 1000)
        .sort("mark")
    )
    return {mark.replace("-", " "): km for mark, km in sums.iter_rows()}


def missing_under_load(joined: pl.DataFrame) -> float:
    """The share of the climbing and speeding up without fuel, among trips that log it, of the side
    with more: 0 where what lacks it asks for no more a metre than the rest, as by chance."""
    gained = pl.col("end_speed_mps") ** 2 - pl.col("start_speed_mps") ** 2
    rise = pl.col("end_altitude_m") - pl.col("altitude_m")
    asked = (STANDARD_GRAVITY_MPS2 * rise.fill_null(0.0) + gained.fill_null(0.0) / 2).clip(0.0)
    logged = pl.col("fuel_l").is_not_null()
    sides = (
        joined.filter(logged.any().over("trip"))
        .group_by("side", logged.alias("logged"), maintain_order=True)
        .agg(asked.sum().alias("work"), pl.col("distance_m").sum())
        .pivot("logged", index="side", values=["work", "distance_m"])
    )
    if "work_false" not in sides.columns or "work_true" not in sides.columns:
        return 0.0
    steeper = pl.col("work_false") / pl.col("distance_m_false") > UNDER_LOAD * (
        pl.col("work_true") / pl.col("distance_m_true")
    )
    share = pl.col("work_false") / (pl.col("work_false") + pl.col("work_true"))
    found = sides.filter(steeper).select(share.max()).item()
    return found if isinstance(found, float) else 0.0


def facts_of(
    study: Study,
    joined: pl.DataFrame,
    days: pl.DataFrame,
    rows: Rows | None,
    air: AirTemperature | None,
    table: Table | None,
    fillups: pl.DataFrame | None,
    weather: pl.DataFrame | None,
    logged_s: BySide[float],
) -> Facts:
    """What the rules look at; `days` are those compared, `rows` and `table` None where no step can
    be."""
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
        logged_s=logged_s,
        steps_s=usual_interval_s(joined),
        engine=same_engine(joined),
        missing_under_load=missing_under_load(joined),
    )
