"""Fuel from a counter in whole steps (SPN 250: 0.5 L a bit, SAE J1939-71)."""

import numpy as np
import pytest

from gearing.trips.fuel import from_counter

STEP_L = 0.5


@pytest.mark.parametrize("minutes", [5, 15, 60])
def test_what_lies_between_two_changes_is_neither_more_nor_less(minutes: int) -> None:
    """Steady 18 L/h: a first part of a step counted as a whole one added 3 % to 15 minutes."""
    generator = np.random.default_rng(minutes)
    clock = np.arange(60.0 * minutes)
    rates = []
    for phase in generator.uniform(0, STEP_L, 200):
        count = np.floor((clock * 18 / 3600 + phase) / STEP_L) * STEP_L
        burnt = from_counter(clock, count, clock, 1.0)
        known = np.isfinite(burnt)
        rates.append(burnt[known].sum() / known.sum() * 3600 if known.any() else np.nan)
    # a change is seen within a second of the 100 s that a step takes
    assert np.nanmean(rates) == pytest.approx(18.0, rel=2e-3)


def test_before_the_first_change_and_after_the_last_nothing_is_known() -> None:
    clock = np.arange(400.0)
    count = np.floor(clock * 18 / 3600 / STEP_L + 0.3) * STEP_L
    burnt = from_counter(clock, count, clock, 1.0)
    ticks = np.flatnonzero(np.diff(count)) + 1
    assert np.isnan(burnt[: ticks[0]]).all()
    assert np.isnan(burnt[ticks[-1] + 1 :]).all()
    assert np.nansum(burnt) == pytest.approx(STEP_L * (len(ticks) - 1), abs=0.01)


def test_a_count_that_never_changes_tells_nothing() -> None:
    clock = np.arange(50.0)
    assert np.isnan(from_counter(clock, np.full(50, 731.5), clock, 1.0)).all()
