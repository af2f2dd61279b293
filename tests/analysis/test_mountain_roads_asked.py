"""Grades, speeds and gears of roads driven with a receiver alone, on roads of known grade.

The roads are made here: so many kilometers at a grade, by altitude every 100 m; what comes back is
held against that. Which grade a gear holds at a speed is taken from the table of gears, which
other tests hold against closed forms.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from mountain_studies import study, turns

from gearing.analysis.mountain.find import find_mountain
from gearing.analysis.mountain.result import MountainFinding

STEP_M = 100.0
NOT_LOGGED = (
    "gear", "engine_load_percent", "engine_speed_rpm", "fuel_l", "speed_squared_m2ps2",
    "latitude_deg", "longitude_deg", "bridged_m", "unlocked_s", "ambient_temperature_c",
)  # fmt: skip


def _found(*roads: tuple[float, float, float], noise_m: float = 0.0) -> MountainFinding:
    """The finding of drives, each (km, grade in percent, km/h), begun at sea level."""
    rng = np.random.default_rng(5)
    frames = []
    for trip, (km, percent, kmh) in enumerate(roads):
        count = int(km * 1000 / STEP_M)
        lasts = STEP_M / (kmh / 3.6)
        altitude = percent / 100 * STEP_M * np.arange(count + 1) + noise_m * rng.normal(
            size=count + 1
        )
        frames.append(
            pl.DataFrame(
                {
                    "trip": f"t{trip}",
                    "step": np.arange(count),
                    "start_s": 1e6 * trip + lasts * np.arange(count),
                    "duration_s": lasts,
                    "stopped_s": 0.0,
                    "distance_m": STEP_M,
                    "altitude_m": altitude[:-1],
                    "end_altitude_m": altitude[1:],
                    "start_speed_mps": kmh / 3.6,
                    "speed_mps": kmh / 3.6,
                }
            ).with_columns(pl.lit(None, pl.Float64).alias(name) for name in NOT_LOGGED)
        )
    names = [f"t{trip}" for trip in range(len(roads))]
    trips = pl.DataFrame({"trip": names, "side": ["before"] * len(names)})
    return find_mountain(
        replace(study(), routes=()),
        profiles={},
        revolutions_per_km=turns(),
        steps=pl.concat(frames),
        trips=trips,
        draws=40,
        seed=1,
    )


def test_grades_and_speeds_come_back() -> None:
    asked = _found((50, 0.0, 90), (20, 4.0, 60), (10, -6.0, 50), noise_m=1.5).asked
    assert asked is not None
    by_limits = {(row.low_percent, row.high_percent): row for row in asked.grades}
    for limits, km, kmh in (((-2, 2), 50, 90), ((3, 5), 20, 60), ((-7, -5), 10, 50)):
        row = by_limits[limits]
        # a kilometer at either end of a drive has no grade of its own
        assert row.km == pytest.approx(km, abs=1.7)
        assert row.speed_kmh == pytest.approx(kmh)
    assert asked.up_km == pytest.approx(20, abs=1.7)
    assert asked.down_km == pytest.approx(10, abs=1.7)


def test_a_gear_holds_what_the_table_of_gears_says() -> None:
    """At 80 km/h one grade just under and one just over what the top gear holds there."""
    first = _found((30, 0.0, 80))
    top = first.gears[-1]
    assert top.before is not None
    limit = top.before.up_percent["80"]
    assert limit is not None
    assert limit > 2.2
    asked = _found((30, limit - 0.4, 80), (10, limit + 0.9, 80)).asked
    assert asked is not None
    shares = [row.before.up_percent.value for row in asked.gears]  # type: ignore[union-attr]
    assert asked.gears[0].gear == len(first.gears)
    assert shares[0] == pytest.approx(75, abs=2)
    assert sum(shares) == pytest.approx(100)  # type: ignore[arg-type]
    # a larger tire holds less in top gear, and never more
    after = [row.after.up_percent.value for row in asked.gears]  # type: ignore[union-attr]
    assert after[0] <= shares[0] + 1e-9  # type: ignore[operator]


def test_level_or_short_drives_ask_nothing() -> None:
    assert _found((10, 4.0, 60)).asked is None
    asked = _found((40, 0.0, 90)).asked
    assert asked is not None
    assert asked.up_km == asked.down_km == 0
    assert all(row.before.up_percent is None for row in asked.gears)  # type: ignore[union-attr]
