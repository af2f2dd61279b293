"""The driver: what the dash should read, and the force asked of the bus to make it so."""

from __future__ import annotations

import math

import numpy as np

from .roads import MPH, STEP_M, Road

DT = 0.1
TOP_MPS = 67.5 * MPH  # faster than this the driver never means to go
GENTLE = 0.55  # slowing down that is planned for [m/s^2]


def speed_to_hold(road: Road, haste: float) -> list[float]:
    """What the driver wants to read on the dash at each grid point [m/s], slowing in time."""
    wanted: list[float] = np.minimum(road.comfortable_mps * haste, TOP_MPS).tolist()
    for stop in (*road.stops_m, *road.stations_m, road.length_m):
        wanted[min(len(wanted) - 1, int(stop / STEP_M))] = 0.0
    for i in range(len(wanted) - 2, -1, -1):
        wanted[i] = min(wanted[i], math.sqrt(wanted[i + 1] ** 2 + 2 * GENTLE * STEP_M))
    return wanted


class Driver:
    """Proportional and integral control on what the dash shows, with halts on the way.

    After `look`: `want` is the speed sought [m/s, as shown], `force` the force asked of engine
    and brakes [N], `parked` whether the bus stands in neutral, `arrived` whether the trip is
    over.
    """

    def __init__(
        self,
        road: Road,
        haste: float,
        dwell_s: tuple[float, ...],
        idle_s: tuple[float, float],
        whim: list[float],
    ) -> None:
        self.wanted, self.whim = speed_to_hold(road, haste), whim
        signs = [(s, 2.0) for s in road.stops_m]
        stations = list(zip(road.stations_m, dwell_s, strict=True))
        self.halts = [*sorted(signs + stations), (road.length_m, idle_s[1])]
        self.passed = 0
        self.waiting, self.parked, self.arrived = idle_s[0], True, False
        self.want = self.force = self.integral = 0.0

    def look(self, along_m: float, cell: int, speed: float, shown: float, mass: float) -> None:
        self._decide(along_m, cell, speed)
        error = self.want - shown
        if self.want > 0:
            self.integral = min(max(self.integral + error * DT, -60.0), 60.0)
            if error > 3:  # nobody stands on it in advance
                self.integral = min(self.integral, 25.0)
            asked = mass * min(max(0.42 * error + 0.035 * self.integral, -1.6), 1.15)
        else:
            self.integral = 0.0
            asked = -1.0 * mass
        self.force += (asked - self.force) * (DT / 0.5)

    def _decide(self, along_m: float, cell: int, speed: float) -> None:
        if self.waiting > 0:
            self.waiting -= DT
            self.want = 0.0
            if self.waiting <= 0:
                self.arrived = self.passed == len(self.halts)
                self.parked = self.arrived
            return
        halt_at, dwell = self.halts[self.passed]
        if along_m <= halt_at - 1.5:
            self.want = max(1.3, self.wanted[cell] + 0.4 * self.whim[cell])
            return
        self.want = 0.0
        if speed < 0.25:
            self.waiting, self.parked = dwell, dwell > 30
            self.passed += 1
