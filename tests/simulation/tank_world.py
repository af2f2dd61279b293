"""Years of fill-ups with a known truth: a vehicle, its climate, its driver and the pump.

Written apart from the package and without its priors: weather and driving go day by day, fuel by
road load, and the tank is filled by how far the needle has fallen.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

DAY_S = 86_400.0
FIRST = datetime(2027, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Plan:
    """What is asked of a world: tanks on each side, which day of the year the first begins and
    where the change lies, how far a fill is off full (share of a tank), and how the new tires'
    circumference is known. `change` is of the fuel for the same driving."""

    tanks: tuple[int, int]
    first_day: int
    pause_days: int = 0  # between the last old tank and the first new one
    filling: float = 0.01
    change: float = -0.03  # ln
    persistence_days: float = 15.0
    tracked: float = 0.0  # share of the days a phone logs


@dataclass(frozen=True)
class Track:
    """A day's drive as a phone logs it: when it begins, how far it goes, how fast; on the level."""

    start_s: float
    distance_m: float
    speed_mps: float
    on_new: bool


@dataclass(frozen=True)
class Fills:
    """`time_s`, odometer as shown [m] with the computer as it was, volume [l]; `changed_s`."""

    time_s: np.ndarray
    odometer_m: np.ndarray
    volume_l: np.ndarray
    changed_s: float
    larger: float  # true circumference, new over old
    daily_c: np.ndarray  # mean temperature of each day from `FIRST` on
    capacity_l: float
    tracks: tuple[Track, ...] = ()


def make_fills(plan: Plan, rng: np.random.Generator) -> Fills:
    """One notebook of fill-ups."""
    days = 4000
    # half the swing of the monthly means [K]: coasts 8, inland 20, at 40 to 55 degrees north
    climate = rng.uniform(7.0, 20.0)
    per_kelvin = rng.uniform(0.0015, 0.0055)
    day = np.arange(days)
    # January is coldest, by the sea later; weather lasts some days, and no year is as the last
    coldest = rng.normal(22.0, 9.0)
    # what is sold in winter holds less energy: a fifth to two thirds of No. 1, 5 % less, or none
    winter_fuel = rng.uniform(0.0, 0.025) * (np.cos(2 * np.pi * (day - 20) / 365.2425) > 0.3)
    weather = _persistent(rng, days, 3.5, 4.0) + _persistent(rng, days, 1.3, 45.0)
    temperature = 9.0 - climate * np.cos(2 * np.pi * (day - coldest) / 365.2425) + weather
    km = rng.uniform(60, 160) * rng.lognormal(0, 0.35, days) * (rng.random(days) < 5 / 7)
    roads = rng.normal(0, 0.05, days)  # a day in town, a day on the highway
    habits = _persistent(rng, days, rng.uniform(0.005, 0.018), plan.persistence_days)
    larger = math.exp(rng.normal(0.035, 0.01))
    # the dash reads low on the new tires: some drivers follow it, some the traffic, and what the
    # roads and the loads of another year are like is another matter again
    faster = rng.uniform(0, 1) * rng.uniform(0.6, 0.9) * math.log(larger)
    elsewhere = rng.normal(0, 0.005)
    base = rng.uniform(0.25, 0.40)
    capacity = rng.uniform(120, 320)
    time, odometer, volume, shown_m = [], [], [], 60_000_000.0
    burnt, error, today, on_new, filled = 0.0, rng.normal(0, plan.filling) * capacity, 0, False, 0
    today = plan.first_day
    time.append(today * DAY_S)
    odometer.append(_whole_miles(shown_m))
    volume.append(capacity * 0.7)
    changed = math.inf
    target = plan.tanks[0]
    driven: list[tuple[int, float, bool]] = []
    empty_at = rng.uniform(0.55, 0.85)
    while True:
        rate = base * math.exp(
            per_kelvin * (9.0 - temperature[today])
            + winter_fuel[today]
            + roads[today]
            + habits[today]
            + (plan.change + faster + elsewhere if on_new else 0.0)
        )
        burnt += km[today] * rate
        driven.append((today, roads[today] + (faster if on_new else 0.0), on_new))
        shown_m += 1000 * km[today] / (larger if on_new else 1.0)
        today += 1
        if burnt < empty_at * capacity:
            continue
        fresh = rng.normal(0, plan.filling) * capacity
        pumped = (burnt + fresh - error) * rng.normal(1, 0.002)
        time.append(today * DAY_S)
        odometer.append(_whole_miles(shown_m))
        volume.append(max(pumped, 1.0))
        burnt, error, filled = 0.0, fresh, filled + 1
        empty_at = rng.uniform(0.55, 0.85)
        if filled == target and not on_new:
            on_new, changed, filled, target = True, today * DAY_S, 0, plan.tanks[1]
            if plan.pause_days:  # laid up: the tank stays as full as it was
                today += plan.pause_days
                time.append(today * DAY_S)
                odometer.append(_whole_miles(shown_m))
                fresh = rng.normal(0, plan.filling) * capacity
                volume.append(max(fresh - error, 0.5))
                error = fresh
                changed = today * DAY_S
        elif filled == target:
            break
    start = FIRST.timestamp()
    return Fills(
        start + np.array(time),
        np.array(odometer),
        np.array(volume),
        start + changed,
        larger,
        temperature,
        capacity,
        _tracks(plan, driven, km, rng) if plan.tracked else (),
    )


def _tracks(
    plan: Plan, driven: list[tuple[int, float, bool]], km: np.ndarray, rng: np.random.Generator
) -> tuple[Track, ...]:
    """Days logged at random. What a day's road and speed cost, in ln, is all speed here: work a
    metre goes as 1 + q (v / 80 km/h)^2, q between a light load on good tires and a high body."""
    q = rng.uniform(0.6, 1.4)
    found = []
    for day, cost, on_new in driven:
        if km[day] <= 0 or rng.random() > plan.tracked:
            continue
        squared = max((math.exp(cost) * (1 + q) - 1) / q, 0.2)
        speed = 80 / 3.6 * math.sqrt(squared)
        start = FIRST.timestamp() + (day + 0.35) * DAY_S
        found.append(Track(start, 1000 * km[day], speed, on_new))
    return tuple(found)


def moment(seconds: float) -> datetime:
    return datetime.fromtimestamp(0, UTC) + timedelta(seconds=seconds)


def _whole_miles(metres: float) -> float:
    return math.floor(metres / 1609.344) * 1609.344


def _persistent(rng: np.random.Generator, count: int, deviation: float, days: float) -> np.ndarray:
    """First-order, with that standard deviation and correlation time."""
    r = math.exp(-1 / days)
    noise = rng.normal(0, deviation * math.sqrt(1 - r * r), count)
    out = np.empty(count)
    out[0] = rng.normal(0, deviation)
    for i in range(1, count):
        out[i] = r * out[i - 1] + noise[i]
    return out
