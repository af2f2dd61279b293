"""Whatever a study file may declare, the mountain answer is given and no warning raised."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import numpy as np
import polars as pl
import pytest
from mountain_studies import study, turns

from gearing.analysis.mountain import find_mountain
from gearing.results import dumps, plain
from gearing.study.model import Engine, Retarder


def odd_vehicle(rng: np.random.Generator) -> dict[str, object]:
    points = int(rng.integers(1, 8))
    rpm = np.sort(rng.choice(np.arange(1, 60) * 50, points, replace=False)).astype(float)
    torque = rng.uniform(1, 3000, points)
    governed = None if rng.random() < 0.4 else float(rng.uniform(500, 4000))
    idle = None if rng.random() < 0.5 else float(rng.uniform(300, 900))
    if governed is not None and idle is not None and idle >= governed:
        idle = None
    retarder = None
    if rng.random() < 0.6:
        retarder = Retarder(
            kind="compression",
            shaft="engine" if rng.random() < 0.5 else "output shaft",
            rpm=tuple(np.sort(rng.uniform(300, 3000, 3)).tolist()),
            power_w=tuple(rng.uniform(0, 4e5, 3).tolist()),
        )
    ratios = np.sort(rng.uniform(0.3, 16, int(rng.integers(1, 14))))[::-1]
    return {
        "engine": Engine(
            rpm=tuple(rpm.tolist()),
            torque_nm=tuple(torque.tolist()),
            governed_rpm=governed,
            idle_rpm=idle,
            retarder=retarder,
            derate_above_m=None if rng.random() < 0.5 else 0.0,
            derate_percent_per_km=None if rng.random() < 0.5 else 50.0,
        ),
        "gear_ratios": tuple(ratios.tolist()),
        "axle_ratio": float(rng.uniform(1, 20)),
        "mass_kg": float(10 ** rng.uniform(2.6, 5.1)),
        "transmission": [None, "converter", "manual", "automated"][int(rng.integers(4))],
        "drag_area_m2": [None, 0.3, 20.0][int(rng.integers(3))],
        "rolling_resistance": [None, 0.001, 0.05][int(rng.integers(3))],
        "rolling_temperature_per_k": [None, 0.0, 0.03][int(rng.integers(3))],
        "fuel": "diesel" if rng.random() < 0.5 else "gasoline",
    }


def odd_profile(rng: np.random.Generator) -> pl.DataFrame:
    count = int(rng.integers(2, 25))
    distance = np.cumsum(rng.uniform(1, 700, count))
    steps = np.diff(distance, prepend=0.0)
    return pl.DataFrame(
        {
            "distance_m": distance,
            "altitude_m": np.cumsum(rng.normal(0, 1, count) * steps * rng.uniform(0, 0.3)),
            "speed_limit_mps": rng.choice([np.nan, 0.0, 3.0, 30.0], count),
            "stop_s": rng.choice([0.0, 0.0, 0.0, 5.0], count),
        }
    )


def try_one(seed: int) -> str:
    rng = np.random.default_rng(seed)
    before = float(rng.uniform(125, 1250))
    finding = find_mountain(
        study(**odd_vehicle(rng)),
        profiles={"pass": odd_profile(rng)},
        revolutions_per_km=turns(before, before * rng.uniform(0.9, 1.1)),
        draws=4,
        reverse=bool(rng.random() < 0.5),
    )
    (route,) = finding.routes
    assert route.verdict in ("suits", "suits with care", "does not suit", "cannot tell yet")
    assert (route.verdict == "cannot tell yet") == (route.after is None)
    dumps(plain(finding))
    return route.verdict


@pytest.mark.parametrize("seed", range(8))
def test_odd_studies(seed: int) -> None:
    try_one(seed)


@pytest.mark.study
def test_many_odd_studies(record_property: Callable[[str, object], None]) -> None:
    verdicts = Counter(try_one(seed) for seed in range(100, 160))
    for verdict, count in sorted(verdicts.items()):
        record_property(verdict, f"{count}/60")
    assert len(verdicts) > 1
