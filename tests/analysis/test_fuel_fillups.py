"""Full tank to full tank: the arithmetic every driver's handbook gives, and its traps."""

import math
from datetime import UTC, datetime, timedelta

import polars as pl
import pytest

from gearing.analysis.fuel.fillups import (
    change_from_fillups,
    engine_computer_scale,
    full_to_full,
)
from gearing.analysis.sides import BySide
from gearing.messages import message
from gearing.statistics.estimate import Estimate
from gearing.units import GALLON_L, MILE_M, MPG_L_PER_100KM

START = datetime(2031, 3, 1, 12, tzinfo=UTC)
EXACT = BySide(Estimate(1.0, 1.0, 1.0, 9, "x"), Estimate(1.0, 1.0, 1.0, 9, "x"))


def log(rows: list[tuple[float, float, float]], **columns: list[object]) -> pl.DataFrame:
    """Fill-ups from (day, odometer in miles, gallons)."""
    frame = pl.DataFrame(
        {
            "time": [START + timedelta(days=day) for day, _, _ in rows],
            "indicated_distance_m": [None if o is None else o * MILE_M for _, o, _ in rows],
            "volume_l": [gallons * GALLON_L for _, _, gallons in rows],
        }
    )
    usual = {"full": True, "missed": False, "other_l": 0.0}
    return frame.with_columns(
        *[pl.lit(value).alias(name) for name, value in usual.items() if name not in columns],
        *[pl.Series(name, values) for name, values in columns.items()],
    )


def test_a_tank_is_what_was_bought_since_the_last_full_one() -> None:
    # 300 miles on 10 gallons are 30 miles per gallon; the first fill only sets the mark
    tanks = full_to_full(log([(0, 1000, 8), (3, 1300, 10)]), EXACT, START, None)
    assert len(tanks.start) == 1
    consumption = tanks.volume_l[0] / tanks.distance_m[0] * 1e5
    assert MPG_L_PER_100KM / consumption == pytest.approx(30)


def test_partial_fills_are_added() -> None:
    rows = [(0, 1000, 8), (1, 1100, 4), (2, 1200, 3), (3, 1300, 3)]
    tanks = full_to_full(log(rows, full=[True, False, False, True]), EXACT, START, None)
    assert tanks.distance_m == pytest.approx([300 * MILE_M])
    assert tanks.volume_l == pytest.approx([10 * GALLON_L])


def test_a_missed_fill_opens_a_new_stretch() -> None:
    rows = [(0, 1000, 8), (3, 1300, 10), (9, 1900, 10), (12, 2200, 10)]
    tanks = full_to_full(log(rows, missed=[False, False, True, False]), EXACT, START, None)
    assert tanks.distance_m == pytest.approx([300 * MILE_M, 300 * MILE_M])


def test_a_fill_without_an_odometer_reading_is_added_to_the_next() -> None:
    rows = [(0, 1000, 8), (3, None, 5), (6, 1300, 5)]
    tanks = full_to_full(log(rows), EXACT, START, None)  # type: ignore[arg-type]
    assert tanks.volume_l == pytest.approx([10 * GALLON_L])


def test_a_fill_nobody_marked_as_missed_is_recognised() -> None:
    rows = [(3 * i, 1000 + 300 * i, 10 + 0.1 * (i % 3)) for i in range(10)]
    rows = [row for index, row in enumerate(rows) if index != 5]
    tanks = full_to_full(log(rows), EXACT, START, None)
    assert list(tanks.sound) == [1, 1, 1, 1, 0, 1, 1, 1]
    # and the numbers left are those of the whole log
    assert MPG_L_PER_100KM / (100_000 * math.exp(tanks.log_rates(False).mean())) == pytest.approx(
        300 / 10.1, rel=0.01
    )


def test_other_use_of_the_tank_is_taken_off() -> None:
    rows = [(0, 1000, 8), (3, 1300, 12)]
    tanks = full_to_full(log(rows, other_l=[0.0, 2 * GALLON_L]), EXACT, START, None)
    assert tanks.volume_l == pytest.approx([10 * GALLON_L])


def test_a_tank_that_spans_the_change_is_left_out() -> None:
    rows = [(0, 1000, 8), (3, 1300, 10), (6, 1600, 10), (9, 1900, 10)]
    change = BySide(Estimate(1.0, 1.0, 1.0, 9, "x"), Estimate(1.05, 1.05, 1.05, 9, "x"))
    tanks = full_to_full(log(rows), change, START + timedelta(days=4), START + timedelta(days=5))
    assert list(tanks.after) == [0, 1]
    assert tanks.distance_m == pytest.approx([300 * MILE_M, 300 * MILE_M * 1.05])


def test_the_odometer_factor_undoes_what_the_dash_makes_of_taller_tires() -> None:
    # 541 to 517 revolutions per mile: 1,000 miles shown are 1,046.4 driven
    factor = 541 / 517
    before = [(2 * i, 1000 + 300 * i, 10 + 0.05 * (-1) ** i) for i in range(8)]
    shown = 300 / factor
    after = [(20 + 2 * i, 5000 + shown * i, 10 + 0.05 * (-1) ** i) for i in range(8)]
    odometer = BySide(
        Estimate(1.0, 0.999, 1.001, 9, "x"),
        Estimate(factor, factor * 0.999, factor * 1.001, 9, "x"),
    )
    sides = (START + timedelta(days=15), START + timedelta(days=19))
    fair = change_from_fillups(full_to_full(log(before + after), odometer, *sides), odometer)
    naive = change_from_fillups(full_to_full(log(before + after), EXACT, *sides), EXACT)
    assert fair.value == pytest.approx(0.0, abs=0.01)
    assert naive.value == pytest.approx(100 * (factor - 1), abs=0.01)
    assert fair.low is not None
    # two odometers known to 0.1 % each leave 0.14 % at the least
    assert fair.low < -0.13


def test_too_few_tanks_say_so() -> None:
    found = change_from_fillups(full_to_full(log([(0, 1000, 8)]), EXACT, START, None), EXACT)
    assert not found.known
    assert found.why == message("too-few-tanks", before=0, after=0)
    assert "three fills" in str(found.why)


def test_engine_computer_that_counts_two_percent_short() -> None:
    rows = [(2 * i, 1000 + 100 * i, 10.0) for i in range(5)]
    tanks = full_to_full(log(rows), EXACT, START + timedelta(days=30), None)
    count = 4 * 100
    steps = pl.DataFrame(
        {
            "start_s": [START.timestamp() + (i + 0.5) * 8 * 86400 / count for i in range(count)],
            "distance_m": [MILE_M] * count,
            "fuel_l": [0.98 * GALLON_L / 10] * count,
        }
    )
    scale = engine_computer_scale(tanks, steps)
    assert scale.before.value == pytest.approx(1 / 0.98, rel=1e-6)
    assert scale.before.n == 4
    assert scale.after.why == message("too-few-logged-tanks", tanks=0)
    # logs that miss a fifth of the road cannot tell
    assert not engine_computer_scale(tanks, steps[::5]).before.known
