"""Odometer factor, final-drive change, misfiled trips and reprogramming against known truth.

The drives are made by `tests/simulation/speed_world.py`, apart from the package. Here a few
dozen, of which every run sees those that take least; `python tests/simulation/speed_study.py` runs
hundreds.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from scipy.stats import binom

sys.path.insert(0, str(Path(__file__).parents[1] / "simulation"))
from speed_study import coverage, misfiled_study, plain_study, reprogrammed_study

STUDIES = 16


@pytest.fixture(scope="module")
def plain() -> pl.DataFrame:
    return pl.DataFrame([plain_study(seed) for seed in range(STUDIES)])


@pytest.mark.parametrize("name", ["before", "after", "change"])
def test_figures_are_right_to_a_fifth_of_a_percent(plain: pl.DataFrame, name: str) -> None:
    error = plain[f"{name}_error"]
    assert float(error.abs().max()) < 0.2  # type: ignore[arg-type]
    # bias: within what chance makes of this many studies
    mean, spread = float(error.mean()), float(error.std())  # type: ignore[arg-type]
    assert abs(mean) < max(3.5 * spread / np.sqrt(STUDIES), 0.02)


@pytest.mark.parametrize("name", ["before", "after", "change"])
def test_intervals_hold_the_truth_as_often_as_they_claim(plain: pl.DataFrame, name: str) -> None:
    held = int(plain[f"{name}_covered"].sum())
    # fewer than this of 16 come up by chance once in 500 at 95 %
    assert held >= int(binom.ppf(0.002, STUDIES, 0.95))
    assert float(plain[f"{name}_half_width"].median()) < 0.2  # type: ignore[arg-type]


def test_nothing_is_called_that_is_not_there(plain: pl.DataFrame) -> None:
    assert plain["false_alarms"].sum() <= 0.01 * plain["trips"].sum()
    assert plain["false_steps"].sum() <= 1
    assert coverage(plain).height == 3


@pytest.mark.study
@pytest.mark.parametrize("engine", [True, False])
def test_misfiled_trips_are_named(
    engine: bool, record_property: Callable[[str, object], None]
) -> None:
    rows = pl.DataFrame([misfiled_study(seed, engine=engine) for seed in range(12)]).sum()
    for name in rows.columns:
        record_property(name, rows[name].item())
    assert rows["kept_out"].item() == rows["wrong"].item()
    assert rows["false_alarms"].item() <= 1


@pytest.mark.study
def test_a_reprogrammed_computer_is_dated_within_one_trip_and_answers_for_now(
    record_property: Callable[[str, object], None],
) -> None:
    rows = pl.DataFrame([reprogrammed_study(seed) for seed in range(12)])
    for name in ("off_by", "now_error"):
        record_property(f"largest {name}", f"{rows[name].abs().max():.3g}")
    assert rows["off_by"].max() <= 1  # type: ignore[operator]
    assert rows["now_error"].abs().max() < 0.2  # type: ignore[operator]


@pytest.mark.study
def test_coverage_over_many_studies(record_property: Callable[[str, object], None]) -> None:
    """Of 300 studies the share held lies within the 99 % binomial range of 93 to 97 %."""
    rows = pl.DataFrame([plain_study(seed) for seed in range(2000, 2300)])
    for name in ("before", "after", "change"):
        held = int(rows[f"{name}_covered"].sum())
        record_property(name, f"{held}/300")
        assert binom.ppf(0.005, 300, 0.93) <= held <= binom.ppf(0.995, 300, 0.97)
