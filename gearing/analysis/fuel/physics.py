"""Fuel each step of road asks for, up to one factor, and how far physics may be off.

Fuel is taken as proportional to positive crank work: work at the wheels plus what engine and
auxiliaries take to turn (a Willans line, with a bend allowed). On overrun the sum is negative
and nothing burns, which is decided from the road alone. Engine speed and gear are left out on
purpose: they are what the tires change.

`demand` is what a step asks for, `slopes` how that moves with each range, summed over groups of
steps. What a step is made of is laid out once (`_Step`), so that a derivative is a line and not
another pass over the road.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.fuel.rows import REFERENCE_SPEED_MPS, in_threads
from gearing.statistics.arrays import sum_by
from gearing.units import STANDARD_GRAVITY_MPS2
from gearing.vehicle.atmosphere import ZERO_CELSIUS_K
from gearing.vehicle.road_load import ROLLING_REFERENCE_C, rolling_coefficient

if TYPE_CHECKING:
    from collections.abc import Callable

    from gearing.analysis.fuel.ranges import Ranges
    from gearing.analysis.fuel.rows import Rows
    from gearing.statistics.arrays import Array, Index

ROTATING_SHARE = 1.04
USUAL_FORCE_SHARE = 0.03  # of the weight: crank force at which fuel per work is taken as usual
FUELLED_SHARE_AT_STOP = 0.5
FREE_SPEED_MPS = 18.0
SLOW_BAND_MPS = 6.0
MAX_YAW_TANGENT = 0.268  # 15 degrees
DEGREE = 180 / np.pi  # degrees in a radian
DAY_WIND = ("day_wind_from_east", "day_wind_from_north")  # what a day's own wind adds [m/s]
FROST_BEGINS_C, FROST_WIDTH_K = 5.0, 10.0
BLOCK = 8192


def demand(rows: Rows, ranges: Ranges, theta: Array) -> Array:
    """Crank work each step asks for, in wheel-equivalent joules; shape (rows,)."""
    values = ranges.values(theta)
    work = np.empty(rows.count)

    def fill(block: slice) -> None:
        work[block] = _step(rows.take(block), ranges, values).work_j

    in_threads(fill, _blocks(rows))
    return work


def slopes(
    rows: Rows,
    ranges: Ranges,
    theta: Array,
    group: Index,
    groups: int,
    *,
    names: tuple[str, ...] | None = None,
) -> tuple[Array, Array]:
    """Sums of `demand` and of its derivatives by theta over the rows of each group, (groups,) and
    (groups, len(names)); `group` (rows,) numbers them, `names` are those asked for, of ranges or
    `DAY_WIND`.
    """
    values = ranges.values(theta)
    # of a relative range, theta is the logarithm
    scales = {one.name: values[one.name] for one in ranges.each if one.relative}
    names = tuple(one.name for one in ranges.each) if names is None else names

    def of(block: slice) -> tuple[Index, Array]:
        """The groups met in a block of steps, and of each the sums of work and derivatives."""
        part = rows.take(block)
        step = _step(part, ranges, values)
        by_name = _derivatives(part, values, step)
        columns = np.empty((1 + len(names), part.count))
        columns[0] = step.work_j
        for column, name in zip(columns[1:], names, strict=True):
            np.multiply(by_name[name](), scales.get(name, 1.0), out=column)
        # steps of a group mostly follow one another
        begins = np.flatnonzero(np.diff(group[block], prepend=-1))
        met, number = np.unique(group[block][begins], return_inverse=True)
        runs = np.add.reduceat(columns, begins, axis=1)
        return met, np.stack([sum_by(number, run, len(met)) for run in runs], axis=1)

    total = np.zeros((groups, 1 + len(names)))
    for met, sums in in_threads(of, _blocks(rows)):
        total[met] += sums
    return total[:, 0], total[:, 1:]


def _blocks(rows: Rows) -> list[slice]:
    """A few thousand rows at a time: what is worked out on the way stays in the processor's cache,
    several times faster than whole columns of a lifetime of driving."""
    return [slice(start, start + BLOCK) for start in range(0, rows.count, BLOCK)]


@dataclass(frozen=True, slots=True)
class Air:
    """The air a step meets; the periods may differ in three wind terms."""

    along: Array  # its speed along the course [m/s]
    cross: Array
    across: Array  # the same on the whole, with what is not known of the wind
    speed: Array
    tangent: Array  # of its angle, as far as drag grows with that
    growth: Array  # by how much that follows the angle's own tangent: 1 ahead, 0 far beyond
    degrees: Array
    drag: Array  # over that of air from ahead
    drag_speed_squared_m2ps2: Array  # what counts along the road, signed


def air_met(rows: Rows, values: dict[str, float]) -> Air:
    """The drag of a body in oblique wind: air speed times its part along the course."""
    half = half_contrast(rows)
    east = values["prevailing_from_east"] + half * values["wind_from_east"]
    north = values["prevailing_from_north"] + half * values["wind_from_north"]
    along = (
        np.sqrt(rows.speed_squared)
        + values["wind_share"] * rows.head_mps
        + east * rows.east
        + north * rows.north
    )
    cross = values["wind_share"] * rows.cross_mps + east * rows.north - north * rows.east
    # a wind that is not known is no calm: its mean square is there all the same
    across = np.sqrt(cross * cross + rows.wind_spread)
    own = across / np.maximum(np.abs(along), 1.0)
    # drag stops growing by degrees: a corner would stand at one wind for all of a road at one
    # speed, and the search for that wind never come to rest on it
    beyond = 1 + (own / MAX_YAW_TANGENT) ** 2 * (own / MAX_YAW_TANGENT) ** 2
    root = np.sqrt(np.sqrt(beyond))
    tangent, growth = own / root, 1 / (beyond * root)
    degrees = DEGREE * tangent * (1 - tangent * tangent / 3)
    speed = np.sqrt(along * along + across * across)
    drag = 1 + values["yaw"] * degrees
    square = drag * (speed * along + rows.wind_spread) + half * values["wind_square"]
    return Air(along, cross, across, speed, tangent, growth, degrees, drag, square)


@dataclass(frozen=True, slots=True)
class _Step:
    """What each step's work is made of: forces [N] at the crank, shares [-] where no unit is named,
    and what they come to."""

    air: Air
    celsius: Array
    drag_n_per_mps2: Array  # half of the air's density by the drag area [N per m2/s2]
    weight_n: Array
    rolling_n: Array  # at reference speed on the before tires
    inertia_n: Array
    overhead_n: Array  # at the reference revolutions
    turning: Array  # what the revolutions make of it
    crank_n: Array
    soft_n: Array
    root_n: Array
    total_n: Array  # crank force, overrun cut off
    usual_n: Array
    load: Array
    bend: Array
    slow: Array
    winter: Array  # how much more of a winter fuel
    work_j: Array


def _step(rows: Rows, ranges: Ranges, values: dict[str, float]) -> _Step:
    air, half = air_met(rows, values), half_contrast(rows)
    mass = rows.mass_kg * (values["mass"] / ranges.value("mass"))
    weight = mass * STANDARD_GRAVITY_MPS2
    warmer = (
        rows.season * values["climate_half_range"]
        + rows.unlogged * values["climate_level"]
        + half * values["temperature_difference"]
    )
    celsius = rows.temperature_c + warmer
    # as one over the absolute temperature
    density = rows.density * (1 - warmer / (celsius + ZERO_CELSIUS_K))
    drag = 0.5 * density * values["drag_area"]
    rolling = weight * rolling_coefficient(
        np.array([values["rolling"]]), celsius, values["rolling_per_k"]
    )
    inertia = ROTATING_SHARE * mass * (rows.end_square - rows.start_square) / (2 * rows.distance_m)
    # on the way to a stop within the step the wheels drive the engine
    fuelled = np.where(rows.start_square > 0, 1.0, FUELLED_SHARE_AT_STOP)
    overhead = values["overhead"] * fuelled * rows.moving_s / rows.distance_m
    split = values["overhead_with_revolutions"]
    turning = 1 - split + split * rows.usual_revolutions**2
    crank = (
        rolling * _rise(rows, values) * (1 + half * values["rolling_difference"])
        + rows.grade * weight
        + inertia
        + drag * air.drag_speed_squared_m2ps2
        + overhead * turning * (1 + half * values["overhead_difference"])
    )
    # positive part, bent where it begins: grade and speed are known to a few meters only
    soft = rows.unseen * weight
    root = np.sqrt(crank * crank + soft * soft)
    total = 0.5 * (crank + root)
    usual = USUAL_FORCE_SHARE * weight
    load = (total - usual) / (total + usual)
    bend = 1 + values["bend"] * load + values["bend_both_ends"] * load * load
    slow = np.clip((FREE_SPEED_MPS - rows.speed_mps) / SLOW_BAND_MPS, 0.0, 1.0)
    winter = 1 + values["winter_fuel"] * _frost(rows)
    work = total * rows.distance_m * bend * (1 + values["slow_running"] * slow) * winter
    return _Step(
        air, celsius, drag, weight, rolling, inertia, overhead, turning, crank, soft, root,
        total, usual, load, bend, slow, winter, work,
    )  # fmt: skip


def half_contrast(rows: Rows) -> Array:
    """-1/2 before and 1/2 after: what pulls both periods alike must not pull their difference."""
    return rows.after - 0.5


def _frost(rows: Rows) -> Array:
    """0 from 5 degC up, where summer fuel is sold, to 1 from 5 degC below freezing down. By the
    temperature as told: what is sold goes by the season, whatever a sensor's error is taken for."""
    return np.clip((FROST_BEGINS_C - rows.temperature_c) / FROST_WIDTH_K, 0.0, 1.0)


def _rise(rows: Rows, values: dict[str, float]) -> Array:
    return np.asarray(1 + values["rolling_speed"] * (rows.speed_mps - REFERENCE_SPEED_MPS))


@dataclass(frozen=True, slots=True)
class _Bent:
    """How the work moves with the load, where fuel per work bends, and with the force cut off."""

    straight: Array  # work but for the bend
    by_load: Array
    by_total: Array


def _bent(rows: Rows, values: dict[str, float], step: _Step) -> _Bent:
    length = rows.distance_m * (1 + values["slow_running"] * step.slow) * step.winter
    straight = length * step.total_n
    by_load = straight * (values["bend"] + 2 * values["bend_both_ends"] * step.load)
    both = (step.total_n + step.usual_n) ** 2
    return _Bent(straight, by_load, length * step.bend + by_load * 2 * step.usual_n / both)


def _by_crank(step: _Step, bent: _Bent) -> Array:
    return bent.by_total * 0.5 * (1 + step.crank_n / step.root_n)


def _derivatives(
    rows: Rows, values: dict[str, float], step: _Step
) -> dict[str, Callable[[], Array]]:
    """Of the work, by what each range's value is itself; each worked out when asked for."""
    air, load, bent = step.air, step.load, _bent(rows, values, step)
    straight, by_crank = bent.straight, _by_crank(step, bent)
    rise, half = _rise(rows, values), half_contrast(rows)
    own = 1 + half * values["rolling_difference"]
    rolling = by_crank * step.rolling_n * rise * own
    turned = by_crank * step.overhead_n * (1 + half * values["overhead_difference"])
    by_square = by_crank * step.drag_n_per_mps2
    by_head, by_cross = (by_square * one for one in _air_slopes(rows, air, values["yaw"]))
    by_east = by_head * rows.east + by_cross * rows.north
    by_north = by_head * rows.north - by_cross * rows.east

    def by_weight_alone() -> Array:
        # soft and usual are shares of the weight
        return bent.by_total * 0.5 * step.soft_n**2 / step.root_n - (
            bent.by_load * 2 * step.total_n * step.usual_n / (step.total_n + step.usual_n) ** 2
        )

    beyond = step.celsius - ROLLING_REFERENCE_C
    cooling = 1 / (1 + values["rolling_per_k"] * beyond)
    by_density = by_square * air.drag_speed_squared_m2ps2
    by_air = by_density / (step.celsius + ZERO_CELSIUS_K)
    warmth = -rolling * cooling * values["rolling_per_k"] - by_air
    return {
        "rolling": lambda: rolling / values["rolling"],
        "rolling_per_k": lambda: -rolling * cooling * beyond,
        "drag_area": lambda: by_density / values["drag_area"],
        "mass": lambda: (
            (rolling + by_crank * (rows.grade * step.weight_n + step.inertia_n) + by_weight_alone())
            / values["mass"]
        ),
        "overhead": lambda: turned * step.turning / values["overhead"],
        "overhead_with_revolutions": lambda: turned * (rows.usual_revolutions**2 - 1),
        "bend": lambda: straight * load,
        "bend_both_ends": lambda: straight * load * load,
        "slow_running": lambda: (
            step.total_n * rows.distance_m * step.bend * step.slow * step.winter
        ),
        "wind_share": lambda: by_head * rows.head_mps + by_cross * rows.cross_mps,
        "rolling_speed": lambda: (
            by_crank * step.rolling_n * own * (rows.speed_mps - REFERENCE_SPEED_MPS)
        ),
        "yaw": lambda: by_square * air.degrees * (air.speed * air.along + rows.wind_spread),
        "prevailing_from_east": lambda: by_east,
        "prevailing_from_north": lambda: by_north,
        DAY_WIND[0]: lambda: values["wind_share"] * by_east,
        DAY_WIND[1]: lambda: values["wind_share"] * by_north,
        "wind_from_east": lambda: half * by_east,
        "wind_from_north": lambda: half * by_north,
        "wind_square": lambda: half * by_square,
        "climate_half_range": lambda: warmth * rows.season,
        "climate_level": lambda: warmth * rows.unlogged,
        "temperature_difference": lambda: warmth * half,
        "winter_fuel": lambda: step.work_j / step.winter * _frost(rows),
        "rolling_difference": lambda: half * by_crank * step.rolling_n * rise,
        "overhead_difference": lambda: half * by_crank * step.overhead_n * step.turning,
    }


def _air_slopes(rows: Rows, air: Air, yaw: float) -> tuple[Array, Array]:
    """How the square that counts moves with the air's speed along and across the course."""
    still = np.maximum(air.speed, 1e-9)
    nearest = np.maximum(np.abs(air.along), 1.0)
    by_own = yaw * DEGREE * (1 - air.tangent**2) * air.growth
    own_by_along = np.where(
        nearest > 1.0, -air.across * np.sign(air.along) / (nearest * nearest), 0.0
    )
    lever = by_own * (air.speed * air.along + rows.wind_spread)
    across_by_cross = air.cross / np.maximum(air.across, 1e-9)
    by_across = air.drag * air.along * air.across / still + lever / nearest
    return (
        air.drag * (air.speed + air.along**2 / still) + lever * own_by_along,
        by_across * across_by_cross,
    )
