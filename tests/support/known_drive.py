"""A drive of half an hour at a row a second, with a stop in it, and what writes its rows."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np

from gearing.logs.model import Reading

ROWS = 1800
BEGAN = datetime(2026, 5, 14, 14, 5, tzinfo=UTC)
AT = np.arange(ROWS)


def _drive() -> dict[str, np.ndarray]:
    speed = np.clip(15 + 9 * np.sin(AT / 60) + 3 * np.sin(AT / 17), 0, None)
    speed[600:660] = 0
    north, east = np.cumsum(speed) * math.cos(0.6), -np.cumsum(speed) * math.sin(0.6)
    return {
        "latitude_deg": 44.2 + north / 111_132,
        "longitude_deg": -7.9 + east / (111_320 * math.cos(math.radians(44.2))),
        "altitude_m": 600 + 80 * np.sin(AT / 300),
        "gps_speed_mps": speed,
        "indicated_speed_mps": speed / 1.03,
        "engine_speed_rpm": 700 + speed / 1.03 * 65,
        "fuel_rate_lph": 2.5 + 1.1 * speed,
        "engine_load_percent": 50 + 40 * np.sin(AT / 40),
    }


DRIVE = _drive()
WITHIN = {
    "latitude_deg": 2e-6,
    "longitude_deg": 2e-6,
    "altitude_m": 0.06,
    "gps_speed_mps": 0.03,
    "indicated_speed_mps": 0.15,
    "engine_speed_rpm": 0.51,
    "fuel_rate_lph": 0.006,
    "engine_load_percent": 0.21,
}
LAT, LON, ALT, SPEED, NEEDLE, ENGINE, FUEL, LOAD = DRIVE.values()
REST = ["Latitude", "Longitude", "Altitude (m)", "GPS speed (km/h)", "Vehicle speed (km/h)", "RPM",
        "Fuel rate (L/h)"]  # fmt: skip
MOST = tuple(DRIVE)[:7]
PLACE = ("latitude_deg", "longitude_deg", "gps_speed_mps")


def time_at(n: float) -> datetime:
    """When row `n` was taken."""
    return BEGAN + timedelta(seconds=n)


def iso(n: int) -> str:
    """The same in ISO 8601."""
    return time_at(n).strftime("%Y-%m-%dT%H:%M:%SZ")


def place_at(n: int) -> list[str]:
    """Latitude and longitude of row `n`, as text."""
    return [f"{LAT[n]:.6f}", f"{LON[n]:.6f}"]


def cells(n: int) -> list[str]:
    """The cells of row `n` under `REST`."""
    return [*place_at(n), f"{ALT[n]:.1f}", f"{SPEED[n] * 3.6:.2f}", f"{NEEDLE[n] * 3.6:.0f}",
            f"{ENGINE[n]:.0f}", f"{FUEL[n]:.2f}"]  # fmt: skip


def comma_cells(n: int) -> list[str]:
    """The same with decimal commas."""
    return [cell.replace(".", ",") for cell in cells(n)]


def written(head: list[str], row: Callable[[int], list[str]], sign: str = ",") -> str:
    """The drive as text: the headings, and what `row` gives of each of its rows."""
    return "".join(sign.join(one) + "\n" for one in (head, *map(row, range(ROWS))))


def in_minutes(degrees: float, width: int) -> str:
    """Degrees and minutes in one number, as NMEA 0183 writes them."""
    whole = int(abs(degrees))
    return f"{whole:0{width}d}{(abs(degrees) - whole) * 60:09.6f}"


def assert_as_it_was(reading: Reading, channels: tuple[str, ...]) -> None:
    """The reading is the drive, all of it, with these channels, and nothing asked or set aside."""
    assert not reading.questions
    assert not reading.set_aside_values
    samples = reading.samples
    assert samples.height == ROWS
    late = (one - time_at(n) for n, one in enumerate(samples["time"].to_list()))
    assert max(map(abs, late)) < timedelta(milliseconds=0.1)
    assert set(samples.columns) == {"time", "line", *channels}
    for channel in channels:
        off = np.abs(samples[channel].to_numpy() - DRIVE[channel]).max()
        assert off <= WITHIN[channel], channel
