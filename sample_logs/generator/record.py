"""What the recorder writes: receiver and bus with their errors, in three dialects of CSV."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from . import bus
from .chance import Floats, stream, wandering
from .drive import Drive
from .driver import DT
from .roads import STEP_M

LOCAL = ZoneInfo("America/Denver")
LANE_M = 1.8  # right of the middle of the road


@dataclass(frozen=True)
class Recording:
    """What one trip's file is to be: which dialect, how late the receiver, where it was blind."""

    dialect: str  # a | b | c
    lag_s: float
    encoding: str = "utf-8"
    blind: tuple[tuple[float, float], ...] = ()  # seconds from, to


@dataclass(frozen=True)
class Sampled:
    """One value a second of everything the recorder may write; NaN where it had nothing."""

    start: datetime
    clock_s: Floats  # stated times, seconds from start
    columns: dict[str, Floats]


def sample(drive: Drive, recording: Recording) -> Sampled:
    """Once a second, the receiver `lag_s` behind the bus."""
    a = drive.arrays
    rng = stream("record", drive.plan.name)
    n = int(a["time_s"][-1])
    clock = np.arange(n, dtype=float)
    if recording.dialect == "c":
        clock = clock + rng.normal(0, 0.012, n).round(3) + 0.25
    bus_at = np.clip(clock, 0, a["time_s"][-1])
    sky_at = np.clip(clock - recording.lag_s, 0, a["time_s"][-1])

    def on_bus(name: str) -> Floats:
        values: Floats = np.interp(bus_at, a["time_s"], a[name])
        return values

    columns = {
        name: on_bus(name)
        for name in ("indicated_mps", "engine_rpm", "coolant_c", "oil_c", "air_c", "air_kpa")
    }
    nearest = np.clip(np.rint(bus_at / DT).astype(int), 0, len(a["time_s"]) - 1)
    columns["gear"] = a["gear"][nearest]
    # the fuel rate is a mean over the second, as engine computers report it
    burned = np.concatenate([[0.0], np.cumsum(a["fuel_lps"]) * DT])
    edges = np.concatenate([a["time_s"], [a["time_s"][-1] + DT]])
    spent = np.interp(bus_at, edges, burned) - np.interp(bus_at - 1, edges, burned)
    columns["fuel_lph"] = spent * 3600 * bus.FUEL_RATE_SCALE
    columns["fuel_lph"][0] = a["fuel_lps"][0] * 3600 * bus.FUEL_RATE_SCALE
    columns["torque_percent"] = on_bus("gas_torque") / bus.REFERENCE_TORQUE * 100
    columns["load_percent"] = on_bus("gas_torque") / on_bus("full_gas_torque") * 100
    columns["pedal_percent"] = on_bus("pedal") * 100
    shaft = on_bus("engine_rpm") * math.pi / 30
    columns["retarder_percent"] = -on_bus("retarder_w") / shaft / bus.REFERENCE_TORQUE * 100
    columns["air_c"] = columns["air_c"] + 1.2 + wandering(rng, n, sd=0.4, length=90)
    columns |= _receiver(drive, rng, sky_at)
    for first, last in recording.blind:
        dark = (clock >= first) & (clock < last)
        for name in ("latitude", "longitude", "altitude_m", "gps_mps", "course", "hdop"):
            columns[name][dark] = np.nan
    return Sampled(drive.plan.start, clock, columns)


def _receiver(drive: Drive, rng: np.random.Generator, sky_at: Floats) -> dict[str, Floats]:
    a, road, n = drive.arrays, drive.plan.road, len(sky_at)
    along = np.interp(sky_at, a["time_s"], a["along_m"])
    speed = np.interp(sky_at, a["time_s"], a["speed_mps"])
    grid = along / STEP_M
    course = np.interp(
        grid, np.arange(len(road.course_deg)), np.unwrap(road.course_deg, period=360)
    )
    turn = np.radians(course)
    east = wandering(rng, n, sd=1.7, length=70) + rng.normal(0, 0.12, n) + LANE_M * np.cos(turn)
    north = wandering(rng, n, sd=1.9, length=70) + rng.normal(0, 0.12, n) - LANE_M * np.sin(turn)
    latitude = np.interp(along, road.distance_m, road.latitude_deg)
    longitude = np.interp(along, road.distance_m, road.longitude_deg)
    altitude = np.interp(along, road.distance_m, road.altitude_m)
    slope = np.interp(along, road.distance_m, road.grade)
    level = speed / np.sqrt(1 + slope**2)
    doppler = wandering(rng, n, sd=0.06, length=3) + rng.normal(0, 0.03, n)
    seen = np.abs(level + doppler)
    moving = speed > 0.8
    shaky = course + rng.normal(0, 1, n) * np.degrees(0.08 / np.maximum(speed, 0.8))
    held = np.maximum.accumulate(np.where(moving, np.arange(n), 0))
    bias, wander = rng.normal(0, 4.0), wandering(rng, n, sd=3.2, length=140)
    return {
        "latitude": latitude + north / 111_000,
        "longitude": longitude + east / (111_320 * np.cos(np.radians(latitude))),
        "altitude_m": altitude + bias + wander + rng.normal(0, 0.25, n),
        "gps_mps": seen,
        "course": shaky[held] % 360,
        "hdop": np.clip(0.9 + wandering(rng, n, sd=0.15, length=300), 0.6, 3),
    }


def _stepped(values: Floats, step: float, *, cut: bool = False) -> Floats:
    scaled = values / step
    return (np.floor(scaled + 1e-9) if cut else np.rint(scaled)) * step


def _cells(values: Floats, digits: int) -> list[str]:
    return ["" if math.isnan(v) else f"{v:.{digits}f}" for v in (values + 0.0).tolist()]


def dialect_a(s: Sampled) -> list[str]:
    """Metric, comma, units in the headings, time in UTC; SAE J1979 resolutions."""
    c = s.columns
    percent = 100 / 255
    table = {
        "Time (UTC)": [
            (s.start.astimezone(UTC) + timedelta(seconds=t)).strftime("%Y-%m-%dT%H:%M:%SZ")
            for t in s.clock_s
        ],
        "Latitude (deg)": _cells(c["latitude"], 6),
        "Longitude (deg)": _cells(c["longitude"], 6),
        "Altitude (m)": _cells(c["altitude_m"], 1),
        "GPS speed (km/h)": _cells(c["gps_mps"] * 3.6, 2),
        "GPS course (deg)": _cells(c["course"], 1),
        "HDOP": _cells(c["hdop"], 1),
        "Vehicle speed (km/h)": _cells(_stepped(c["indicated_mps"] * 3.6, 1, cut=True), 0),
        "Engine RPM (rpm)": _cells(_stepped(c["engine_rpm"], 0.25), 2),
        "Engine fuel rate (L/h)": _cells(_stepped(c["fuel_lph"], 0.05), 2),
        "Calculated engine load (%)": _cells(_stepped(c["load_percent"], percent), 1),
        "Accelerator pedal position (%)": _cells(_stepped(c["pedal_percent"], percent), 1),
        "Engine coolant temperature (degC)": _cells(np.rint(c["coolant_c"]), 0),
        "Ambient air temperature (degC)": _cells(np.rint(c["air_c"]), 0),
        "Barometric pressure (kPa)": _cells(np.rint(c["air_kpa"]), 0),
    }
    return _lines(table, ",", [])


def dialect_b(s: Sampled) -> list[str]:
    """Semicolon, decimal comma, units in a row of their own, local date and time, day first."""
    c = s.columns
    utc = s.start.astimezone(UTC)
    local = [(utc + timedelta(seconds=t)).astimezone(LOCAL) for t in s.clock_s]
    table = {
        "Date": [t.strftime("%d.%m.%Y") for t in local],
        "Time": [t.strftime("%H:%M:%S") for t in local],
        "Latitude": _cells(c["latitude"], 6),
        "Longitude": _cells(c["longitude"], 6),
        "Altitude": _cells(c["altitude_m"], 1),
        "Speed over ground": _cells(c["gps_mps"], 2),
        "Course": _cells(c["course"], 1),
        "HDOP": _cells(c["hdop"], 1),
        "Vehicle speed": _cells(_stepped(c["indicated_mps"] * 3.6, 1, cut=True), 0),
        "Engine speed": _cells(_stepped(c["engine_rpm"], 1), 0),
        "Engine fuel rate": _cells(_stepped(c["fuel_lph"], 0.05), 2),
        "Engine load": _cells(_stepped(c["load_percent"], 1), 0),
        "Coolant temperature": _cells(np.rint(c["coolant_c"]), 0),
        "Outside temperature": _cells(_stepped(c["air_c"], 0.5), 1),
        "Atmospheric pressure": _cells(np.rint(c["air_kpa"] * 10), 0),
    }
    units = "dd.mm.yyyy;hh:mm:ss;°;°;m;m/s;°;-;km/h;1/min;l/h;%;°C;°C;hPa"
    decimal_comma = {k: [cell.replace(".", ",") for cell in v] for k, v in table.items()}
    decimal_comma["Date"] = table["Date"]
    return _lines(decimal_comma, ";", [units])


def dialect_c(s: Sampled) -> list[str]:
    """US units, epoch milliseconds, SAE J1939 names and resolutions."""
    c = s.columns
    first = round(s.start.timestamp() * 1000)
    kmh = _stepped(c["indicated_mps"] * 3.6, 1 / 256)

    def fahrenheit(celsius: Floats) -> Floats:
        return celsius * 1.8 + 32

    table = {
        "Timestamp (ms)": [str(first + round(t * 1000)) for t in s.clock_s.tolist()],
        "Latitude (deg)": _cells(c["latitude"], 6),
        "Longitude (deg)": _cells(c["longitude"], 6),
        "Altitude (ft)": _cells(c["altitude_m"] / 0.3048, 0),
        "Navigation-Based Vehicle Speed (mph)": _cells(c["gps_mps"] / 0.44704, 2),
        "Compass Bearing (deg)": _cells(c["course"], 1),
        "Wheel-Based Vehicle Speed (mph)": _cells(kmh / 1.609344, 3),
        "Engine Speed (rpm)": _cells(_stepped(c["engine_rpm"], 0.125), 1),
        "Engine Fuel Rate (gal/h)": _cells(_stepped(c["fuel_lph"], 0.05) / 3.785411784, 4),
        "Actual Engine - Percent Torque (%)": _cells(np.rint(c["torque_percent"]), 0),
        "Accelerator Pedal Position 1 (%)": _cells(_stepped(c["pedal_percent"], 0.4), 1),
        "Actual Retarder - Percent Torque (%)": _cells(np.rint(c["retarder_percent"]), 0),
        "Transmission Current Gear": _cells(c["gear"], 0),
        "Engine Coolant Temperature (degF)": _cells(fahrenheit(np.rint(c["coolant_c"])), 1),
        "Transmission Oil Temperature (degF)": _cells(fahrenheit(_stepped(c["oil_c"], 0.5)), 1),
        "Ambient Air Temperature (degF)": _cells(fahrenheit(_stepped(c["air_c"], 0.25)), 1),
        "Barometric Pressure (psi)": _cells(_stepped(c["air_kpa"], 0.5) / 6.894757, 2),
    }
    return _lines(table, ",", [])


def _lines(table: dict[str, list[str]], comma: str, units: list[str]) -> list[str]:
    rows = map(comma.join, zip(*table.values(), strict=True))
    return [comma.join(table), *units, *rows]


DIALECTS = {"a": dialect_a, "b": dialect_b, "c": dialect_c}


def file_bytes(drive: Drive, recording: Recording) -> bytes:
    """The log file of one trip."""
    lines = DIALECTS[recording.dialect](sample(drive, recording))
    end = "\r\n" if recording.dialect == "b" else "\n"
    return (end.join(lines) + end).encode(recording.encoding)
