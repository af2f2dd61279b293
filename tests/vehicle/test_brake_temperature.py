"""The grade severity model against published rows and closed forms.

Rows: form, drag, emergency stop and the second set of constants from a state's public program of
2020; the first set from the Grade Severity Rating System (FHWA 1981, 1989), from memory. Figures
were worked out apart from this package, to a tenth of a degree.
"""

from __future__ import annotations

import numpy as np
import pytest

from gearing.vehicle.brake_temperature import (
    FIRST,
    LIMIT_F,
    SETS,
    START_F,
    UPDATE,
    BrakeConstants,
    along_road_c,
    brake_temperature_f,
    emergency_stop_f,
)

# weight [lb], grade [%], miles, mph: with the first set at the foot, with a stop; with the second
ROWS = [
    (60_000, 6, 5, 30, 427.3, 444.1, 314.9, 331.7),
    (80_000, 6, 5, 20, 517.0, 526.9, 381.4, 391.4),
    (80_000, 6, 10, 30, 913.5, 935.9, 572.1, 594.5),
    (36_000, 6, 10, 30, 281.2, 291.2, 216.6, 226.7),
    (36_000, 6, 5, 50, 256.1, 284.1, 204.5, 232.5),
]
# the fastest whole mph, 70 at most, whose sum stays within 500 degF: lb, %, miles, first, second
FASTEST = [
    (80_000, 6, 5, 18, 55),
    (80_000, 6, 10, 12, 19),
    (70_000, 6, 10, 15, 28),
    (60_000, 6, 5, 44, 70),
]


def published_brake_hp(weight: float, grade: float, mph: float, engine_hp: float) -> float:
    """What the class's trucks need down a grade: (W theta - F) V / 375 less the engine's own."""
    drag = 459.35 + 0.132 * mph**2
    return max((weight * grade - drag) * mph / 375 - engine_hp, 0.0)


def foot_f(
    constants: BrakeConstants, weight: float, percent: float, miles: float, mph: float
) -> float:
    power = published_brake_hp(weight, percent / 100, mph, constants.engine_hp)
    return float(brake_temperature_f(constants, START_F, power, mph, miles))


def with_stop_f(
    constants: BrakeConstants, weight: float, percent: float, miles: float, mph: float
) -> float:
    return foot_f(constants, weight, percent, miles, mph) + float(emergency_stop_f(weight, mph))


@pytest.mark.parametrize("row", ROWS)
def test_published_rows(row: tuple[float, ...]) -> None:
    *drive, first, first_stop, second, second_stop = row
    assert foot_f(FIRST, *drive) == pytest.approx(first, abs=0.06)
    assert with_stop_f(FIRST, *drive) == pytest.approx(first_stop, abs=0.06)
    assert foot_f(UPDATE, *drive) == pytest.approx(second, abs=0.06)
    assert with_stop_f(UPDATE, *drive) == pytest.approx(second_stop, abs=0.06)


@pytest.mark.parametrize("row", FASTEST)
def test_the_limit_is_met_where_the_sources_have_it(row: tuple[float, ...]) -> None:
    """Only a check of the equation: the package tells no speed."""
    weight, percent, miles, *fastest = row
    for constants, mph in zip(SETS, fastest, strict=True):
        fit = [
            v for v in range(5, 71) if with_stop_f(constants, weight, percent, miles, v) <= LIMIT_F
        ]
        assert max(fit) == mph


def test_brake_power_that_ends_at_the_limit_however_long_the_grade() -> None:
    # 410 degF above the air over K2, in kW (arithmetic): 43 and 56, 97 and 144 at 20 and 40 mph
    for constants, figures in ((FIRST, (43, 56)), (UPDATE, (97, 144))):
        for mph, kw in zip((20, 40), figures, strict=True):
            power = kw / 0.745700
            end = brake_temperature_f(constants, START_F, power, mph, 1000.0)
            assert end == pytest.approx(LIMIT_F, abs=5)


@pytest.mark.parametrize("constants", SETS)
def test_chained_lengths_are_one(constants: BrakeConstants) -> None:
    power = published_brake_hp(70_000, 0.06, 35, constants.engine_hp)
    once = brake_temperature_f(constants, START_F, power, 35.0, 6.0)
    chained = START_F
    for _ in range(12):  # of half a mile, as the sources have them
        chained = brake_temperature_f(constants, chained, power, 35.0, 0.5)
    assert chained == pytest.approx(once, abs=1e-9)
    # and along a road of small pieces, each with its own force
    step = np.full(480, 6.0 * 1609.344 / 480)
    speed = np.full((480, 1), 35 * 0.44704)
    force = np.full((480, 1), power * 745.6999 / speed[0, 0])
    along = along_road_c(constants, force, speed, step)
    assert along[-1, 0] * 1.8 + 32 == pytest.approx(once, abs=0.01)
    assert np.all(np.diff(along[:, 0]) > 0)


@pytest.mark.parametrize("constants", SETS)
def test_temperature_rises_with_weight_grade_and_length(constants: BrakeConstants) -> None:
    """As a peer-reviewed alternative has it too (Math. Probl. Eng. 2018, 4587673, abstract)."""
    for mph in (20, 35, 50):
        by_weight = [foot_f(constants, w, 6, 5, mph) for w in range(40_000, 80_001, 5_000)]
        by_grade = [foot_f(constants, 70_000, p, 5, mph) for p in np.arange(4, 9.1, 0.5)]
        by_length = [foot_f(constants, 70_000, 6, m, mph) for m in range(1, 13)]
        for rising in (by_weight, by_grade, by_length):
            assert np.all(np.diff(rising) > 0)


def test_nothing_braked_stays_as_at_the_top() -> None:
    step, speed = np.full(100, 100.0), np.full((100, 3), 20.0)
    for constants in SETS:
        still = along_road_c(constants, np.zeros((100, 3)), speed, step)
        assert still == pytest.approx((START_F - 32) / 1.8)
    assert published_brake_hp(36_000, 0.0, 40, 73.0) == 0
