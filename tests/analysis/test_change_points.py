"""Steps, drifts and outliers in a sequence, and how often chance is taken for one."""

from __future__ import annotations

import numpy as np
import pytest

from gearing.statistics.change_points import find_course

ERRORS = 1e-3


def course(values: np.ndarray, **more: float) -> object:
    n = len(values)
    return find_course(
        values, np.full(n, ERRORS), np.arange(n), least_step=0.004, floor=5e-4, **more
    )


def noise(n: int, seed: int) -> np.ndarray:
    return np.random.default_rng(seed).normal(0, 1.1e-3, n)


@pytest.mark.parametrize("n", [8, 20, 100])
def test_chance_makes_no_step(n: int) -> None:
    """At most one false step in 200 sequences."""
    false = sum(bool(course(noise(n, seed)).steps) for seed in range(200))  # type: ignore[attr-defined]
    assert false <= 1


@pytest.mark.parametrize("at", [2, 5, 11, 17])
@pytest.mark.parametrize("size", [0.015, -0.03])
def test_a_step_is_dated(at: int, size: float) -> None:
    off = []
    for seed in range(40):
        values = noise(20, seed) + size * (np.arange(20) >= at)
        steps = course(values).steps  # type: ignore[attr-defined]
        assert len(steps) == 1
        assert steps[0].size == pytest.approx(size, abs=6 * steps[0].error)
        off.append(abs(steps[0].index - at))
    assert max(off) <= 1


def test_two_steps_are_both_dated() -> None:
    places = np.arange(30)
    values = noise(30, 4) + 0.02 * (places >= 9) - 0.012 * (places >= 21)
    assert [s.index for s in course(values).steps] == [9, 21]  # type: ignore[attr-defined]


@pytest.mark.parametrize("total", [0.006, 0.015, -0.02])
def test_a_slow_drift_is_no_step(total: float) -> None:
    for seed in range(40):
        values = noise(24, seed) + total * np.linspace(0, 1, 24)
        found = course(values)
        assert not found.steps  # type: ignore[attr-defined]
        assert found.slope == pytest.approx(total / 23, rel=0.5)  # type: ignore[attr-defined]


def test_a_drift_with_a_step_in_it_shows_both() -> None:
    values = noise(40, 1) + 0.01 * np.linspace(0, 1, 40) + 0.02 * (np.arange(40) >= 25)
    found = course(values)
    assert [s.index for s in found.steps] == [25]  # type: ignore[attr-defined]
    assert found.slope > 0  # type: ignore[attr-defined]


@pytest.mark.parametrize("at", [0, 7, 19])
def test_a_lone_wild_unit_is_set_apart_and_makes_no_step(at: int) -> None:
    values = noise(20, 2)
    values[at] += 0.05
    found = course(values)
    assert found.apart == (at,)  # type: ignore[attr-defined]
    assert not found.steps  # type: ignore[attr-defined]


def test_few_units_say_nothing() -> None:
    assert course(np.array([0.0, 0.0, 0.1])).steps == ()  # type: ignore[attr-defined]
