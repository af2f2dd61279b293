"""The speed and final-drive answers on the sample logs against the truth they were made with."""

from __future__ import annotations

from typing import Any

import pytest
from sample_study import SAMPLE, TRUTH

from gearing.analysis.final_drive import FinalDriveFinding, find_final_drive
from gearing.analysis.speed import SpeedFinding, find_speed
from gearing.analysis.speed.turns import MEASURED
from gearing.analysis.trip_figures import TripFigures, trip_figures
from gearing.logs.read import read_log
from gearing.study.load import load_study
from gearing.trips.declared import Declared
from gearing.trips.record import records_of

Answer = tuple[TripFigures, SpeedFinding, FinalDriveFinding]


@pytest.fixture(scope="module")
def truth() -> dict[str, Any]:
    return TRUTH


@pytest.fixture(scope="module")
def answer() -> Answer:
    study = load_study(SAMPLE / "study.toml")
    records = []
    for side in ("before", "after"):
        period = study.before if side == "before" else study.after
        assert period is not None
        for pattern in period.logs:
            for path in sorted(study.folder.glob(pattern)):
                reading = read_log(path, rules=study.columns, time_zone=study.time_zone)
                records += records_of([reading], Declared.of(study), side=side)  # type: ignore[arg-type]
    figures = trip_figures(study, records)
    final = find_final_drive(study, figures)
    return figures, find_speed(study, records, figures, final), final


@pytest.mark.parametrize("side", ["before", "after"])
def test_odometer_factor(answer: Answer, truth: dict[str, Any], side: str) -> None:
    estimate = answer[1].odometer_factor.of(side)
    assert estimate.value == pytest.approx(truth["odometer_factor"][side], rel=2e-3)
    assert estimate.low is not None
    assert estimate.high is not None
    assert estimate.low < truth["odometer_factor"][side] < estimate.high


def test_final_drive(answer: Answer, truth: dict[str, Any]) -> None:
    figure = truth["final_drive"]
    change = answer[2].change_percent
    assert change.value == pytest.approx(figure["change_percent"], abs=0.2)
    assert change.low is not None
    assert change.high is not None
    assert change.low < figure["change_percent"] < change.high
    assert answer[2].effective.after.value == pytest.approx(figure["effective"]["after"], rel=2e-3)
    assert answer[2].restoring_axle_ratio.value == pytest.approx(
        figure["restoring_axle_ratio"], rel=2e-3
    )


@pytest.mark.parametrize("side", ["before", "after"])
def test_turns_a_km(answer: Answer, truth: dict[str, Any], side: str) -> None:
    turns = answer[1].revolutions_per_km.of(side)
    assert turns.basis == MEASURED
    assert turns.value == pytest.approx(truth["revolutions_per_km"][side], rel=2e-3)


def test_the_misfiled_trip_and_no_other_is_named(answer: Answer, truth: dict[str, Any]) -> None:
    assert list(answer[1].misfiled) == truth["misfiled"]
    assert answer[1].change_points == ()


def test_the_setting_and_the_rounding_are_seen_through(
    answer: Answer, truth: dict[str, Any]
) -> None:
    programmed = 1000 / truth["vehicle"]["programmed_circumference_m"]
    assert answer[1].programmed_revolutions_per_km.now.value == pytest.approx(programmed, rel=2e-3)
    assert answer[1].rounding.before.kind == "cut"
    # readings of the needle against its declared excess over the computer
    needle = answer[1].speedometer_ratio.before
    expected = truth["vehicle"]["needle_over_computer"] / truth["odometer_factor"]["before"]
    assert needle.low is not None
    assert needle.high is not None
    assert needle.low < expected < needle.high
