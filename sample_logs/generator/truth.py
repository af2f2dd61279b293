"""What is true of the drives: the figures the package has no part in."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from . import bus
from .drive import Drive
from .driver import DT
from .plans import CUT_SHORT, MISFILED, Job


def pooled(drives: list[Drive]) -> dict[str, float]:
    true_m = sum(d.true_m for d in drives)
    indicated_m = sum(d.indicated_m for d in drives)
    liters = sum(d.liters for d in drives)
    turned = 0.0
    for d in drives:  # wheel turns, as the output shaft counts them
        turned += d.indicated_m / bus.PROGRAMMED_CIRCUMFERENCE_M
    return {
        "true_km": true_m / 1000,
        "indicated_km": indicated_m / 1000,
        "liters": liters,
        "odometer_factor": true_m / indicated_m,
        "revolutions_per_km": turned / true_m * 1000,
        "liters_per_100km": liters / true_m * 1e5,
        "liters_per_100_indicated_km": liters / indicated_m * 1e5,
    }


def percent(after: float, before: float) -> float:
    return 100 * (after / before - 1)


def trip_truth(job: Job, d: Drive) -> dict[str, Any]:
    a = d.arrays
    moving = a["speed_mps"] > 0.5
    steady = (a["locked"] > 0) & (a["speed_mps"] > 5)
    ratios = np.array(bus.RATIOS)[a["gear"].astype(int) - 1]
    # engine turns a metre over the gear's ratio: the axle as the engine feels it
    turns = float((a["engine_rpm"] / 60 / ratios)[steady].sum() / a["speed_mps"][steady].sum())
    return {
        "tires": job.side,
        "filed_under": job.folder,
        "start": job.plan.start.isoformat(),
        "road": job.plan.road.name,
        "true_km": round(d.true_m / 1000, 4),
        "indicated_km": round(d.indicated_m / 1000, 4),
        "odometer_factor": round(d.true_m / d.indicated_m, 6),
        "shaft_revolutions_per_km": round(turns * 1000, 3),
        "liters": round(d.liters, 4),
        "idle_liters": round(float(a["fuel_lps"][~moving].sum() * DT), 4),
        "moving_s": round(float(moving.sum() * DT), 1),
        "air_temperature_c": round(float(a["air_c"].mean()), 2),
        "receiver_lag_s": job.recording.lag_s,
        "receiver_blind_s": [list(b) for b in job.recording.blind],
        "dialect": job.recording.dialect,
        "climbs_m": round(float(np.maximum(np.diff(job.plan.road.altitude_m), 0).sum()), 1),
    }


def _final_drive(trips: list[dict[str, Any]]) -> dict[str, Any]:
    """What the engine feels of the tires, each period weighted by distance."""
    shaft: dict[str, float] = {}
    for side in ("before", "after"):
        of = [t for t in trips if t["tires"] == side]
        turned = sum(t["shaft_revolutions_per_km"] * t["true_km"] for t in of)
        shaft[side] = turned / sum(t["true_km"] for t in of)
    ratio = shaft["after"] / shaft["before"]
    return {
        "effective": {"before": bus.AXLE, "after": round(bus.AXLE * ratio, 5)},
        "change_percent": round(100 * (ratio - 1), 4),
        "restoring_axle_ratio": round(bus.AXLE / ratio, 5),
    }


def _fuel_changes(
    driven: dict[str, Drive],
    on_old: dict[str, Drive],
    at_old_speed: dict[str, Drive],
    before: dict[str, float],
    fill: dict[str, float],
) -> dict[str, float]:
    after, redriven = pooled([driven[n] for n in on_old]), pooled(list(on_old.values()))
    slower = pooled(list(at_old_speed.values()))
    shown, burned = "liters_per_100_indicated_km", "liters_per_100km"
    logs = [
        math.log(driven[n].liters / driven[n].true_m * on_old[n].true_m / on_old[n].liters)
        for n in on_old
    ]
    filled = {side: fill[f"{side}_liters"] / fill[f"{side}_km"] for side in ("before", "after")}
    changes = {
        "indicated": percent(after[shown], before[shown]),
        "true_distance": percent(after[burned], before[burned]),
        "adjusted": percent(after[burned], redriven[burned]),
        "adjusted_mean_of_trips": 100 * (math.exp(sum(logs) / len(logs)) - 1),
        "of_driving_faster": percent(after[burned], slower[burned]),
        "fillups": percent(filled["after"], filled["before"]),
    }
    return {name: round(value, 4) for name, value in changes.items()}


def _vehicle() -> dict[str, Any]:
    return {
        "mass_kg": bus.MASS_KG,
        "drag_area_m2": bus.DRAG_AREA_M2,
        "axle_ratio": bus.AXLE,
        "gear_ratios": list(bus.RATIOS),
        "rolling_resistance_at_20c": {"before": bus.OLD.rolling, "after": bus.NEW.rolling},
        "rolling_temperature_per_k": bus.ROLLING_PER_K,
        "circumference_m": {
            "before": bus.OLD.circumference_m,
            "after": bus.NEW.circumference_m,
        },
        "programmed_circumference_m": round(bus.PROGRAMMED_CIRCUMFERENCE_M, 6),
        "creep_stiffness_n": bus.CREEP_N,
        "needle_over_computer": bus.NEEDLE_OVER_COMPUTER,
        "speed_channel": "whole km/h are cut, not rounded",
    }


def make_truth(
    jobs: list[Job],
    driven: dict[str, Drive],
    on_old: dict[str, Drive],
    at_old_speed: dict[str, Drive],
    fill: dict[str, float],
    cut: dict[str, Any],
) -> dict[str, Any]:
    """The content of truth.json, keys named as in results.json where they mean the same.

    `on_old`: the after-trips again on the before tires; `at_old_speed`: on their own tires at
    the true speeds the before tires' dash would have led to. `fill`: true fuel and distance
    between the first and the last fill; `cut`: where the cut file ends.
    """
    sides = {
        side: pooled([driven[j.plan.name] for j in jobs if j.side == side])
        for side in ("before", "after")
    }
    trips = {j.plan.name: trip_truth(j, driven[j.plan.name]) for j in jobs}

    def of_sides(name: str, digits: int) -> dict[str, float]:
        return {side: round(figures[name], digits) for side, figures in sides.items()}

    def rounded(figures: dict[str, float]) -> dict[str, float]:
        return {name: round(value, 4) for name, value in figures.items()}

    return {
        "odometer_factor": of_sides("odometer_factor", 6),
        "revolutions_per_km": of_sides("revolutions_per_km", 4),
        "final_drive": _final_drive(list(trips.values())),
        "fuel_change_percent": _fuel_changes(driven, on_old, at_old_speed, sides["before"], fill),
        "fuel_rate_scale": bus.FUEL_RATE_SCALE,
        "misfiled": [MISFILED],
        "cut_short": {"trip": CUT_SHORT, **cut},
        "vehicle": _vehicle(),
        "periods": {side: rounded(figures) for side, figures in sides.items()},
        "after_trips_on_the_before_tires": rounded(pooled(list(on_old.values()))),
        "after_trips_at_the_before_speeds": rounded(pooled(list(at_old_speed.values()))),
        "trips": trips,
    }
