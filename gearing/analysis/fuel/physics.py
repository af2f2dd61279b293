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

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from gearing.analysis.fuel.rows import REFERENCE_SPEED_MPS
from gearing.statistics.arrays import sum_by
from gearing.units import STANDARD_GRAVITY_MPS2
from gearing.vehicle.atmosphere import ZERO_CELSIUS_K
from gearing.vehicle.road_load import ROLLING_REFERENCE_C, rolling_coefficient

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from gearing.analysis.fuel.ranges import Ranges
    from gearing.analysis.fuel.rows import Rows
    from gearing.statistics.arrays import Array, Index

Found = TypeVar("Found")

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
    p = ranges.values(theta)
    work = np.empty(rows.count)

    def fill(block: slice) -> None:
        work[block] = _step(rows.take(block), ranges, p).work

    list(_of_blocks(fill, rows))
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
    (groups, p); `group` (rows,) numbers them, `names` are those asked for, of ranges or `DAY_WIND`.
    """
    p = ranges.values(theta)
    # of a relative range, theta is the logarithm
    scales = {one.name: p[one.name] for one in ranges.each if one.relative}
    names = tuple(one.name for one in ranges.each) if names is None else names

    def of(block: slice) -> tuple[Index, Array]:
        """The groups met in a block of steps, and of each the sums of work and derivatives."""
        part = rows.take(block)
        step = _step(part, ranges, p)
        by_name = _derivatives(part, p, step)
        columns = np.empty((1 + len(names), part.count))
        columns[0] = step.work
        for column, name in zip(columns[1:], names, strict=True):
            np.multiply(by_name[name](), scales.get(name, 1.0), out=column)
        # steps of a group mostly follow one another
        begins = np.flatnonzero(np.diff(group[block], prepend=-1))
        met, number = np.unique(group[block][begins], return_inverse=True)
        runs = np.add.reduceat(columns, begins, axis=1)
        return met, np.stack([sum_by(number, run, len(met)) for run in runs], axis=1)

    total = np.zeros((groups, 1 + len(names)))
    for met, sums in _of_blocks(of, rows):
        total[met] += sums
    return total[:, 0], total[:, 1:]


def _of_blocks(function: Callable[[slice], Found], rows: Rows) -> Iterator[Found]:
    """`function` of a few thousand rows at a time, in their order: what is worked out on the way
    stays in the processor's cache, several times faster than whole columns of a lifetime of
    driving. On all cores, for arrays let other threads run."""
    blocks = [slice(start, start + BLOCK) for start in range(0, rows.count, BLOCK)]
    if len(blocks) < 2:
        yield from map(function, blocks)
        return
    with ThreadPoolExecutor(os.cpu_count()) as threads:
        yield from threads.map(function, blocks)


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
    square: Array  # what counts along the road [m2/s2], signed


def air_met(rows: Rows, p: dict[str, float]) -> Air:
    """The drag of a body in oblique wind: air speed times its part along the course."""
    side = _side(rows)
    east = p["prevailing_from_east"] + side * p["wind_from_east"]
    north = p["prevailing_from_north"] + side * p["wind_from_north"]
    along = (
        np.sqrt(rows.speed_squared)
        + p["wind_share"] * rows.head_mps
        + east * rows.east
        + north * rows.north
    )
    cross = p["wind_share"] * rows.cross_mps + east * rows.north - north * rows.east
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
    drag = 1 + p["yaw"] * degrees
    square = drag * (speed * along + rows.wind_spread) + side * p["wind_square"]
    return Air(along, cross, across, speed, tangent, growth, degrees, drag, square)


@dataclass(frozen=True, slots=True)
class _Step:
    """What each step's work is made of: forces [N] at the crank, and what they come to."""

    air: Air
    celsius: Array
    pressure: Array  # of the air [N per m2/s2]
    weight: Array
    rolling: Array  # at reference speed on the before tires
    inertia: Array
    overhead: Array  # at the reference revolutions
    turning: Array  # what the revolutions make of it
    crank: Array
    soft: Array
    root: Array
    total: Array  # crank force, overrun cut off
    usual: Array
    load: Array
    bend: Array
    slow: Array
    winter: Array  # how much more of a winter fuel
    work: Array


def _step(rows: Rows, ranges: Ranges, p: dict[str, float]) -> _Step:
    air, side = air_met(rows, p), _side(rows)
    mass = rows.mass_kg * (p["mass"] / ranges.value("mass"))
    weight = mass * STANDARD_GRAVITY_MPS2
    warmer = (
        rows.season * p["climate_half_range"]
        + rows.unlogged * p["climate_level"]
        + side * p["temperature_difference"]
    )
    celsius = rows.temperature_c + warmer
    density = rows.density * (1 - warmer / (celsius + ZERO_CELSIUS_K))
    pressure = 0.5 * density * p["drag_area"]
    rolling = weight * rolling_coefficient(np.array([p["rolling"]]), celsius, p["rolling_per_k"])
    inertia = ROTATING_SHARE * mass * (rows.end_square - rows.start_square) / (2 * rows.distance_m)
    # on the way to a stop within the step the wheels drive the engine
    fuelled = np.where(rows.start_square > 0, 1.0, FUELLED_SHARE_AT_STOP)
    overhead = p["overhead"] * fuelled * rows.moving_s / rows.distance_m
    split = p["overhead_with_revolutions"]
    turning = 1 - split + split * rows.usual_revolutions**2
    crank = (
        rolling * _rise(rows, p) * (1 + side * p["rolling_difference"])
        + rows.grade * weight
        + inertia
        + pressure * air.square
        + overhead * turning * (1 + side * p["overhead_difference"])
    )
    # positive part, bent where it begins: grade and speed are known to a few meters only
    soft = rows.unseen * weight
    root = np.sqrt(crank * crank + soft * soft)
    total = 0.5 * (crank + root)
    usual = USUAL_FORCE_SHARE * weight
    load = (total - usual) / (total + usual)
    bend = 1 + p["bend"] * load + p["bend_both_ends"] * load * load
    slow = np.clip((FREE_SPEED_MPS - rows.speed_mps) / SLOW_BAND_MPS, 0.0, 1.0)
    winter = 1 + p["winter_fuel"] * _frost(rows)
    work = total * rows.distance_m * bend * (1 + p["slow_running"] * slow) * winter
    return _Step(
        air, celsius, pressure, weight, rolling, inertia, overhead, turning, crank, soft, root,
        total, usual, load, bend, slow, winter, work,
    )  # fmt: skip


def _side(rows: Rows) -> Array:
    """-1/2 before and 1/2 after: what pulls both periods alike must not pull their difference."""
    return rows.after - 0.5


def _frost(rows: Rows) -> Array:
    """0 from 5 degC up, where summer fuel is sold, to 1 from 5 degC below freezing down."""
    return np.clip((FROST_BEGINS_C - rows.temperature_c) / FROST_WIDTH_K, 0.0, 1.0)


def _rise(rows: Rows, p: dict[str, float]) -> Array:
    return np.asarray(1 + p["rolling_speed"] * (rows.speed_mps - REFERENCE_SPEED_MPS))


@dataclass(frozen=True, slots=True)
class _Bent:
    """How the work moves with the load, where fuel per work bends, and with the force cut off."""

    straight: Array  # work but for the bend
    by_load: Array
    by_total: Array


def _bent(rows: Rows, p: dict[str, float], step: _Step) -> _Bent:
    length = rows.distance_m * (1 + p["slow_running"] * step.slow) * step.winter
    straight = length * step.total
    by_load = straight * (p["bend"] + 2 * p["bend_both_ends"] * step.load)
    both = (step.total + step.usual) ** 2
    return _Bent(straight, by_load, length * step.bend + by_load * 2 * step.usual / both)


def _by_crank(step: _Step, bent: _Bent) -> Array:
    return bent.by_total * 0.5 * (1 + step.crank / step.root)


def _derivatives(rows: Rows, p: dict[str, float], step: _Step) -> dict[str, Callable[[], Array]]:
    """Of the work, by what each range's value is itself; each worked out when asked for."""
    air, load, bent = step.air, step.load, _bent(rows, p, step)
    straight, by_crank = bent.straight, _by_crank(step, bent)
    rise, side = _rise(rows, p), _side(rows)
    own = 1 + side * p["rolling_difference"]
    rolling = by_crank * step.rolling * rise * own
    turned = by_crank * step.overhead * (1 + side * p["overhead_difference"])
    by_square = by_crank * step.pressure
    by_head, by_cross = (by_square * one for one in _air_slopes(rows, air, p["yaw"]))
    by_east = by_head * rows.east + by_cross * rows.north
    by_north = by_head * rows.north - by_cross * rows.east

    def by_weight_alone() -> Array:
        # soft and usual are shares of the weight
        return bent.by_total * 0.5 * step.soft**2 / step.root - (
            bent.by_load * 2 * step.total * step.usual / (step.total + step.usual) ** 2
        )

    beyond = step.celsius - ROLLING_REFERENCE_C
    cooling = 1 / (1 + p["rolling_per_k"] * beyond)
    warmth = -rolling * cooling * p["rolling_per_k"] - by_square * air.square / (
        step.celsius + ZERO_CELSIUS_K
    )
    return {
        "rolling": lambda: rolling / p["rolling"],
        "rolling_per_k": lambda: -rolling * cooling * beyond,
        "drag_area": lambda: by_square * air.square / p["drag_area"],
        "mass": lambda: (
            (rolling + by_crank * (rows.grade * step.weight + step.inertia) + by_weight_alone())
            / p["mass"]
        ),
        "overhead": lambda: turned * step.turning / p["overhead"],
        "overhead_with_revolutions": lambda: turned * (rows.usual_revolutions**2 - 1),
        "bend": lambda: straight * load,
        "bend_both_ends": lambda: straight * load * load,
        "slow_running": lambda: step.total * rows.distance_m * step.bend * step.slow * step.winter,
        "wind_share": lambda: by_head * rows.head_mps + by_cross * rows.cross_mps,
        "rolling_speed": lambda: (
            by_crank * step.rolling * own * (rows.speed_mps - REFERENCE_SPEED_MPS)
        ),
        "yaw": lambda: by_square * air.degrees * (air.speed * air.along + rows.wind_spread),
        "prevailing_from_east": lambda: by_east,
        "prevailing_from_north": lambda: by_north,
        DAY_WIND[0]: lambda: p["wind_share"] * by_east,
        DAY_WIND[1]: lambda: p["wind_share"] * by_north,
        "wind_from_east": lambda: side * by_east,
        "wind_from_north": lambda: side * by_north,
        "wind_square": lambda: side * by_square,
        "climate_half_range": lambda: warmth * rows.season,
        "climate_level": lambda: warmth * rows.unlogged,
        "temperature_difference": lambda: warmth * side,
        "winter_fuel": lambda: step.work / step.winter * _frost(rows),
        "rolling_difference": lambda: side * by_crank * step.rolling * rise,
        "overhead_difference": lambda: side * by_crank * step.overhead * step.turning,
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
