"""Both roads driven without curves, halts or wind: what the mountain answer is about."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from . import bus
from .drive import Drive, Plan, drive
from .driver import DT
from .roads import MPH, Road
from .weather import HOURS, START, STATION_PRESSURE_HPA, Weather

TEMPERATURE_C = 10.0
TARGET_MPS = 60 * MPH
END_M = 2000.0  # towns at both ends, left out of the lowest speed


def calm_weather() -> Weather:
    still = np.zeros(HOURS)
    return Weather(still + TEMPERATURE_C, still, still, still + STATION_PRESSURE_HPA)


def drive_calmly(road: Road, tire: bus.Tire, *, posted: bool) -> Drive:
    """The road at a true 60 mph, or at the posted speed where lower and the profile tells it."""
    limit = road.posted_mps if posted else np.full(len(road.posted_mps), TARGET_MPS)
    plan = Plan(
        name=f"calm {road.slug}",
        start=START,
        road=replace(
            road, comfortable_mps=np.minimum(limit, TARGET_MPS), stops_m=(), stations_m=()
        ),
        done=0,
        haste=1.0,
        burn=0.0,
        mass_kg=bus.MASS_KG,
        coolant_c=86.0,
        cold_tires=0.0,
        dwell_s=(),
        idle_s=(1.0, 1.0),
    )
    true_over_shown = tire.circumference_m / bus.PROGRAMMED_CIRCUMFERENCE_M
    return drive(plan, tire, calm_weather(), dash=true_over_shown)


def figures(d: Drive) -> dict[str, float]:
    """Named as in results.json; energies of retarder and service brakes in kWh."""
    a = d.arrays
    inside = (a["along_m"] > END_M) & (a["along_m"] < d.true_m - END_M)
    slowest = int(np.argmin(np.where(inside, a["speed_mps"], np.inf)))
    gears = a["gear"][inside]
    kwh = DT / 3.6e6
    return {
        "minutes": round(float(a["time_s"][-1]) / 60, 2),
        "liters": round(d.liters, 3),
        "lowest_speed_kmh": round(float(a["speed_mps"][slowest]) * 3.6, 2),
        "gear_at_lowest_speed": int(a["gear"][slowest]),
        "downshifts": int((np.diff(gears) < 0).sum()),
        "minutes_at_full_load": round(float((a["pedal"] > 0.99).sum()) * DT / 60, 2),
        "retarder_kwh": round(float(a["retarder_w"].sum()) * kwh, 3),
        "brake_kwh": round(float(a["brake_w"].sum()) * kwh, 3),
    }


def make_routes(roads: tuple[tuple[Road, bool], ...]) -> dict[str, Any]:
    """For each road, out and back, on both sets of tires; `posted`: whether limits hold."""
    tires = {"before": bus.OLD, "after": bus.NEW}
    return {
        road.name: {
            way: {
                side: figures(drive_calmly(driven, tire, posted=posted))
                for side, tire in tires.items()
            }
            for way, driven in (("out", road), ("back", road.reversed()))
        }
        for road, posted in roads
    }
