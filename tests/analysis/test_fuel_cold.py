"""Which road is left out for a cold engine, and what a sensor that stands still does not say."""

import numpy as np
import polars as pl
import pytest
from tank_study import _study, steps_of, tanks_of
from tank_world import Plan, make_fills

from gearing.analysis.fuel.driving import driving_difference
from gearing.analysis.fuel.steps import marked
from gearing.analysis.fuel.tanks import TankDistance
from gearing.analysis.sides import BySide
from gearing.statistics.estimate import Estimate


def drive(coolant: list[float | None]) -> pl.DataFrame:
    n = len(coolant)
    return pl.DataFrame(
        {
            "trip": [0] * n,
            "fuel_l": [0.05] * n,
            "distance_m": [100.0] * n,
            "bridged_m": [0.0] * n,
            "duration_s": [5.0] * n,
            "stopped_s": [0.0] * n,
            "speed_mps": [20.0] * n,
            "steps_s": [1.0] * n,
            "regeneration_s": [0.0] * n,
            "coolant_temperature_c": coolant,
        },
        schema_overrides={"coolant_temperature_c": pl.Float64},
    )


@pytest.mark.parametrize(
    ("coolant", "cold"),
    [
        ([20.0, 50.0, 80.0, 85.0], 2),  # a start from cold
        ([50.0, 55.0, 58.0, 60.0], 4),  # a short drive that never gets warm
        ([40.0, 40.0, 40.0, 40.0], 0),  # no engine stands at one temperature: the sensor does
        ([None, None, None, None], 0),
    ],
)
def test_steps_left_out_for_a_cold_engine(coolant: list[float | None], cold: int) -> None:
    marks = marked(drive(coolant))["mark"]
    assert (marks == "engine-cold").sum() == cold


def test_a_period_driven_cold_throughout_says_nothing_of_the_tanks_roads() -> None:
    fills = make_fills(Plan((8, 8), 60, tracked=1.0), np.random.default_rng(2))
    one = Estimate(1.0, 1.0, 1.0, 9, "x")
    tanks, steps = tanks_of(fills, TankDistance(BySide(one, one), "test")), steps_of(fills)
    warming = 20.0 + pl.int_range(pl.len()) % 10
    cold = steps.with_columns(
        coolant_temperature_c=pl.when(pl.col("side") == "after").then(warming)
    )
    assert driving_difference(_study(), steps, tanks) is not None
    assert driving_difference(_study(), cold, tanks) is None
