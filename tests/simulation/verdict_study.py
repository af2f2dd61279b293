"""Verdicts of invented vehicles on invented roads against a rule written apart.

    python tests/simulation/verdict_study.py --pairs 150

A road of this study is a climb and a descent of one grade each, so that forces can be balanced by
hand at the wanted speed. The rule knows the vehicle's central figures and says:

- not: no gear holds the descent at the speed wanted by half a percent of grade, and what
  is left is over sixteen full stops; or full load in the lowest gear does not hold the climb;
- care: no gear holds it by half a percent and more;
- plain: a gear holds it with one percent of grade in hand, nothing is left to a driver's brakes
  in that gear or in top gear beyond half a stop, and the climb is driven in a gear that locks, with
  no more than 3 km/h lost to the tires.

"Suits" where the rule says not or care is a fault; anything else than "suits" where it says plain
is needless care.
"""

from __future__ import annotations

import argparse
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl

from gearing.analysis.mountain import find_mountain
from gearing.analysis.sides import BySide
from gearing.statistics.estimate import Estimate
from gearing.study.model import Engine, Retarder, Route, Study, Vehicle

GRAVITY = 9.81
LOSS = 0.75  # of the standard losses


def vehicles(rng: np.random.Generator) -> tuple[Vehicle, float]:
    """One of four kinds, drawn about its usual figures, and its tires' turns a km."""
    kind = ("van", "motorhome", "bus", "tractor")[int(rng.integers(4))]
    mass, area, per_km, axle, governed, rpm, torque, ratios, gearbox = {
        "van": (3500, 2.1, 470, 4.1, 4200, (1000, 1500, 2500, 3500, 4000),
                (220, 340, 345, 290, 250), (4.0, 2.2, 1.4, 1.0, 0.78, 0.65), "manual"),
        "motorhome": (12_000, 5.5, 391, 4.88, 2500, (800, 1200, 1600, 2000, 2400),
                      (700, 900, 880, 800, 690), (3.51, 1.91, 1.43, 1.0, 0.74, 0.64), "converter"),
        "bus": (18_000, 6.0, 320, 4.3, 2300, (800, 1200, 1600, 2000, 2200),
                (900, 1250, 1230, 1040, 900), (3.36, 1.91, 1.42, 1.0, 0.72, 0.62), "converter"),
        "tractor": (38_000, 6.0, 313, 2.6, 2100, (600, 1000, 1400, 1800, 2100),
                    (1250, 2250, 2300, 1850, 1300),
                    (14.94, 11.73, 9.04, 7.09, 5.54, 4.35, 3.44, 2.7, 2.08, 1.63, 1.27, 1.0),
                    "automated"),
    }[kind]  # fmt: skip
    mass *= rng.uniform(0.75, 1.1)
    power = mass * rng.uniform(4, 12)
    fitted = rng.random() < 0.5
    retarder = Retarder(
        kind="compression", shaft="engine", rpm=(0.5 * governed, governed),
        power_w=(0.35 * power, power),
    ) if fitted else None  # fmt: skip
    engine = Engine(
        rpm=rpm, torque_nm=torque, governed_rpm=governed, idle_rpm=min(600.0, rpm[0]),
        retarder=retarder,
    )  # fmt: skip
    vehicle = Vehicle(
        mass_kg=float(mass), fuel="diesel", axle_ratio=axle, gear_ratios=ratios,
        transmission=gearbox, drag_area_m2=area, rolling_resistance=0.0065, engine=engine,
    )  # fmt: skip
    return vehicle, per_km


def held_down(vehicle: Vehicle, per_km: float, speed: float, gear: int) -> float:
    """Downgrade [-] engine, gears and retarder hold at a speed; negative where none runs."""
    engine, ratio, axle = vehicle.engine, vehicle.gear_ratios[gear], vehicle.axle_ratio
    assert engine is not None
    assert axle is not None
    assert vehicle.mass_kg is not None
    rpm = speed * per_km / 1000 * axle * ratio * 60
    if rpm > (engine.governed_rpm or 0) or rpm < 600:
        return -1.0
    peak = max(engine.torque_nm)
    torque = peak * (0.045 + 0.035 * rpm / 1000)
    if engine.retarder is not None:
        nm = [
            p / (r * np.pi / 30)
            for p, r in zip(engine.retarder.power_w, engine.retarder.rpm, strict=True)
        ]
        torque += float(np.interp(rpm, (0.0, *engine.retarder.rpm), (0.0, *nm)))
    through = (1 - LOSS * 0.02) * (1 - LOSS * (0.01 if ratio == 1 else 0.04))
    turns = 2 * np.pi * per_km / 1000
    share = 0.015 if vehicle.transmission == "converter" else 0.005
    drag = LOSS * (share * peak * (1 + rpm / 1000) * ratio * axle + 70 + 20 * axle) * turns
    force = torque * ratio * axle / through * turns + 0.5 * drag
    force += 0.5 * 1.15 * (vehicle.drag_area_m2 or 0) * speed**2
    return force / (vehicle.mass_kg * GRAVITY) + 0.0068


def rule(vehicle: Vehicle, per_km: float, speed: float, grade: float, length: float) -> str:
    """What the descent asks; the climb is left to the package's own tests."""
    gears = range(len(vehicle.gear_ratios))
    held = [held_down(vehicle, per_km, speed, gear) for gear in gears]
    left = max(grade - max(held), 0.0) * GRAVITY * length / (speed**2 / 2)
    in_top = max(grade - held[-1], 0.0) * GRAVITY * length / (speed**2 / 2)
    if max(held) < grade - 0.005:
        return "not" if left > 16 else "care"
    if max(held) > grade + 0.01 and in_top < 0.5:
        return "plain"
    return "open"


def road(down: float, length: float) -> pl.DataFrame:
    distance = np.arange(0.0, length + 4000.1, 50.0)
    fall = np.sin(np.arctan(down)) * np.clip(distance - 2000, 0, length)
    return pl.DataFrame({"distance_m": distance, "altitude_m": 900 - fall})


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pairs", type=int, default=150)
    parser.add_argument("--draws", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    told = judge(asked.pairs, asked.draws, asked.seed)
    for (ruled, verdict), count in sorted(Counter(told).items()):
        print(f"rule {ruled:6} verdict {verdict:16} {count}")


def judge(pairs: int, draws: int, seed: int) -> list[tuple[str, str]]:
    """The rule's word and the verdict of each pair, the descent's way alone."""
    rng = np.random.default_rng(seed)
    out = []
    for number in range(pairs):
        vehicle, per_km = vehicles(rng)
        speed = float(rng.uniform(50, 90)) / 3.6
        grade, length = float(rng.uniform(0.01, 0.09)), float(rng.uniform(1000, 15_000))
        taller = per_km / rng.uniform(0.96, 1.05)
        one = Estimate(per_km, 0.999 * per_km, 1.001 * per_km, 9, "declared")
        study = Study(
            name="pair", slug="pair", path=Path("study.toml"), vehicle=vehicle, seed=number,
            routes=(Route(name="pair", profile=Path("p.csv"), target_speed_mps=speed),),
        )  # fmt: skip
        found = find_mountain(
            replace(study),
            profiles={"pair": road(grade, length)},
            revolutions_per_km=BySide(one, one.map(lambda v, r=taller / per_km: v * r)),  # type: ignore[misc]
            draws=draws,
        )
        out.append((rule(vehicle, taller, speed, grade, length), found.routes[0].verdict))
    return out


if __name__ == "__main__":
    main()
