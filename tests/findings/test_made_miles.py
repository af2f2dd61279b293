"""Whole mph that a recorder made of whole km/h hide more, or less, than a cut or rounding does.

Checked against arithmetic: floor and round of floor or round, of speeds drawn here; the mean of
what is hidden is measured on them, not taken from the package.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import polars as pl
import pytest
from gearing.findings.made_miles import (
    CUT_OF_KMH,
    ONCE,
    ROUNDED_OF_KMH,
    Array,
    Ways,
    of_kmh,
    ways_by_rows,
)

MPH = 1 / 1.609344
MADE: dict[str, tuple[Callable[[Array], Array], Ways]] = {
    "cut": (lambda kmh: np.floor(kmh * MPH), ONCE),
    "rounded": (lambda kmh: np.round(kmh * MPH), ONCE),
    "cut of cut": (lambda kmh: np.floor(np.floor(kmh) * MPH), CUT_OF_KMH),
    "cut of rounded": (lambda kmh: np.floor(np.round(kmh) * MPH), CUT_OF_KMH),
    "rounded of cut": (lambda kmh: np.round(np.floor(kmh) * MPH), ROUNDED_OF_KMH),
    "rounded of rounded": (lambda kmh: np.round(np.round(kmh) * MPH), ROUNDED_OF_KMH),
}


def _drive(seed: int, rows: int) -> Array:
    """Speeds in km/h between about 25 and 110 that wander, a row a second."""
    rng = np.random.default_rng(seed)
    t = np.arange(rows)
    phases = rng.uniform(0, 2 * np.pi, 3)
    slow = 18 * np.sin(t / 211 + phases[0]) + 12 * np.sin(t / 67 + phases[1])
    return np.asarray(70 + slow + 6 * np.sin(t / 19 + phases[2]) + rng.normal(0, 0.3, rows))


def _ways(mph: Array) -> Ways:
    whole, rows = np.unique(mph, return_counts=True)
    return ways_by_rows(whole.astype(np.int64), rows.astype(np.float64))


@pytest.mark.parametrize("name", MADE)
def test_the_pattern_tells_how_miles_were_made(name: str) -> None:
    make, expected = MADE[name]
    told = [_ways(make(_drive(seed, 30_000))) for seed in range(40)]
    assert told.count(expected) >= 39
    # the one that is wrong leaves out nothing: what is hidden is among its two ways
    hidden = float(np.mean([(kmh := _drive(seed, 30_000)) * MPH - make(kmh) for seed in range(5)]))
    for ways in told:
        assert min(abs(hidden - way) for way in ways) < 0.01


@pytest.mark.parametrize("name", MADE)
def test_little_to_go_by_is_taken_as_made_at_once(name: str) -> None:
    make, _ = MADE[name]
    assert _ways(make(_drive(1, 300))) == ONCE
    assert _ways(make(np.full(5000, 88.4))) == ONCE


@pytest.mark.parametrize("name", [name for name, (_, ways) in MADE.items() if ways != ONCE])
def test_where_its_km_h_lie_a_value_hides_the_same_as_any_other(name: str) -> None:
    make, ways = MADE[name]
    kmh = np.random.default_rng(7).uniform(30, 110, 400_000)
    miles = make(kmh)
    whole = np.unique(miles)[1:-1]
    centred = of_kmh(pl.DataFrame({"whole": whole.astype(np.int32)}), ways)["whole"].to_numpy()
    hidden = [float(np.mean(kmh[miles == value])) * MPH for value in whole] - centred
    assert np.ptp(hidden) < 0.02
    assert np.ptp(hidden + centred - whole) > 0.3  # whole miles themselves do not
    assert min(abs(np.mean(hidden) - way) for way in ways) < 0.005
