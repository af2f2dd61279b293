"""Single logs whose speed stands in another unit than the rest: told, and not a reprogrammed
computer. The invented world writes true speed and what the computer made of it."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "simulation"))

import numpy as np
import polars as pl
import pytest
from speed_study import declared, records
from speed_world import World, make_drives

from gearing.analysis.speed import find_speed
from gearing.analysis.speed.misread import without_misread
from gearing.analysis.trip_figures import trip_figures

WORLD = World(trip_minutes=(20.0, 30.0), one_speed_share=0.0, wear_per_10000_km=0.0)
DRIVES = make_drives(WORLD, np.random.default_rng(43), before=5, after=6)


@pytest.mark.parametrize(("by", "unit", "taken_for"), [
    (1 / 1.609344, "mph", "km/h"), (1.609344, "km/h", "mph"), (1 / 3.6, "m/s", "km/h"),
])  # fmt: skip
def test_two_logs_in_another_unit_are_left_out_and_told(
    by: float, unit: str, taken_for: str
) -> None:
    ours = [i for i, d in enumerate(DRIVES.drives) if d.side == "after"][1:3]
    drives = [
        replace(d, samples=d.samples.with_columns(pl.col("indicated_speed_mps") * by))
        if i in ours
        else d
        for i, d in enumerate(DRIVES.drives)
    ]
    study = declared(WORLD)
    made, told = without_misread(records(replace(DRIVES, drives=drives), study))
    (warning,) = told
    assert warning.code == "speed-unit-misread"
    assert f"values in {unit} had been read as {taken_for}" in warning.text
    figures = trip_figures(study, made)
    speed = find_speed(study, made, figures)
    # exactly as if those logs had no speed of the computer's at all
    blind = [
        replace(d, samples=d.samples.drop("indicated_speed_mps")) if i in ours else d
        for i, d in enumerate(DRIVES.drives)
    ]
    without = records(replace(DRIVES, drives=blind), study)
    expected = find_speed(study, without, trip_figures(study, without))
    assert not [w.code for w in speed.warnings if w.code == "computer-reprogrammed"]
    for side in ("before", "after"):
        assert speed.odometer_factor.of(side).value == pytest.approx(
            expected.odometer_factor.of(side).value, abs=2e-4
        )


def test_a_period_that_is_wrong_as_a_whole_is_the_periods_own_question() -> None:
    drives = [
        replace(d, samples=d.samples.with_columns(pl.col("indicated_speed_mps") * 1.609344))
        if d.side == "after"
        else d
        for d in DRIVES.drives
    ]
    made = records(replace(DRIVES, drives=drives), declared(WORLD))
    assert without_misread(made)[1] == ()
