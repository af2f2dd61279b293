"""Bias and coverage of the fleet's answer, with and without controls.

`python tests/simulation/fleet_study.py [fleets]` prints the table.

Measured over 2,000 fleets of 8 vehicles with new tires and 4 without, a season between that
moves all by 2 %: the pooled figure is off by +1.98 points and covers 68.3 %, the difference
from the controls by -0.03 and covers 94.8 % (half-width 2.9 points). Over all the cells with
three controls or more: mean error within 0.1 points, coverage 94.4 to 96.1 %; with one or two,
whose own errors set the least width, 97.7 to 98.5 %.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from fleet_world import CELLS, FleetCell, VehicleDays, make_fleet

from gearing.analysis.fleet import FleetFinding, pool
from gearing.analysis.fleet_vehicle import VehicleFigures
from gearing.statistics.comparison import percent, welch
from gearing.statistics.estimate import Estimate, unknown
from gearing.statistics.persistence import common_persistence, effective_count


@dataclass(frozen=True)
class Score:
    bias: float
    coverage: float
    half_width: float
    n: int


def figures(name: str, days: VehicleDays) -> VehicleFigures:
    """What a vehicle's own study would say: Welch on days, persistence and physics allowed for."""
    persistence = common_persistence([days.before, days.after])
    change = welch(
        days.before,
        days.after,
        effective_first=effective_count(len(days.before), persistence),
        effective_second=effective_count(len(days.after), persistence),
    ).widened(days.stated_points / 100)
    low, high = map(percent, change.interval())
    n = len(days.before) + len(days.after)
    return VehicleFigures(
        name=name,
        role="control" if days.control else "changed",
        change_percent=Estimate(percent(change.value), low, high, n, "welch"),
        basis="adjusted",
        final_drive_change_percent=unknown("not simulated"),
        odometer_factor_after=unknown("not simulated"),
        shared_points=days.stated_points,
        temperature_change_k=days.temperature_change_k,
    )


def find(cell: FleetCell, seed: int) -> tuple[FleetFinding, float]:
    world = make_fleet(cell, seed)
    vehicles = [figures(f"bus {i}", days) for i, days in enumerate(world.vehicles)]
    return pool("fleet", vehicles, claim_percent=-4.0), world.truth_percent


def score(estimates: list[Estimate], truth: float) -> Score:
    low, value, high = (
        np.array([getattr(e, key) for e in estimates], float) for key in ("low", "value", "high")
    )
    return Score(
        bias=float(np.mean(value - truth)),
        coverage=float(np.mean((low <= truth) & (truth <= high))),
        half_width=float(np.mean(high - low) / 2),
        n=len(estimates),
    )


def run(cell: FleetCell, fleets: int, seed: int = 10_001) -> dict[str, Score]:
    """Scores without controls (the pooled figure) and with them (the difference)."""
    found = [find(cell, seed + number) for number in range(fleets)]
    truth = found[0][1]
    return {
        "pooled": score([finding.fuel.pooled for finding, _ in found], truth),
        "with controls": score([finding.fuel.difference for finding, _ in found], truth),
    }


def main() -> None:
    fleets = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    print(f"{'fleet':<28}{'':<16}{'bias':>7}{'coverage':>10}{'half-width':>12}")
    for cell in CELLS:
        for name, result in run(cell, fleets).items():
            print(
                f"{cell.name:<28}{name:<16}{result.bias:>7.2f}{result.coverage:>10.1%}"
                f"{result.half_width:>12.2f}"
            )


if __name__ == "__main__":
    main()
