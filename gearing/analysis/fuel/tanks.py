"""Did consumption change, from the fill-up log alone: the answer, and how many more tanks it takes.

The figure is per true distance, with the season taken out, and with what other roads and speeds
cost: as drives logged by a receiver show it, else as driving by a dash that reads low may have
done, for whoever follows it drives faster on larger tires. What no tank shows goes into the
interval: how far roads, loads and traffic of the two periods differ, and whether the driver
follows the dash.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from gearing.analysis.fuel import rules
from gearing.analysis.fuel.model import TankFinding
from gearing.analysis.fuel.tank_model import (
    Climate,
    TankPosterior,
    TankUnits,
    fit_tanks,
    planned_error,
    together,
)
from gearing.analysis.fuel.verdict import FEWEST_DAYS
from gearing.analysis.sides import SIDES, BySide
from gearing.messages import Text, message
from gearing.messages.fields import Quantity
from gearing.statistics.comparison import percent
from gearing.statistics.estimate import NORMAL_95, Estimate, unknown

if TYPE_CHECKING:
    import polars as pl
    from numpy.typing import NDArray

    from gearing.analysis.fuel.driving import Driving
    from gearing.analysis.fuel.fillups import Tanks
    from gearing.statistics.arrays import Array
    from gearing.study.model import Study

# by how much roads, loads and traffic of two periods differ, in ln of consumption: common
# practice, no source
DRIVING_ERROR = 0.005
# of what the dash reads low, the share that comes back as fuel: none where the driver goes with
# the traffic, up to 0.8 where he follows the dash, for air takes up to half the work of a fast
# heavy vehicle and grows as the square of speed. Mean and deviation of anything between, alike
# likely; the sample bus, whose driver follows it, loses 0.76
BY_THE_DASH = (0.4, 0.8 / math.sqrt(12))
FEWEST_TANKS = 2
MAX_MORE = 512
COLDEST_NORTH, COLDEST_SOUTH = (1, 17), (7, 17)  # month and day: climate normals, from memory
_NORMAL_80 = 0.8416212335729143
MIN_REACHED = 0.9  # of each tank's days that the weather file must reach


@dataclass(frozen=True, slots=True)
class TankDistance:
    """True over indicated distance of each side as far as tanks need it: `after` against
    `before` is known as well as `after`'s interval says. `basis`: what tells it."""

    odometer: BySide[Estimate]
    basis: Text
    told: bool = True  # else the odometer is taken as it is

    @property
    def error(self) -> float:
        """Standard error of what the sides' distances stand to one another, in logarithms."""
        return math.hypot(*(_relative_error(self.odometer.of(side)) for side in SIDES))

    @property
    def known(self) -> bool:
        """Whether something tells how the sides' distances stand to one another."""
        return self.told and self.odometer.before.known and self.odometer.after.known

    def corrected(self, by_dash: Estimate) -> Estimate:
        """A change by indicated distance [%] as one by true distance."""
        scale = math.exp(-self.shift)
        change = by_dash.map(lambda p: 100 * ((1 + p / 100) * scale - 1))
        return replace(change, method="indicated-put-right").widened(100 * self.error)

    @property
    def shift(self) -> float:
        """ln of the after side's factor over the before side's."""
        before, after = self.odometer.before.value, self.odometer.after.value
        return math.log(after / before) if before and after else 0.0


def tank_distance(odometer: BySide[Estimate], relative: Estimate, by: Text) -> TankDistance:
    """What puts the odometer right between fills: measured factors, else the `relative` one
    (after over before) and what it rests on, the odometer taken as right on the old tires."""
    before, after = odometer.before, odometer.after
    if before.known and after.known:
        return TankDistance(odometer, message("odometer-by/measured"))
    if relative.value is None:
        one = Estimate(1.0, 1.0, 1.0, None, "as shown")
        alone = BySide(before if before.known else one, after if after.known else one)
        return TankDistance(alone, by, told=False)
    anchor = before.value or (after.value / relative.value if after.value else 1.0)
    exact = Estimate(anchor, anchor, anchor, None, "as shown")
    return TankDistance(BySide(exact, relative.map(lambda k: anchor * k)), by)


@dataclass(frozen=True, slots=True)
class TankAnswer:
    """The change with its interval [%], and what `results.json` holds of it."""

    change: Estimate
    finding: TankFinding
    fewest: int  # tanks on the shorter side
    posterior: TankPosterior | None = field(default=None, repr=False)


def tank_answer(
    tanks: Tanks,
    distance: TankDistance,
    climate: Climate,
    *,
    target_percent: float,
    driving: Driving | None = None,
) -> TankAnswer:
    """The change, by what is known of distance, climate and driving."""
    units = tanks.units()
    late = units.after > 0
    counts = BySide(int((~late).sum()), int(late.sum()))
    rates = BySide(_rate(units, ~late), _rate(units, late))
    fewest = min(counts.before, counts.after)
    if fewest < FEWEST_TANKS:
        why = message("too-few-tanks", before=counts.before, after=counts.after)
        following = message("tanks-to-judge", least=FEWEST_DAYS, lacking=FEWEST_DAYS - fewest)
        action = _action(None, fewest, distance)
        if not fewest and max(counts.before, counts.after) >= FEWEST_DAYS:
            action = message("tanks-action/other-side", after=not counts.after)
        return _no_answer(counts, rates, distance, why, following, action)
    if not distance.known:  # as shown would be as sure as it is wrong
        action = message("tanks-action/tires")
        return _no_answer(counts, rates, distance, distance.basis, distance.basis, action)
    driven = _driven(distance, driving)
    found = fit_tanks(*_fewer(units, climate), _shared_error(distance, driving))
    contrast, posterior = found.change_contrast, found.posterior
    middle = posterior.moments(contrast)[0] - driven
    low, high = (posterior.quantile(contrast, tail) - driven for tail in (0.025, 0.975))
    change = Estimate(percent(middle), percent(low), percent(high), units.count, "full-tanks")
    if rules.implausible(change) is not None:
        why = message("change-implausible/tanks", times=Quantity(math.exp(middle), "-", 2))
        following, action = message("tanks-mend-units"), message("tanks-action/units")
        return _no_answer(counts, rates, distance, why, following, action)
    half = (high - low) / 2
    smallest = percent(half * (1 + _NORMAL_80 / NORMAL_95))
    more, never = _more(found, half, target_percent, distance)
    finding = TankFinding(
        counts,
        rates,
        found.filling_error_l,
        found.season_percent,
        percent(driven),
        percent(float(np.sum(posterior.weight * posterior.sigma))),
        smallest,
        more,
        never,
        distance.basis,
        _next(more, fewest, target_percent) or never or "",
        _action(more, fewest, distance),
    )
    return TankAnswer(change, finding, fewest, found)


def _no_answer(
    counts: BySide[int],
    rates: BySide[float | None],
    distance: TankDistance,
    why: Text,
    following: Text,
    action: Text,
) -> TankAnswer:
    """The tanks there are, and why they tell no change."""
    fewest = min(counts.before, counts.after)
    finding = TankFinding(
        counts, rates, None, None, None, None, None, None, why, distance.basis, following, action
    )
    return TankAnswer(unknown(why), finding, fewest)


def _action(more: int | None, fewest: int, distance: TankDistance) -> Text:
    if fewest < FEWEST_DAYS or more:
        wanted = max(more or 0, FEWEST_DAYS - fewest)
        return message("tanks-action/fill", tanks=wanted)
    if more == 0:
        return ""
    measured = (1 + BY_THE_DASH[0]) * distance.error < DRIVING_ERROR
    return message("tanks-action/fuel" if measured else "tanks-action/distance")


def _next(more: int | None, fewest: int, target_percent: float) -> Text | None:
    lacking = FEWEST_DAYS - fewest
    if lacking > (more or 0):
        return message("tanks-to-judge", least=FEWEST_DAYS, lacking=lacking)
    if more is None:
        return None
    if not more:
        return message("tanks-enough", target=Quantity(target_percent, "%", 1))
    return message("tanks-more", more=more, target=Quantity(target_percent, "%", 1))


def _driven(distance: TankDistance, driving: Driving | None) -> float:
    """What other roads and speeds cost, in ln: as logged, and for the rest as a driver by the
    dash may have driven."""
    by_dash = BY_THE_DASH[0] * distance.shift
    if driving is None:
        return by_dash
    return driving.share * driving.log + (1 - driving.share) * by_dash


def _shared_error(distance: TankDistance, driving: Driving | None) -> float:
    """What no further tank takes away. An error of the distance moves the driver's part with it."""
    share = 0.0 if driving is None else driving.share
    logged = 0.0 if driving is None else share * driving.error
    by_distance = (1 + (1 - share) * BY_THE_DASH[0]) * distance.error
    unsure = (1 - share) * BY_THE_DASH[1] * distance.shift
    return math.hypot(by_distance, DRIVING_ERROR, unsure, logged)


def _rate(units: TankUnits, kept: NDArray[np.bool_]) -> float | None:
    way = float(units.distance_m[kept].sum())
    return 1e5 * float(units.volume_l[kept].sum()) / way if way else None


def _fewer(units: TankUnits, climate: Climate) -> tuple[TankUnits, Climate]:
    """Very many tanks taken together, with their temperatures by where their middle falls."""
    fewer = together(units)
    if climate.temperature_c is None or fewer.count == units.count:
        return fewer, climate
    middle = 0.5 * (units.start_s + units.end_s)
    now = 0.5 * (fewer.start_s + fewer.end_s)
    return fewer, Climate(climate.coldest_s, np.interp(now, middle, climate.temperature_c))


def _more(
    found: TankPosterior, half: float, target_percent: float, distance: TankDistance
) -> tuple[int | None, Text | None]:
    """More tanks on the new tires until a change of the target would show; None, with why, where
    no number is enough."""
    reach = NORMAL_95 + _NORMAL_80
    target = math.log1p(target_percent / 100)
    if half / NORMAL_95 * reach <= target:
        return 0, None
    if reach * found.shared_error >= target:
        wanted = Quantity(target_percent, "%", 1)
        left = Quantity(100 * reach * found.shared_error, "%", 1)
        if (1 + BY_THE_DASH[0]) * distance.error > found.shared_error / 2:
            return None, message("tanks-never/distance", target=wanted, left=left)
        return None, message("tanks-never", target=wanted, left=left)
    more = 1
    while reach * planned_error(found, more) > target:
        more *= 2
        if more > MAX_MORE:
            return None, message(
                "tanks-old-side",
                target=Quantity(target_percent, "%", 1),
                before=int((found.units.after == 0).sum()),
            )
    low, high = more // 2, more
    while high - low > max(1, high // 16):
        middle = (low + high) // 2
        if reach * planned_error(found, middle) > target:
            low = middle
        else:
            high = middle
    return high, None


def climate_of(
    study: Study, steps: pl.DataFrame, weather: pl.DataFrame | None, tanks: Tanks
) -> Climate:
    """When it is coldest, by where the vehicle is, and the temperature of each tank, where a
    weather file reaches them all."""
    north = _northern(study, steps)
    coldest = None
    if north is not None:
        month, day = COLDEST_NORTH if north else COLDEST_SOUTH
        coldest = datetime(2000, month, day, tzinfo=UTC).timestamp()
    return Climate(coldest, _temperatures(weather, tanks.units()))


def _northern(study: Study, steps: pl.DataFrame) -> bool | None:
    """By the tracks' latitude, else by when the time zone has its summer time; None: unknown."""
    latitude = steps["latitude_deg"].median() if steps.height else None
    if isinstance(latitude, float) and abs(latitude) > 15:
        return latitude > 0
    zone = ZoneInfo(study.time_zone)
    january, july = (datetime(2024, month, 1, tzinfo=zone).utcoffset() for month in (1, 7))
    if january is None or july is None or january == july:
        return None
    return july > january


def _temperatures(weather: pl.DataFrame | None, units: TankUnits) -> Array | None:
    """Mean of the weather file's days in each tank [degC]; None where it does not reach all."""
    if weather is None or "ambient_temperature_c" not in weather.columns or not units.count:
        return None
    known = weather.drop_nulls("ambient_temperature_c").sort("time")
    if known.is_empty():
        return None
    clock = known["time"].dt.epoch("s").to_numpy().astype(np.float64)
    warmth = known["ambient_temperature_c"].to_numpy()
    days = np.floor(clock / 86_400)
    means = []
    for start, end in zip(units.start_s, units.end_s, strict=True):
        inside = (clock >= start) & (clock < max(end, start + 86_400))
        span = max((end - start) / 86_400, 1.0)
        if len(np.unique(days[inside])) < MIN_REACHED * span:
            return None
        means.append(float(warmth[inside].mean()))
    return np.array(means)


def _relative_error(factor: Estimate) -> float:
    if factor.figures is None:
        return 0.0
    value, low, high = factor.figures
    return (high - low) / (2 * NORMAL_95 * value)
