"""What physics knows only within a range: the prior of everything the comparison assumes.

Ranges, with one deviation about the value
------------------------------------------
rolling            0.007 for heavy vehicles' and 0.010 for cars' tires at 25 degC, 20 %: a heavy
                   motorhome has 0.0080 (an engine maker's guide), the vocational baseline of 40
                   CFR 1037 is 0.0077, a tractor-trailer's 0.0049 (NRC 2012, 21st Century Truck
                   Partnership, table 5-1); 10 % about a figure the study gives.
rolling_per_k      0.005, 0.002 per K: UN R117 Annex 6 has 0.006 for heavy tires, 0.008 to 0.010
                   for lighter ones, between 20 and 30 degC alone.
drag_area          6.0 m2 heavy, 0.7 m2 cars, 20 %: motorhomes 5.2, a tractor-trailer 5.8 (as
                   rolling), heavy vocational 6.86 (40 CFR 1037); 10 % about the study's, the
                   width of that regulation's bins.
mass               3 % about the study's; 30 % without.
rolling_speed      rise of rolling resistance with speed: 0.4 % per m/s, 0.4 (between the truck
                   tire's almost none and the 1.5 of the textbook's f = 0.01 (1 + V/147), V ft/s).
overhead           1.7 W per kg of vehicle at the crank, 3 for cars, 0.4 of the logarithm: motoring
                   friction of 1.3 (75 + 48 N/1000 + 0.4 Sp^2 kPa, Heywood, from memory, at 0.65 L
                   a tonne) and auxiliaries of 0.4 (NRC 2012); the share going with the square of
                   engine speed and not with time: 0.6, 0.25. Engine speed here is what the
                   BEFORE tires give at that road speed, on both sides: what the tires change
                   stays in the answer.
bend               how fuel per work departs at high load and at both ends: 0, 10 % at the far end
                   (common practice, no source).
slow_running       more fuel per work below 18 m/s, where converters open and gears change: 0, 20 %
                   (common practice, no source).
wind_share         of what the profile brings down to the vehicle: 1, 0.3; 0.65 to 0.84 of the
                   wind at 10 m reach 2 to 3 m over open land, hedges and cuts leave 0.4.
yaw                growth of drag with the angle of the air: 1.2 % a degree, 0.6, up to 15 degrees
                   (EU 2017/2400: a coach 0.52, a tractor with trailer 1.19 m2 at 6 degrees).
prevailing         the mean wind of all days, each way: 0, as a day's; 0.25 about a station's.
wind_from          what the periods' mean winds differ by, each way: a day's, over as many days as
                   there are (every second counted: daily winds correlate by 0.3 to 0.4), and 0.5
                   m/s between seasons; 0.25 m/s about a station's.
wind_square        the same of the wind's square: that of a normal part varies by the root of two
                   times its variance.
climate            the yearly mean and half the yearly range, where only they tell the temperature.
temperature_difference  what the two periods' temperatures may differ by beyond what was taken.
winter_fuel        energy a liter of diesel loses in hard frost: 1.25 %, 1.25 (15 to 50 % of No. 1
                   fuel, which holds 5 % less).
tested effect      what the periods differ by in rolling (its tires) and in overhead (its fewer
                   revolutions): 0, one deviation as much again; nothing is assumed of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt
from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.fuel.rows import CAR_MASS_KG, HEAVY_MASS_KG
from gearing.analysis.fuel.temperature import AirTemperature
from gearing.analysis.fuel.weather import DAILY_WIND_MPS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gearing.statistics.arrays import Array
    from gearing.study.model import Study, Vehicle

NO_DOUBT = 1e-6  # the deviation of what does not enter
DAYS_OF_WEATHER = 2.0
SEASONAL_WIND_MPS = 0.5
STATION_MEAN_MPS = 0.25
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
        """The value at a departure theta."""
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
        """One deviation of each theta, (p,)."""
        return np.array([one.deviation for one in self.each])

    def value(self, name: str) -> float:
        """What is assumed of one before the logs tell of it."""
        return next(one.value for one in self.each if one.name == name)

    def values(self, theta: Array) -> dict[str, float]:
        """The values by name at a theta (p,)."""
        return {one.name: one.at(float(t)) for one, t in zip(self.each, theta, strict=True)}


def ranges_of(
    study: Study,
    *,
    days: tuple[int, int],
    wind_known: float = 0.0,
    air: AirTemperature | None = None,
    wind_left: float = DAILY_WIND_MPS**2,
) -> Ranges:
    """What is assumed for this study, with so many days before and after.

    `wind_known` is the share of the driving whose wind a file tells; `air` how the temperature is
    told (None: surely); `wind_left` the variance each way of what is not known of a day's wind
    [m2/s2]."""
    car = study.vehicle.fuel == "gasoline"
    mass = study.vehicle.mass_kg or (CAR_MASS_KG if car else HEAVY_MASS_KG)
    prevailing, mean_wind, square = _wind_deviations(days, wind_known, wind_left)
    overhead = Range("overhead", (3.0 if car else 1.7) * mass, 0.4, "W", True, "default")
    told = air or AirTemperature.sure()
    return Ranges((
        *_of_vehicle(study.vehicle, car, mass),
        overhead,
        *(
            Range(name, value, max(deviation, NO_DOUBT), unit, False, "default")
            for name, value, deviation, unit in (
                ("overhead_with_revolutions", 0.6, 0.25, "-"),
                ("bend", 0.0, 0.1, "-"),
                ("bend_both_ends", 0.0, 0.1, "-"),
                ("slow_running", 0.0, 0.2, "-"),
                ("wind_share", 1.0, 0.3 if wind_known > 0 else 0.0, "-"),
                ("rolling_speed", 0.004, 0.004, "s/m"),
                ("yaw", 0.012, 0.006, "1/deg"),
                ("prevailing_from_east", 0.0, prevailing, "m/s"),
                ("prevailing_from_north", 0.0, prevailing, "m/s"),
                ("wind_from_east", 0.0, mean_wind, "m/s"),
                ("wind_from_north", 0.0, mean_wind, "m/s"),
                ("wind_square", 0.0, square, "m2/s2"),
                ("climate_half_range", 0.0, told.half_range_error_k, "K"),
                ("climate_level", 0.0, told.level_error_k, "K"),
                ("temperature_difference", 0.0, told.difference_error_k, "K"),
                ("winter_fuel", *(2 * (0.0 if car else 0.0125,)), "-"),
                *((name, 0.0, 1.0, "-") for name in ON_TRIAL),
            )
        ),
    ))  # fmt: skip


def _of_vehicle(vehicle: Vehicle, car: bool, mass: float) -> Iterator[Range]:
    """What the study may give: its own figure is nearer than the usual one."""
    for name, given, usual, near, wide, unit in (
        ("rolling", vehicle.rolling_resistance, 0.010 if car else 0.007, 0.1, 0.2, "-"),
        ("rolling_per_k", vehicle.rolling_temperature_per_k, 0.005, 0.002, 0.002, "1/K"),
        ("drag_area", vehicle.drag_area_m2, 0.7 if car else 6.0, 0.1, 0.2, "m2"),
        ("mass", vehicle.mass_kg, mass, 0.03, 0.3, "kg"),
    ):
        known = given is not None
        yield Range(
            name,
            usual if given is None else given,
            near if known else wide,
            unit,
            name != "rolling_per_k",
            "study" if known else "default",
        )


def _wind_deviations(
    days: tuple[int, int], known: float, left: float
) -> tuple[float, float, float]:
    """Of the mean wind of all days and of what the periods' means differ by, each way [m/s], and
    of what their winds' squares differ by [m2/s2]."""
    of_days = sqrt(sum(DAYS_OF_WEATHER / max(count, 1) for count in days))
    seasonal = hypot(SEASONAL_WIND_MPS, DAILY_WIND_MPS * of_days)
    return (
        hypot(STATION_MEAN_MPS, (1 - known) * DAILY_WIND_MPS),
        hypot(STATION_MEAN_MPS, (1 - known) * seasonal),
        sqrt(2) * left * of_days,
    )
