"""Invented drives with known truth, for the speed and final-drive answers.

Written apart from the package: nothing of it is imported here. A heavy vehicle follows changing
target speeds over hills, shifts by shaft speed, slips its converter in the low gears; its driven
tires creep under load, grow with speed, wear with distance, swell with warmth, and differ a
little from trip to trip. Bus speed is taken at the output shaft and cut or rounded to whole
km/h; the receiver trails, with errors that last from second to second.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl

GEARS = (3.51, 1.91, 1.43, 1.00, 0.74, 0.64)
AXLE = 4.88
LOCKED_FROM = 2  # index of the first gear with the converter locked


@dataclass(frozen=True)
class World:
    """One vehicle and its habits. Circumferences in m, `creep` per m/s2, `growth` at 100 km/h."""

    circumference_before_m: float = 2.557
    circumference_after_m: float = 2.672
    programmed_m: float = 2.557  # circumference the computer believes in
    ratios: tuple[float, ...] = GEARS  # true ones; declared ones are rounded
    creep: float = 0.01
    growth: float = 0.0015
    wear_per_10000_km: float = 0.003
    warmth_per_k: float = 2e-5
    trip_spread: float = 6e-4
    cut: bool = True
    lag_s: float = 0.8
    receiver_noise_mps: float = 0.08
    one_speed_share: float = 0.1
    trip_minutes: tuple[float, float] = (15.0, 90.0)
    temperature_c: tuple[float, float] = (5.0, 22.0)


@dataclass(frozen=True)
class Drive:
    """One trip as logged, and what is true of it."""

    name: str
    side: str
    samples: pl.DataFrame
    true_factor: float
    true_m: float
    circumference_m: float


@dataclass(frozen=True)
class Drives:
    world: World
    drives: list[Drive]
    factor: dict[str, float]
    change_percent: float
    notes: dict[str, object] = field(default_factory=dict)


def random_world(rng: np.random.Generator) -> World:
    """A vehicle drawn at random: size step of 1.5 to 6 % either way, all the rest in its range."""
    before = rng.uniform(2.3, 3.3)
    step = rng.uniform(0.015, 0.06) * rng.choice([-1.0, 1.0], p=[0.3, 0.7])
    return World(
        circumference_before_m=before,
        circumference_after_m=before * np.exp(step),
        programmed_m=before * np.exp(rng.normal(0, 0.01)),
        ratios=tuple(g * (1 + rng.uniform(-0.003, 0.003)) for g in GEARS),
        creep=rng.uniform(0.004, 0.015),
        growth=rng.uniform(0.0, 0.003),
        wear_per_10000_km=rng.uniform(0.0, 0.006),
        trip_spread=rng.uniform(3e-4, 1e-3),
        cut=bool(rng.random() < 0.5),
        lag_s=rng.uniform(0.0, 2.0),
        receiver_noise_mps=rng.uniform(0.03, 0.12),
        one_speed_share=rng.uniform(0.0, 0.4),
        temperature_c=(rng.uniform(-5, 20), rng.uniform(5, 28)),
    )


def make_drives(
    world: World,
    rng: np.random.Generator,
    *,
    before: int = 10,
    after: int = 10,
    apart_days: float = 3.0,
    km_per_trip: float = 60.0,
    reprogrammed_at: int | None = None,
    reprogrammed_by: float = 1.0,
) -> Drives:
    """Trips of both periods in order, one a day.

    From the trip `reprogrammed_at` of the after period on the computer believes in a
    circumference `reprogrammed_by` times as large.
    """
    first = world
    drives: list[Drive] = []
    start = datetime(2026, 1, 5, 15, 0, tzinfo=UTC)
    expected: dict[str, float] = {}
    for side, count in (("before", before), ("after", after)):
        own = world.circumference_before_m if side == "before" else world.circumference_after_m
        logs, ways = [], []
        for i in range(count):
            worn = 1 - world.wear_per_10000_km * (i * km_per_trip * 6) / 10_000
            mean_c = world.temperature_c[side == "after"]
            warm = mean_c + rng.normal(0, 5)
            chance = rng.normal(0, world.trip_spread)
            changed = side == "after" and reprogrammed_at is not None and i >= reprogrammed_at
            world = replace(
                first, programmed_m=first.programmed_m * (reprogrammed_by if changed else 1.0)
            )
            drive, plain = _drive(
                world, rng, f"{side}-{i + 1:02d}", side, start,
                own * worn * (1 + world.warmth_per_k * (warm - 20)) * np.exp(chance), warm,
            )  # fmt: skip
            # what the period's factor is apart from this trip's chance and weather
            logs.append(np.log(plain) - chance - world.warmth_per_k * (warm - mean_c))
            ways.append(drive.true_m)
            drives.append(drive)
            start += timedelta(days=apart_days * rng.uniform(0.6, 1.4))
        expected[side] = float(np.exp(np.average(logs))) if count else float("nan")
        start += timedelta(days=10)
    change = _expected_change(world, before, after, km_per_trip)
    return Drives(world, drives, expected, change)


def _expected_change(world: World, before: int, after: int, km_per_trip: float) -> float:
    """Engine speed at equal true speed and load, after against before, percent."""

    def mean(circumference: float, count: int, temperature_c: float) -> float:
        worn = 1 - world.wear_per_10000_km * (np.arange(max(count, 1)) * km_per_trip * 6) / 10_000
        warm = 1 + world.warmth_per_k * (temperature_c - 20)
        return float(np.exp(np.mean(np.log(circumference * worn * warm))))

    a = mean(world.circumference_before_m, before, world.temperature_c[0])
    b = mean(world.circumference_after_m, after, world.temperature_c[1])
    return 100 * (a / b - 1)


def _drive(
    world: World,
    rng: np.random.Generator,
    name: str,
    side: str,
    start: datetime,
    circumference_m: float,
    temperature_c: float,
) -> tuple[Drive, float]:
    seconds = int(60 * rng.uniform(*world.trip_minutes))
    one_speed = rng.random() < world.one_speed_share
    speed = _speeds(rng, seconds, one_speed)
    way = np.cumsum(speed)
    altitude, grade = _hills(rng, way)
    acceleration = np.gradient(speed)
    force = acceleration + 9.81 * grade + 0.07 + 2.5e-4 * speed**2
    grown = circumference_m * (1 + world.growth * (speed / 27.78) ** 2)
    wheel = speed * (1 + world.creep * np.clip(force, -2, 2)) / grown  # turns a second
    shaft = wheel * AXLE
    gear = _gears(speed)
    engine = _engine(world, rng, shaft, gear)
    counted = wheel * world.programmed_m
    factor = float(speed.sum() / counted.sum())
    samples = _samples(world, rng, start, speed, way, altitude, counted, engine, temperature_c)
    return Drive(name, side, samples, factor, float(way[-1]), circumference_m), factor


def _speeds(rng: np.random.Generator, seconds: int, one_speed: bool) -> np.ndarray:
    """Targets held for a while, met at bus-like acceleration, with the wander of a foot."""
    target = np.zeros(seconds)
    if one_speed:
        target[:] = rng.uniform(80, 105) / 3.6
        wander = 0.08
    else:
        t = 30
        while t < seconds:
            hold = int(rng.uniform(40, 400))
            target[t : t + hold] = rng.choice([0, 40, 50, 65, 80, 90, 95, 100]) / 3.6
            t += hold if target[min(t, seconds - 1)] > 0 else int(rng.uniform(20, 60))
        wander = 0.35
    speed = np.zeros(seconds)
    swing = 0.0
    for i in range(1, seconds):
        swing = 0.95 * swing + wander * 0.31 * rng.normal()
        want = target[i] + (swing if target[i] > 0 else 0.0)
        most = 0.9 if speed[i - 1] < 12 else 0.35
        speed[i] = max(speed[i - 1] + np.clip(0.3 * (want - speed[i - 1]), -1.2, most), 0.0)
    return np.where(speed < 0.15, 0.0, speed)


def _hills(rng: np.random.Generator, way: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    altitude, grade = np.full(len(way), 1600.0), np.zeros(len(way))
    for length in (1500.0, 4000.0, 11000.0):
        phase, steep = rng.uniform(0, 6.28), rng.uniform(0.003, 0.02)
        altitude += steep * length / 6.28 * np.sin(6.28 * way / length + phase)
        grade += steep * np.cos(6.28 * way / length + phase)
    return altitude, grade


def _gears(speed: np.ndarray) -> np.ndarray:
    """Up at rising shaft speed, down with some hysteresis."""
    up = np.array([3.0, 6.0, 9.0, 13.0, 19.0])
    gear = np.zeros(len(speed), dtype=int)
    for i in range(1, len(speed)):
        now = gear[i - 1]
        if now < 5 and speed[i] > up[now]:
            now += 1
        elif now > 0 and speed[i] < up[now - 1] - 1.2:
            now -= 1
        gear[i] = now
    return gear


def _engine(
    world: World, rng: np.random.Generator, shaft: np.ndarray, gear: np.ndarray
) -> np.ndarray:
    turns = shaft * np.array(world.ratios)[gear] * 60
    slip = np.where(gear < LOCKED_FROM, 1.06 + 0.3 * np.exp(-shaft / 5), 1.0)
    shifting = np.concatenate(([0], np.abs(np.diff(gear)))) > 0
    turns = np.where(shifting, 0.5 * (turns + np.roll(turns, 1)), turns * slip)
    return np.maximum(turns, 650 + 15 * rng.normal(size=len(turns)))


def _persistent(rng: np.random.Generator, n: int, sd: float, keep: float) -> np.ndarray:
    from scipy.signal import lfilter

    noise = rng.normal(0, sd * np.sqrt(1 - keep**2), n)
    return lfilter([1.0], [1.0, -keep], noise)


def _samples(
    world: World,
    rng: np.random.Generator,
    start: datetime,
    speed: np.ndarray,
    way: np.ndarray,
    altitude: np.ndarray,
    counted: np.ndarray,
    engine: np.ndarray,
    temperature_c: float,
) -> pl.DataFrame:
    n = len(speed)
    t = np.arange(n, dtype=float)
    late = t - world.lag_s

    def trailing(values: np.ndarray) -> np.ndarray:
        return np.interp(late, t, values)

    grade = np.gradient(altitude) / np.maximum(np.gradient(way), 0.1)
    flat = speed / np.sqrt(1 + np.clip(grade, -0.2, 0.2) ** 2)
    doppler = np.abs(trailing(flat) + _persistent(rng, n, world.receiver_noise_mps, 0.5))
    north = trailing(np.cumsum(flat)) + _persistent(rng, n, 2.0, 0.995)
    kmh = counted * 3.6
    shown = np.floor(kmh) if world.cut else np.floor(kmh + 0.5)
    micros = (start.timestamp() + t) * 1e6
    return pl.DataFrame(
        {
            "time": pl.Series(micros.astype(np.int64)).cast(pl.Datetime("us", "UTC")),
            "line": pl.Series(np.arange(2, n + 2), dtype=pl.UInt32),
            "latitude_deg": 40.0 + north / 111_035.0,
            "longitude_deg": np.full(n, -105.0),
            "altitude_m": trailing(altitude) + _persistent(rng, n, 3.0, 0.98),
            "gps_speed_mps": doppler,
            "hdop": np.full(n, 0.9),
            "indicated_speed_mps": shown / 3.6,
            "engine_speed_rpm": np.round(engine * 8) / 8,
            "ambient_temperature_c": np.full(n, float(round(temperature_c))),
            "fuel_rate_lph": np.clip(8 + 1.2 * speed, 3, None),
        }
    )


def one_speed_world(rng: np.random.Generator) -> World:
    """All trips at one cruise speed."""
    return replace(random_world(rng), one_speed_share=1.0)
