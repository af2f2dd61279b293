"""An invented bus and roads for the mountain tests."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl

from gearing.analysis.sides import BySide
from gearing.statistics.estimate import Estimate
from gearing.study.model import Engine, Retarder, Route, Study, Vehicle

ENGINE = Engine(
    rpm=(800, 1200, 1600, 2000, 2400),
    torque_nm=(700, 900, 880, 800, 690),
    governed_rpm=2500,
    idle_rpm=700,
    retarder=Retarder(kind="compression", shaft="engine", rpm=(1200, 2400), power_w=(45e3, 120e3)),
)
VEHICLE = Vehicle(
    mass_kg=12020,
    fuel="diesel",
    axle_ratio=4.88,
    gear_ratios=(3.51, 1.91, 1.43, 1.00, 0.74, 0.64),
    transmission="converter",
    engine=ENGINE,
)
BEFORE, AFTER = 391.0, 373.8  # turns a km: 4.6 % taller


def study(name: str = "pass", **vehicle: object) -> Study:
    return Study(
        name="bookmobile",
        slug="bookmobile",
        path=Path("study.toml"),
        vehicle=replace(VEHICLE, **vehicle),
        routes=(Route(name=name, profile=Path("pass.csv"), target_speed_mps=26.8),),
    )


def known(value: float, half: float = 0.3) -> Estimate:
    return Estimate(value, value - half, value + half, 14, "test")


def turns(before: float = BEFORE, after: float = AFTER) -> BySide[Estimate]:
    return BySide(known(before), known(after))


def pass_profile(
    up: float = 0.055, down: float = 0.06, step_m: float = 100.0, base_m: float = 900.0
) -> pl.DataFrame:
    """5 km level, 9 km up, 1 km level, 9 km down, 5 km level."""
    distance = np.arange(0.0, 29_000.1, step_m)
    grade = np.select(
        [distance < 5000, distance < 14_000, distance < 15_000, distance < 24_000],
        [0.0, up, 0.0, -down],
        0.0,
    )
    sine = np.sin(np.arctan(grade))
    altitude = base_m + np.concatenate([[0.0], np.cumsum(sine[:-1] * step_m)])
    return pl.DataFrame({"distance_m": distance, "altitude_m": altitude})


# Gear ratios and retarder of an invented tractor with trailer of 80,000 lb.
TRUCK = {
    "mass_kg": 36_287.0,
    "axle_ratio": 3.55,
    "gear_ratios": (14.80, 10.95, 8.09, 5.97, 4.46, 3.32, 2.45, 1.81, 1.35, 1.00),
    "transmission": "manual",
}
RETARDER_RPM, RETARDER_W = (1200.0, 1500.0, 1800.0, 2100.0), (142e3, 216e3, 298e3, 373e3)


def truck(retarder: bool = True) -> dict[str, object]:
    assert ENGINE.retarder is not None
    fitted = replace(ENGINE.retarder, rpm=RETARDER_RPM, power_w=RETARDER_W) if retarder else None
    engine = replace(
        ENGINE,
        rpm=(1000, 1200, 1400, 1600, 1800, 2000, 2100),
        torque_nm=(2100, 2240, 2170, 2010, 1780, 1530, 1400),
        governed_rpm=2100,
        retarder=fitted,
    )
    return TRUCK | {"engine": engine}
