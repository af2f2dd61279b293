"""Gear by gear: steepest grades held up and down, setting off, and level cruise."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from gearing.analysis.mountain.draws import Draws, holding
from gearing.analysis.mountain.result import Cruise, GearGrades, GearHolds, HillSpeed
from gearing.analysis.sides import BySide
from gearing.messages import message
from gearing.statistics.estimate import Estimate, unknown

if TYPE_CHECKING:
    from gearing.statistics.arrays import Array
    from gearing.study.model import Side
    from gearing.vehicle.climb import Holding

SPEEDS_KMH = (50.0, 80.0, 90.0, 105.0)
CURVE_KMH = tuple(float(kmh) for kmh in range(10, 135, 5))  # where a gear's line is drawn
HILLS_PERCENT = (2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0)
METHOD = "road-model-draws"
NO_SPEED = message("gear-without-speed")
NO_TIRES = message("turns-unknown")


def over_draws(values: Array, count: int, scale: float = 1.0) -> Estimate:
    """The central draw's figure with the 95 % range of all draws that have one."""
    known = values[np.isfinite(values)]
    if not np.isfinite(values[0]):
        return unknown(NO_SPEED)
    low, high = np.percentile(known * scale, [2.5, 97.5])
    value = float(values[0] * scale)
    return Estimate(value, min(float(low), value), max(float(high), value), count, METHOD)


def of_gears(draws: Draws, speeds_kmh: tuple[float, ...], altitude_m: float) -> dict[str, Any]:
    """All that the answer tells of gears, engine and level road, at an altitude [m], by its key."""
    engine = draws.inputs.powertrain.engine
    return {
        "startability_percent": startability(draws, altitude_m),
        "gears": gear_grades(draws, altitude_m),
        "gears_altitude_m": altitude_m,
        "hills": hill_speeds(draws, altitude_m),
        "cruise": cruise(draws, speeds_kmh, altitude_m),
        "peak_power_kw": engine.peak_power_w / 1000,
        "lugging_rpm": engine.lugging_rpm,
        "peak_torque_rpm": engine.peak_torque_rpm,
        "efficient_rpm": engine.efficient_rpm,
    }


def startability(draws: Draws, altitude_m: float) -> BySide[Estimate]:
    """Steepest upgrade [%] the lowest gear sets off on, at an altitude [m]."""

    def one(side: Side) -> Estimate:
        if side not in draws.sides:
            return unknown(NO_TIRES)
        return over_draws(holding(draws, side, altitude_m).startability(), draws.count - 1, 100)

    return BySide(one("before"), one("after"))


def gear_grades(draws: Draws, altitude_m: float) -> tuple[GearGrades, ...]:
    """What every gear holds before and after, at an altitude [m]."""
    held = {side: holding(draws, side, altitude_m) for side in draws.sides}
    ratios = draws.inputs.powertrain.gear_ratios
    return tuple(
        GearGrades(
            gear=number + 1,
            ratio=ratio,
            before=_gear(held.get("before"), number, draws.count - 1),
            after=_gear(held.get("after"), number, draws.count - 1),
        )
        for number, ratio in enumerate(ratios)
    )


def hill_speeds(draws: Draws, altitude_m: float) -> tuple[HillSpeed, ...]:
    """Steady speeds on long grades of 2 to 8 %, central figures, at an altitude [m]."""
    central = draws.central()
    held = {side: holding(central, side, altitude_m) for side in draws.sides}

    def one(side: Side, percent: float) -> tuple[float | None, int | None]:
        """Speed held [km/h] and gear on a grade [%]; None where no gear holds."""
        if side not in held:
            return None, None
        speed, gear = held[side].climbing_speed(percent / 100, points=100)
        if not np.isfinite(speed[0]):
            return None, None
        return float(speed[0] * 3.6), int(gear[0]) + 1

    rows = []
    for percent in HILLS_PERCENT:
        before, after = one("before", percent), one("after", percent)
        rows.append(
            HillSpeed(
                grade_percent=percent,
                before_kmh=before[0],
                before_gear=before[1],
                after_kmh=after[0],
                after_gear=after[1],
            )
        )
    return tuple(rows)


def _gear(held: Holding | None, gear: int, count: int) -> GearHolds | None:
    if held is None:
        return None
    grade, speed = held.gradeability(gear)
    best = over_draws(grade, count, 100)
    return GearHolds(
        gradeability_percent=best,
        at_kmh=float(speed[0] * 3.6) if best.known else None,
        engine_rpm=float(held.rpm(speed, gear)[0]) if best.known else None,
        up_percent={_key(v): _percent(held.grade_held(v / 3.6, gear)) for v in SPEEDS_KMH},
        down_percent={_key(v): _percent(held.downgrade_held(v / 3.6, gear)) for v in SPEEDS_KMH},
        sustained_percent={
            _key(v): percent
            for v in CURVE_KMH
            if (percent := _percent(held.grade_held(v / 3.6, gear))) is not None
        },
    )


def _key(speed_kmh: float) -> str:
    return f"{speed_kmh:.0f}"


def _percent(grade: Array) -> float | None:
    value = float(grade[0] * 100)
    return value if np.isfinite(value) else None


def cruise(
    draws: Draws, speeds_kmh: tuple[float, ...], altitude_m: float
) -> BySide[tuple[Cruise, ...]]:
    """Level road in top gear at each speed, before and after; central figures."""

    def one(side: Side) -> tuple[Cruise, ...]:
        if side not in draws.sides:
            return ()
        held = holding(draws, side, altitude_m)
        rows = (cruise_at(held, speed / 3.6) for speed in speeds_kmh)
        return tuple(row for row in rows if row is not None)

    return BySide(one("before"), one("after"))


def cruise_at(held: Holding, speed_mps: float) -> Cruise | None:
    """The highest gear that the engine can run at this speed and whose force suffices."""
    powertrain, engine = held.powertrain, held.powertrain.engine
    level = held.load.rolling * held.load.weight_n + held.load.air_n(
        np.full(held.turns.shape, speed_mps)
    )
    for gear in reversed(range(len(powertrain.gear_ratios))):
        rpm = float(held.rpm(speed_mps, gear)[0])
        effort = float(held.effort_n(np.full(held.turns.shape, speed_mps), gear)[0])
        points = powertrain.shift_points
        if not np.isfinite(effort) or effort < level[0] or rpm < points.down_light[gear]:
            continue
        return Cruise(
            speed_kmh=speed_mps * 3.6,
            gear=gear + 1,
            engine_rpm=rpm,
            load_percent=float(level[0] / effort * 100),
            below_peak_torque=rpm < engine.peak_torque_rpm[0],
            lugging=rpm < engine.lugging_rpm,
            in_efficient_band=engine.efficient_rpm[0] <= rpm <= engine.efficient_rpm[1],
            headwind_for_downshift_kmh=_headwind(held, gear, rpm, effort, speed_mps),
        )
    return None


def _headwind(
    held: Holding, gear: int, rpm: float, effort: float, speed_mps: float
) -> float | None:
    """Headwind [km/h] at which the load calls for the next lower gear; None above 150."""
    points = held.powertrain.shift_points
    light, full = points.down_light[gear], points.down_full[gear]
    # the load at which this engine speed becomes the downshift point
    share = 1.0 if full <= light else min(max((rpm - light) / (full - light), 0.0), 1.0)
    limit = share * effort - float((held.load.rolling * held.load.weight_n)[0])
    half = 0.5 * float(held.load.density_kgpm3[0]) * float(held.load.drag_area_m2[0])
    if limit <= 0 or gear == 0:
        return None
    wind: float = ((limit / half) ** 0.5 - speed_mps) * 3.6
    return max(wind, 0.0) if wind < 150 else None
