"""Powertrains and vehicles for the vehicle tests: an invented bus, and engines of simple laws."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np

from gearing.vehicle.engine import Engine, Retarder, WillansLine
from gearing.vehicle.ensemble import Ensemble
from gearing.vehicle.parameters import Losses
from gearing.vehicle.powertrain import Powertrain, ShiftPoints, default_shift_points

# 40 CFR 1036.540, Table 1: generic six-speed automatic for heavy vehicles.
GEARS = (3.51, 1.91, 1.43, 1.00, 0.74, 0.64)
NEVER = 1e9


def bus(**changes: object) -> Powertrain:
    engine = Engine(
        rpm=(800, 1200, 1600, 2000, 2400),
        torque_nm=(700, 900, 880, 800, 690),
        governed_rpm=2500,
        idle_rpm=700,
        willans=WillansLine(0.215, 0.9),
        retarder=Retarder((1200, 2400), (60e3, 160e3)),
    )
    whole = Powertrain(
        engine=engine,
        gear_ratios=GEARS,
        axle_ratio=4.88,
        shift_points=default_shift_points(engine, GEARS),
    )
    return replace(whole, **changes)


def single_gear(rpm: tuple[float, ...], torque_nm: tuple[float, ...]) -> Powertrain:
    """One direct gear that never shifts, no losses, no friction, nothing rotating."""
    engine = Engine(
        rpm=rpm,
        torque_nm=torque_nm,
        governed_rpm=rpm[-1],
        idle_rpm=rpm[0],
        willans=WillansLine(0.22, 0.0),
        inertia_kgm2=0.0,
        derate_percent_per_km=0.0,
    )
    return Powertrain(
        engine=engine,
        gear_ratios=(1.0,),
        axle_ratio=1.0,
        shift_points=ShiftPoints((NEVER,), (NEVER,), (0.0,), (0.0,)),
        losses=Losses(axle_efficiency=1.0, direct_efficiency=1.0),
        auxiliary_w=0.0,
    )


def constant_power(watts: float) -> Powertrain:
    """Constant power from 50 to 4,000 rpm in one gear."""
    rpm = np.unique(np.concatenate([np.geomspace(50, 4000, 400)]))
    torque = watts / (rpm * 2 * pi / 60)
    return single_gear(tuple(rpm.tolist()), tuple(torque.tolist()))


def vehicles(count: int = 1, **values: object) -> Ensemble:
    """Ensemble of a 12 t bus in still air at 15 degC; `values` override, one for all or by lane."""
    usual: dict[str, object] = {
        "mass_kg": 12000.0,
        "rolling_at_25c": 0.007,
        "rolling_per_k": 0.0,
        "drag_area_m2": 6.0,
        "headwind_mps": 0.0,
        "temperature_c": 15.0,
        "revolutions_per_km": 391.0,
        "torque_factor": 1.0,
        "friction_factor": 1.0,
    }
    rotating = values.pop("rotating_kg", 0.0)
    usual.update(values)
    arrays = {
        name: np.broadcast_to(np.asarray(value, dtype=np.float64), (count,)).copy()
        for name, value in usual.items()
        if name != "road"
    }
    road = np.broadcast_to(np.asarray(values.get("road", 0)), (count,)).astype(np.int64)
    return Ensemble(**arrays, road=road, rotating_kg=rotating)  # type: ignore[arg-type]
