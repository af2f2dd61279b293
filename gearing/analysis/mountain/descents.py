"""The long way down: what each descent asks of gears, retarder and service brakes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.mountain.descent_figures import (
    BrakeTemperature,
    DescentSide,
    GearsDown,
    LongDescent,
    Range,
)
from gearing.analysis.mountain.draws import holding
from gearing.analysis.mountain.driven import JOULE_PER_KWH, steepest
from gearing.analysis.mountain.figures import STEEP_DESCENT_M, hold_down
from gearing.analysis.mountain.verdict import CARE_SHARE, CARE_STOPS
from gearing.messages import Items, Quantity, Span, message
from gearing.units import convert
from gearing.vehicle.brake_temperature import LIMIT_F, SETS, along_road_c, emergency_stop_f

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gearing.analysis.mountain.draws import Draws
    from gearing.analysis.mountain.driven import Driven
    from gearing.analysis.mountain.sections import Stretch
    from gearing.messages import Message, Text
    from gearing.statistics.arrays import Array
    from gearing.vehicle.road import Road

LIMIT_C = (LIMIT_F - 32) / 1.8
K_PER_F = 5 / 9


def long_descents(
    draws: Draws, road: Road, driven: Mapping[str, Driven], stretches: tuple[Stretch, ...]
) -> tuple[LongDescent, ...]:
    """Every descent among the stretches of one way, with the figures of `before` and `after`."""
    falls = [one for one in stretches if not one.climbs]
    if not falls:
        return ()
    heat = {side: _temperatures(draws, one) for side, one in driven.items()}

    def side_of(side: str, stretch: Stretch) -> DescentSide | None:
        if side not in driven:
            return None
        return _side(draws, side, driven[side], stretch, heat[side])

    return tuple(
        _descent(road, one, side_of("before", one), side_of("after", one)) for one in falls
    )


def cares_down(
    draws: Draws, key: str, driven: Driven, stretches: tuple[Stretch, ...]
) -> list[Text]:
    """What asks for care on each descent among the stretches, on one set of tires of `draws`."""
    falls, heat = [one for one in stretches if not one.climbs], _temperatures(draws, driven)
    return [told for one in falls for told in _side(draws, key, driven, one, heat).care]


def _descent(
    road: Road, stretch: Stretch, before: DescentSide | None, after: DescentSide | None
) -> LongDescent:
    grade, piece = steepest(road, STEEP_DESCENT_M, -1, stretch.first, stretch.last)
    first, last = _ends_km(road, stretch)
    return LongDescent(
        from_km=first,
        to_km=last,
        length_km=stretch.length_m / 1000,
        drop_m=-stretch.rise_m,
        mean_grade_percent=-stretch.mean_grade * 100,
        steepest_percent=-grade * 100,
        wanted_kmh=float(road.limit_mps[piece + 1] * 3.6),
        before=before,
        after=after,
    )


def _ends_km(road: Road, stretch: Stretch) -> tuple[float, float]:
    edge = road.edge_m
    return float(edge[stretch.first] / 1000), float(edge[stretch.last + 1] / 1000)


def _side(
    draws: Draws, side: str, driven: Driven, stretch: Stretch, heat: list[Array]
) -> DescentSide:
    road, rows = driven.road, slice(stretch.first, stretch.last + 1)
    _, piece = steepest(road, STEEP_DESCENT_M, -1, stretch.first, stretch.last)
    downgrade = -driven.steepest(STEEP_DESCENT_M, -1, stretch.first, stretch.last)
    wanted, altitude = float(road.limit_mps[piece + 1]), float(road.altitude_m[piece])
    on = _gears_down(draws, side, altitude, downgrade, wanted)
    has_retarder = draws.inputs.powertrain.engine.retarder is not None
    off = _gears_down(_retarder_off(draws), side, altitude, downgrade, wanted)
    work = (driven.service_brake_n[rows] * road.step_m[rows, None]).sum(axis=0, dtype=np.float64)
    seconds = float(driven.duration_s[rows].sum(axis=0, dtype=np.float64).mean())
    mass = draws.values["mass_kg"]
    stops = float(np.quantile(driven.stops(work, mass), 1 - CARE_SHARE))
    kwh = work / JOULE_PER_KWH
    temperature = _hottest(driven, rows, heat, mass) if heat else None
    at = Span(*_ends_km(road, stretch), "km", 1)
    unheld = _unheld(on, wanted * 3.6, at)
    care = (*unheld, *_braking(stops, driven.stop_mps * 3.6, at), *_hot(temperature, at))
    low, high = np.percentile(kwh, [2.5, 97.5])
    return DescentSide(
        retarder_on=on,
        retarder_off=off if has_retarder else None,
        minutes=seconds / 60,
        brake_kwh=float(kwh.mean()),
        brake_kwh_spread=Range(low=float(low), high=float(high)),
        brake_kw=float(work.mean()) / seconds / 1000,
        brake_kw_highest=_highest_kw(driven, rows),
        brake_stops=stops,
        brake_temperature_c=temperature,
        brake_temperature_c_why=draws.inputs.no_brake_temperature,
        care=care,
    )


def _retarder_off(draws: Draws) -> Draws:
    none = {"retarder_factor": np.zeros(draws.count)}
    return replace(draws, values=draws.values | none)


def _gears_down(
    draws: Draws, side: str, altitude_m: float, downgrade: Array, wanted_mps: float
) -> GearsDown:
    held = holding(draws, side, altitude_m)
    down = hold_down(held, downgrade, wanted_mps)
    gears = range(len(held.powertrain.gear_ratios))
    holds = np.stack([held.downgrade_held(wanted_mps, gear) >= downgrade for gear in gears])
    return GearsDown(
        held_by_gear_kmh=down.by_gear_kmh,
        gear=down.gear,
        unheld_share=float(1 - holds.any(axis=0).mean()),
    )


def _highest_kw(driven: Driven, rows: slice) -> float:
    """The service brakes' highest mean power [kW] over 500 m, the mean of the draws."""
    edge = driven.road.edge_m[rows.start : rows.stop + 1]
    work = (driven.service_brake_n[rows]).mean(axis=1, dtype=np.float64) * driven.road.step_m[rows]
    seconds = driven.duration_s[rows].mean(axis=1, dtype=np.float64)
    done, clock = (np.concatenate([[0.0], np.cumsum(one)]) for one in (work, seconds))
    window = min(STEEP_DESCENT_M, float(edge[-1] - edge[0]))
    starts = edge[edge <= edge[-1] - window + 1e-6]
    ends = starts + window
    gained = np.interp(ends, edge, done) - np.interp(starts, edge, done)
    passed = np.interp(ends, edge, clock) - np.interp(starts, edge, clock)
    return float((gained / passed).max()) / 1000


def _temperatures(draws: Draws, driven: Driven) -> list[Array]:
    """Temperature along the road [degC] by each published set, none outside the model's class."""
    if draws.inputs.no_brake_temperature is not None:
        return []
    force = driven.service_brake_n.astype(np.float64)
    speed = driven.speed_mps.astype(np.float64)
    return [along_road_c(one, force, speed, driven.road.step_m) for one in SETS]


def _hottest(driven: Driven, rows: slice, heat: list[Array], mass_kg: Array) -> BrakeTemperature:
    pounds, mph = convert(1.0, "kg", "lb") * mass_kg, convert(1.0, "m/s", "mph")
    stop = K_PER_F * emergency_stop_f(pounds, mph * driven.speed_mps[rows])
    alone = np.stack([one[rows].max(axis=0) for one in heat])
    stopped = np.stack([(one[rows] + stop).max(axis=0) for one in heat])
    ends = [np.percentile(one, [2.5, 97.5], axis=1) for one in (alone, stopped)]
    (low, high), (with_low, with_high) = ((float(e[0].min()), float(e[1].max())) for e in ends)
    return BrakeTemperature(
        low=low,
        high=high,
        with_stop_low=with_low,
        with_stop_high=with_high,
        limit=LIMIT_C,
        source=message("brake-model"),
    )


def _unheld(on: GearsDown, wanted_kmh: float, at: Span) -> list[Message]:
    """That no gear holds a descent at the speed wanted; what the highest gear holds that does so
    at a lower one in the middle case, and the highest that does in nearly all."""
    if on.unheld_share <= CARE_SHARE:
        return []
    wanted, share = Quantity(wanted_kmh, "km/h"), round(100 * on.unheld_share)
    held = {int(g): kmh for g, kmh in on.held_by_gear_kmh.items() if kmh and kmh < wanted_kmh}
    lower: list[Message] = []
    if on.gear in held:
        lower.append(message("gear-holds", gear=on.gear, speed=Quantity(held[on.gear], "km/h")))
    if (highest := max(held, default=on.gear)) is not None and highest != on.gear:
        speed = Quantity(held[highest], "km/h")
        lower.insert(0, message("gear-holds/middle", gear=highest, speed=speed))
    if not lower:
        return [message("descent-unheld", wanted=wanted, at=at, share=share)]
    told = Items(tuple(lower))
    return [message("descent-unheld/lower", wanted=wanted, at=at, share=share, lower=told)]


def _braking(stops: float, from_kmh: float, at: Span) -> list[Message]:
    if stops <= CARE_STOPS:
        return []
    full, speed = Quantity(stops, "-", 1), Quantity(from_kmh, "km/h")
    return [message("descent-braking", at=at, stops=full, speed=speed)]


def _hot(found: BrakeTemperature | None, at: Span) -> list[Message]:
    if found is None or found.with_stop_high <= found.limit:
        return []
    highest, limit = Quantity(found.with_stop_high, "degC"), Quantity(found.limit, "degC")
    return [message("descent-hot", at=at, highest=highest, limit=limit)]
