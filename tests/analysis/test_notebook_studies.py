"""Needles, odometers and tanks of many invented owners: intervals hold, verdicts are not false.

The worlds (`needle_study.py`, `odometer_study.py` and `tank_world.py` in `tests/simulation`) are
written apart from the package and know nothing of its ranges. The quick tests run few of them, at
bounds that a method without its noise model, its season or its driver's part does not keep; the
studies run 400 a cell.
"""

from __future__ import annotations

from collections.abc import Callable

import needle_study
import odometer_study
import pytest
import tank_study

STUDIES = 400
# two standard errors of a share of 95 % in 400
CHANCE = 2.2


@pytest.mark.study
@pytest.mark.parametrize("by_minute", [False, True])
@pytest.mark.parametrize("readings", [3, 8, 20])
def test_needle_intervals_hold(
    readings: int, by_minute: bool, record_property: Callable[[str, object], None]
) -> None:
    found = needle_study.cell(readings, STUDIES, by_minute=by_minute)
    for name, value in found.items():
        record_property(name, round(value, 2))
    assert 93 - CHANCE <= found["true"] <= 97 + CHANCE
    assert 93 - CHANCE <= found["relative"] <= 97 + CHANCE


@pytest.mark.study
@pytest.mark.parametrize("name", tank_study.CELLS)
def test_tank_verdicts_are_not_false(
    name: str, record_property: Callable[[str, object], None]
) -> None:
    found = tank_study.cell(name, STUDIES)
    for key, value in found.items():
        record_property(key, round(value, 2))
    assert 93 - CHANCE <= found["held"] <= 97 + CHANCE
    assert found["false"] <= 5


@pytest.mark.study
@pytest.mark.parametrize("chains", odometer_study.CELLS.values())
def test_odometer_intervals_hold(
    chains: int, record_property: Callable[[str, object], None]
) -> None:
    found = odometer_study.cell(chains, STUDIES)
    for key, value in found.items():
        record_property(key, round(value, 2))
    assert 93 - CHANCE <= found["held"] <= 97 + CHANCE
    assert found["answered"] > 98


@pytest.mark.parametrize(("by_minute", "widest"), [(False, 1.0), (True, 1.6)])
def test_few_needles_hold(by_minute: bool, widest: float) -> None:
    found = needle_study.cell(8, 40, seed=100, by_minute=by_minute)
    assert found["true"] > 88
    assert found["relative"] > 85
    assert found["half"] < widest


def test_few_odometers_hold() -> None:
    found = odometer_study.cell(4, 20, seed=100)
    assert found["held"] > 88
    assert found["half"] < 0.6
    assert found["answered"] == 100


@pytest.mark.parametrize(
    "name", ["8 tanks, winter and summer, fills off 3 %", "60 tanks, from autumn on, fills off 3 %"]
)
def test_few_notebooks_hold(name: str) -> None:
    found = tank_study.cell(name, 30, seed=100)
    assert found["held"] > 85
    assert found["false"] <= 5


def test_filling_errors_are_told_from_driving() -> None:
    """The world's fills are off by 3 % of a tank, or by 0.5 %: the estimate tells which."""
    from tank_study import CELLS, posterior_of

    sizes = {}
    for filling in (0.005, 0.03):
        plan, _ = CELLS[f"60 tanks, seasons as they come, fills off {100 * filling:g} %"]
        found = [posterior_of(plan, seed) for seed in range(300, 306)]
        sizes[filling] = sum(one.filling_error_l / capacity for one, capacity in found) / len(found)
    assert 0.015 < sizes[0.03] < 0.045
    assert sizes[0.005] < 0.5 * sizes[0.03]
