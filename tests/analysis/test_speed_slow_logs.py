"""Logs of a row each several seconds: what the road between two rows hides must be owned up to.

The sample study's logs are thinned. Its roads are a mountain's: a chord each ten seconds cuts off
about a hundredth of them.
"""

from __future__ import annotations

from dataclasses import replace

import polars as pl
import pytest
from sample_study import SAMPLE, TRUTH

from gearing.analysis.final_drive import find_final_drive
from gearing.analysis.speed import SpeedFinding, find_speed
from gearing.analysis.trip_figures import TripFigures, trip_figures
from gearing.logs.model import Reading
from gearing.logs.read import read_log
from gearing.study import load_study
from gearing.study.model import Study
from gearing.trips.declared import Declared
from gearing.trips.record import records_of

Logs = list[tuple[str, str, Reading]]


@pytest.fixture(scope="module")
def study() -> Study:
    return load_study(SAMPLE / "study.toml")


@pytest.fixture(scope="module")
def logs(study: Study) -> Logs:
    return [
        (side, path.stem, read_log(path, rules=study.columns, time_zone=study.time_zone))
        for side in ("before", "after")
        for path in sorted((SAMPLE / side).glob("*.csv"))
    ]


def thinned(reading: Reading, every_s: int, *, positions_alone: bool) -> Reading:
    samples = reading.samples
    second = samples["time"].dt.epoch("s")
    samples = samples.filter((second - second[0]) % every_s == 0)
    return replace(reading, samples=samples.drop("gps_speed_mps") if positions_alone else samples)


def answered(
    study: Study, logs: Logs, every_s: dict[str, int], *, positions_alone: set[str]
) -> tuple[TripFigures, SpeedFinding]:
    records = [
        record
        for side, name, reading in logs
        for record in records_of(
            [thinned(reading, every_s[side], positions_alone=side in positions_alone)],
            Declared.of(study),
            side=side,  # type: ignore[arg-type]
            name=name,
        )
    ]
    figures = trip_figures(study, records)
    return figures, find_speed(study, records, figures)


@pytest.mark.parametrize("every_s", [5, 10, 20, 30])
@pytest.mark.parametrize("alone", [True, False])
def test_the_factor_of_slow_logs_is_in_its_interval(
    study: Study, logs: Logs, every_s: int, alone: bool
) -> None:
    both = {"before", "after"}
    slow = dict.fromkeys(both, every_s)
    figures, found = answered(study, logs, slow, positions_alone=both if alone else set())
    assert ("positions-far-apart" in {w.code for w in found.warnings}) == alone
    for side in ("before", "after"):
        factor, true = found.odometer_factor.of(side), TRUTH["odometer_factor"][side]
        assert factor.value is not None
        assert factor.low is not None
        assert factor.high is not None
        assert factor.low < true < factor.high
        if not alone:  # the receiver's speed cuts no corners
            assert factor.value == pytest.approx(true, rel=2e-3)
    if every_s <= 10:  # the same corners are cut on both sides
        change = find_final_drive(study, figures).change_percent
        assert change.low is not None
        assert change.high is not None
        assert change.value == pytest.approx(TRUTH["final_drive"]["change_percent"], abs=0.2)
        assert change.high - change.low < 1.0


def test_sides_told_in_different_ways_do_not_pass_for_another_gearing(
    study: Study, logs: Logs
) -> None:
    figures, found = answered(study, logs, {"before": 1, "after": 10}, positions_alone={"after"})
    change = find_final_drive(study, figures).change_percent
    assert change.low is not None
    assert change.high is not None
    assert change.low < TRUTH["final_drive"]["change_percent"] < change.high
    assert change.high - change.low > 1.0
    told = [w.text for w in found.warnings if w.code == "positions-far-apart"]
    assert len(told) == 1
    assert "Period after" in told[0]


def test_without_altitude_the_slope_is_owned_up_to(study: Study, logs: Logs) -> None:
    flat = [
        (side, name, replace(reading, samples=reading.samples.drop("altitude_m")))
        for side, name, reading in logs
    ]
    _, found = answered(study, flat, {"before": 1, "after": 1}, positions_alone=set())
    _, with_slope = answered(study, logs, {"before": 1, "after": 1}, positions_alone=set())
    for side in ("before", "after"):
        factor, better = found.odometer_factor.of(side), with_slope.odometer_factor.of(side)
        assert factor.value is not None
        assert better.value is not None
        # the sample's roads are a mountain's: what is left out is the slope's cosine
        assert 3e-4 < better.value / factor.value - 1 < 1.2e-3
        assert factor.low is not None
        assert factor.high is not None
        assert factor.low < TRUTH["odometer_factor"][side] < factor.high
    assert not [w for w in found.warnings if w.code == "positions-far-apart"]


def test_positions_each_second_need_no_doubt(study: Study, logs: Logs) -> None:
    both = {"before", "after"}
    figures, found = answered(study, logs, dict.fromkeys(both, 1), positions_alone=both)
    assert figures.trips["way_error"].max() == 0.0
    for side in both:
        value = found.odometer_factor.of(side).value
        assert value == pytest.approx(TRUTH["odometer_factor"][side], rel=1e-3)
    assert pl.Series([w.code for w in found.warnings]).is_in(["positions-far-apart"]).sum() == 0
