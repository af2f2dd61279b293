"""What standing takes: from the logs' halts, and in a route that halts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from demo_powertrain import bus, vehicles

from gearing.analysis.mountain.fuel_line import standing_fuel
from gearing.vehicle.longitudinal import drive
from gearing.vehicle.road import make_road

SIDES = pl.DataFrame({"trip": ["a", "b", "c"], "side": ["before", "before", "after"]})


def steps(rates_lph: dict[str, float], halts_s: float = 120.0) -> pl.DataFrame:
    """Two halts a trip, and a step that does not stand."""
    rows = [
        (trip, standing, standing * rate / 3600)
        for trip, rate in rates_lph.items()
        for standing in (halts_s / 4, 3 * halts_s / 4, 0.0)
    ]
    return pl.DataFrame(rows, schema=["trip", "stopped_s", "fuel_stopped_l"], orient="row")


def test_the_middle_trip_s_rate_and_the_trips_range() -> None:
    found = standing_fuel(steps({"a": 2.0, "b": 2.6, "c": 5.0, "left out": 90.0}), SIDES)
    one = found["idle_lph"]
    assert (one.value, one.unit, one.assumed) == (pytest.approx(2.6), "L/h", False)
    assert 2.0 <= one.low < 2.1
    assert 4.8 < one.high <= 5.0


def test_too_few_or_too_short_halts_tell_nothing() -> None:
    assert standing_fuel(steps({"a": 2.0, "b": 2.6}), SIDES) == {}
    assert standing_fuel(steps({"a": 2.0, "b": 2.6, "c": 2.2}, halts_s=40.0), SIDES) == {}
    no_fuel = steps({"a": 2.0, "b": 2.6, "c": 2.2}).with_columns(fuel_stopped_l=None)
    assert standing_fuel(no_fuel, SIDES) == {}
    assert standing_fuel(no_fuel.drop("fuel_stopped_l"), SIDES) == {}


def test_a_halt_takes_what_is_known_of_standing() -> None:
    """Ten minutes at 6 L/h are a liter, whatever the engine's line says of an engine at rest."""
    halt_s = np.array([1.0, 0.0, 600.0, 0.0])

    def liters(halts_s: np.ndarray) -> float:
        road = make_road(np.array([0.0, 1e3, 2e3, 3e3]), np.zeros(4), 20.0, stop_s=halts_s)
        return float(drive(replace(bus(), idle_lph=6.0), vehicles(), [road]).liters[0])

    shorter = halt_s.copy()
    shorter[2] = 1.0
    assert liters(halt_s) - liters(shorter) == pytest.approx(6.0 * 599 / 3600, rel=1e-6)
