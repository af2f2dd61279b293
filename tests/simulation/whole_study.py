"""Whole studies of invented vehicles, from a van to a tractor with trailer, written as files and
run: `python tests/simulation/whole_study.py FIRST COUNT`.

Apart from the package, in time and not along the road: a driver who follows a target and brakes
ahead, an engine whose efficiency bends with load, wheels that slip a little with it, a receiver and
a bus that are late by parts of a second and written in what units recorders write. Truth: true
over indicated distance, turns of the engine over true distance, and the fuel of the same drives at
the same speeds on the tires of before.
"""

from __future__ import annotations

import math
import sys
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl
from scipy.signal import lfilter

from gearing.run.batch import Options, run_study
from gearing.run.progress import Progress

TICK_S, CELL_M, EARTH_M, G = 0.5, 10.0, 6_371_000.0, 9.81
MJ_PER_L = 35.8
Array = np.ndarray
Range = tuple[float, float]


@dataclass(frozen=True)
class Kind:
    """What vehicles of a kind are drawn from; `up`, `down` where they shift [rpm]."""

    mass_kg: Range
    drag_m2: Range
    rolling: Range
    power_w: Range
    axle: Range
    gears: tuple[float, ...]
    governed: float
    up: float
    down: float
    engine_l: float
    sizes: tuple[tuple[str, str], ...]


SIX = (3.36, 1.91, 1.42, 1.0, 0.72, 0.62)
KINDS = {
    "van": Kind(
        (2600, 3900), (2.6, 3.6), (0.008, 0.012), (90e3, 130e3), (3.3, 4.1),
        (4.0, 2.3, 1.5, 1.13, 0.83, 0.64), 3500, 2100, 1350, 2.3,
        (("215/75R16", "225/75R16"), ("225/75R16", "215/75R16")),
    ),
    "motorhome": Kind(
        (7000, 13000), (5.0, 6.5), (0.007, 0.011), (150e3, 230e3), (4.3, 5.3), SIX, 2500, 1900,
        1150, 6.7, (("245/70R19.5", "265/70R19.5"), ("225/70R19.5", "245/70R19.5")),
    ),
    "bus": Kind(
        (11000, 18500), (4.8, 6.0), (0.0055, 0.009), (180e3, 260e3), (4.2, 5.9), SIX, 2200, 1700,
        1000, 7.7, (("275/70R22.5", "295/80R22.5"), ("295/80R22.5", "275/70R22.5")),
    ),
    "tractor": Kind(
        (16000, 40000), (5.2, 7.5), (0.0045, 0.0075), (310e3, 380e3), (2.3, 2.85),
        (14.93, 11.64, 9.02, 7.04, 5.64, 4.4, 3.39, 2.65, 2.05, 1.6, 1.28, 1.0), 1800, 1350, 980,
        12.8, (("315/70R22.5", "315/80R22.5"), ("315/80R22.5", "295/80R22.5")),
    ),
}  # fmt: skip


@dataclass(frozen=True)
class Vehicle:
    kind: Kind
    mass_kg: float
    drag_m2: float
    power_w: float
    axle: float
    efficiency: float
    bend: float  # of it, with load
    friction_pa: Range  # mean pressure at rest, and more a square of 1,000 rpm


@dataclass(frozen=True)
class Road:
    altitude_m: Array
    grade: Array
    limit_mps: Array
    latitude: Array
    longitude: Array
    course_deg: Array

    def back(self) -> Road:
        """The same the other way."""
        turned = {name: value[::-1] for name, value in vars(self).items()}
        turned["grade"], turned["course_deg"] = -turned["grade"], (turned["course_deg"] + 180) % 360
        return Road(**turned)


@dataclass(frozen=True)
class Day:
    load: float
    air_kgpm3: float
    celsius: float
    wind_mps: float
    wind_from_deg: float
    fuel: float  # what else makes it burn more
    accessories_w: float


@dataclass(frozen=True)
class Recorder:
    row_s: float
    receiver_s: float
    receiver_late_s: float
    bus_late_s: float
    fuel_late_s: float
    speed_unit: str


@dataclass(frozen=True)
class Truth:
    factor: tuple[float, float]
    final_drive_percent: float
    fuel_percent: float


def circumference(size: str) -> float:
    """Rolling circumference of a size, m: 0.965 of the free one; common practice, no source."""
    width, rest = size.split("/")
    aspect, rim = rest.split("R")
    return 0.965 * math.pi * (float(rim) * 25.4 + 2 * float(width) * float(aspect) / 100) / 1000


def make_road(g: np.random.Generator) -> Road:
    cells = int(g.uniform(25, 60) * 1000 / CELL_M)
    way = np.arange(cells) * CELL_M
    altitude = np.zeros(cells)
    for _ in range(20):
        wave = math.exp(g.uniform(math.log(800), math.log(20_000)))
        altitude += 0.006 * wave / 6.28 * np.sin(6.283 * way / wave + g.uniform(0, 7))
    grade = np.clip(g.uniform(0.3, 1.6) * np.gradient(altitude, CELL_M), -0.08, 0.08)
    course = np.convolve(np.cumsum(g.normal(0, g.uniform(1, 4), cells)), np.ones(30) / 30, "same")
    bend = np.abs(np.gradient(np.radians(course), CELL_M))
    top = float(g.choice([80, 90, 100]))
    zone = np.repeat(g.choice([50, 70, top, top, top], cells // 300 + 1), 300)[:cells] / 3.6
    limit = np.clip(np.minimum(zone, np.sqrt(1.6 / np.maximum(bend, 1e-5))), 6.0, None)
    stops = g.integers(100, cells - 100, cells // 800)
    limit[stops] = 0.3
    level_m = CELL_M / np.sqrt(1 + grade**2)
    latitude = 45.0 + np.degrees(np.cumsum(np.cos(np.radians(course)) * level_m) / EARTH_M)
    east_m = np.cumsum(np.sin(np.radians(course)) * level_m)
    longitude = 7.0 + np.degrees(east_m / EARTH_M) / np.cos(np.radians(latitude[0]))
    rise = np.cumsum(grade) * CELL_M
    return Road(rise - rise.min() + 200, grade, limit, latitude, longitude, course % 360)


def asked_n(
    vehicle: Vehicle, road: Road, day: Day, at: Array, speed: Array, rolling: float
) -> Array:
    """Rolling, grade and air [N] where the vehicle is."""
    ahead = day.wind_mps * np.cos(np.radians(road.course_deg[at] - day.wind_from_deg))
    warm = rolling * np.exp(-0.0075 * (day.celsius - 15)) * (1 + 0.004 * (speed - 20))
    weight = vehicle.mass_kg * day.load * G
    air = 0.5 * day.air_kgpm3 * vehicle.drag_m2 * (speed + ahead) * np.abs(speed + ahead)
    return np.asarray(weight * (warm + road.grade[at]) + air)


def drive(
    g: np.random.Generator, vehicle: Vehicle, road: Road, day: Day, rolling: float, faster: float
) -> tuple[Array, Array]:
    """Way [m] and true speed [m/s] at each tick."""
    gain, brake = g.uniform(0.5, 0.9), g.uniform(0.5, 1.0)
    square = (np.where(road.limit_mps > 1, road.limit_mps * faster, road.limit_mps)) ** 2
    for i in range(len(square) - 2, -1, -1):
        square[i] = min(square[i], square[i + 1] + 2 * brake * CELL_M)
    target = np.sqrt(square)
    way, speed, wander, found = 0.0, 0.5, 0.0, [(0.0, 0.0)] * 60
    while way < (len(target) - 2) * CELL_M:
        at = int(way / CELL_M)
        wander += -wander * TICK_S / 25 + 0.07 * g.normal()
        wanted = min(target[at] + wander * (target[at] > 8), 1.03 * target[at])
        resists = float(asked_n(vehicle, road, day, np.array([at]), np.array([speed]), rolling)[0])
        pull = (0.86 * vehicle.power_w / max(speed, 1.5) - resists) / vehicle.mass_kg
        most = min(gain * max(0.25, 1 - speed / 35), pull)
        speed = max(0.3, speed + TICK_S * max(-1.3 * brake, min(most, (wanted - speed) / 2)))
        way += speed * TICK_S
        found.append((way, speed))
        if road.limit_mps[at] < 1:
            found += [(way, 0.0)] * int(g.uniform(8, 120))
            way = (at + 1) * CELL_M + 0.01
    ended = [(way, speed * (1 - i / 40)) for i in range(40)] + [(way, 0.0)] * 60
    out = np.array(found + ended)
    return out[:, 0], out[:, 1]


def engine(
    vehicle: Vehicle, road: Road, day: Day, way: Array, speed: Array, tire_m: float, rolling: float
) -> tuple[Array, Array, Array]:
    """Fuel [L/h], engine speed [rpm] and load [-] over a drive."""
    kind, at = vehicle.kind, np.minimum((way / CELL_M).astype(int), len(road.grade) - 1)
    gained = np.convolve(np.gradient(speed, TICK_S), np.ones(3) / 3, "same")
    moving = speed > 0.1
    force = asked_n(vehicle, road, day, at, speed, rolling) * moving
    power = (force + 1.04 * vehicle.mass_kg * day.load * gained) * speed
    turns = 60 * vehicle.axle / tire_m * np.asarray(kind.gears)
    gear, current, shifted = np.zeros(len(speed), int), 0, -99
    for k, (v, p) in enumerate(zip(speed, np.maximum(power, 0) / vehicle.power_w, strict=True)):
        if v < 0.3:
            current, shifted = 0, k - 99
        elif k - shifted > 4:
            low = kind.down * (1 + 0.35 * p)
            if turns[current] * v < low and current > 0:
                current, shifted = current - 1, k
            elif (
                turns[current] * v > kind.up * (1 + 0.25 * p)
                and current + 1 < len(turns)
                and turns[current + 1] * v > 0.98 * low
            ):
                current, shifted = current + 1, k
        gear[k] = current
    rpm = np.maximum(turns[gear] * speed, 650.0)
    crank = np.where(power > 0, power / 0.96, power * 0.96) + day.accessories_w
    pressure = vehicle.friction_pa[0] + vehicle.friction_pa[1] * (rpm / 1000) ** 2
    friction = kind.engine_l / 1000 * pressure * rpm / 120
    load = np.clip(crank / (vehicle.power_w * np.clip(rpm / kind.governed, 0.2, 1)), 0, 1.2)
    burnt = (crank + friction) / (vehicle.efficiency * (1 - vehicle.bend * (load - 0.6) ** 2))
    overrun = moving & (crank < -0.25 * friction) & (rpm > 750)
    rate = np.where(overrun, 0, np.maximum(burnt, 0)) / (MJ_PER_L * 1e6) * 3600 * day.fuel
    return rate, rpm, load


def wandering(g: np.random.Generator, count: int, lasting: float) -> Array:
    """Unit noise, correlated over so many rows."""
    keep = math.exp(-1 / lasting)
    return np.asarray(lfilter([math.sqrt(1 - keep**2)], [1, -keep], g.normal(size=count)))


def logged(
    g: np.random.Generator,
    recorder: Recorder,
    road: Road,
    signals: dict[str, Array],
    start: datetime,
) -> pl.DataFrame:
    """What is written of a drive, from its way, speeds, engine and fuel."""
    t = np.arange(len(signals["way"])) * TICK_S
    rows = np.arange(0, t[-1], recorder.row_s)
    fix = np.floor(rows / recorder.receiver_s) * recorder.receiver_s
    first = np.searchsorted(fix, fix)  # the row a fix is first said in

    def received(values: Array) -> Array:
        return np.interp(fix - recorder.receiver_late_s, t, values)

    cells = np.arange(len(road.grade)) * CELL_M
    way = received(signals["way"])
    slope = np.interp(way, cells, road.grade)
    scatter = [2 * wandering(g, len(rows), 60)[first] for _ in range(3)]
    fixed = received(signals["speed"]) / np.sqrt(1 + slope**2) + g.normal(0, 0.05, len(rows))[first]
    bus = 3.6 * np.interp(rows - recorder.bus_late_s, t, signals["indicated"])
    written = {"cut": np.floor, "rounded": np.round, "fine": lambda x: np.round(256 * x) / 256}
    per_deg = math.radians(1) * EARTH_M
    return pl.DataFrame(
        {
            "Time": [
                f"{start + timedelta(seconds=s):%Y-%m-%dT%H:%M:%S.%f}"[:-3] + "Z" for s in rows
            ],
            "Latitude": np.round(np.interp(way, cells, road.latitude) + scatter[0] / per_deg, 6),
            "Longitude": np.round(
                np.interp(way, cells, road.longitude) + scatter[1] / per_deg / 0.707, 6
            ),
            "Altitude (m)": np.round(np.interp(way, cells, road.altitude_m) + 2 * scatter[2], 1),
            "GPS speed (km/h)": np.round(3.6 * np.maximum(fixed, 0), 2),
            "Vehicle speed (km/h)": written[recorder.speed_unit](bus),
            "Engine RPM": np.round(np.interp(rows - recorder.bus_late_s / 2, t, signals["rpm"]) * 8)
            / 8,
            "Engine fuel rate (L/h)": np.round(
                np.interp(rows - recorder.fuel_late_s, t, signals["fuel"]), 2
            ),
            "Ambient air temperature (C)": np.full(len(rows), round(float(signals["celsius"][0]))),
        }
    )


def make_study(seed: int, folder: Path) -> tuple[Truth, str]:
    """Writes one study; its truth, and what it is in words."""
    g = np.random.default_rng(seed)
    name = str(g.choice(list(KINDS)))
    kind = KINDS[name]
    sizes = kind.sizes[int(g.integers(len(kind.sizes)))]
    vehicle = Vehicle(
        kind, g.uniform(*kind.mass_kg), g.uniform(*kind.drag_m2), g.uniform(*kind.power_w),
        round(g.uniform(*kind.axle), 2), g.uniform(0.40, 0.48), g.uniform(0.05, 0.35),
        (g.uniform(110e3, 180e3), g.uniform(10e3, 25e3)),
    )  # fmt: skip
    tires = [circumference(size) * (1 + g.normal(0, 0.006)) for size in sizes]
    counts = [tires[0] * (1 + g.normal(0, 0.015))] * 2
    if g.random() < 0.25:  # reprogrammed with the tires
        counts[1] = counts[0] * tires[1] / tires[0]
    rolling = g.uniform(*kind.rolling)
    rollings = (rolling, rolling * (1 + float(g.choice([0, 0, g.uniform(-0.25, 0.2)]))))
    row_s = float(g.choice([0.5, 1, 1, 2]))
    recorder = Recorder(
        row_s, float(g.choice([1, 1, 2, 5]) if row_s <= 1 else row_s), g.uniform(0, 1.5),
        g.uniform(0, 0.9), g.uniform(0, 1.5), str(g.choice(["cut", "rounded", "fine"])),
    )  # fmt: skip
    roads = [make_road(g) for _ in range(int(g.integers(1, 4)))]
    by_dash, apart_days = g.random() < 0.5, int(g.choice([5, 45, 150]))
    slip, mean_celsius = 0.0015, g.uniform(5, 15)
    way = np.zeros((2, 2))
    fuel = np.zeros(2)
    for side, period in enumerate(("before", "after")):
        (folder / period).mkdir(parents=True)
        for number in range(int(g.integers(5, 14))):
            start = datetime(2025, 1, 6, 8, tzinfo=UTC) + timedelta(
                days=(30 + apart_days) * side + 2 * number
            )
            season = 9 * math.cos((start.timetuple().tm_yday - 200) / 58)
            celsius = mean_celsius + season + g.normal(0, 3)
            day = Day(
                1 + g.normal(0, 0.03), 353 / (celsius + 273), celsius, abs(g.normal(0, 3)),
                g.uniform(0, 360), math.exp(0.015 * g.normal()), g.uniform(2e3, 6e3),
            )  # fmt: skip
            road = roads[int(g.integers(len(roads)))]
            for one in (road, road.back()):
                ratio = tires[side] / counts[side]
                faster = g.uniform(0.93, 1.0) * (ratio if by_dash else 1)
                at, speed = drive(g, vehicle, one, day, rollings[side], faster)
                rate, rpm, load = engine(vehicle, one, day, at, speed, tires[side], rollings[side])
                slipped = 1 + np.clip(slip * (load - 0.2), -0.002, 0.004)
                way[side] += [speed.sum(), (speed / ratio * slipped).sum()]
                if side:
                    old, _, _ = engine(vehicle, one, day, at, speed, tires[0], rollings[0])
                    fuel += [rate.sum(), old.sum()]
                signals = {
                    "way": at, "speed": speed, "indicated": speed / ratio * slipped,
                    "rpm": np.where(speed > 0.3, rpm * slipped, rpm), "fuel": rate,
                    "celsius": np.array([celsius]),
                }  # fmt: skip
                frame = logged(g, recorder, one, signals, start)
                frame.write_csv(folder / period / f"{start:%Y%m%d_%H%M}.csv")
                start += timedelta(seconds=len(at) * TICK_S, minutes=30)
    (folder / "study.toml").write_text(_study(vehicle, sizes, tires), encoding="utf-8")
    factor = (float(way[0, 0] / way[0, 1]), float(way[1, 0] / way[1, 1]))
    truth = Truth(factor, 100 * (tires[0] / tires[1] - 1), 100 * (float(fuel[0] / fuel[1]) - 1))
    return truth, f"{name} {sizes[0]} {sizes[1]} {recorder}"


def _study(vehicle: Vehicle, sizes: tuple[str, str], tires: list[float]) -> str:
    periods = "".join(
        f'[{period}]\ndrive_tire = "{size}"\nrevolutions_per_km = {1000 / tire:.0f}\n'
        f'logs = ["{period}/*.csv"]\n'
        for period, size, tire in zip(("before", "after"), sizes, tires, strict=True)
    )
    return (
        'name = "invented"\nunits = "metric"\ntime_zone = "UTC"\n[vehicle]\n'
        f'mass = "{vehicle.mass_kg:.0f} kg"\nfuel = "diesel"\naxle_ratio = {vehicle.axle}\n'
        f"gear_ratios = {list(vehicle.kind.gears)}\n"
        f'speed_source = "output shaft"\n{periods}[claim]\nconsumption_change_percent = -4\n'
    )


def main(first: int, count: int) -> None:
    held: dict[str, list[bool]] = {}
    for seed in range(first, first + count):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name) / "study"
            truth, words = make_study(seed, folder)
            options = Options(keep=False, jobs=1, out=Path(name) / "out")
            found = run_study(folder / "study.toml", options, Progress(quiet=True)).results
        factor = found["speed"]["odometer_factor"]
        told = {
            "before": (factor["before"], truth.factor[0], 2e-4),
            "after": (factor["after"], truth.factor[1], 2e-4),
            "final drive": (found["final_drive"]["change_percent"], truth.final_drive_percent, 0.0),
            "fuel": (found["fuel"]["change_percent"]["adjusted"], truth.fuel_percent, 0.0),
        }
        print(seed, words)
        for figure, (one, true, near) in told.items():
            if one["value"] is None:
                print(f"  {figure}: {true:.4f}, not told")
                continue
            holds = one["low"] - near <= true <= one["high"] + near
            held.setdefault(figure, []).append(holds)
            low, value, high = (f"{one[end]:.4f}" for end in ("low", "value", "high"))
            missed = "" if holds else "MISSED"
            print(f"  {figure}: {true:.4f}, told {value} ({low} to {high})", missed)
    for figure, each in held.items():
        print(f"{figure}: {sum(each)} of {len(each)} held")


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
