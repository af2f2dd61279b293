"""Engine, converter, gearbox and retarder, with their heat, a tenth of a second at a time."""

from __future__ import annotations

import math

from . import bus
from .driver import DT

RADIANS = math.pi / 30  # rad/s of one rev/min


def next_gear(gear: int, shaft: float, pedal: float, braking: bool, short: bool) -> int:
    """The transmission's choice (1 to 6) by the speed of its output shaft [rev/min].

    `short`: full pedal for some seconds and still losing speed. Braking with the retarder
    takes the gear that turns it faster.
    """
    rpm = shaft * bus.RATIOS[gear - 1]
    if gear > 1:
        below = shaft * bus.RATIOS[gear - 2]
        if rpm < 1020 + 330 * pedal and below < 2150:
            return gear - 1
        if short and rpm < 1740 and below < 2380:
            return gear - 1
        if braking and rpm < 1780 and below < 2330:
            return gear - 1
    if gear < 6 and rpm > (2560 if braking else 1480 + 860 * pedal):
        return gear + 1
    return gear


class Powertrain:
    """The state of engine and gearbox.

    Torques in N*m at the crankshaft, `drive_n` and `brake_n` in N at the wheels, powers in W.
    """

    def __init__(self, coolant_c: float) -> None:
        self.rpm = self.old_rpm = bus.IDLE_RPM
        self.gear, self.shifting, self.multiplied = 1, 0.0, 1.9
        self.settled, self.unbraked, self.hold = 0.0, 99.0, 3.0
        self.pedal = self.smooth_pedal = self.struggling = 0.0
        self.coolant_c, self.oil_c, self.fan = coolant_c, coolant_c - 8.0, False
        self.gas = self.net = self.full_gas = 0.0
        self.drive_n = self.brake_n = self.retarder_w = self.heat_w = 0.0

    @property
    def in_gear(self) -> bool:
        """Whether converter and clutches are locked, nothing slipping."""
        return self.gear >= bus.FIRST_LOCKED and self.shifting <= 0

    def pull(self, force: float, speed: float, radius: float, *, halt: bool, parked: bool) -> None:
        """Meet the force asked for [N], as far as engine, retarder and brakes can."""
        friction = bus.friction_torque(self.rpm, self.coolant_c)
        accessory = self._accessory_w(parked) / (self.rpm * RADIANS)
        full = bus.MAX_TORQUE[int(self.rpm / 10)]
        self.full_gas = full + friction
        locked, efficiency = self.gear >= bus.FIRST_LOCKED, bus.EFFICIENCY[self.gear - 1]
        gain = bus.RATIOS[self.gear - 1] * bus.AXLE / radius
        gain *= 1.0 if locked else self.multiplied
        torque = force / (gain * (efficiency if force > 0 else 1 / efficiency)) + accessory
        torque = min(torque, full)
        if halt or parked:
            torque = min(torque, 0.0)
        if self.shifting > 0:
            torque = min(torque, 0.3 * full)
        floor = 0.0
        if self.rpm < bus.IDLE_RPM + 40:  # the governor holds idle
            floor = friction + accessory + (0.0 if parked else 55.0)
        self.gas = max(torque + friction, floor, 0.0)
        self.pedal = self.gas / self.full_gas if self.gas > floor else 0.0
        overrun = self.gas < 0.03 * full and self.rpm > 1000
        if overrun:
            self.gas = self.pedal = 0.0
        self.net = self.gas - friction - accessory
        if parked or (halt and speed < 0.05 and not locked):
            self.drive_n = 0.0
        elif locked:
            self.drive_n = self.net * gain * (efficiency if self.net > 0 else 1 / efficiency)
        else:
            self.drive_n = max(self.net, -60.0) * gain * efficiency
        self._brake(force, speed, overrun and locked)

    def _brake(self, force: float, speed: float, overrun: bool) -> None:
        """What engine drag leaves: first the retarder, then the service brakes."""
        missing = force - self.drive_n
        self.retarder_w = 0.0
        if overrun and missing < -250 and speed > 6:
            self.retarder_w = min(bus.RETARDER_W[int(self.rpm / 10)], -missing * speed)
            self.drive_n -= self.retarder_w / speed
            missing += self.retarder_w / speed
        self.brake_n = max(0.0, -missing - 150.0) if force < 0 else 0.0

    def _accessory_w(self, parked: bool) -> float:
        # lights, computers and the counter's till while the library is open
        watts = 5200.0 + (2600.0 if parked else 0.0)
        return watts + (9500.0 * (self.rpm / 2000) ** 3 if self.fan else 0.0)

    def warm(self, speed: float, air_c: float, turbine: float) -> None:
        """Burn the fuel, warm coolant and transmission oil."""
        self.heat_w = bus.fuel_power(self.rpm, self.gas, self.full_gas) if self.gas > 0 else 0.0
        opened = min(max((self.coolant_c - 84) / 8, 0.0), 1.0)
        away = 90 + opened * (850 + 34 * speed + (900 if self.fan else 0))
        into = 0.29 * self.heat_w + 0.5 * self.retarder_w - away * (self.coolant_c - air_c)
        self.coolant_c += DT * into / 4e5
        self.fan = self.coolant_c > 97 or (self.fan and self.coolant_c > 92)
        lost = abs(self.drive_n) * speed * (1 - bus.EFFICIENCY[self.gear - 1]) * 0.6
        if self.gear < bus.FIRST_LOCKED:
            slip = max(self.rpm - turbine, 0.0) * RADIANS
            lost += max(self.net, 0.0) * slip * 0.7
        self.oil_c += DT * (lost - 260 * (self.oil_c - self.coolant_c)) / 6.5e4

    def turn(self, turbine: float) -> None:
        """Engine speed that goes with the turbine's [rev/min]."""
        if self.gear >= bus.FIRST_LOCKED:
            target = max(turbine, bus.IDLE_RPM)
        else:
            # the pump takes torque with the square of its speed, less what the turbine gives
            pump = max(self.net, 0.0) / 2.5e-4
            target = max(math.sqrt(0.88 * turbine**2 + pump), bus.IDLE_RPM)
            self.multiplied = max(1.0, 1.9 - 1.02 * min(turbine / target, 1.0))
        if self.shifting > 0:
            self.shifting -= DT
            self.rpm = target + (self.old_rpm - target) * max(0.0, self.shifting / 0.7)
        elif self.gear >= bus.FIRST_LOCKED:
            self.rpm = target
        else:
            self.rpm += (min(target, bus.GOVERNED_RPM) - self.rpm) * 0.35

    def shift(self, shaft: float, speed: float, behind: bool) -> None:
        """Change gear by shaft speed [rev/min]; `behind`: slower than the driver wants."""
        self.settled += DT
        self.smooth_pedal += (self.pedal - self.smooth_pedal) * (DT / 1.2)
        braking = self.retarder_w > 2e4
        self.unbraked = 0.0 if braking or self.brake_n > 2000 else self.unbraked + DT
        self.struggling = self.struggling + DT if self.pedal > 0.94 and behind else 0.0
        if self.shifting > 0:
            return
        short = self.struggling > 2.5
        chosen = next_gear(self.gear, shaft, self.smooth_pedal, braking, short)
        if speed < 1.0:
            chosen = 1
        elif self._too_soon(chosen):
            chosen = self.gear
        if chosen != self.gear:
            self.hold = 9.0 if short else 3.0
            self.settled = self.struggling = 0.0
            self.gear, self.shifting, self.old_rpm = chosen, 0.7, self.rpm

    def _too_soon(self, chosen: int) -> bool:
        """Hold a gear a while, longer after braking or a kick-down, lest it hunt."""
        if chosen > self.gear and self.rpm < 2330:
            return self.settled < (1.0 if self.gear < 3 else self.hold) or self.unbraked < 5
        return chosen < self.gear and self.gear > 3 and self.settled < 2.5
