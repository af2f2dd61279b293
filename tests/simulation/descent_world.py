"""Invented vehicles driven down invented hills, apart from the package's own road model.

Time runs in fifths of a second, all vehicles of a kind side by side. The driver holds what the
dash shows and lets the speed wander. One third changes down before the brow to what holds the
hill's mean grade, one third a gear at a time once the brakes have worked a while, one third stays
in the gear of the level road. One foot in two is steady, the other lets it run and brakes it down
again. Rolling resistance grows with speed, engine friction bends upwards with engine speed, gusts
pass. SI units unless a name says otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

GRAVITY = 9.81
DT = 0.2
DENSITY = 1.05
LEVEL_M = 2000.0  # before and after the hill
LONGEST_M = 12_000.0
BEGINS_M = LEVEL_M - 250.0  # here the driver sees the hill
CELL_M = 20.0
DRIVERS = ("early", "late", "never")


@dataclass(frozen=True)
class Kind:
    """What vehicles of a kind share; friction at 0, 1 and the square of 1,000 rev/min [N m]."""

    name: str
    mass_kg: tuple[float, float]
    drag_area_m2: tuple[float, float]
    axle: float
    ratios: tuple[float, ...]
    turns_per_km: float
    rpm: tuple[float, ...]
    torque_nm: tuple[float, ...]
    governed_rpm: float
    friction_nm: tuple[float, float, float]
    retarder_rpm: tuple[float, ...]
    retarder_w: tuple[float, ...]
    efficiency: float
    kmh: tuple[float, float]  # wanted


_BUS = {
    "mass_kg": (9000, 16000),
    "drag_area_m2": (4.8, 6.8),
    "axle": 4.88,
    "ratios": (3.51, 1.91, 1.43, 1.00, 0.74, 0.64),
    "turns_per_km": 391.0,
    "rpm": (800, 1200, 1600, 2000, 2400),
    "torque_nm": (700, 900, 880, 800, 690),
    "governed_rpm": 2500.0,
    "friction_nm": (42, 17, 9),
    "efficiency": 0.92,
}
KINDS = (
    Kind(
        name="van",
        mass_kg=(2800, 4500),
        drag_area_m2=(3.0, 4.2),
        axle=4.10,
        ratios=(4.17, 2.34, 1.52, 1.14, 0.87, 0.69),
        turns_per_km=440.0,
        rpm=(1000, 1500, 2000, 3000, 3800),
        torque_nm=(250, 350, 350, 310, 240),
        governed_rpm=4200.0,
        friction_nm=(14, 3, 1.5),
        retarder_rpm=(),
        retarder_w=(),
        efficiency=0.92,
        kmh=(60, 95),
    ),
    Kind(
        name="bus",
        retarder_rpm=(1200, 1600, 2000, 2400),
        retarder_w=(42e3, 70e3, 98e3, 122e3),
        kmh=(50, 95),
        **_BUS,
    ),
    Kind(name="bus without a retarder", retarder_rpm=(), retarder_w=(), kmh=(45, 90), **_BUS),
    Kind(
        name="tractor with trailer",
        mass_kg=(18_000, 36_000),
        drag_area_m2=(5.0, 7.0),
        axle=3.55,
        ratios=(14.8, 10.95, 8.09, 5.97, 4.46, 3.32, 2.45, 1.81, 1.35, 1.00),
        turns_per_km=319.0,
        rpm=(1000, 1200, 1400, 1600, 1800, 2100),
        torque_nm=(2100, 2240, 2170, 2010, 1780, 1400),
        governed_rpm=2100.0,
        friction_nm=(95, 45, 22),
        retarder_rpm=(1200, 1500, 1800, 2100),
        retarder_w=(142e3, 216e3, 298e3, 373e3),
        efficiency=0.93,
        kmh=(40, 85),
    ),
)


@dataclass(frozen=True)
class Hills:
    """Vehicles of one kind, each with its own hill: arrays of shape (count,)."""

    kind: Kind
    mass_kg: np.ndarray
    drag_area_m2: np.ndarray
    rolling: np.ndarray
    friction: np.ndarray  # share of the kind's
    retarder: np.ndarray  # share of the declared
    taller: np.ndarray  # new tires against old
    fall: np.ndarray  # mean grade down [-]
    length_m: np.ndarray
    kmh: np.ndarray  # wanted
    driver: np.ndarray  # place in DRIVERS
    snub_mps: np.ndarray  # lets it run by so much, zero for a steady foot
    dash: np.ndarray  # what the vehicle does over the speed wanted
    headwind_mps: np.ndarray
    slope: np.ndarray  # (cells, count), positive falls
    seed: int

    @property
    def count(self) -> int:
        return int(self.mass_kg.size)

    def profile(self, one: int) -> pl.DataFrame:
        """What the owner has of the road: a point each 60 m, read to half a metre."""
        edge = np.arange(self.slope.shape[0] + 1) * CELL_M
        fall = np.sin(np.arctan(self.slope[:, one])) * CELL_M
        height = 1600 - np.concatenate([[0.0], np.cumsum(fall)])
        kept = np.flatnonzero(edge <= 2 * LEVEL_M + self.length_m[one])[::3]
        return pl.DataFrame(
            {"distance_m": edge[kept], "altitude_m": np.round(height[kept] * 2) / 2}
        )


def make_hills(kind: Kind, count: int, seed: int) -> Hills:
    """Falls of 3 to 9 % and 1 to 12 km, with waves on them."""
    rng = np.random.default_rng(seed)
    fall, length = rng.uniform(0.03, 0.09, count), rng.uniform(1000, LONGEST_M, count)
    place = np.arange(0, 2 * LEVEL_M + LONGEST_M, CELL_M)[:, None]
    waves = sum(
        size * np.sin(2 * np.pi * place / long + rng.uniform(0, 2 * np.pi, count))
        for long, size in ((2300, 0.006), (900, 0.006), (410, 0.004))
    )
    falls = (place >= LEVEL_M) & (place < LEVEL_M + length)
    return Hills(
        kind=kind,
        mass_kg=rng.uniform(*kind.mass_kg, count),
        drag_area_m2=rng.uniform(*kind.drag_area_m2, count),
        rolling=rng.uniform(0.0052, 0.0078, count),
        friction=rng.normal(1.0, 0.12, count),
        retarder=rng.normal(0.95, 0.05, count),
        taller=rng.uniform(0.96, 1.08, count),
        fall=fall,
        length_m=length,
        kmh=np.round(rng.uniform(*kind.kmh, count) / 5) * 5,
        driver=np.arange(count) % len(DRIVERS),
        snub_mps=np.where(rng.random(count) < 0.5, rng.uniform(0.8, 1.6, count), 0.0),
        dash=rng.normal(1.0, 0.02, count),
        headwind_mps=rng.normal(0, 1.8, count),
        slope=np.where(falls, fall + waves, 0.0),
        seed=seed,
    )


def brake_kwh(hills: Hills, *, after: bool) -> np.ndarray:
    """Work of the service brakes down each hill [kWh], by the same driver on either tires."""
    return _Descents(hills, after=after).run() / 3.6e6


class _Descents:
    """All vehicles of a kind on the way down: state by vehicle."""

    def __init__(self, hills: Hills, *, after: bool) -> None:
        self.hills, self.kind = hills, hills.kind
        self.rng = np.random.default_rng(hills.seed + 1)
        turns = self.kind.turns_per_km / 1000 / (hills.taller if after else np.ones(hills.count))
        self.per_m = np.outer(turns * self.kind.axle, self.kind.ratios)  # engine turns, by gear
        self.lane, self.top = np.arange(hills.count), len(self.kind.ratios) - 1
        self.wanted = hills.kmh / 3.6 * hills.dash
        self.v, self.s = self.wanted.copy(), np.zeros(hills.count)
        self.gear = self._level_gear()
        self.early = self._holding_gear()
        self.wander, self.gust, self.demand = np.zeros((3, hills.count))
        self.worked_s, self.since_s = np.zeros(hills.count), np.full(hills.count, 9.0)
        self.snubbing = np.zeros(hills.count, dtype=bool)

    def run(self) -> np.ndarray:
        """Work of the service brakes [J]."""
        work, end = np.zeros(self.hills.count), 2 * LEVEL_M + self.hills.length_m
        while (under_way := self.s < end).any():
            self.wander = self._drift(self.wander, 0.35, 25)
            self.gust = self._drift(self.gust, 0.9, 15)
            before = self.v
            brake = self._move(under_way)
            work += np.where(under_way, brake * before * DT, 0.0)
            self._shift(brake)
        return work

    def _drift(self, value: np.ndarray, deviation: float, seconds: float) -> np.ndarray:
        """A value that wanders about zero and forgets in so many seconds."""
        chance = self.rng.normal(0, 1, value.size) * deviation * (2 * DT / seconds) ** 0.5
        return value * (1 - DT / seconds) + chance

    def _rpm(self, gear: np.ndarray) -> np.ndarray:
        return self.per_m[self.lane, gear] * 60 * self.v

    def _held_n(self, gear: np.ndarray) -> np.ndarray:
        """What engine friction and retarder hold at the wheels [N]."""
        rpm = np.clip(self._rpm(gear), 600, None)
        k, (a, b, c) = rpm / 1000, self.kind.friction_nm
        torque = self.hills.friction * (a + b * k + c * k * k)
        if self.kind.retarder_rpm:
            first = self.kind.retarder_rpm[0]
            power = np.interp(rpm, self.kind.retarder_rpm, self.kind.retarder_w)
            power = power * np.clip((rpm - 900) / (first - 900), 0, 1)
            torque = torque + self.hills.retarder * power / (rpm * np.pi / 30)
        held: np.ndarray = torque * 2 * np.pi * self.per_m[self.lane, gear] / self.kind.efficiency
        return held

    def _resisting_n(self, slope: np.ndarray) -> np.ndarray:
        hills = self.hills
        air = self.v + hills.headwind_mps + self.gust
        weight = hills.mass_kg * GRAVITY
        rolling = hills.rolling * (0.85 + 0.15 * self.v / 22) * np.cos(np.arctan(slope))
        force: np.ndarray = weight * (rolling - np.sin(np.arctan(slope)))
        return force + 0.5 * DENSITY * hills.drag_area_m2 * air * np.abs(air)

    def _level_gear(self) -> np.ndarray:
        """The highest gear that turns at a third of the way from 700 to governed speed or more."""
        turning = self.per_m * 60 * self.v[:, None] >= 700 + (self.kind.governed_rpm - 700) / 3
        turning[:, 0] = True
        return self.top - np.argmax(turning[:, ::-1], axis=1)

    def _holding_gear(self) -> np.ndarray:
        """The highest gear in which engine and retarder hold the hill's mean grade."""
        hills, gear = self.hills, self._level_gear()
        angle = np.arctan(hills.fall)
        pull = hills.mass_kg * GRAVITY * (np.sin(angle) - hills.rolling * np.cos(angle))
        pull = pull - 0.5 * DENSITY * hills.drag_area_m2 * self.v**2
        for _ in self.kind.ratios:
            lower = np.maximum(gear - 1, 0)
            fits = self._rpm(lower) <= 0.97 * self.kind.governed_rpm
            gear = np.where((self._held_n(gear) < pull) & fits, lower, gear)
        return gear

    def _move(self, under_way: np.ndarray) -> np.ndarray:
        """A fifth of a second on; returns the service brakes' force [N]."""
        hills, kind = self.hills, self.kind
        cell = np.minimum((self.s / CELL_M).astype(int), hills.slope.shape[0] - 1)
        resisting = self._resisting_n(hills.slope[cell, self.lane])
        radians_per_m = 2 * np.pi * self.per_m[self.lane, self.gear]
        inertia = hills.mass_kg * 1.03 + 0.002 * max(kind.torque_nm) * radians_per_m**2
        aim = self.wanted + self.wander
        self.demand += (0.35 * (aim - self.v) - self.demand) * DT / 0.6
        asked = self.demand * inertia + resisting
        rpm = np.clip(self._rpm(self.gear), 600, None)
        full = np.interp(rpm, kind.rpm, kind.torque_nm) * radians_per_m * kind.efficiency
        held = self._held_n(self.gear)
        force = np.clip(asked, -held, full)
        snubs = hills.snub_mps > 0
        self.snubbing |= snubs & (self.v > aim + hills.snub_mps)
        self.snubbing &= self.v > aim - hills.snub_mps / 2
        hard = np.maximum(0.7 * inertia - resisting - held, 0.0)
        brake = np.where(snubs, np.where(self.snubbing, hard, 0.0), force - asked)
        brake = np.maximum(brake, 0.0)
        force = np.where(self.snubbing, -held, force)
        new = np.maximum(self.v + (force - brake - resisting) / inertia * DT, 1.0)
        self.s = self.s + np.where(under_way, (self.v + new) / 2 * DT, 0.0)
        self.v = new
        return brake

    def _shift(self, brake: np.ndarray) -> None:
        hills, governed = self.hills, self.kind.governed_rpm
        braking = brake > 0.01 * hills.mass_kg * GRAVITY
        self.worked_s = np.clip(self.worked_s + np.where(braking, DT, -DT / 2), 0, 9)
        falling = (self.s > BEGINS_M) & (self.s < LEVEL_M + hills.length_m)
        level, lower = self._level_gear(), np.maximum(self.gear - 1, 0)
        fits = self._rpm(lower) <= 0.95 * governed
        late = np.where((self.worked_s > 4) & fits, lower, np.minimum(self.gear, level))
        by_driver = np.stack([np.minimum(self.early, level), late, level])
        want = np.where(falling, by_driver[hills.driver, self.lane], level)
        over = self._rpm(self.gear) > 1.03 * governed
        want = np.where(over, np.minimum(self.gear + 1, self.top), want)
        change = (want != self.gear) & (self.since_s > 2.5)
        self.gear = np.where(change, self.gear + np.sign(want - self.gear), self.gear)
        self.worked_s = np.where(change, 0.0, self.worked_s)
        self.since_s = np.where(change, 0.0, self.since_s + DT)
