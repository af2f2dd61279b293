"""Road steps of invented trucks on invented hills, apart from the package's own road model.

Time runs in half seconds; everything random comes from the seed. All trips of all studies run
side by side. Units are SI unless a name says otherwise.

What a truck is like is drawn over published ranges:

- rolling resistance from 0.0051 (a third on the steer tire, two thirds on the drive tire of least
  resistance, 0.00472 and 0.00528, of "Heavy Vehicle Tire Rolling Resistance Information", NREL
  ADVISOR, 2002) to 0.0080 (what an engine maker's guide for motorhomes comes to);
- drag area: frontal area by weight of 40 CFR 1036.510(b)(2) times a drag coefficient from 0.55
  (articulated) to 0.9 (rigid with trailer; a vehicle technology handbook, second hand);
- torque within 4 % of the declared curve in 95 % (what UN Regulation 85 leaves away from the
  highest power, from memory);
- gearbox and axle take from half to all of the standard losses of Commission Regulation (EU)
  2017/2400, Annexes VI and VII.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import polars as pl

from gearing.trips.steps import with_all_columns

GRAVITY = 9.81
AXLE = 4.63
RATIOS = np.array([6.7, 3.8, 2.3, 1.48, 1.0, 0.73])
CURVE_RPM = np.array([700.0, 1000, 1200, 1400, 1600, 1900, 2200, 2400])
CURVE_NM = np.array([560.0, 800, 950, 990, 980, 900, 790, 640])
FRICTION_NM = (42.0, 0.030)  # at standstill, more a rev/min
ENGINE_INERTIA = 1.7
WHEELS_KG = 350.0
DT = 0.5
TRIP_M = 28_000.0


@dataclass(frozen=True)
class Driver:
    """How a truck is driven and logged: `lasting` is the share of what the foot is off by that
    lasts from tick to tick, `late` by how many ticks the load is told late, `tilt` by what share
    the true torque curve rises over the declared one each 600 rev/min, from 1,600 on."""

    lasting: float = 0.0
    late: int = 0
    tilt: float = 0.0


def any_driver(rng: np.random.Generator) -> Driver:
    """One of many: a foot that is off for a moment or for seconds, load told at once or half a
    second late, a torque curve that tilts within what UN Regulation 85 leaves (from memory)."""
    return Driver(rng.uniform(0.0, 0.9), int(rng.integers(2)), rng.normal(0.0, 0.02))


@dataclass(frozen=True)
class Truth:
    mass_kg: float
    drag_area_m2: float
    rolling_at_25c: float
    torque_scale: float
    losses: float  # as a share of the standard ones
    turns_per_km: dict[str, float]
    driver: Driver

    def at_wheels_nm(self, torque_nm: np.ndarray, rpm: np.ndarray, gear: np.ndarray) -> np.ndarray:
        """Torque at the wheels from that into the gearbox, gears from 0, once gearbox and axle have
        taken their share."""
        share = np.where(RATIOS[gear] == 1, 0.01, 0.04)
        return passed_on(torque_nm, rpm, RATIOS[gear], share, self.losses)


def passed_on(
    torque_nm: np.ndarray, rpm: np.ndarray, ratio: np.ndarray, share: np.ndarray, losses: np.ndarray
) -> np.ndarray:
    """Torque at the wheels: a share and a drag gone in the gearbox, then in the axle."""
    box = (1 - losses * share) * torque_nm - losses * 0.005 * CURVE_NM.max() * (1 + rpm / 1000)
    return (1 - losses * 0.02) * (box * ratio * AXLE - losses * (70 + 20 * AXLE))


@dataclass(frozen=True)
class Simulated:
    truth: Truth
    steps: pl.DataFrame
    trips: pl.DataFrame


def simulate(
    studies: int,
    trips_a_side: int,
    seed: int,
    driver: Driver | None = None,
) -> list[Simulated]:
    """So many studies, each with so many trips before and after; same seed, same studies. Each has
    a driver of its own, or `driver`."""
    rng = np.random.default_rng(seed)
    truths = [_truth(rng, driver) for _ in range(studies)]
    per = 2 * trips_a_side
    lane_truth = [truths[i // per] for i in range(studies * per)]
    sides = ["before" if i % per < trips_a_side else "after" for i in range(studies * per)]
    histories = _drive(lane_truth, sides, rng)
    late = np.array([one.driver.late for one in lane_truth])
    histories["load"] = np.where(late, np.roll(histories["load"], 1, axis=0), histories["load"])
    out = []
    for number, truth in enumerate(truths):
        lanes = range(number * per, (number + 1) * per)
        frames = [_steps(f"trip-{lane}", histories, lane, rng) for lane in lanes]
        table = pl.DataFrame(
            {
                "trip": [f"trip-{lane}" for lane in lanes],
                "side": [sides[lane] for lane in lanes],
                "ambient_temperature_c": [histories["celsius"][lane] for lane in lanes],
                "used": [True] * per,
            }
        )
        out.append(Simulated(truth, pl.concat(frames), table))
    return out


def _truth(rng: np.random.Generator, driver: Driver | None) -> Truth:
    before = 312.0 * rng.uniform(0.98, 1.02)
    mass = rng.uniform(9000, 15000)
    frontal_m2 = -1.69e-8 * mass**2 + 6.33e-4 * mass + 1.67
    return Truth(
        mass_kg=mass,
        drag_area_m2=frontal_m2 * rng.uniform(0.55, 0.9),
        rolling_at_25c=rng.uniform(0.0051, 0.0080),
        torque_scale=rng.normal(1.0, 0.02),
        losses=rng.uniform(0.5, 1.0),
        turns_per_km={"before": before, "after": before / rng.uniform(1.02, 1.06)},
        driver=driver or any_driver(rng),
    )


def _hills(rng: np.random.Generator, count: int) -> np.ndarray:
    """Grade by 20 m of road and lane: long hills with shorter waves on them."""
    place = np.arange(0, TRIP_M + 3000, 20.0)[:, None]
    grade = np.zeros((place.size, count))
    for length, size in ((9000, 0.03), (2500, 0.012), (700, 0.006)):
        phase = rng.uniform(0, 2 * np.pi, count)
        grade += size * np.sin(2 * np.pi * place / length + phase)
    return grade


def _drive(
    truth: list[Truth],
    sides: list[str],
    rng: np.random.Generator,
) -> dict[str, np.ndarray]:
    count = len(truth)

    def of(name: str) -> np.ndarray:
        return np.array([getattr(one, name) for one in truth])

    mass = of("mass_kg") * rng.normal(1, 0.004, count)
    lasting = np.array([t.driver.lasting for t in truth])
    tilt = np.array([t.driver.tilt for t in truth])
    turns = np.array([t.turns_per_km[s] for t, s in zip(truth, sides, strict=True)]) / 1000
    celsius = np.where(
        np.array(sides) == "before", rng.uniform(-5, 12, count), rng.uniform(5, 25, count)
    )
    rolling = of("rolling_at_25c") / (1 + 0.005 * (celsius - 25)) * rng.normal(1, 0.02, count)
    density = 101_325 * 0.93 / (287.05 * (celsius + 273.15))
    wind = rng.normal(0, 1.8, (2, count))
    grade = _hills(rng, count)
    target = rng.uniform(21, 26, count)
    lane = np.arange(count)
    losses = of("losses")
    v, s, z, foot = np.full(count, 10.0), np.zeros(count), np.zeros(count), np.zeros(count)
    gear = np.full(count, 2)
    since = np.zeros(count)
    kept: list[np.ndarray] = []
    for _ in range(int(TRIP_M / 9 / DT)):
        cell = np.minimum((s / 20).astype(int), grade.shape[0] - 1)
        slope = grade[cell, lane]
        ratio = RATIOS[gear] * AXLE
        rpm = v * turns * ratio * 60
        full = np.interp(rpm, CURVE_RPM, CURVE_NM) * of("torque_scale")
        full *= 1 + tilt * (rpm - 1600) / 600
        friction = FRICTION_NM[0] + FRICTION_NM[1] * rpm
        course = 0.6 * np.sin(s / 4000) + lane
        head = wind[0] * np.cos(course) + wind[1] * np.sin(course)
        air = 0.5 * density * of("drag_area_m2") * (v + head) * np.abs(v + head)
        held = mass * GRAVITY * (np.sin(np.arctan(slope)) + rolling * np.cos(np.arctan(slope)))
        inertia = mass + WHEELS_KG + ENGINE_INERTIA * (2 * np.pi * turns * ratio) ** 2
        foot = lasting * foot + rng.normal(0, 0.4 * (1 - lasting**2) ** 0.5, count)
        asked = np.clip(0.35 * (target + foot - v), -1.2, 0.9) * inertia
        share = np.where(RATIOS[gear] == 1, 0.01, 0.04)
        per_turn = 2 * np.pi * turns
        idle_nm = passed_on(np.zeros(count), rpm, RATIOS[gear], share, losses)
        per_nm = passed_on(np.ones(count), rpm, RATIOS[gear], share, losses) - idle_nm
        accessory = 2500 / np.maximum(rpm * np.pi / 30, 50)
        wanted = ((asked + air + held) / per_turn - idle_nm) / per_nm + accessory
        brake = np.clip(wanted, -friction, full)
        force = per_turn * (np.where(brake > 0, brake - accessory, brake) * per_nm + idle_nm)
        service = np.maximum(force - (asked + air + held), 0) * (asked < 0)
        a = (force - air - held - service) / inertia
        load = (brake + friction) / (full + friction) * 100
        fuel = np.maximum(brake + friction, 0) * rpm * np.pi / 30 / 0.43 / 35.8e6
        kept.append(np.stack([s, z, v, rpm, gear + 1.0, load, fuel, course]))
        new_v = np.maximum(v + a * DT, 1.0)
        moved = (v + new_v) / 2 * DT
        s, z, v = s + moved, z + moved * np.sin(np.arctan(slope)), new_v
        share = np.clip(load / 100, 0, 1)
        up = (rpm > 1500 + 600 * share) & (gear < 5)
        down = (rpm < 1000 + 350 * share) & (gear > 0)
        ready = since > 3
        gear = gear + (up & ready).astype(int) - (down & ready & ~up).astype(int)
        since = np.where((up | down) & ready, 0.0, since + DT)
    history = np.stack(kept)
    names = ("s", "z", "v", "rpm", "gear", "load", "fuel", "course")
    found = {name: history[:, i, :] for i, name in enumerate(names)}
    return found | {"celsius": celsius}


def _steps(
    trip: str, histories: dict[str, np.ndarray], lane: int, rng: np.random.Generator
) -> pl.DataFrame:
    """Steps of 100 m whose ends are those of what is averaged over them, as the package's trips
    make them; altitude with a receiver's wander."""
    s = histories["s"][:, lane]
    clock = np.arange(s.size) * DT
    edge = np.searchsorted(s, np.arange(0.0, min(s[-1], TRIP_M), 100.0))

    def at(name: str) -> np.ndarray:
        return histories[name][edge, lane]

    wander = np.cumsum(rng.normal(0, 0.25, edge.size))
    wander -= np.convolve(wander, np.ones(31) / 31, "same")
    altitude = 600 + at("z") + wander

    def total(values: np.ndarray) -> np.ndarray:
        return np.add.reduceat(values, edge)[:-1]

    def mean(name: str) -> np.ndarray:
        return total(histories[name][:, lane]) / np.diff(edge)

    gears = histories["gear"][:, lane]
    one = [np.unique(gears[a:b]) for a, b in pairwise(edge)]
    time, place, square = clock[edge], s[edge], at("v") ** 2
    count = edge.size - 1
    steps = pl.DataFrame(
        {
            "trip": [trip] * count,
            "step": np.arange(count, dtype=np.uint32),
            "start_s": 1.7e9 + time[:-1],
            "duration_s": np.diff(time),
            "stopped_s": np.zeros(count),
            "distance_m": np.diff(place),
            "bridged_m": np.zeros(count),
            "latitude_deg": 40.0 + place[:-1] / 111_195,
            "longitude_deg": np.full(count, -100.0),
            "course_deg": np.degrees(mean("course")) % 360,
            "altitude_m": altitude[:-1],
            "end_altitude_m": altitude[1:],
            "speed_mps": np.diff(place) / np.diff(time),
            "speed_squared_m2ps2": (square[1:] + square[:-1]) / 2,
            "start_speed_mps": at("v")[:-1],
            "end_speed_mps": at("v")[1:],
            "fuel_l": total(histories["fuel"][:, lane]) * DT,
            "engine_speed_rpm": mean("rpm"),
            "engine_load_percent": np.round(mean("load")),
            "ambient_temperature_c": np.full(count, histories["celsius"][lane]),
            "unlocked_s": np.zeros(count),
            "overrun_s": total(histories["load"][:, lane] < 10.0) * DT,
            "gear": [float(g[0]) if g.size == 1 else None for g in one],
        },
        strict=False,
    )
    return with_all_columns(steps)
