"""One invented trip: how it is driven, what the driveline turns, what a recorder writes of it.

Everything is an array of one value a second; numpy and polars alone, nothing of the package and
nothing of the other worlds. That whole km/h are logged (SAE J1979 parameter 0D), 1/256 km/h
(SAE J1939 wheel-based vehicle speed) and whole mph made of whole km/h by cheap recorders is
common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
import polars as pl

Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

G = 9.81
KMH = 1 / 3.6
MPH_PER_KMH = 1 / 1.609344
IDLE_RPM = 640.0
QUANTIZERS = (
    "km/h truncated",
    "km/h rounded",
    "mph truncated of km/h truncated",
    "mph rounded of km/h truncated",
    "mph rounded of km/h rounded",
    "0.1 km/h",
    "1/256 km/h",
)


@dataclass(frozen=True)
class Driveline:
    """`circumference_m` at rest, worn and warm as on this trip; `front_m` of the steer tires.

    `slip` per m/s2 of tractive force over mass, `growth` of both tires at 100 km/h. The
    converter locks from gear index `locked_from` on, `steady_lock`: only on the level at even
    speed. No gear above index `highest` is used; `lowest_rpm` is where upshifts end; `kickdown`
    is the force over mass (m/s2) at which a lower gear is taken.
    """

    circumference_m: float
    front_m: float
    axle: float
    ratios: tuple[float, ...]
    slip: float
    growth: float
    drag: float
    converter: bool
    locked_from: int
    steady_lock: bool
    highest: int
    lowest_rpm: float
    kickdown: float


@dataclass(frozen=True)
class Driving:
    """`stop_share` of the stretches end in a halt; `rolling` logs begin and end under way."""

    cruise_kmh: float
    spread_kmh: float
    stop_share: float
    hold_s: tuple[float, float]
    wander_mps: float
    rolling: bool
    hills: float


@dataclass(frozen=True)
class Recorder:
    """Delays and time constants of the first-order filters in s."""

    quantizer: str
    bus_delay_s: float
    bus_filter_s: float
    engine_delay_s: float
    engine_filter_s: float
    polled: bool


@dataclass(frozen=True)
class Receiver:
    """`speed_scale` and `position_scale`: 1 but where the two disagree."""

    delay_s: float
    speed_noise_mps: float
    position_noise_m: float
    max_scale_error: float
    speed_scale: float
    position_scale: float


@dataclass(frozen=True)
class Counting:
    """What the computer counts, and metres to a turn of it (1 where a receiver feeds it)."""

    counts: str
    metres: float


@dataclass(frozen=True)
class Logged:
    """A trip's samples, and of it true over indicated distance and drive-tire turns a km."""

    samples: pl.DataFrame
    factor: float
    revolutions_per_km: float
    true_m: float


def log_trip(
    driveline: Driveline,
    driving: Driving,
    counting: Counting,
    recorder: Recorder,
    receiver: Receiver,
    rng: np.random.Generator,
    *,
    start: datetime,
    seconds: int,
    temperature_c: float,
) -> Logged:
    """One trip, driven and logged."""
    speed = speed_profile(driving, rng, seconds)
    way = np.cumsum(speed)
    altitude, grade = hills(driving, rng, way)
    force = np.gradient(speed) + G * grade + 0.06 + driveline.drag * speed**2
    grown = 1 + driveline.growth * (speed / 27.8) ** 2
    wheel = speed * (1 + driveline.slip * np.clip(force, -2.5, 2.5))
    wheel /= driveline.circumference_m * grown
    shaft = wheel * driveline.axle
    gear = gears(driveline, speed, force)
    engine = engine_speed(driveline, shaft, gear, speed, force, rng)
    flat = speed / np.sqrt(1 + grade**2)
    scale = 1 + rng.uniform(-1, 1) * receiver.max_scale_error
    turned = {
        "output shaft": shaft,
        "drive wheels": wheel,
        "front wheels": speed / (driveline.front_m * grown),
        "receiver": flat,
    }[counting.counts]
    counted = turned * counting.metres
    logged = counted * scale if counting.counts == "receiver" else counted
    samples = _samples(
        recorder, receiver, rng, start, flat * scale, altitude, logged, engine, temperature_c
    )
    return Logged(
        samples,
        float(speed.sum() / counted.sum()),
        float(1000 * wheel.sum() / speed.sum()),
        float(way[-1]),
    )


def speed_profile(driving: Driving, rng: np.random.Generator, seconds: int) -> Array:
    """Held speeds with ramps between, rounded corners, and the wander of a foot (m/s)."""
    cruise, spread = driving.cruise_kmh * KMH, driving.spread_kmh * KMH
    many = int(seconds / driving.hold_s[0]) + 8
    targets = np.maximum(rng.uniform(cruise - spread, cruise + 0.35 * spread, many), 4.0)
    targets[rng.random(many) < driving.stop_share] = 0.0
    holds = np.exp(rng.uniform(*np.log(driving.hold_s), many))
    holds[targets == 0] = rng.uniform(5, 50, int((targets == 0).sum()))
    if driving.rolling:
        targets[0] = cruise
    else:
        targets[0], holds[0] = 0.0, rng.uniform(5, 60)
    pace = np.where(np.diff(targets) > 0, rng.uniform(0.2, 0.7), rng.uniform(0.4, 1.0))
    ramps = np.maximum(np.abs(np.diff(targets)) / pace, 1.0)
    ends = np.cumsum(holds + np.append(0.0, ramps))
    begins = ends - holds
    t = np.arange(seconds, dtype=float)
    speed = np.interp(t, np.column_stack([begins, ends]).ravel(), np.repeat(targets, 2))
    if not driving.rolling:
        speed = np.minimum(speed, np.maximum(seconds - 10 - t, 0) * 0.8)
    speed = late(speed, 0.0, 2.0)
    foot = wander(rng, seconds, driving.wander_mps, 12) + wander(rng, seconds, 0.04, 3)
    speed = speed + foot * np.clip(speed / 6, 0, 1)
    return np.where(speed < 0.2, 0.0, speed)


def hills(driving: Driving, rng: np.random.Generator, way: Array) -> tuple[Array, Array]:
    """Altitude (m) and grade by distance: waves of 0.9 to 14 km."""
    altitude, grade = np.full(len(way), rng.uniform(100, 1800)), np.zeros(len(way))
    for length in np.exp(rng.uniform(np.log(900), np.log(14_000), 4)):
        phase, steep = rng.uniform(0, 2 * np.pi), driving.hills * rng.uniform(0.1, 1)
        turn = 2 * np.pi * way / length + phase
        altitude += steep * length / (2 * np.pi) * np.sin(turn)
        grade += steep * np.cos(turn)
    return altitude, grade


def gears(driveline: Driveline, speed: Array, force: Array) -> Array:
    """Gear index second by second: up at rising speed, down with hysteresis and on hills."""
    per_turn = driveline.circumference_m / driveline.axle
    gear = np.zeros(len(speed), dtype=int)
    for ratio in driveline.ratios[1 : driveline.highest + 1]:
        up = driveline.lowest_rpm / 60 * per_turn / ratio
        gear += latch(speed, up, 0.86 * up)
    pull = late(force, 0.0, 5.0)
    low = latch(pull, driveline.kickdown, driveline.kickdown - 0.2)
    return np.maximum(gear - low * (gear > 0) * (1 if len(driveline.ratios) < 10 else 2), 0)


def engine_speed(
    driveline: Driveline,
    shaft: Array,
    gear: Array,
    speed: Array,
    force: Array,
    rng: np.random.Generator,
) -> Array:
    """Engine speed (rpm) before the recorder: converter slip, idle, turns lost in shifting."""
    turns = 60 * shaft * np.array(driveline.ratios)[gear]
    if driveline.converter:
        opened = gear < driveline.locked_from
        if driveline.steady_lock:
            beyond_level = force - 0.06 - driveline.drag * speed**2
            opened |= latch(late(beyond_level, 0.0, 3.0), 0.12, 0.06).astype(bool)
        changed = np.abs(np.diff(gear, prepend=gear[0])) > 0
        opened |= late(changed.astype(float), 0.0, 1.0) > 0.1
        slip = 0.015 + 0.4 * np.exp(-speed / 5) + 0.06 * np.clip(force, 0, 2)
        turns = turns * (1 + opened * slip)
    return np.maximum(turns, IDLE_RPM + wander(rng, len(turns), 12, 2))


def latch(values: Array, on: float, off: float) -> Array:
    """1 from where `values` rises over `on` until it falls under `off`, else 0."""
    known = (values > on) | (values < off)
    last = np.maximum.accumulate(np.where(known, np.arange(len(values)), 0))
    return (values[last] > on).astype(int)


def late(values: Array, delay_s: float, filter_s: float) -> Array:
    """`values` behind a pure delay and a first-order low-pass filter."""
    steps = delay_s - filter_s * np.log1p(-(np.arange(48) + 0.5) / 48)
    whole = np.floor(steps).astype(int)
    kernel = np.bincount(whole, 1 - (steps - whole), whole.max() + 2)
    kernel += np.bincount(whole + 1, steps - whole, whole.max() + 2)
    padded = np.concatenate([np.full(len(kernel) - 1, values[0]), values])
    return np.convolve(padded, kernel / len(steps), "valid")


def wander(rng: np.random.Generator, n: int, sd: float, every: int) -> Array:
    """A random line of standard deviation `sd` about, correlated over some `every` seconds."""
    knots = np.arange(0, n + every, every)
    return np.interp(np.arange(n), knots, rng.normal(0, 1.2 * sd, len(knots)))


def written(speed_mps: Array, quantizer: str) -> Array:
    """A speed as the recorder's file has it, in m/s."""
    kmh = speed_mps * 3.6
    if quantizer == "1/256 km/h":
        return np.floor(kmh * 256) / 256 * KMH
    if quantizer == "0.1 km/h":
        return np.floor(kmh * 10 + 0.5) / 10 * KMH
    whole = np.floor(kmh if quantizer.endswith("truncated") else kmh + 0.5)
    if not quantizer.startswith("mph"):
        return whole * KMH
    mph = np.floor(whole * MPH_PER_KMH + (0.5 if quantizer.startswith("mph rounded") else 0.0))
    return mph / MPH_PER_KMH * KMH


def _samples(
    recorder: Recorder,
    receiver: Receiver,
    rng: np.random.Generator,
    start: datetime,
    flat: Array,
    altitude: Array,
    counted: Array,
    engine: Array,
    temperature_c: float,
) -> pl.DataFrame:
    n = len(flat)
    doppler = late(flat, receiver.delay_s, 0.3) * receiver.speed_scale
    doppler += wander(rng, n, receiver.speed_noise_mps, 4) + wander(rng, n, 0.02, 1)
    latitude, longitude = _positions(receiver, rng, late(flat, receiver.delay_s, 0.0), altitude)
    bus = written(late(counted, recorder.bus_delay_s, recorder.bus_filter_s), recorder.quantizer)
    turns = late(engine, recorder.engine_delay_s, recorder.engine_filter_s)
    frame = pl.DataFrame(
        {
            "time": _times(start, np.arange(n, dtype=float)),
            "line": np.arange(2, n + 2, dtype=np.uint32),
            "latitude_deg": latitude,
            "longitude_deg": longitude,
            "altitude_m": late(altitude, receiver.delay_s, 0.0) + wander(rng, n, 3.0, 40),
            "gps_speed_mps": np.abs(doppler),
            "hdop": np.full(n, 0.9),
            "indicated_speed_mps": bus,
            "engine_speed_rpm": np.round(turns * 4) / 4,
            "ambient_temperature_c": np.full(n, float(round(temperature_c))),
        }
    )
    return _polled(frame, rng) if recorder.polled else frame


def _positions(
    receiver: Receiver, rng: np.random.Generator, flat: Array, altitude: Array
) -> tuple[Array, Array]:
    """Latitude and longitude (degrees) on the WGS 84 ellipsoid along a winding road."""
    n = len(flat)
    heading = rng.uniform(0, 2 * np.pi) + np.cumsum(wander(rng, n, 0.006, 25))
    step = flat * receiver.position_scale
    noise = [wander(rng, n, receiver.position_noise_m, 90) for _ in range(2)]
    north = np.cumsum(step * np.cos(heading)) + noise[0]
    east = np.cumsum(step * np.sin(heading)) + noise[1]
    a, e2 = 6_378_137.0, 0.00669437999014
    first = np.radians(rng.uniform(-50, 62))
    latitude = np.full(n, first)
    for _ in range(2):
        w = 1 - e2 * np.sin(latitude) ** 2
        meridian = a * (1 - e2) / w**1.5
        latitude = first + np.cumsum(np.diff(north, prepend=0.0) / (meridian + altitude))
    across = (a / np.sqrt(1 - e2 * np.sin(latitude) ** 2) + altitude) * np.cos(latitude)
    longitude = np.radians(rng.uniform(-120, 140)) + np.cumsum(np.diff(east, prepend=0.0) / across)
    return np.degrees(latitude), np.degrees(longitude)


def _times(start: datetime, seconds: Array) -> pl.Series:
    micros = np.round((start.timestamp() + seconds) * 1e6).astype(np.int64)
    return pl.Series(micros).cast(pl.Datetime("us", "UTC"))


def _polled(frame: pl.DataFrame, rng: np.random.Generator) -> pl.DataFrame:
    """Rows asked for one after another: each carries one channel, stamped some hundred ms late."""
    first, second = rng.uniform(0.1, 0.4), rng.uniform(0.5, 0.9)
    receiver = ["latitude_deg", "longitude_deg", "altitude_m", "gps_speed_mps", "hdop"]
    bus = ["indicated_speed_mps", "ambient_temperature_c"]
    groups = {0.0: receiver, first: bus, second: ["engine_speed_rpm"]}
    parts = [
        frame.select(
            pl.col("time") + pl.duration(milliseconds=int(1000 * offset)),
            *[pl.col(name) if name in own else pl.lit(None, pl.Float64).alias(name)
              for name in frame.columns if name not in ("time", "line")],
        )
        for offset, own in groups.items()
    ]  # fmt: skip
    rows = pl.concat(parts).sort("time")
    return rows.insert_column(1, pl.Series("line", np.arange(2, rows.height + 2, dtype=np.uint32)))
