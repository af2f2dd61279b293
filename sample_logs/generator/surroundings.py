"""What resists the bus: air, wind, hill and rolling, as the moment and the place have them."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

import numpy as np

from . import bus
from .chance import stream, wandering
from .roads import STEP_M, Road
from .weather import STATION_ALTITUDE_M, WIND_AT_BUS, Weather

GRAVITY = 9.81
GAS_CONSTANT = 287.05  # of dry air [J/(kg K)]


class Surroundings:
    """The road's arrays as plain lists, with the noise of the trip `name` laid along it.

    Noise lies along the road and not in time, so that another tire meets the same.
    """

    def __init__(
        self, name: str, start: datetime, road: Road, tire: bus.Tire, worn: float, weather: Weather
    ) -> None:
        self.start, self.tire, self.worn, self.weather = start, tire, worn, weather
        n = len(road.distance_m)
        rng = stream("drive", name)
        self.gust = wandering(rng, n, sd=0.28, length=700 / STEP_M).tolist()
        self.whim = wandering(rng, n, sd=0.55, length=1100 / STEP_M).tolist()
        self.surface = (1 + wandering(rng, n, sd=0.05, length=900 / STEP_M)).tolist()
        self.grade, self.altitude = road.grade.tolist(), road.altitude_m.tolist()
        course = np.radians(road.course_deg)
        self.sine, self.cosine = np.sin(course).tolist(), np.cos(course).tolist()
        self.exposure = road.exposure.tolist()

    def update(self, t: float, cold_tires: float) -> None:
        """Weather and tires `t` seconds into the trip."""
        moment = self.start + timedelta(seconds=t)
        temperature, self.east, self.north, pressure = self.weather.at(moment)
        self.station_c, self.station_kpa = temperature, pressure / 10
        self.circumference = self.tire.rolling_circumference(temperature, self.worn)
        self.radius = self.circumference / (2 * math.pi)
        warming = 1 + cold_tires * math.exp(-t / 800)
        cold = 1 - bus.ROLLING_PER_K * (temperature - 20)
        self.rolling = self.tire.rolling * warming * cold

    def air(self, cell: int) -> tuple[float, float]:
        """Temperature [degC] and pressure [kPa] at the place."""
        temperature = self.station_c - 0.0065 * (self.altitude[cell] - STATION_ALTITUDE_M)
        share = (temperature + 273.15) / (self.station_c + 273.15)
        return temperature, self.station_kpa * share**5.2559

    def resistance(
        self, cell: int, speed: float, mass: float, air_c: float, air_kpa: float
    ) -> float:
        """Force against the bus [N]; downhill it may be negative."""
        slope = self.grade[cell]
        weight = mass * GRAVITY / math.sqrt(1 + slope * slope)
        density = air_kpa * 1000 / (GAS_CONSTANT * (air_c + 273.15))
        blown = WIND_AT_BUS * self.exposure[cell] * (1 + self.gust[cell])
        east, north = self.east * blown, self.north * blown
        along = speed - (east * self.sine[cell] + north * self.cosine[cell])
        across = north * self.sine[cell] - east * self.cosine[cell]
        flow = math.sqrt(along * along + across * across) + 1e-9
        # a side wind finds more bus
        area = bus.DRAG_AREA_M2 * (1 + 1.1 * (across / flow) ** 2 * (abs(along) / flow))
        force = 0.5 * density * area * flow * along + weight * slope
        if speed > 0.1:
            force += self.rolling * self.surface[cell] * weight
        out: float = force
        return out
