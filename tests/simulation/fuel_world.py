"""Invented vehicles on invented roads, with the true change of consumption known.

Written apart from the package and on another model: an engine whose efficiency bends with load
and whose friction grows with the square of its speed, drag that grows with yaw, rolling
resistance that falls exponentially with temperature and rises with speed, days that differ and
persist, wind that turns by the hour, a driver who may follow the dash. Everything is simulated
at 20 m and reported at 100 m. Truth: the same after-trips on the before tires, same true speed.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl

from gearing.study.model import Claim, Period, Study, Vehicle
from gearing.trips.fuel import from_counter

SUB_M = 20.0
PER_STEP = 5
LHV_MJ_PER_L = 35.8
GEARS = np.array([3.51, 1.91, 1.43, 1.00, 0.74, 0.64])


@dataclass(frozen=True)
class Cell:
    """One kind of study. `seasons`: same | overlapping | apart; `roads`: out-and-back |
    one-way | own (each period roads of its own, out and back); `persistence` None: drawn from 0
    to 0.8; `fuel`: rate | counter (steps of 0.5 L) | a rate in whole steps of so many L/h;
    `sensor` of the outside temperature: good | none | stuck | off (by 4 K after the change)."""

    name: str
    days: int = 14
    persistence: float | None = 0.3
    day_noise: float = 0.02
    seasons: str = "overlapping"
    roads: str = "out-and-back"
    weather: bool = False
    follow_dash: bool = True
    changed: bool = True
    drag_declared: bool = True
    road_km: float = 20.0
    gentler: float = 0.0  # share by which the driver speeds up and brakes less hard after
    claim: float = -4.0
    fuel: str = "rate"
    sensor: str = "good"
    road_noise: float = 0.06


@dataclass(frozen=True)
class World:
    study: Study
    steps: pl.DataFrame
    trips: pl.DataFrame
    weather: pl.DataFrame | None
    odometer: tuple[float, float]
    truth_percent: float
    drawn: dict[str, float]


@dataclass(frozen=True)
class Road:
    altitude_m: np.ndarray
    grade: np.ndarray
    course_deg: np.ndarray
    latitude_deg: np.ndarray
    longitude_deg: np.ndarray
    limit_mps: np.ndarray

    def back(self) -> Road:
        return Road(
            self.altitude_m[::-1],
            -self.grade[::-1],
            (self.course_deg[::-1] + 180) % 360,
            self.latitude_deg[::-1],
            self.longitude_deg[::-1],
            self.limit_mps[::-1],
        )


def _road(g: np.random.Generator, km: float, start: tuple[float, float]) -> Road:
    n = int(km * 1000 / SUB_M)
    s = np.arange(n) * SUB_M
    altitude = np.full(n, 300.0 + 600 * g.random())
    for _ in range(24):
        wave = np.exp(g.uniform(np.log(900), np.log(25_000)))
        altitude += (
            0.0075 / np.sqrt(2) * wave / 6.28 * np.sin(6.283 * s / wave + g.uniform(0, 7)) * 0.9
        )
    course = 360 * g.random() + 40 * np.cumsum(g.normal(0, 1, n)) / np.sqrt(n) * 2
    east = np.cumsum(np.sin(np.radians(course)) * SUB_M)
    north = np.cumsum(np.cos(np.radians(course)) * SUB_M)
    latitude = start[0] + north / 111_200
    longitude = start[1] + east / (111_200 * np.cos(np.radians(start[0])))
    limit = np.empty(n)
    at = 0
    while at < n:
        length = int(g.uniform(2500, 9000) / SUB_M)
        limit[at : at + length] = (
            g.choice([50, 70, 80, 90, 100], p=[0.1, 0.15, 0.25, 0.3, 0.2]) / 3.6
        )
        at += length
    return Road(altitude, np.gradient(altitude, SUB_M), course % 360, latitude, longitude, limit)


def _ou(g: np.random.Generator, shape: tuple[int, int], length_m: float) -> np.ndarray:
    """Unit noise along the road (last axis), correlated over `length_m`."""
    from scipy.signal import lfilter

    keep = np.exp(-SUB_M / length_m)
    white = g.normal(size=shape) * np.sqrt(1 - keep**2)
    white[:, 0] /= np.sqrt(1 - keep**2)
    return np.asarray(lfilter([1.0], [1.0, -keep], white, axis=1))


def _smooth(x: np.ndarray) -> np.ndarray:
    """Over some 300 m: nobody drives white noise."""
    from scipy.ndimage import uniform_filter1d

    return np.asarray(uniform_filter1d(uniform_filter1d(x, 13, axis=1), 13, axis=1))


def _persistent(g: np.random.Generator, n: int, rho: float) -> np.ndarray:
    out = g.normal(size=n)
    for i in range(1, n):
        out[i] = rho * out[i - 1] + np.sqrt(1 - rho**2) * out[i]
    return out


TEMPERATURES = {"same": (14.0, 14.0), "overlapping": (10.0, 16.0), "apart": (3.0, 21.0)}
# days from the first drive of the one period to that of the other, where dates tell the season
DAYS_BETWEEN = {"same": 30, "overlapping": 60, "apart": 150}


def _temperatures(g: np.random.Generator, cell: Cell) -> tuple[float, float]:
    """Mean of each period; without a sensor that of a place's year at 41 degrees north: half the
    range from a coast's to an inland valley's, coldest in January or early February."""
    if cell.sensor != "none":
        return TEMPERATURES[cell.seasons]
    level, half, coldest = g.uniform(5, 15), g.uniform(8, 16), g.uniform(8, 40)
    first = 15 + cell.days  # of the year: the middle of the before days
    day = np.array([first, first + DAYS_BETWEEN[cell.seasons]])
    mean = level - half * np.cos(2 * np.pi * (day - coldest) / 365) + g.normal(0, 1.5, 2)
    return float(mean[0]), float(mean[1])


def make_world(cell: Cell, seed: int) -> World:
    g, h = (np.random.default_rng([seed, number]) for number in (977, 978))
    drawn = {
        "mass": g.uniform(9000, 15000),
        "drag": g.uniform(5.0, 7.0),
        "rolling": g.uniform(0.0058, 0.0085),
        "rolling_per_k": g.uniform(0.002, 0.009),
        "yaw_gain": g.uniform(0.03, 0.10),
        "wind_share": g.uniform(0.5, 0.8),
        "k": g.uniform(1.03, 1.06) if cell.changed else 1.0,
        "tire": 1 + (g.uniform(-0.08, 0.06) if cell.changed else 0.0),
        "efficiency": g.uniform(0.43, 0.47),
        "friction": g.uniform(0.85, 1.2),
        "power": g.uniform(170e3, 260e3),
        "top_rpm_per_mps": g.uniform(1750, 2000) / 29.0,
        "dash": g.uniform(0.99, 1.02),
        "wind_day": h.uniform(1.2, 2.8),
        "wind_turn": h.uniform(40, 100),
        "wind_persistence": h.uniform(0.2, 0.5),
        "rolling_rise": h.uniform(0.0, 0.009),
        "driveline": h.uniform(0.91, 0.96),
        "persistence": h.uniform(0.0, 0.8) if cell.persistence is None else cell.persistence,
        "frost": h.uniform(0.0, 0.03),
    }
    if cell.roads == "own":
        pools = [
            [_road(g, cell.road_km, (41.0 + 0.6 * i + side, -7.0)) for i in range(2)]
            for side in range(2)
        ]
    else:
        shared = [_road(g, cell.road_km, (41.0 + 0.6 * i, -7.0)) for i in range(2)]
        pools = [shared, shared]
    prevailing = (g.uniform(0, 360), g.uniform(3.0, 5.5))
    drawn["before_c"], drawn["after_c"] = _temperatures(h, cell)
    frames, tables, winds = [], [], []
    actual = counter = 0.0
    for side in range(2):
        out = _side(g, cell, side, drawn, pools[side], prevailing)
        frames.append(out["steps"])
        tables.append(out["trips"])
        winds.append(out["weather"])
        if side:
            actual, counter = out["actual"], out["counter"]
    study = _study(h, cell, drawn)
    return World(
        study,
        pl.concat(frames),
        pl.concat(tables),
        pl.concat(winds) if cell.weather else None,
        (drawn["dash"], drawn["dash"] * drawn["k"]),
        100 * (actual / counter - 1),
        drawn,
    )


def _study(g: np.random.Generator, cell: Cell, drawn: dict[str, float]) -> Study:
    declared = drawn["drag"] * (1 + g.uniform(-0.13, 0.13))
    return Study(
        name="invented",
        slug="invented",
        path=Path("invented.toml"),
        vehicle=Vehicle(
            mass_kg=drawn["mass"] * (1 + g.normal(0, 0.015)),
            fuel="diesel",
            drag_area_m2=declared if cell.drag_declared else None,
        ),
        before=Period(side="before", drive_tire="245/70R19.5", logs=("b/*.csv",)),
        after=Period(side="after", drive_tire="265/70R19.5", logs=("a/*.csv",)),
        claim=Claim(consumption_change_percent=cell.claim),
        seed=1,
    )


def _speed(
    g: np.random.Generator,
    cell: Cell,
    side: int,
    drawn: dict[str, float],
    limit: np.ndarray,
    grade: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """True speed (days, n) at 20 m, and seconds stood still."""
    days, n = limit.shape
    k = drawn["dash"] * (drawn["k"] if side and cell.follow_dash else 1.0)
    target = (
        limit
        * k
        * (1 + g.normal(0, 0.02, (days, 1)))
        * (1 + 0.03 * _smooth(_ou(g, (days, n), 1500)))
    )
    for _ in range(3):  # what the engine can hold uphill
        need = (
            drawn["mass"] * 9.8 * (0.0075 + np.maximum(grade, 0)) + 0.6 * drawn["drag"] * target**2
        )
        target = np.minimum(target, 0.85 * drawn["power"] / need)
    stopped = np.zeros((days, n))
    for day in range(days):
        for at in g.choice(n - 40, size=int(g.integers(2, 7)), replace=False) + 20:
            target[day, at] = 2.5
            stopped[day, at] = g.exponential(25.0)
    target[:, 0] = target[:, -1] = 2.0
    hand = 1 - cell.gentler * side
    square = target**2
    for i in range(1, n):
        square[:, i] = np.minimum(square[:, i], square[:, i - 1] + 2 * 0.45 * hand * SUB_M)
    for i in range(n - 2, -1, -1):
        square[:, i] = np.minimum(square[:, i], square[:, i + 1] + 2 * 0.7 * hand * SUB_M)
    return np.sqrt(square), stopped


def _rpm(speed: np.ndarray, k: float, drawn: dict[str, float]) -> tuple[np.ndarray, np.ndarray]:
    """Engine speed and gear, shifted by shaft speed; k is how much taller the tire is."""
    top = speed * drawn["top_rpm_per_mps"] / k
    every = top[..., None] * (GEARS / GEARS[-1])
    held = every > 1150
    gear = np.where(held.any(axis=-1), held.shape[-1] - 1 - np.argmax(held[..., ::-1], axis=-1), 0)
    rpm = np.take_along_axis(every, gear[..., None], axis=-1)[..., 0]
    return np.maximum(rpm, 750.0), gear + 1


def _fuel(
    force: np.ndarray,
    speed: np.ndarray,
    rpm: np.ndarray,
    drawn: dict[str, float],
    aux_w: np.ndarray,
) -> np.ndarray:
    """Litres a second: friction with the square of engine speed, efficiency bent with load."""
    wheel = force * speed
    way = drawn["driveline"]
    crank = np.where(wheel > 0, wheel / way, wheel * way) + 90 * speed
    x = rpm / 1000
    friction = drawn["friction"] * (2500 * x + 3600 * x**2)
    inside = crank + friction + aux_w
    load = np.clip(inside / (drawn["power"] * np.minimum(rpm / 1700, 1.0)), 0, 1.3)
    efficiency = drawn["efficiency"] * (1 - 0.08 * ((load - 0.55) / 0.55) ** 2)
    return np.where(inside > 0, inside / efficiency, 0.0) / (LHV_MJ_PER_L * 1e6)


def _air(
    wind: np.ndarray,
    blows_from: np.ndarray,
    course: np.ndarray,
    speed: np.ndarray,
    rho: np.ndarray,
    drag: float,
    gain: float,
) -> np.ndarray:
    angle = np.radians(blows_from - course)
    head, cross = wind * np.cos(angle), wind * np.sin(angle)
    along = speed + head
    yaw = np.degrees(np.arctan2(np.abs(cross), np.abs(along)))
    return (
        0.5
        * rho
        * drag
        * (1 + gain * (np.minimum(yaw, 18) / 5) ** 1.3)
        * along
        * np.hypot(along, cross)
    )


def _side(
    g: np.random.Generator,
    cell: Cell,
    side: int,
    drawn: dict[str, float],
    pool: list[Road],
    prevailing: tuple[float, float],
) -> dict[str, Any]:
    days = cell.days
    chosen = g.integers(0, len(pool), days)
    trips = []
    for day in range(days):
        road = pool[chosen[day]]
        if cell.roads == "one-way":
            trips.append([road])
        else:
            trips.append([road, road.back()])
    whole = {
        name: np.stack([np.concatenate([getattr(r, name) for r in legs]) for legs in trips])
        for name in Road.__dataclass_fields__
    }
    n = whole["grade"].shape[1]
    speed, stopped = _speed(g, cell, side, drawn, whole["limit_mps"], whole["grade"])
    seconds = SUB_M / np.maximum(speed, 1.0)
    clock = np.cumsum(seconds + stopped, axis=1)
    mean_t = drawn["after_c" if side else "before_c"]
    # weather comes in spells: half of a day's departure stays to the next
    temperature = (mean_t + 4.5 * _persistent(g, days, 0.5))[:, None] + 2 * np.sin(clock / 9000)
    pressure_0 = 101_325 + 800 * _persistent(g, days, 0.5)[:, None]
    kelvin = temperature + 273.15
    rho = pressure_0 * (1 - 2.25577e-5 * whole["altitude_m"]) ** 5.2559 / (287.05 * kelvin)
    hours = clock / 3600
    lasting = drawn["wind_persistence"]
    base = np.abs(prevailing[1] + drawn["wind_day"] * _persistent(g, days, lasting))[:, None]
    turn = (prevailing[0] + drawn["wind_turn"] * _persistent(g, days, lasting))[:, None]
    drift_a, drift_b = g.normal(0, 1, (2, days, 1))
    wind_10 = np.maximum(base * (1 + 0.15 * drift_a * hours), 0.0)
    from_deg = turn + 12 * drift_b * hours
    local = drawn["wind_share"] * (1 + 0.25 * _ou(g, (days, n), 2500))
    wind, blows = wind_10 * np.maximum(local, 0), from_deg + 15 * _ou(g, (days, n), 2500)
    mass = drawn["mass"] * (1 + g.normal(0, 0.015, (days, 1)))
    acceleration = np.gradient(speed**2, axis=1) / (2 * SUB_M)
    air = _air(wind, blows, whole["course_deg"], speed, rho, drawn["drag"], drawn["yaw_gain"])
    rolling = (
        drawn["rolling"]
        * np.exp(-drawn["rolling_per_k"] * (temperature - 20))
        * (1 + drawn["rolling_rise"] * (speed - 20))
    )
    rest = air + mass * 9.80665 * whole["grade"] + mass * 1.045 * acceleration
    aux = 2500 + 2000 * (g.random((days, 1)) + 0.3 * _ou(g, (days, n), 4000))
    day = np.exp(cell.day_noise * _persistent(g, days, drawn["persistence"]))[:, None]
    day = day * (1 + drawn["frost"] * (temperature[:, :1] < 0))
    noise = np.exp(cell.road_noise * _ou(g, (days, n), 400))

    def litres(k: float, tire: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        force = rest + mass * 9.80665 * rolling * tire
        rpm, gear = _rpm(speed, k, drawn)
        moving = _fuel(force, speed, rpm, drawn, np.maximum(aux, 500)) * seconds
        still = 1.9 / 3600 * stopped
        return (moving + still) * day * noise, rpm, gear

    own = (drawn["k"], drawn["tire"]) if side else (1.0, 1.0)
    fuel, rpm, gear = litres(*own)
    other = litres(1.0, 1.0)[0]
    k_dash = drawn["dash"] * own[0]
    between = DAYS_BETWEEN[cell.seasons] if cell.sensor == "none" else 150
    begin = datetime(2031, 1, 15, 8, tzinfo=UTC) + timedelta(days=between * side)
    starts = [begin + timedelta(days=2 * i, minutes=int(g.integers(0, 120))) for i in range(days)]
    steps = _report(
        g, side, whole, speed, seconds, stopped, clock, fuel, rpm, gear, temperature, k_dash, starts
    )
    steps = _as_logged(g, cell, side, steps)
    trips_frame = _trip_table(side, steps, starts, own[0], k_dash)
    return {
        "steps": steps,
        "trips": trips_frame,
        "weather": _station(g, starts, clock, wind_10, from_deg, temperature, pressure_0),
        "actual": float(fuel.sum()),
        "counter": float(other.sum()),
    }


def _station(
    g: np.random.Generator,
    starts: list[datetime],
    clock: np.ndarray,
    wind: np.ndarray,
    blows: np.ndarray,
    temperature: np.ndarray,
    pressure: np.ndarray,
) -> pl.DataFrame:
    """What a station some way off reports each hour: 10 m wind, off by weather of its own."""
    rows = []
    for day, start in enumerate(starts):
        first = start.replace(minute=0)
        for hour in range(-1, int(clock[day, -1] / 3600) + 3):
            at = first + timedelta(hours=hour)
            i = int(
                np.clip(
                    np.searchsorted(clock[day], (at - start).total_seconds()), 0, clock.shape[1] - 1
                )
            )
            rows.append(
                (
                    at,
                    max(0.0, wind[day, i] * (1 + g.normal(0, 0.15)) + g.normal(0, 0.6)),
                    (blows[day, i] + g.normal(0, 18)) % 360,
                    temperature[day, i] + g.normal(0, 0.8),
                    pressure[day, 0] / 1000,
                )
            )
    return pl.DataFrame(
        rows,
        schema={
            "time": pl.Datetime("us", "UTC"),
            "wind_speed_mps": pl.Float64,
            "wind_from_deg": pl.Float64,
            "ambient_temperature_c": pl.Float64,
            "barometric_pressure_kpa": pl.Float64,
        },
        orient="row",
    )


def _report(
    g: np.random.Generator,
    side: int,
    whole: dict[str, np.ndarray],
    speed: np.ndarray,
    seconds: np.ndarray,
    stopped: np.ndarray,
    clock: np.ndarray,
    fuel: np.ndarray,
    rpm: np.ndarray,
    gear: np.ndarray,
    temperature: np.ndarray,
    k_dash: float,
    starts: list[datetime],
) -> pl.DataFrame:
    """The 100 m steps as a recorder and a receiver would give them."""
    days, n = speed.shape
    height = whole["altitude_m"] + 8 * g.normal(size=(days, 1)) + 3.0 * _ou(g, (days, n), 800)
    frames = []
    for day in range(days):
        offset = int(g.integers(0, PER_STEP))
        count = (n - offset) // PER_STEP
        cut = slice(offset, offset + count * PER_STEP)

        def blocks(
            x: np.ndarray, day: int = day, cut: slice = cut, count: int = count
        ) -> np.ndarray:
            return x[day, cut].reshape(count, PER_STEP)

        first, last = (
            offset + np.arange(count) * PER_STEP,
            offset + np.arange(1, count + 1) * PER_STEP - 1,
        )
        v = blocks(speed)
        begin = starts[day].timestamp()
        course = np.radians(blocks(whole["course_deg"]))
        frames.append(
            pl.DataFrame(
                {
                    "trip": f"{'ba'[side]}{day:03d}",
                    "step": np.arange(count, dtype=np.uint32),
                    "start_s": begin
                    + clock[day, first]
                    - seconds[day, first]
                    - stopped[day, first],
                    "duration_s": blocks(seconds).sum(1) + blocks(stopped).sum(1),
                    "stopped_s": blocks(stopped).sum(1),
                    "distance_m": np.full(count, SUB_M * PER_STEP),
                    "indicated_m": np.full(count, SUB_M * PER_STEP / k_dash),
                    "bridged_m": np.zeros(count),
                    "latitude_deg": whole["latitude_deg"][day, first] + g.normal(0, 4e-5, count),
                    "longitude_deg": whole["longitude_deg"][day, first] + g.normal(0, 4e-5, count),
                    "end_latitude_deg": whole["latitude_deg"][day, last] + g.normal(0, 4e-5, count),
                    "end_longitude_deg": whole["longitude_deg"][day, last]
                    + g.normal(0, 4e-5, count),
                    "course_deg": np.degrees(
                        np.arctan2(np.sin(course).mean(1), np.cos(course).mean(1))
                    )
                    % 360,
                    "altitude_m": height[day, first],
                    "end_altitude_m": height[day, np.minimum(last + 1, n - 1)],
                    "speed_mps": SUB_M * PER_STEP / blocks(seconds).sum(1),
                    "speed_squared_m2ps2": (v**2).mean(1),
                    "start_speed_mps": v[:, 0],
                    "end_speed_mps": speed[day, np.minimum(last + 1, n - 1)],
                    "fuel_l": blocks(fuel).sum(1) * 1.02,
                    "fuel_stopped_l": (blocks(stopped) * 1.9 / 3600).sum(1) * 1.02,
                    "engine_speed_rpm": blocks(rpm).mean(1) * (1 + g.normal(0, 0.002, count)),
                    "ambient_temperature_c": blocks(temperature).mean(1) + g.normal(0, 0.3),
                    "gear": blocks(gear).mean(1).round(),
                }
            )
        )
    empty = (
        "accelerator_percent",
        "engine_torque_percent",
        "engine_load_percent",
        "retarder_torque_percent",
        "barometric_pressure_kpa",
        "coolant_temperature_c",
        "transmission_oil_temperature_c",
        "intake_air_temperature_c",
        "unlocked_s",
        "regeneration_s",
    )
    return pl.concat(frames).with_columns(pl.lit(None, pl.Float64).alias(name) for name in empty)


def _as_logged(g: np.random.Generator, cell: Cell, side: int, steps: pl.DataFrame) -> pl.DataFrame:
    """Fuel and outside temperature as the cell's channels give them."""
    if cell.sensor == "none":
        steps = steps.with_columns(ambient_temperature_c=pl.lit(None, pl.Float64))
    elif cell.sensor == "stuck":
        steps = steps.with_columns(ambient_temperature_c=pl.lit(11.0))
    elif cell.sensor == "off" and side:
        steps = steps.with_columns(pl.col("ambient_temperature_c") + 4.0)
    if cell.fuel == "rate":
        return steps
    if cell.fuel == "counter":
        return pl.concat(_counted(g, trip) for trip in steps.partition_by("trip"))
    step = float(cell.fuel)
    hours = pl.col("duration_s") / 3600
    moving = (pl.col("duration_s") - pl.col("stopped_s")) / 3600
    rate = (pl.col("fuel_l") - pl.col("fuel_stopped_l")) / moving
    still = pl.col("fuel_stopped_l") / (pl.col("stopped_s") / 3600)
    # each second's rate in whole steps; a step of road has five seconds or so
    whole = ((rate / step + pl.Series(g.uniform(-0.1, 0.1, steps.height))).round() * step) * moving
    stood = pl.when(pl.col("stopped_s") > 0).then((still / step).round() * step * (hours - moving))
    stood = stood.otherwise(0.0)
    return steps.with_columns(fuel_stopped_l=stood, fuel_l=whole + stood)


def _counted(g: np.random.Generator, trip: pl.DataFrame) -> pl.DataFrame:
    """A trip's fuel by a counter in steps of half a liter, read each second as the program does;
    road before the first change and after the last has none."""
    burnt = np.concatenate([[0.0], np.cumsum(trip["fuel_l"].to_numpy())])
    duration = trip["duration_s"].to_numpy()
    edges = np.concatenate([[0.0], np.cumsum(duration)])
    clock = np.arange(0.0, edges[-1])
    count = np.floor((np.interp(clock, edges, burnt) + g.uniform(0, 0.5)) / 0.5) * 0.5 + 731.5
    number = np.searchsorted(edges[1:-1], clock, side="right")
    stood = trip["stopped_s"].to_numpy()
    standing = clock - edges[number] < stood[number]
    each = from_counter(clock, count, clock, 1.0, standing)
    seconds = np.append(clock, clock[-1] + 1) - 0.5

    def over(per_second: np.ndarray) -> np.ndarray:
        """Sums over each step of road, its ends within a second cut."""
        return np.diff(np.interp(edges, seconds, np.concatenate([[0.0], np.cumsum(per_second)])))

    known = over(np.isfinite(each).astype(float)) / duration
    with np.errstate(invalid="ignore", divide="ignore"):
        told = np.where(known >= 0.5, 1 / known, np.nan)
    fuel, stopped = over(np.nan_to_num(each)) * told, over(np.nan_to_num(each) * standing) * told
    return trip.with_columns(
        fuel_l=pl.Series(fuel).fill_nan(None), fuel_stopped_l=pl.Series(stopped).fill_nan(None)
    )


def _trip_table(
    side: int,
    steps: pl.DataFrame,
    starts: list[datetime],
    k: float,
    k_dash: float,
) -> pl.DataFrame:
    table = steps.group_by("trip", maintain_order=True).agg(
        duration_s=pl.col("duration_s").sum(),
        moving_s=(pl.col("duration_s") - pl.col("stopped_s")).sum(),
        stopped_s=pl.col("stopped_s").sum(),
        true_m=pl.col("distance_m").sum(),
        indicated_m=pl.col("indicated_m").sum(),
        liters=pl.col("fuel_l").sum(),
        idle_liters=pl.col("fuel_stopped_l").sum(),
        ambient_temperature_c=pl.col("ambient_temperature_c").mean(),
    )
    return table.with_columns(
        side=pl.lit("after" if side else "before"),
        start=pl.Series(starts, dtype=pl.Datetime("us", "UTC")),
        end=pl.Series(starts, dtype=pl.Datetime("us", "UTC"))
        + pl.duration(seconds=pl.col("duration_s")),
        local_day=pl.Series([s.date() for s in starts]),
        odometer_factor=pl.lit(k_dash),
        odometer_factor_se=pl.lit(0.0004),
        final_drive=pl.lit(4.88 / k),
        final_drive_se=pl.lit(0.0005),
        interval_s=pl.lit(1.0),
        steps_s=pl.lit(1.0),
        lag_s=pl.lit(0.0),
        flags=pl.lit([], pl.List(pl.String)),
        used=pl.lit(True),
    )
