"""What physics knows only within a range: the prior of everything the comparison assumes.

Ranges
------
rolling_per_k      0.002 to 0.009 per K: ISO 28580 has 0.006, SAE J1263/J2263 0.0086 (both from
                   memory); one deviation 0.002 about 0.005.
rolling            0.007 for heavy vehicles' and 0.010 for cars' tires at 25 degC, one deviation
                   20 %; 10 % about a figure the study gives.
drag area          6.0 m2 heavy, 0.7 m2 cars, one deviation 20 %; 8 % about the study's.
mass               one deviation 3 % about the study's; 30 % without.
rolling_speed      rise of rolling resistance with speed: 0.4 % per m/s, one deviation 0.4
                   (between the truck tire's almost none and the textbook car's 1.5).
overhead           1.7 W per kg of vehicle at the crank, 3 for cars, one deviation of the
                   logarithm 0.4 (common practice, no source); the share going with the square of
                   engine speed (friction) and not with time (auxiliaries): 0.6, one deviation
                   0.25. Engine speed here is what the BEFORE tires give at that road speed,
                   on both sides: what the tires change stays in the answer.
bend               how fuel per work departs at high load and at both ends: 0, one deviation
                   10 % at the far end.
wind share         of what the profile brings down to the vehicle: 1, one deviation 0.3.
yaw                growth of drag with the angle of the air: 1.2 % a degree, one deviation 0.6
                   (bluff bodies; common practice, no source), up to 15 degrees.
on trial           what the periods differ by in rolling (its tires) and in overhead (its fewer
                   revolutions): 0, one deviation as much again; nothing is assumed of it.
prevailing         the mean wind of all days, each way: 0, one deviation 2.2 m/s, 0.25 about a
                   station's.
mean winds         what the two periods' mean winds differ by, each way: 2.2 m/s for a day, whose
                   means over as many days as there are differ by less (every second day counted:
                   weather lasts), and 0.5 m/s between seasons; 0.25 m/s about a station's.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt
from typing import TYPE_CHECKING

import numpy as np

from gearing.findings.fuel.rows import CAR_MASS_KG, HEAVY_MASS_KG

if TYPE_CHECKING:
    from gearing.statistics.arrays import Array
    from gearing.study.model import Study

NO_DOUBT = 1e-6  # the deviation of what does not enter
DAILY_WIND_MPS = 2.2  # at the vehicle's height, each way
DAYS_OF_WEATHER = 2.0
SEASONAL_WIND_MPS = 0.5
STATION_WIND_MPS = 0.25
# What the periods differ by in rolling and in overhead is the effect on trial. It stands beside
# the others while they are learned, so that none of them (a wind, above all) takes it for its own,
# and is then let go.
ON_TRIAL = ("rolling_difference", "overhead_difference")


@dataclass(frozen=True, slots=True)
class Range:
    """One thing known within a range: `value`, one deviation of `theta`, and where from.

    `theta` is the departure from the value: of the logarithm where `relative`, else plain.
    """

    name: str
    value: float
    deviation: float
    unit: str
    relative: bool
    source: str

    def at(self, theta: float) -> float:
        return self.value * float(np.exp(theta)) if self.relative else self.value + theta


@dataclass(frozen=True, slots=True)
class Ranges:
    """All of them, in the order of the vector `theta`."""

    each: tuple[Range, ...]

    @property
    def on_trial(self) -> list[int]:
        """Where in `theta` the effect on trial stands."""
        return [index for index, one in enumerate(self.each) if one.name in ON_TRIAL]

    @property
    def deviations(self) -> Array:
        return np.array([one.deviation for one in self.each])

    def value(self, name: str) -> float:
        """What is assumed of one before the logs are heard."""
        return next(one.value for one in self.each if one.name == name)

    def values(self, theta: Array) -> dict[str, float]:
        return {one.name: one.at(float(t)) for one, t in zip(self.each, theta, strict=True)}


def ranges_of(study: Study, *, wind_known: bool, days: tuple[int, int]) -> Ranges:
    """What is assumed for this study, with so many days before and after.

    With a wind file its share is in doubt, and little else of the wind; without, the two
    periods' mean winds may differ."""
    vehicle = study.vehicle
    car = vehicle.fuel == "gasoline"
    mass = vehicle.mass_kg or (CAR_MASS_KG if car else HEAVY_MASS_KG)
    of_days = DAILY_WIND_MPS * sqrt(sum(DAYS_OF_WEATHER / max(count, 1) for count in days))
    mean_wind = STATION_WIND_MPS if wind_known else hypot(SEASONAL_WIND_MPS, of_days)
    prevailing = STATION_WIND_MPS if wind_known else DAILY_WIND_MPS
    square = 1.0 if wind_known else 2.5

    def declared(
        name: str, given: float | None, usual: float, near: float, wide: float, unit: str
    ) -> Range:
        source = "default" if given is None else "study"
        return Range(name, given or usual, wide if given is None else near, unit, True, source)

    return Ranges((
        declared("rolling", vehicle.rolling_resistance, 0.010 if car else 0.007, 0.1, 0.2, "-"),
        Range(
            "rolling_per_k",
            0.005
            if vehicle.rolling_temperature_per_k is None
            else vehicle.rolling_temperature_per_k,
            0.002,
            "1/K",
            False,
            "default" if vehicle.rolling_temperature_per_k is None else "study",
        ),
        declared("drag_area", vehicle.drag_area_m2, 0.7 if car else 6.0, 0.08, 0.2, "m2"),
        declared("mass", vehicle.mass_kg, mass, 0.03, 0.3, "kg"),
        Range("overhead", (3.0 if car else 1.7) * mass, 0.4, "W", True, "default"),
        Range("overhead_with_revolutions", 0.6, 0.25, "-", False, "default"),
        Range("bend", 0.0, 0.1, "-", False, "default"),
        Range("bend_both_ends", 0.0, 0.1, "-", False, "default"),
        Range("slow_running", 0.0, 0.2, "-", False, "default"),
        Range("wind_share", 1.0, 0.3 if wind_known else NO_DOUBT, "-", False, "default"),
        Range("rolling_speed", 0.004, 0.004, "s/m", False, "default"),
        Range("yaw", 0.012, 0.006, "1/deg", False, "default"),
        Range("prevailing_from_east", 0.0, prevailing, "m/s", False, "default"),
        Range("prevailing_from_north", 0.0, prevailing, "m/s", False, "default"),
        Range("wind_from_east", 0.0, mean_wind, "m/s", False, "default"),
        Range("wind_from_north", 0.0, mean_wind, "m/s", False, "default"),
        Range("wind_square", 0.0, square, "m2/s2", False, "default"),
        *(Range(name, 0.0, 1.0, "-", False, "default") for name in ON_TRIAL),
    ))  # fmt: skip
