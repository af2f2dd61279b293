"""Plain 1 Hz logs in any number, for benchmarks: plausible motion, and fuel by a Willans line of
what the motion asks for; no study's truth in them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl

STUDY = """name = "benchmark"
seed = 1
[vehicle]
mass = "12000 kg"
fuel = "diesel"
axle_ratio = 4.88
gear_ratios = [3.51, 1.91, 1.43, 1.00, 0.74, 0.64]
speed_source = "output shaft"
[before]
drive_tire = "245/70R19.5"
logs = ["before/*.csv"]
[after]
drive_tire = "265/70R19.5"
logs = ["after/*.csv"]
[claim]
consumption_change_percent = -4
"""
GEARS = np.array([3.51, 1.91, 1.43, 1.00, 0.74, 0.64])
UP_SHIFT_MPS = np.array([3.0, 6.0, 9.5, 14.0, 19.0])


def _smooth(rng: np.random.Generator, n: int, window: int) -> np.ndarray:
    noise = rng.standard_normal(n + window)
    sums = np.cumsum(noise)
    return (sums[window:] - sums[:-window])[:n] / np.sqrt(window)


def _fuel_l_per_h(speed: np.ndarray, grade: np.ndarray, engine: np.ndarray) -> np.ndarray:
    """12 t on wheels: rolling, drag, grade and acceleration, and the turning of the engine."""
    force = 12_000 * (9.81 * (0.007 + grade) + 1.05 * np.gradient(speed)) + 2.7 * speed**2
    watts = np.clip(force * speed / 0.9, 0, 200_000) + 12 * engine
    return watts / 0.42 * 3600 / 35.9e6


def log_frame(rng: np.random.Generator, rows: int, start: datetime, factor: float) -> pl.DataFrame:
    """One log: 1 Hz, metric, headings in plain words."""
    speed = np.clip(20 + 5 * _smooth(rng, rows, 240) + 1.0 * _smooth(rng, rows, 20), 0, 29)
    course = np.cumsum(0.3 * _smooth(rng, rows, 60)) % 360
    north, east = speed * np.cos(np.radians(course)), speed * np.sin(np.radians(course))
    latitude = 46.0 + np.cumsum(north) / 111_132
    longitude = 10.0 + np.cumsum(east) / 77_000
    grade = 0.02 * _smooth(rng, rows, 300)
    altitude = 600 + np.cumsum(speed * grade)
    gear = GEARS[np.searchsorted(UP_SHIFT_MPS, speed)]
    engine = np.maximum(650, speed / (2.55 * factor) * 60 * 4.88 * gear)
    fuel = _fuel_l_per_h(speed, grade, engine) * (1 + 0.03 * _smooth(rng, rows, 30))
    return pl.DataFrame(
        {
            "Time": pl.datetime_range(
                start,
                start + timedelta(seconds=rows - 1),
                "1s",
                time_unit="us",
                time_zone="UTC",
                eager=True,
            ).dt.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "Latitude (deg)": np.round(latitude, 6),
            "Longitude (deg)": np.round(longitude, 6),
            "Altitude (m)": np.round(altitude, 1),
            "GPS speed (km/h)": np.round(3.6 * speed + 0.2 * rng.standard_normal(rows), 2),
            "HDOP": np.round(0.8 + 0.2 * rng.random(rows), 1),
            "Vehicle speed (km/h)": np.floor(3.6 * speed / factor).astype(int),
            "Engine speed (rpm)": np.round(4 * engine) / 4,
            "Engine fuel rate (L/h)": np.round(20 * np.maximum(fuel, 0)) / 20,
            "Engine load (%)": np.round(np.clip(fuel * 2, 0, 100)).astype(int),
            "Coolant temperature (degC)": np.full(rows, 88),
            "Ambient temperature (degC)": np.round(10 + 5 * _smooth(rng, rows, 3000)).astype(int),
        }
    )


def write_logs(folder: Path, files: int, rows: int, seed: int = 1) -> Path:
    """A study of `files` logs of `rows` rows each, half before and half after; its study file."""
    first = datetime(2025, 1, 6, 7, 0, tzinfo=UTC)
    for number in range(files):
        after = number >= files // 2
        side = folder / ("after" if after else "before")
        side.mkdir(parents=True, exist_ok=True)
        start = first + timedelta(days=number)
        factor = 1.034 if after else 1.0
        log = log_frame(np.random.default_rng((seed, number)), rows, start, factor)
        log.write_csv(side / f"log{number:05d}.csv")
    study = folder / "study.toml"
    study.write_text(STUDY, encoding="utf-8")
    return study


def write_fleet(folder: Path, vehicles: int, files: int, rows: int) -> Path:
    """A fleet of vehicles `bus_1`, `bus_2` with `files` logs each; its fleet file."""
    for number in range(1, vehicles + 1):
        study = write_logs(folder / f"bus_{number}", files, rows, seed=number)
        study.write_text(STUDY.replace('"benchmark"', f'"bus_{number}"'), encoding="utf-8")
    path = folder / "fleet.toml"
    path.write_text('name = "county fleet"\nstudies = ["bus_*/study.toml"]\n', encoding="utf-8")
    return path
