"""How well the logs tell a vehicle's figures: coverage over many studies of known truth.

    python tests/simulation/mountain_coverage.py --studies 100 --seed 1

prints, for each figure read from the logs, its bias, its error and how often its 95 % range
holds the truth, with the range it had before any log was read.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
from mountain_truck import (
    AXLE,
    CURVE_NM,
    CURVE_RPM,
    RATIOS,
    Simulated,
    simulate,
)

from gearing.analysis.mountain.inputs import Inputs, make_inputs
from gearing.analysis.mountain.known import known_inputs
from gearing.study.model import Engine, Study, Vehicle

MASS_ERROR = 0.008  # of the weigh bridge and what is on board that day


def declared(one: Simulated, mass_error: float) -> Study:
    engine = Engine(
        rpm=tuple(CURVE_RPM.tolist()),
        torque_nm=tuple(CURVE_NM.tolist()),
        governed_rpm=2400.0,
        idle_rpm=650.0,
    )
    vehicle = Vehicle(
        mass_kg=one.truth.mass_kg * (1 + mass_error),
        fuel="diesel",
        axle_ratio=AXLE,
        gear_ratios=tuple(RATIOS.tolist()),
        engine=engine,
        transmission="manual",
    )
    return Study(name="truck", slug="truck", path=Path("study.toml"), vehicle=vehicle)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--studies", type=int, default=100)
    parser.add_argument("--trips", type=int, default=6, help="on each side")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    rng = np.random.default_rng(asked.seed)
    rows: dict[str, list[tuple[float, bool, float, float]]] = {}
    done = 0
    while done < asked.studies:
        batch = min(10, asked.studies - done)
        seed = asked.seed + 1000 + done
        for one in simulate(batch, asked.trips, seed):
            study = declared(one, rng.normal(0, MASS_ERROR))
            fitted = known_inputs(study, one.steps, one.trips, one.truth.turns_per_km)
            note(rows, one, make_inputs(study, {}, None), fitted)
        done += batch
    print(f"{done} studies, {asked.trips} trips a side, seed {asked.seed}")
    print(f"{'figure':18}{'bias %':>8}{'rms %':>8}{'holds %':>9}{'half width %':>14}{'before':>8}")
    for name, found in rows.items():
        error, holds, half, before = np.array(found, dtype=float).T
        print(
            f"{name:18}{100 * error.mean():8.2f}{100 * np.sqrt((error**2).mean()):8.2f}"
            f"{100 * holds.mean():9.1f}{100 * np.median(half):14.1f}{100 * np.median(before):8.1f}"
        )


def note(
    rows: dict[str, list[tuple[float, bool, float, float]]],
    one: Simulated,
    usual: Inputs,
    fitted: Inputs,
) -> None:
    truth = {
        "mass_kg": one.truth.mass_kg,
        "drag_area_m2": one.truth.drag_area_m2,
        "rolling_at_25c": one.truth.rolling_at_25c,
        "torque_factor": torque_factor(one, fitted),
    }
    for name, true in truth.items():
        after, before = fitted.parameters[name], usual.parameters[name]
        rows.setdefault(name, []).append(
            (
                after.value / true - 1,
                after.low <= true <= after.high,
                (after.high - after.low) / 2 / true,
                (before.high - before.low) / 2 / true,
            )
        )


def torque_factor(one: Simulated, fitted: Inputs) -> float:
    """The factor by which the road model gives the truck's own force at full load, in the mean of
    the gears and engine speeds driven."""
    known = one.steps.drop_nulls("gear")
    gear = known["gear"].cast(int).to_numpy() - 1
    rpm = known["engine_speed_rpm"].to_numpy()
    declared = np.interp(rpm, CURVE_RPM, CURVE_NM)
    tilted = declared * (1 + one.truth.driver.tilt * (rpm - 1600) / 600)
    true = one.truth.at_wheels_nm(tilted * one.truth.torque_scale, rpm, gear)
    losses, ratio = fitted.powertrain.losses, RATIOS[gear]
    drag = losses.gearbox_drag_nm * (1 + rpm / 1000) * ratio * AXLE + losses.axle_drag_nm
    passed = losses.efficiencies(tuple(RATIOS.tolist()))[gear] * declared * ratio * AXLE
    return float((true + losses.axle_efficiency * drag).sum() / passed.sum())


if __name__ == "__main__":
    main()
