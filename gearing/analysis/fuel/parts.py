"""What the change from indicated to adjusted is made of; the parts add up in logarithms.

One influence after the other is made alike on both sides in the prediction, always in the
order below, and what the predicted change loses is that influence's part.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from gearing.analysis.fuel.model import Part
from gearing.analysis.fuel.physics import demand
from gearing.analysis.fuel.ranges import Ranges
from gearing.messages import message
from gearing.statistics.arrays import sum_by
from gearing.statistics.comparison import percent

if TYPE_CHECKING:
    from gearing.analysis.fuel.compare import Compared
    from gearing.analysis.fuel.model import ChangePercent
    from gearing.analysis.fuel.rows import Rows
    from gearing.analysis.sides import BySide
    from gearing.statistics.arrays import Array, Index
    from gearing.statistics.estimate import Estimate

_TEXT = {
    "distance": message("part/distance"),
    "stops": message("part/stops"),
    "temperature": message("part/temperature"),
    "air": message("part/air"),
    "load": message("part/load"),
    "grade": message("part/grade"),
    "speed_from_dash": message("part/speed-from-dash"),
    "speed": message("part/speed"),
    "rest": message("part/rest"),
}

# what of a step is set to the mean of all, and what to nothing, to make an influence alike
_ALIKE: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "temperature": (("temperature_c",), ("season", "unlogged")),
    "air": (("density", "wind_spread"), ("head_mps", "cross_mps")),
    "load": (("mass_kg",), ()),
    "grade": ((), ("grade",)),
}


def parts_of(
    compared: Compared, change: ChangePercent, odometer: BySide[Estimate]
) -> tuple[Part, ...]:
    """The parts in order; none where a change they lie between is not known."""
    adjusted, true = compared.adjusted, compared.true_distance
    indicated, moving = compared.indicated, compared.moving
    if adjusted is None or indicated is None or true is None or moving is None:
        return ()
    if change.adjusted.value is None or change.indicated.value is None:
        return ()
    rows, days = adjusted.rows, adjusted.compared
    ranges, theta = adjusted.learned.ranges, adjusted.learned.theta
    before, after = odometer.before.value, odometer.after.value
    factor_change = math.log(after / before) if before and after else None
    logs = {"distance": indicated.value - true.value, "stops": true.value - moving.value}
    alike = rows
    previous = _predicted(alike, ranges, theta, days)
    for name in _ALIKE:
        alike = _made_alike(alike, name)
        now = _predicted(alike, ranges, theta, days)
        logs[name] = previous - now
        previous = now
    dash = _from_dash(alike, ranges, theta, days, factor_change)
    logs["speed_from_dash"] = dash
    logs["speed"] = previous - dash
    told = math.log1p(change.adjusted.value / 100)
    logs["rest"] = indicated.value - told - sum(logs.values())
    return tuple(Part(name, percent(log), log, _TEXT[name]) for name, log in logs.items())


def _predicted(rows: Rows, ranges: Ranges, theta: Array, days: Index) -> float:
    """Predicted change of consumption, mean of days, in logarithms."""
    count = len(rows.days)
    asked = sum_by(rows.day, demand(rows, ranges, theta), count)
    way = sum_by(rows.day, rows.distance_m, count)
    after = rows.is_after
    log = np.log(asked[days] / way[days])
    return float(log[after[days]].mean() - log[~after[days]].mean())


def _made_alike(rows: Rows, name: str) -> Rows:
    mean, nothing = _ALIKE[name]
    level: dict[str, Any] = {one: np.full(rows.count, getattr(rows, one).mean()) for one in mean}
    return replace(rows, **level | {one: np.zeros(rows.count) for one in nothing})


def _from_dash(
    rows: Rows, ranges: Ranges, theta: Array, days: Index, factor_change: float | None
) -> float:
    """The part of the speed's that follows from the odometer factor's change.

    As far as true cruising speed rose by no more than the factor did, the driver kept to the
    dash; the predicted change for that much speed is taken.
    """
    if not factor_change:
        return 0.0
    cruise = rows.speed_mps > 0.6 * np.quantile(rows.speed_mps, 0.9)
    mean = [
        float(np.average(rows.speed_mps[k], weights=rows.distance_m[k]))
        for k in (cruise & (rows.after == 0), cruise & (rows.after == 1))
        if k.any()
    ]
    if len(mean) < 2:
        return 0.0
    rise = math.log(mean[1] / mean[0])
    followed = min(max(rise, min(0.0, factor_change)), max(0.0, factor_change))
    slower = _at_speed(rows, math.exp(-followed))
    return _predicted(rows, ranges, theta, days) - _predicted(slower, ranges, theta, days)


def _at_speed(rows: Rows, scale: float) -> Rows:
    """The after side driven at another speed throughout."""
    by = np.where(rows.after > 0, scale, 1.0)
    return replace(
        rows,
        speed_mps=rows.speed_mps * by,
        speed_squared=rows.speed_squared * by**2,
        start_square=rows.start_square * by**2,
        end_square=rows.end_square * by**2,
        moving_s=rows.moving_s / by,
        usual_revolutions=rows.usual_revolutions * by,
    )
