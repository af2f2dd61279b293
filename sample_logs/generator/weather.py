"""The weather of the two periods: what blew and what the station wrote down."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl

from .chance import Floats, stream, wandering

START = datetime(2026, 2, 9, 7, tzinfo=UTC)  # midnight in the mountains' winter time
HOURS = 24 * 75
STATION_ALTITUDE_M = 1622.0
STATION_PRESSURE_HPA = 833.5  # standard atmosphere at the station's height
WIND_AT_BUS = 0.72  # of the wind at the station's 10 m


@dataclass(frozen=True)
class Weather:
    """Hourly truth at the station from START: temperature [degC], wind towards east and north
    at 10 m [m/s], pressure [hPa]."""

    temperature_c: Floats
    east_mps: Floats
    north_mps: Floats
    pressure_hpa: Floats

    def at(self, moment: datetime) -> tuple[float, float, float, float]:
        """The four at a moment, straight between the hours."""
        x = (moment - START).total_seconds() / 3600
        i = int(x)
        f = x - i
        columns = (self.temperature_c, self.east_mps, self.north_mps, self.pressure_hpa)
        east = [float(c[i] * (1 - f) + c[i + 1] * f) for c in columns]
        return east[0], east[1], east[2], east[3]


def make_weather() -> Weather:
    rng = stream("weather")
    days = HOURS // 24 + 1
    hour = np.arange(HOURS)
    day = hour // 24
    season = 1.5 + 13.0 * np.clip(np.arange(days) - 8, 0, None) / 64  # the year warms up
    daily = season + wandering(rng, days, sd=3.4, length=2.2)
    across = np.interp(hour, np.arange(days) * 24 + 12, daily)
    swing = 5.2 * np.sin(2 * np.pi * (hour % 24 - 9.0) / 24)
    temperature = across + swing + wandering(rng, HOURS, sd=0.6, length=4)
    strength = np.exp(1.15 + wandering(rng, days, sd=0.42, length=1.4))[day]
    strength = strength * (1 + 0.35 * np.sin(2 * np.pi * (hour % 24 - 9.0) / 24))
    strength = np.clip(strength + wandering(rng, HOURS, sd=0.7, length=3), 0.2, 14)
    from_deg = 255 + wandering(rng, days, sd=48, length=1.3)[day]
    from_deg = np.radians(from_deg + wandering(rng, HOURS, sd=14, length=4))
    pressure = STATION_PRESSURE_HPA + wandering(rng, HOURS, sd=4.5, length=40)
    return Weather(
        temperature, -strength * np.sin(from_deg), -strength * np.cos(from_deg), pressure
    )


def station_file(weather: Weather) -> pl.DataFrame:
    """The hourly record of the station at Merrow, with its errors."""
    rng = stream("station")
    speed = np.hypot(weather.east_mps, weather.north_mps) + rng.normal(0, 0.5, HOURS)
    blowing_from = np.degrees(np.arctan2(-weather.east_mps, -weather.north_mps))
    blowing_from = blowing_from + rng.normal(0, 10, HOURS)
    times = [START + timedelta(hours=i) for i in range(HOURS)]
    return pl.DataFrame(
        {
            "time": [t.strftime("%Y-%m-%dT%H:%M:%SZ") for t in times],
            "wind speed (m/s)": [f"{max(0.0, v):.1f}" for v in speed],
            "wind direction (deg)": [f"{round(d / 10) * 10 % 360:d}" for d in blowing_from],
            "temperature (degC)": [
                f"{t:.1f}" for t in weather.temperature_c + rng.normal(0, 0.3, HOURS)
            ],
            "pressure (hPa)": [
                f"{p:.1f}" for p in weather.pressure_hpa + rng.normal(0, 0.3, HOURS)
            ],
        }
    )
