"""Temperature of drum brakes on long descents, by the published grade severity model.

The model takes the brakes of a laden five-axle tractor with semitrailer as one body: work at a
steady speed warms it, air cools it. It holds for that class alone, its drum brakes in adjustment
and evenly loaded: the constants are those brakes'. It leaves out water and wind, single brakes
hotter than the mean, fade, and what the load of a hot brake does to its drum.

Sources
-------
[1] Grade Severity Rating System, Federal Highway Administration, 1981 and 1989 (FHWA-RD-79-116
    and its users' manual; form and constants from memory).
[2] A state's update of it, from a study of 2016 on combinations with drum brakes of the day, as
    its public program of 2020 has them.

Both keep a brake of 500 degF, the emergency stop at the foot of the grade included, as the most.
Their constants differ up to threefold, so that only the range over both is told.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.units import convert

if TYPE_CHECKING:
    from typing import Any

    # a float or an array: numpy's own functions take either and give the same back
    Number = Any

START_F = 150.0  # of brakes in use at the top of a grade [1], [2]
AIR_F = 90.0  # [1], from memory
LIMIT_F = 500.0  # [1], [2]
STOP_F_PER_LB_MPH2 = 3.11e-7  # [2]
# From where on the weight is called laden (ASCE J. Transp. Eng. 115(4), 1989), and the gross
# weight of the trucks fitted with what is left open of one declared
LIGHTEST_KG, HEAVIEST_KG = convert(35_000, "lb", "kg"), 1.02 * convert(80_000, "lb", "kg")
CLASS_AXLES = 5


@dataclass(frozen=True, slots=True)
class BrakeConstants:
    """One published set: how fast the brakes come to rest [1/h] and what power warms them by
    [degF/hp], both by the speed in mph; `engine_hp` is the engine's own braking it was fitted with.
    """

    source: str
    engine_hp: float
    rate_per_h: tuple[float, float]  # at standstill, and more a mph
    hp_per_f: tuple[float, float]

    def approach_per_h(self, speed_mph: Number) -> Number:
        """K1: share of the way to the final temperature covered, as a rate [1/h]."""
        return self.rate_per_h[0] + self.rate_per_h[1] * speed_mph

    def warming_f_per_hp(self, speed_mph: Number) -> Number:
        """K2: by how much a lasting brake power warms above the air [degF/hp]."""
        return 1 / (self.hp_per_f[0] + self.hp_per_f[1] * speed_mph)


FIRST = BrakeConstants("[1]", 73.0, (1.23, 0.0256), (0.100, 0.00208))
UPDATE = BrakeConstants("[2]", 63.3, (1.5 * 1.1852, 1.5 * 0.0331), (0.1602, 0.0078))
SETS = (FIRST, UPDATE)


def brake_temperature_f(
    constants: BrakeConstants,
    start_f: Number,
    brake_hp: Number,
    speed_mph: Number,
    length_mi: Number,
) -> Number:
    """Temperature [degF] after a length at one speed and one brake power, from `start_f` on.

    Lengths may be chained: what one ends with the next starts with.
    """
    final = AIR_F + constants.warming_f_per_hp(speed_mph) * brake_hp
    covered = 1 - np.exp(-constants.approach_per_h(speed_mph) * length_mi / speed_mph)
    return start_f + (final - start_f) * covered


def emergency_stop_f(weight_lb: Number, speed_mph: Number) -> Number:
    """What one stop from a speed warms the brakes by [degF]. Source [2]."""
    return STOP_F_PER_LB_MPH2 * weight_lb * speed_mph**2


def along_road_c(
    constants: BrakeConstants, brake_n: Number, speed_mps: Number, step_m: Number
) -> Number:
    """Temperatures [degC] along a road, shape (k, n), of service brakes pulling `brake_n` [N].

    `brake_n` and `speed_mps` [m/s] have shape (k, n), `step_m` [m] (k,). It starts as brakes in
    use do at the top of a grade and never falls below that, however long nothing is braked.
    """
    mph = np.maximum(convert(1.0, "m/s", "mph") * speed_mps, 1.0)
    horsepower = convert(1.0, "W", "hp") * brake_n * speed_mps
    miles = convert(1.0, "m", "mi") * step_m[:, None]
    found = np.empty(mph.shape)
    now = np.full(mph.shape[1], START_F)
    for piece in range(mph.shape[0]):
        after = brake_temperature_f(constants, now, horsepower[piece], mph[piece], miles[piece])
        found[piece] = now = np.maximum(after, START_F)
    return (found - 32) / 1.8
