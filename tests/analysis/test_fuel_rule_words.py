"""What the fuel warnings say must be so: weights, wind files and calm hours."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from test_fuel_rules import LOAD, SIDE, SOUND, STUDY

from gearing.analysis.fuel import rules
from gearing.analysis.fuel.facts import Facts
from gearing.analysis.fuel.weather import COVERED_LEAST, at_times


def text(facts: Facts, code: str) -> str:
    """The warning of that code, or nothing."""
    return next((w.text for w in rules.told(facts) if w.code == code), "")


def test_a_trailer_is_no_other_weight() -> None:
    trailer = replace(LOAD, mass_kg=None, towing=True)
    facts = replace(
        SOUND,
        study=replace(STUDY, loads=(trailer,)),
        after=replace(SIDE, towing_days=9, load_days=9),
    )
    assert text(facts, "towing-differs")
    assert not text(facts, "weight-differs")
    weighed = replace(facts, study=replace(STUDY, loads=(replace(trailer, mass_kg=14_000.0),)))
    assert "other weight" in text(weighed, "weight-differs")


def test_a_weather_file_that_covers_a_part_is_not_called_none() -> None:
    one_way = replace(SOUND, after=replace(SIDE, course_share=0.9))
    assert "no weather file covers them" in text(one_way, "wind-unknown")
    named = replace(STUDY, weather=Path("weather.csv"))
    part = text(replace(one_way, study=named, weather_covered=0.43), "wind-unknown")
    assert "no weather file" not in part
    assert "the weather file has wind for 43 % of the driving" in part


def test_wind_that_is_used_is_not_called_unknown() -> None:
    windy = replace(SOUND, after=replace(SIDE, course_share=0.9), weather_covered=COVERED_LEAST)
    assert not text(windy, "wind-unknown")


@pytest.mark.parametrize("direction", [None, 250.0])
def test_a_calm_hour_has_no_wind_whatever_its_direction(direction: float | None) -> None:
    """Station records leave the direction of a calm blank, or give it as 0."""
    hours = [datetime(2031, 1, 1, h, tzinfo=UTC) for h in range(5)]
    weather = pl.DataFrame(
        {
            "time": hours,
            "wind_speed_mps": [8.0, 0.0, 0.0, 8.0, 8.0],
            "wind_from_deg": [90.0, direction, direction, 90.0, None],
        }
    )
    moments = [*hours[:4], hours[0] + timedelta(minutes=30)]
    seen = at_times(weather, np.array([at.timestamp() for at in moments]))
    assert seen.from_east[[1, 2]] == pytest.approx(0.0, abs=1e-12)
    assert seen.from_north[[1, 2]] == pytest.approx(0.0, abs=1e-12)
    # half an hour from wind to calm: half the wind
    assert seen.from_east[0] > 2
    assert seen.from_east[4] == pytest.approx(seen.from_east[0] / 2)
    assert seen.covered == 1.0


def test_wind_without_a_direction_is_not_known() -> None:
    hours = [datetime(2031, 1, 1, h, tzinfo=UTC) for h in (0, 6)]
    weather = pl.DataFrame(
        {"time": hours, "wind_speed_mps": [8.0, 8.0], "wind_from_deg": [90.0, None]}
    )
    assert at_times(weather, np.array([at.timestamp() for at in hours])).covered == 0.5


def test_what_physics_leaves_open_is_told_whatever_the_verdict() -> None:
    warned = rules.seasons(2.5, -4.0)
    assert warned is not None
    assert "settle" not in warned.text
    assert "2.5 points either way" in warned.text


@pytest.mark.parametrize(
    ("days", "said"), [(1, "There is 1 day to compare"), (3, "There are 3 days")]
)
def test_days_are_counted_in_words_that_fit(days: int, said: str) -> None:
    few = replace(SIDE, amount=replace(SIDE.amount, days=days))
    assert said in text(replace(SOUND, before=few), "too-few-days")


def test_days_towed_are_told_of_how_many() -> None:
    towed = replace(SOUND, after=replace(SIDE, towing_days=4))
    assert "on 0 of 10 days before and on 4 of 10 after" in text(towed, "towing-differs")
