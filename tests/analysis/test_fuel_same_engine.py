"""The engine itself before and after: its fuel at one load and speed, and standing.

The engine here is a Willans line (Guzzella and Onder, Introduction to Modeling and Control of
Internal Combustion Engine Systems, section 2.5): fuel a turn is what friction takes and what load
takes. Real logs by others are at ../shared/logs beside the checkout, and skipped where they are
not; they hold one car on its own tires, whose engine is the same throughout.
"""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from fuel_real_cars import LOGS, Drives, compare, drives_of

from gearing.analysis.fuel.same_engine import same_engine

STEPS = 120  # a day


def drives(
    meter: float = 1.0, idle: float = 1.0, late: int = 0, lighter: float = 1.0
) -> pl.DataFrame:
    """Five days before and five after, the load after `lighter` times as high; the meter reads
    `meter` times as much then, standing takes `idle` times as much, and fuel is told `late` steps
    too late."""
    rng = np.random.default_rng(3)
    days = []
    for number in range(10):
        after = number >= 5
        load = rng.uniform(30, 95, STEPS) * (lighter if after else 1.0)
        rpm = rng.uniform(1000, 2200, STEPS)
        a_turn = (1.1e-3 + 1.2e-4 * load) * np.exp(rng.normal(0, 0.01) + rng.normal(0, 0.02, STEPS))
        liters = np.roll(a_turn * rpm * 6 / 3600, late) * (meter if after else 1.0)
        stood = np.where(np.arange(STEPS) % 10 == 0, 20.0, 0.0)
        standing = 2.7 / 3600 * stood * (idle if after else 1.0) * np.exp(rng.normal(0, 0.01))
        days.append(
            pl.DataFrame(
                {
                    "trip": [number] * STEPS,
                    "side": ["after" if after else "before"] * STEPS,
                    "local_day": [date(2031, 3, 1) + timedelta(days=2 * number)] * STEPS,
                    "duration_s": 6.0 + stood,
                    "stopped_s": stood,
                    "fuel_l": liters + standing,
                    "fuel_stopped_l": standing,
                    "engine_speed_rpm": rpm,
                    "engine_load_percent": load,
                }
            )
        )
    empty = (
        "engine_torque_percent",
        "ambient_temperature_c",
        "altitude_m",
        "coolant_temperature_c",
    )
    return pl.concat(days).with_columns(
        *(pl.lit(None, dtype=pl.Float64).alias(name) for name in empty),
        mark=pl.lit(None, dtype=pl.String),
    )


def test_less_load_is_no_other_engine() -> None:
    """Better tires ask for less load: that is the tires' saving, and no word against it."""
    found = same_engine(drives(lighter=0.9))
    for change in (found.loaded, found.standing):
        assert change is not None
        assert change.low < 0 < change.high
        assert change.high - change.low < 0.06


def test_a_meter_that_reads_more_is_seen() -> None:
    found = same_engine(drives(meter=1.05, lighter=0.95)).loaded
    assert found is not None
    assert found.low < np.log(1.05) < found.high
    assert found.low > 0.02


def test_what_runs_beside_is_seen_standing() -> None:
    found = same_engine(drives(idle=1.3))
    assert found.standing is not None
    assert found.standing.low < np.log(1.3) < found.standing.high
    assert found.standing.low > 0.2
    assert found.standing_share == pytest.approx(2.7 * 1.15 / 13.7, rel=0.1)  # L/h over L/h


def test_fuel_told_late_tells_nothing() -> None:
    """A load of a moment with the fuel of another: lighter days would pass for thirstier ones."""
    assert same_engine(drives(late=3, lighter=0.8)).loaded is None


def test_without_load_there_is_nothing_to_compare() -> None:
    bare = drives().with_columns(engine_load_percent=pl.lit(None, dtype=pl.Float64))
    assert same_engine(bare).loaded is None


@pytest.fixture(scope="module")
def real() -> Drives:
    return drives_of(LOGS / "car_57f7fd")


@pytest.mark.skipif(not LOGS.is_dir(), reason=f"no real logs at {LOGS}")
@pytest.mark.parametrize("meter", [1.0, 0.95])
def test_a_real_engine_is_itself_and_a_meter_off_by_five_percent_is_told(
    real: Drives, meter: float
) -> None:
    trips = real[0].height
    told = {w.code: w.text for w in compare(real, np.arange(trips) >= trips / 2, meter).warnings}
    assert ("engine-otherwise" in told) == (meter != 1.0)
    if meter != 1.0:
        assert "less fuel" in told["engine-otherwise"]
