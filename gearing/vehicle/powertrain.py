"""From engine to wheels: gears, converter, shift points, and the tables the road model reads.

Sources
-------
[1] 40 CFR 1036.540, Table 1: gear ratios of generic automatic transmissions; their converter
    locks from third gear on.
[2] Torque converter: torque falls in a straight line from the stall ratio to 1 at the coupling
    point, and the pump takes torque with the square of its speed (textbooks); stall ratios of
    1.7 to 2.2 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import numpy as np

from gearing.vehicle.engine import HIGH_IDLE_RATIO, radians_per_second
from gearing.vehicle.parameters import Losses

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.units import Array
    from gearing.vehicle.engine import Engine

Transmission = Literal["converter", "manual", "automated"]

SHIFT_HYSTERESIS = 1.06
STALL_SHARE_OF_GOVERNED = 0.70


@dataclass(frozen=True, slots=True)
class ShiftHabits:
    """How a kind of transmission is shifted, by its driver or its computer.

    Engine speeds are shares of the way from idle to governed speed. Up to the load `knee` the
    points of no load hold; from there they rise to those of full load. `holds_on`: at full load a
    gear is held down to the low end of the torque band times this, or to `holds_to` of governed
    speed where that is higher; None where the gearbox kicks down as soon as a lower gear gives
    more power. `most_up` gears up in one shift.
    """

    light_up: float
    light_down: float
    knee: float
    holds_on: float | None
    holds_to: float
    most_up: int
    interruption_s: float


# Common practice, no source, but: an automated gearbox leaves a gear without load at the lowest
# engine speed UN GTR No. 15, Annex 2 allows from third gear on, idle and an eighth of the way to
# rated speed; drivers hold long gears uphill down to 1,100 or 1,200 rpm (trade practice), computers
# to 1,000 or 1,100, which is the low end of such an engine's torque band.
HABITS: dict[Transmission, ShiftHabits] = {
    "converter": ShiftHabits(0.50, 0.22, 0.0, None, 0.0, 1, 0.0),
    "manual": ShiftHabits(0.40, 0.20, 0.5, 1.10, 0.55, 1, 1.5),
    "automated": ShiftHabits(0.30, 0.125, 0.9, 1.05, 0.0, 2, 0.8),
}
KICK_DOWN_UP_SHARE = 0.95  # of governed speed: a converter's shift up under full load
FULL_POWER = 0.98  # a clutch's shift up under full load: where this share of peak power is reached


@dataclass(frozen=True, slots=True)
class Converter:
    """A torque converter: ratio at stall, slip at coupling, and where it locks."""

    stall_ratio: float = 1.9  # [2]
    coupling_speed_ratio: float = 0.88
    lockup_gear: int = 3  # [1]
    unlock_rpm: float = 1000.0


@dataclass(frozen=True, slots=True)
class ShiftPoints:
    """Engine speeds [rpm] per gear at which gears change, with no load and with full load.

    The speeds of a gear are shaft revolutions times its ratio, so a computer that shifts by
    output-shaft speed keeps them when the tires change. `up[i]` leaves gear i + 1 upwards
    (the last is never used), `down[i]` leaves it downwards (the first is never used).
    """

    up_light: tuple[float, ...]
    up_full: tuple[float, ...]
    down_light: tuple[float, ...]
    down_full: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Powertrain:
    """Engine, gears and axle, tires apart. `gear_ratios` from the lowest gear up."""

    engine: Engine
    gear_ratios: tuple[float, ...]
    axle_ratio: float
    shift_points: ShiftPoints
    kind: Transmission = "automated"
    losses: Losses = field(default_factory=Losses)
    converter: Converter | None = None
    auxiliary_w: float = 3000.0
    fan_w: float = 0.0  # of the engine's fan at governed speed, once it runs
    shift_interruption_s: float = 0.0
    idle_lph: float | None = None  # fuel [L/h] standing, where it is known

    @property
    def habits(self) -> ShiftHabits:
        """How a gearbox of this kind is shifted."""
        return HABITS[self.kind]

    @property
    def changes_down(self) -> bool:
        """Whether it is usually changed down for a descent: by a driver who shifts, or for a
        retarder's sake. Other gearboxes shift by themselves, and stay in the gear of the level
        road (common practice, no source)."""
        return self.kind == "manual" or self.engine.retarder is not None


@dataclass(frozen=True, slots=True)
class ShaftTables:
    """What the gearbox input gives and takes at each whole rpm of its own speed.

    Arrays of shape (2, n) have row 0 for gears whose converter stays open (or all gears of a
    clutch), row 1 for gears that lock; the others have shape (n,).
    """

    full_torque_nm: Array  # (2, n), at sea level
    friction_torque_nm: Array  # of the engine turned without fuel
    retarder_torque_nm: Array  # of a retarder on the engine
    engine_rpm: Array  # (2, n)
    passed_on: Array  # (2, n): power at the gearbox input over engine power
    output_retarder_nm: Array  # against output-shaft rpm
    row_of_gear: NDArray[np.int64]


def shaft_tables(powertrain: Powertrain) -> ShaftTables:
    """The tables of a powertrain, up to a quarter above high idle."""
    engine, converter = powertrain.engine, powertrain.converter
    top = int(engine.governed_rpm * HIGH_IDLE_RATIO * 1.25)
    rpm = np.arange(top + 1, dtype=np.float64)
    open_torque, open_engine, open_share = (
        _open_converter(engine, converter, rpm) if converter else _clutch(engine, rpm)
    )
    locked = engine.full_load_torque_nm(rpm)
    unlock_below = converter.unlock_rpm if converter else _engaged_rpm(engine)
    is_open = rpm < unlock_below
    friction = engine.drag_torque_nm(np.maximum(rpm, engine.idle_rpm))
    friction = friction * np.clip(rpm / engine.idle_rpm, 0, 1)
    on_engine, output = np.zeros_like(rpm), np.zeros_like(rpm)
    retarder = engine.retarder
    if retarder is not None and retarder.on_output_shaft:
        output = np.where(rpm > 0, retarder.torque_nm(rpm), 0.0)
    elif retarder is not None:
        on_engine = np.where(rpm > engine.idle_rpm, retarder.torque_nm(rpm), 0.0)
    gears = np.arange(1, len(powertrain.gear_ratios) + 1)
    locks = gears >= (converter.lockup_gear if converter else 1)
    return ShaftTables(
        full_torque_nm=np.stack([open_torque, np.where(is_open, open_torque, locked)]),
        friction_torque_nm=friction,
        retarder_torque_nm=on_engine,
        engine_rpm=np.stack([open_engine, np.where(is_open, open_engine, rpm)]),
        passed_on=np.stack([open_share, np.where(is_open, open_share, 1.0)]),
        output_retarder_nm=output,
        row_of_gear=locks.astype(np.int64),
    )


def _engaged_rpm(engine: Engine) -> float:
    """Speed [rpm] a slipping clutch holds the engine at: between idle and lugging speed."""
    return max(engine.idle_rpm, engine.rpm[0])


def _clutch(engine: Engine, rpm: Array) -> tuple[Array, Array, Array]:
    """A clutch that slips below its engagement speed: torque as of that speed, heat the rest."""
    engaged = np.maximum(rpm, _engaged_rpm(engine))
    torque = engine.full_load_torque_nm(engaged)
    return torque, engaged, rpm / engaged


def _open_converter(engine: Engine, converter: Converter, rpm: Array) -> tuple[Array, Array, Array]:
    """Torque at the turbine, engine speed and share of power passed on, at full load.

    For each turbine speed the engine's speed is the one at which its torque equals what the
    pump takes. The pump's capacity is set so that the engine stalls at 70 % of governed
    speed. Source [2].
    """
    stall_rpm = STALL_SHARE_OF_GOVERNED * engine.governed_rpm
    capacity = engine.full_load_torque_nm(stall_rpm) / stall_rpm**2
    engine_rpm = np.arange(
        max(stall_rpm * 0.5, 1.0), engine.governed_rpm * HIGH_IDLE_RATIO, 1.0, dtype=np.float64
    )
    torque = engine.full_load_torque_nm(engine_rpm)
    # Pump torque falls to nothing from the coupling point to equal speeds.
    share_taken = torque / (capacity * engine_rpm**2)
    coupling = converter.coupling_speed_ratio
    speed_ratio = np.where(share_taken >= 1, 0.0, coupling + (1 - coupling) * (1 - share_taken))
    turbine_rpm = engine_rpm * np.clip(speed_ratio, 0, 1)
    # Between stall and coupling the pump takes its full torque: engine speed stays at stall.
    found_engine = np.maximum(np.interp(rpm, turbine_rpm, engine_rpm), stall_rpm)
    ratio = np.clip(rpm / found_engine, 0, 1)
    multiplied = np.maximum(
        converter.stall_ratio - (converter.stall_ratio - 1) * ratio / coupling, 1.0
    )
    # a turbine faster than the engine can turn is driven by the wheels, not by the engine
    engine_torque = np.where(rpm > found_engine, 0.0, engine.full_load_torque_nm(found_engine))
    return engine_torque * multiplied, found_engine, np.clip(multiplied * ratio, 0.0, 1.0)


def default_shift_points(
    engine: Engine, gear_ratios: tuple[float, ...], kind: Transmission = "converter"
) -> ShiftPoints:
    """Shift points from the torque curve and the kind of transmission.

    Never so that one shift calls for the other.
    """
    habits = HABITS[kind]
    span = engine.governed_rpm - engine.idle_rpm
    steps = [a / b for a, b in pairwise(gear_ratios)]
    up_full, leaving = _full_load_points(engine, steps, habits)
    # after the shift up from the lower gear there must be room before the shift down
    down_full = [
        0.0,
        *(min(d, up_full / s / SHIFT_HYSTERESIS) for d, s in zip(leaving, steps, strict=True)),
    ]
    light_down = engine.idle_rpm + habits.light_down * span
    light_up = engine.idle_rpm + habits.light_up * span
    up_light = [max(light_up, light_down * step * SHIFT_HYSTERESIS) for step in steps]
    return ShiftPoints(
        up_light=(*(min(u, up_full) for u in up_light), engine.governed_rpm),
        up_full=(up_full,) * len(gear_ratios),
        down_light=tuple(min(light_down, d) if d else 0.0 for d in down_full),
        down_full=tuple(down_full),
    )


def _full_load_points(
    engine: Engine, steps: list[float], habits: ShiftHabits
) -> tuple[float, list[float]]:
    """Engine speed [rpm] of shifts up at full load, and by lower gear of shifts down to it."""
    speeds = np.arange(engine.idle_rpm, engine.governed_rpm + 1, 5.0)
    power = engine.full_load_torque_nm(speeds) * radians_per_second(speeds)
    if habits.holds_on is not None:
        up_full = float(speeds[np.argmax(power >= FULL_POWER * power.max())])
        held = max(
            habits.holds_on * engine.peak_torque_rpm[0], habits.holds_to * engine.governed_rpm
        )
        return up_full, [held] * len(steps)
    leaving = []
    for step in steps:
        below = np.interp(speeds * step, speeds, power, right=0.0)
        gains = speeds[below > power * 1.02]
        leaving.append(float(gains.max()) if gains.size else engine.idle_rpm)
    return KICK_DOWN_UP_SHARE * engine.governed_rpm, leaving
