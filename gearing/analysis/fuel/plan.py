"""Before the change: how much to drive for a claim to show."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.fuel.days import day_levels, make_table, shrinkage_of
from gearing.analysis.fuel.learn import learn
from gearing.analysis.fuel.model import Plan
from gearing.analysis.fuel.physics import demand
from gearing.analysis.fuel.ranges import ranges_of
from gearing.analysis.fuel.wind import with_wind
from gearing.messages import Quantity, message
from gearing.statistics.power import more_units

if TYPE_CHECKING:
    import polars as pl

    from gearing.analysis.fuel.rows import Rows
    from gearing.study.model import Study

# what physics leaves open between periods of like weather, in logarithms
PHYSICS_ERROR = 0.004
PERSISTENCE_FACTOR = 1.4  # days resemble each other: error of a mean against independent days


def plan_of(study: Study, days: pl.DataFrame, rows: Rows | None) -> Plan | None:
    """Days before and after, alike in number, at which half the claim (2 % without one) is the
    smallest detectable change; from the scatter of the days driven so far."""
    days = days.drop_nulls("true_m")
    if days.height < 3:
        return None
    claim = study.claim.consumption_change_percent if study.claim else -4.0
    goal = message("plan-goal/claim" if study.claim else "plan-goal/usual")
    logs = np.log(days["liters"].to_numpy() / days["true_m"].to_numpy())
    if rows is not None and rows.count:
        table = make_table(rows)
        counts = (days.height, days.height)
        learned = learn(rows, lambda left, _: ranges_of(study, days=counts, wind_left=left))
        asked = table.sums(demand(with_wind(rows, learned.wind), learned.ranges, learned.theta))
        levels = day_levels(table, asked, shrinkage=shrinkage_of(table, asked))
        logs = levels[np.isfinite(levels)]
    scatter = float(np.std(logs, ddof=1)) * PERSISTENCE_FACTOR
    target = math.log1p(abs(claim) / 200)
    per_day_km = float(days["true_m"].mean()) / 1000  # type: ignore[arg-type]
    needed = _days_a_side(scatter, target)
    if needed is None:
        text = message("plan/none-enough", scatter=Quantity(100 * scatter, "%", 1), goal=goal)
        return Plan(claim, None, None, 100 * scatter, text)
    more = max(0, needed - days.height)
    text = message("plan/days", goal=goal, days=needed, driven=days.height)
    return Plan(claim, more * per_day_km, needed * per_day_km, 100 * scatter, text)


def _days_a_side(scatter: float, target: float) -> int | None:
    for n in range(4, 2000):
        if more_units(scatter, n, scatter, n, target, floor_error=PHYSICS_ERROR, most=1.0) == 0.0:
            return n
    return None
