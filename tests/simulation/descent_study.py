"""How often the range told for the service brakes' work holds the truth, over invented descents.

    python tests/simulation/descent_study.py --hills 30 --seed 1

drives so many hills with each kind of vehicle, on the old and the new tires.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from descent_world import DRIVERS, KINDS, Hills, brake_kwh, make_hills

from gearing.analysis.mountain import find_mountain
from gearing.analysis.sides import SIDES, BySide
from gearing.statistics.estimate import Estimate
from gearing.study.model import Engine, Retarder, Route, Study, Vehicle

MASS_ERROR = 0.008  # of the weigh bridge and what is on board that day


@dataclass(frozen=True)
class Told:
    """One hill on one set of tires: what the brakes did and what was told [kWh]."""

    kind: str
    driver: str
    side: str
    true: float
    value: float
    low: float
    high: float

    @property
    def holds(self) -> bool:
        """To the tenth of a kWh the page shows."""
        low, true, high = (round(one, 1) for one in (self.low, self.true, self.high))
        return low <= true <= high


def study_of(hills: Hills, one: int, mass_error: float) -> Study:
    kind, retarder = hills.kind, None
    if kind.retarder_rpm:
        retarder = Retarder(
            kind="compression", shaft="engine", rpm=kind.retarder_rpm, power_w=kind.retarder_w
        )
    vehicle = Vehicle(
        mass_kg=float(hills.mass_kg[one]) * (1 + mass_error),
        fuel="diesel",
        axle_ratio=kind.axle,
        gear_ratios=kind.ratios,
        engine=Engine(
            rpm=kind.rpm,
            torque_nm=kind.torque_nm,
            governed_rpm=kind.governed_rpm,
            retarder=retarder,
        ),
    )
    wanted = float(hills.kmh[one]) / 3.6
    route = Route(name="hill", profile=Path("hill.csv"), target_speed_mps=wanted)
    return Study(
        name="hill", slug="hill", path=Path("study.toml"), vehicle=vehicle, routes=(route,)
    )


def tell(hills: Hills, *, draws: int = 200) -> list[Told]:
    """Both sets of tires down every hill."""
    rng = np.random.default_rng(hills.seed + 2)
    truth = {"before": brake_kwh(hills, after=False), "after": brake_kwh(hills, after=True)}
    out = []
    for one in range(hills.count):
        before = hills.kind.turns_per_km
        turns = (before, before / hills.taller[one])
        finding = find_mountain(
            study_of(hills, one, rng.normal(0, MASS_ERROR)),
            profiles={"hill": hills.profile(one)},
            revolutions_per_km=BySide(
                *(Estimate(t, 0.999 * t, 1.001 * t, 10, "declared") for t in turns)
            ),
            draws=draws,
        )
        for side in SIDES:
            told = getattr(finding.routes[0], side)
            spread = told.spread["brake_kwh"]
            out.append(
                Told(
                    kind=hills.kind.name,
                    driver=DRIVERS[hills.driver[one]],
                    side=side,
                    true=float(truth[side][one]),
                    value=told.descent.brake_kwh,
                    low=spread.low,
                    high=spread.high,
                )
            )
    return out


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hills", type=int, default=30, help="of each kind of vehicle")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    told = [
        one
        for number, kind in enumerate(KINDS)
        for one in tell(make_hills(kind, asked.hills, 10 * asked.seed + number))
    ]
    print(f"{len(told)} descents, seed {asked.seed}")
    print(f"{'':24}{'holds %':>9}{'above %':>9}{'true':>7}{'told':>7}{'low':>7}{'high':>7}  kWh")
    line("all", told)
    for key in ("side", "driver", "kind"):
        for name in dict.fromkeys(getattr(one, key) for one in told):
            line(name, [one for one in told if getattr(one, key) == name])


def line(name: str, told: list[Told]) -> None:
    means = [np.mean([getattr(one, key) for one in told]) for key in ("true", "value")]
    means += [np.mean([getattr(one, key) for one in told]) for key in ("low", "high")]
    above = np.mean([not one.holds and one.true > one.high for one in told])
    holds = np.mean([one.holds for one in told])
    print(f"{name:24}{100 * holds:9.1f}{100 * above:9.1f}" + "".join(f"{m:7.2f}" for m in means))


if __name__ == "__main__":
    main()
