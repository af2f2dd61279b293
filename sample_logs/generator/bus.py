"""The bus: what its parts are and what its engine burns. Torque in N*m, speed in rev/min."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

AXLE = 4.88
RATIOS = (3.51, 1.91, 1.43, 1.00, 0.74, 0.64)
# transmission and axle together; the direct gear has no mesh to turn in
EFFICIENCY = (0.905, 0.915, 0.925, 0.940, 0.928, 0.925)
FIRST_LOCKED = 3  # the converter locks from third gear up
MASS_KG = 12020.0  # 26,500 lb
WHEEL_INERTIA = 92.0  # kg m^2, all wheels
ENGINE_INERTIA = 1.3
DRAG_AREA_M2 = 5.8
CREEP_N = 2.1e6  # tractive force at which the driving tires would creep by their whole speed
PROGRAMMED_CIRCUMFERENCE_M = 1609.344 / 628  # what the engine computer was given long ago
NEEDLE_OVER_COMPUTER = 1.012  # the needle stands this much above what the computer counts
IDLE_RPM, GOVERNED_RPM = 700.0, 2500.0
REFERENCE_TORQUE = 1050.0  # what 100 % stands for
DISPLACEMENT_M3 = 6.7e-3
FUEL_J_PER_L = 35.8e6
FUEL_RATE_SCALE = 0.979  # what the engine computer reports, of what burns
_CURVE = (
    (600, 490.0),
    (800, 590.0),
    (1000, 742.0),
    (1200, 868.0),
    (1400, 895.0),
    (1600, 895.0),
    (1800, 872.0),
    (2000, 834.0),
    (2200, 786.0),
    (2400, 732.0),
    (2500, 640.0),
    (2650, 0.0),
)
_RETARDER_KW = ((900, 0.0), (1200, 42.0), (1600, 70.0), (2000, 98.0), (2400, 122.0), (2600, 130.0))


@dataclass(frozen=True)
class Tire:
    """A set of drive tires: rolling circumference [m] at 15 degC when the period begins, its
    loss by wear [share a trip], rolling resistance of the whole bus [-] at 20 degC when warm."""

    size: str
    circumference_m: float
    wear_per_trip: float
    rolling: float

    def rolling_circumference(self, temperature_c: float, trips_done: float) -> float:
        warmth = 1 + 4e-5 * (temperature_c - 15)
        return self.circumference_m * warmth * (1 - self.wear_per_trip * trips_done)


OLD = Tire("245/70R19.5", 2.5560, 1.5e-5, 0.00760)
NEW = Tire("265/70R19.5", 2.6480, 2.5e-5, 0.00660)
ROLLING_PER_K = 0.0046  # fall of rolling resistance with the air's temperature


def _table(points: tuple[tuple[float, float], ...]) -> list[float]:
    """Straight between the points, one value for each 10 rev/min up to 3,000."""
    out = []
    for rpm in range(0, 3010, 10):
        if rpm <= points[0][0]:
            out.append(points[0][1])
            continue
        for (x0, y0), (x1, y1) in pairwise(points):
            if x0 < rpm <= x1:
                out.append(y0 + (y1 - y0) * (rpm - x0) / (x1 - x0))
                break
        else:
            out.append(points[-1][1])
    return out


MAX_TORQUE = _table(_CURVE)  # index: rev/min // 10
RETARDER_W = [1000 * kw for kw in _table(_RETARDER_KW)]


def friction_torque(rpm: float, coolant_c: float) -> float:
    """What turning the engine over takes: friction and pumping, more with cold oil."""
    k = rpm / 1000
    mean_pressure = (78 + 32 * k + 16 * k * k) * 1000
    cold = 1 + 0.006 * max(0.0, 86 - coolant_c)
    return mean_pressure * cold * DISPLACEMENT_M3 / (4 * math.pi)


def fuel_power(rpm: float, gas_torque: float, full_gas_torque: float) -> float:
    """Heat of the fuel [W] for a gas torque (brake plus friction): efficiency bends with both
    load and speed, so fuel against power is no straight line."""
    load = gas_torque / full_gas_torque
    bend = (1 - 0.10 * (load - 0.55) ** 2) * (1 - 0.05 * ((rpm - 1450) / 1000) ** 2)
    return gas_torque * rpm * (math.pi / 30) / (0.468 * bend)
