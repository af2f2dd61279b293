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


def make_truth(
    jobs: list[Job],
    driven: dict[str, Drive],
    on_old: dict[str, Drive],
    at_old_speed: dict[str, Drive],
    fill: dict[str, float],
    cut: dict[str, Any],
) -> dict[str, Any]:
    sides = {
        side: [driven[j.plan.name] for j in jobs if j.side == side] for side in ("before", "after")
    }
    before, after = pooled(sides["before"]), pooled(sides["after"])
    redriven, slower = pooled(list(on_old.values())), pooled(list(at_old_speed.values()))
    trips = {j.plan.name: trip_truth(j, driven[j.plan.name]) for j in jobs}

    def shaft(side: str) -> float:
        rows = [t for t in trips.values() if t["tires"] == side]
        return sum(t["shaft_revolutions_per_km"] * t["true_km"] for t in rows) / sum(
            t["true_km"] for t in rows
        )

    change = percent(shaft("after"), shaft("before"))
    logs = [
        math.log(driven[n].liters / driven[n].true_m * on_old[n].true_m / on_old[n].liters)
        for n in on_old
    ]
    return {
        "odometer_factor": {
            "before": round(before["odometer_factor"], 6),
            "after": round(after["odometer_factor"], 6),
        },
        "revolutions_per_km": {
            "before": round(before["revolutions_per_km"], 4),
            "after": round(after["revolutions_per_km"], 4),
        },
        "final_drive": {
            "effective": {"before": bus.AXLE, "after": round(bus.AXLE * (1 + change / 100), 5)},
            "change_percent": round(change, 4),
            "restoring_axle_ratio": round(bus.AXLE / (1 + change / 100), 5),
        },
        "fuel_change_percent": {
            "indicated": round(
                percent(
                    after["liters_per_100_indicated_km"], before["liters_per_100_indicated_km"]
                ),
                4,
            ),
            "true_distance": round(
                percent(after["liters_per_100km"], before["liters_per_100km"]), 4
            ),
            "adjusted": round(percent(after["liters_per_100km"], redriven["liters_per_100km"]), 4),
            "adjusted_mean_of_trips": round(100 * (math.exp(sum(logs) / len(logs)) - 1), 4),
            "of_driving_faster": round(
                percent(after["liters_per_100km"], slower["liters_per_100km"]), 4
            ),
            "fillups": round(
                percent(
                    fill["after_liters"] / fill["after_km"],
                    fill["before_liters"] / fill["before_km"],
                ),
                4,
            ),
        },
        "fuel_rate_scale": bus.FUEL_RATE_SCALE,
        "misfiled": [MISFILED],
        "cut_short": {"trip": CUT_SHORT, **cut},
        "vehicle": {
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
        },
        "periods": {
            side: {k: round(v, 4) for k, v in figures.items()}
            for side, figures in (("before", before), ("after", after))
        },
        "after_trips_on_the_before_tires": {k: round(v, 4) for k, v in redriven.items()},
        "after_trips_at_the_before_speeds": {k: round(v, 4) for k, v in slower.items()},
        "trips": trips,
    }
