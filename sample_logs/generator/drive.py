"""One trip: the bus, the driver and the weather on a road, a tenth of a second at a time."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from . import bus
from .chance import Floats, stream, wandering
from .roads import STEP_M, Road
from .weather import STATION_ALTITUDE_M, WIND_AT_BUS, Weather

DT = 0.1
GRAVITY = 9.81
KEPT = (
    "time_s",
    "along_m",
    "speed_mps",
    "indicated_mps",
    "engine_rpm",
    "gear",
    "fuel_lps",
    "gas_torque",
    "full_gas_torque",
    "pedal",
    "retarder_w",
    "brake_w",
    "coolant_c",
    "oil_c",
    "air_c",
    "air_kpa",
    "locked",
)


@dataclass(frozen=True)
class Plan:
    """What a trip is before any tire is chosen; the same plan can be driven on either set."""

    name: str
    start: datetime
    road: Road
    done: int  # trips driven on the set before this one
    haste: float  # the driver's mood: share of the comfortable speed
    burn: float  # unexplained share of the day and the trip in the fuel burned
    mass_kg: float
    coolant_c: float  # at the start
    cold_tires: float  # share of rolling resistance still to be driven off at the start
    dwell_s: tuple[float, ...]  # at each library station passed
    idle_s: tuple[float, float]  # before setting off and after arriving


@dataclass(frozen=True)
class Drive:
    """Arrays each DT [s], by the names of KEPT, with the totals that truth is made of."""

    plan: Plan
    arrays: dict[str, Floats]

    @property
    def true_m(self) -> float:
        return float(self.arrays["along_m"][-1])

    @property
    def indicated_m(self) -> float:
        return float(self.arrays["indicated_mps"].sum() * DT)

    @property
    def liters(self) -> float:
        return float(self.arrays["fuel_lps"].sum() * DT)


def speed_to_hold(road: Road, haste: float) -> list[float]:
    """What the driver wants to read on the dash at each grid point [m/s], slowing in time."""
    wanted = np.minimum(road.comfortable_mps * haste, 67.5 * 0.44704).tolist()
    for stop in (*road.stops_m, *road.stations_m, road.length_m):
        wanted[min(len(wanted) - 1, int(stop / STEP_M))] = 0.0
    for i in range(len(wanted) - 2, -1, -1):
        reachable = math.sqrt(wanted[i + 1] ** 2 + 2 * 0.55 * STEP_M)
        wanted[i] = min(wanted[i], reachable)
    out: list[float] = wanted
    return out


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
    if gear < 6 and not braking and rpm > 1480 + 860 * pedal:
        return gear + 1
    return gear


def drive(
    plan: Plan, tire: bus.Tire, weather: Weather, *, done: float | None = None, dash: float = 1.0
) -> Drive:
    """The plan driven on `tire`; `done`: trips of wear on it, the plan's own if not given.

    `dash`: the driver holds `dash` times what the dash of these tires shows. 1 as driven;
    the ratio of two circumferences drives one set at the true speeds of the other.
    """
    state = _Trip(plan, tire, weather, plan.done if done is None else done, dash)
    rows = state.run()
    columns = np.array(rows).T
    return Drive(plan, dict(zip(KEPT, columns, strict=True)))


class _Trip:
    def __init__(
        self, plan: Plan, tire: bus.Tire, weather: Weather, done: float, dash: float
    ) -> None:
        self.plan, self.tire, self.weather, self.done, self.dash = plan, tire, weather, done, dash
        road = plan.road
        n = len(road.distance_m)
        rng = stream("drive", plan.name)
        # noise along the road, not in time, so that another tire meets the same
        self.gust = wandering(rng, n, sd=0.28, length=700 / STEP_M).tolist()
        self.whim = wandering(rng, n, sd=0.55, length=1100 / STEP_M).tolist()
        self.surface = (1 + wandering(rng, n, sd=0.05, length=900 / STEP_M)).tolist()
        self.wanted = speed_to_hold(road, plan.haste)
        self.grade, self.altitude = road.grade.tolist(), road.altitude_m.tolist()
        self.course = np.radians(road.course_deg).tolist()
        self.exposure = road.exposure.tolist()
        signs = [(s, 2.0) for s in road.stops_m]
        stations = list(zip(road.stations_m, plan.dwell_s, strict=True))
        self.halts = [*sorted(signs + stations), (road.length_m, plan.idle_s[1]), (1e9, 0.0)]

    def air(self, t: float) -> None:
        """Weather, tires and rolling resistance of the moment."""
        moment = self.plan.start + timedelta(seconds=t)
        temperature, self.east, self.north, pressure = self.weather.at(moment)
        self.station_c, self.station_kpa = temperature, pressure / 10
        self.circumference = self.tire.rolling_circumference(temperature, self.done)
        warming = 1 + self.plan.cold_tires * math.exp(-t / 800)
        self.rolling = self.tire.rolling * warming * (1 - bus.ROLLING_PER_K * (temperature - 20))

    def run(self) -> list[tuple[float, ...]]:
        rows: list[tuple[float, ...]] = []
        keep: Callable[[tuple[float, ...]], None] = rows.append
        mass, dash, burn = self.plan.mass_kg, self.dash, 1 + self.plan.burn
        t = s = v = integral = force = brake_force = 0.0
        gear, shifting, unlocked_ratio = 1, 0.0, 1.9
        rpm, old_rpm, struggling, cell = bus.IDLE_RPM, bus.IDLE_RPM, 0.0, 0
        coolant, oil, fan = self.plan.coolant_c, self.plan.coolant_c - 8.0, False
        halt, waiting, parked = 0, self.plan.idle_s[0], True
        next_air, traction, last = 0.0, 0.0, len(self.halts) - 1
        settled, braked, hold, smooth_pedal = 0.0, 99.0, 3.0, 0.0
        while True:
            if t >= next_air:
                self.air(t)
                next_air += 20.0
                radius = self.circumference / (2 * math.pi)
                inertia_wheels = bus.WHEEL_INERTIA / radius**2
            # what the dash shows, and what the driver makes of it
            creep = traction / bus.CREEP_N
            wheel_speed = v / (1 - creep)
            shaft = wheel_speed / self.circumference * 60 * bus.AXLE
            shown = wheel_speed / self.circumference * bus.PROGRAMMED_CIRCUMFERENCE_M
            cell = min(int(s / STEP_M), len(self.grade) - 1)
            halt_at, dwell = self.halts[halt]
            halting = s > halt_at - 1.5
            if waiting > 0:
                waiting -= DT
                want = 0.0
                if waiting <= 0:
                    if halt == last:
                        break
                    parked = False
            elif halting and v < 0.25:
                v, waiting, parked, integral = 0.0, dwell, dwell > 30, 0.0
                halt += 1
                want = 0.0
            else:
                want = 0.0 if halting else max(1.3, self.wanted[cell] + 0.4 * self.whim[cell])
            error = want - shown * dash
            integral = min(max(integral + error * DT, -60.0), 60.0) if want > 0 else 0.0
            if want > 0:
                asked = mass * min(max(0.42 * error + 0.035 * integral, -1.6), 1.15)
            else:
                asked = -1.0 * mass
            if shown * dash < want - 3:
                integral = min(integral, 25.0)  # a driver does not stand on it in advance
            force += (asked - force) * (DT / 0.5)
            # gearbox
            temperature = self.station_c - 0.0065 * (self.altitude[cell] - STATION_ALTITUDE_M)
            ratio, efficiency = bus.RATIOS[gear - 1], bus.EFFICIENCY[gear - 1]
            locked = gear >= bus.FIRST_LOCKED
            turbine = shaft * ratio
            index = min(int(rpm / 10), 300)
            friction = bus.friction_torque(rpm, coolant)
            full = bus.MAX_TORQUE[index]
            omega = rpm * math.pi / 30
            accessory_w = 5200.0 + (2600.0 if parked else 0.0)
            accessory_w += 9500.0 * (rpm / 2000) ** 3 if fan else 0.0
            accessory = accessory_w / omega
            # engine torque asked for, at the crankshaft
            gain = ratio * bus.AXLE / radius * (1.0 if locked else unlocked_ratio)
            loss = efficiency if force > 0 else 1 / efficiency
            brake_torque = force / (gain * loss) + accessory
            brake_torque = min(brake_torque, full)
            if want == 0 or parked:
                brake_torque = min(brake_torque, 0.0)
            if shifting > 0:
                brake_torque = min(brake_torque, 0.3 * full)
            floor = 0.0
            if rpm < bus.IDLE_RPM + 40:  # the governor holds idle
                floor = friction + accessory + (55.0 if not parked else 0.0)
            gas = max(brake_torque + friction, floor, 0.0)
            pedal = gas / (full + friction) if gas > floor else 0.0
            cut = gas < 0.03 * full and rpm > 1000
            if cut:
                gas = pedal = 0.0
            net = gas - friction - accessory
            if locked:
                drive_force = net * gain * (efficiency if net > 0 else 1 / efficiency)
            elif parked or v < 0.05 and want == 0:
                drive_force = 0.0
            else:
                drive_force = max(net, -60.0) * gain * efficiency
            # what is left for the retarder and the service brakes
            retarder_w = 0.0
            missing = force - drive_force
            if cut and missing < -250 and locked and shown > 6:
                most = bus.RETARDER_W[index]
                retarder_w = min(most, -missing * v)
                missing += retarder_w / max(v, 1.0)
                drive_force -= retarder_w / max(v, 1.0)
            brake_force = max(0.0, -missing - 150.0) if force < 0 else 0.0
            if want == 0 and v < 0.5:
                brake_force = mass
            # the road
            slope = self.grade[cell]
            hyp = math.sqrt(1 + slope * slope)
            kelvin = temperature + 273.15
            pressure = self.station_kpa * (kelvin / (self.station_c + 273.15)) ** 5.2559
            density = pressure * 1000 / (287.05 * kelvin)
            gust = WIND_AT_BUS * self.exposure[cell] * (1 + self.gust[cell])
            east, north = self.east * gust, self.north * gust
            sine, cosine = math.sin(self.course[cell]), math.cos(self.course[cell])
            along = v - (east * sine + north * cosine)
            across = north * sine - east * cosine
            flow = math.sqrt(along * along + across * across) + 1e-9
            area = bus.DRAG_AREA_M2 * (1 + 1.1 * (across / flow) ** 2 * (abs(along) / flow))
            resistance = 0.5 * density * area * flow * along
            if v > 0.1:
                resistance += self.rolling * self.surface[cell] * mass * GRAVITY / hyp
            resistance += mass * GRAVITY * slope / hyp
            turning = inertia_wheels
            if locked:
                turning += bus.ENGINE_INERTIA * (ratio * bus.AXLE / radius) ** 2
            acceleration = (drive_force - resistance - brake_force) / (mass + turning)
            if v < 0.3 and (want == 0 or parked):
                acceleration = -v / DT
            new_v = max(0.0, v + acceleration * DT)
            traction = 0.85 * traction + 0.15 * (drive_force - 0.5 * brake_force)
            traction = 0.0 if new_v < 0.2 else min(max(traction, -6e4), 6e4)
            # heat
            load_full = full + friction
            heat = bus.fuel_power(rpm, gas, load_full) if gas > 0 else 0.0
            fuel = heat / bus.FUEL_J_PER_L * burn
            opened = min(max((coolant - 84) / 8, 0.0), 1.0)
            away = 90 + opened * (850 + 34 * v + (900 if fan else 0))
            coolant += DT * (0.29 * heat + 0.5 * retarder_w - away * (coolant - temperature)) / 4e5
            fan = coolant > 97 or fan and coolant > 92
            lost = abs(drive_force) * v * (1 - efficiency) * 0.6
            if not locked:
                lost += max(net, 0.0) * max(omega - turbine * math.pi / 30, 0.0) * 0.7
            oil += DT * (lost - 260 * (oil - coolant)) / 6.5e4
            keep(
                (t, s, v, shown, rpm, gear, fuel, gas, load_full, pedal, retarder_w)
                + (brake_force * v, coolant, oil, temperature, pressure, locked and shifting <= 0)
            )
            s += 0.5 * (v + new_v) * DT
            v = new_v
            t += DT
            # engine speed and gear for the next moment
            turbine = v / (1 - traction / bus.CREEP_N) / self.circumference * 60 * bus.AXLE * ratio
            if locked:
                target = max(turbine, bus.IDLE_RPM)
            else:
                pump = max(net, 0.0)
                target = max(math.sqrt(0.88 * turbine**2 + pump / 2.5e-4), bus.IDLE_RPM)
                speed_ratio = min(turbine / target, 1.0)
                unlocked_ratio = max(1.0, 1.9 - 1.02 * speed_ratio)
            if shifting > 0:
                shifting -= DT
                share = max(0.0, shifting / 0.7)
                rpm = target + (old_rpm - target) * share
            elif locked:
                rpm = target
            else:
                rpm += (min(target, bus.GOVERNED_RPM) - rpm) * 0.35
            struggling = struggling + DT if pedal > 0.94 and shown * dash < want - 1.2 else 0.0
            settled += DT
            smooth_pedal += (pedal - smooth_pedal) * (DT / 1.2)
            braked = 0.0 if retarder_w > 2e4 or brake_force > 2000 else braked + DT
            if shifting <= 0 and not parked:
                chosen = next_gear(gear, shaft, smooth_pedal, retarder_w > 2e4, struggling > 2.5)
                if v < 1.0:
                    chosen = 1
                # hold the gear a while, longer after braking or a kick-down
                elif chosen > gear and (settled < (1.0 if gear < 3 else hold) or braked < 5):
                    chosen = gear
                elif chosen < gear and gear > 3 and settled < 2.5:
                    chosen = gear
                if chosen != gear:
                    hold = 9.0 if struggling > 2.5 else 3.0
                    settled, struggling = 0.0, 0.0
                    gear, shifting, old_rpm = chosen, 0.7, rpm
        return rows
