"""The fuel answer in words where an interval holds no change, and where tread changed too."""

from __future__ import annotations

import fixture_results
import pytest
from test_fuel_next import case, next_step


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (-3.5, 0.5, "No saving shown"),
        (-3.5, 0.0, "No saving shown"),
        (0.2, 1.4, "No saving shown"),
        (-3.5, -0.5, "The gain is smaller than claimed"),
    ],
)
def test_an_interval_around_zero_shows_no_saving(low: float, high: float, words: str) -> None:
    """It read like a gain, beside a higher figure."""
    found = fixture_results.answers(case("smaller than claimed", low, high, 0.0), "metric")[1]
    assert found.headline.startswith(words)
    assert ("smaller than claimed" in found.headline) == (high < 0)
    # on the first screen too: whether the claim holds is asked there
    assert "claim" in found.short


def test_the_size_by_itself_stands_beside_the_package() -> None:
    estimate = fixture_results.estimate
    found = case(
        "smaller than claimed", -3.5, 0.5, 0.0,
        size_change_percent=estimate(-5.0, -9.1, -0.9), tread_percent=estimate(3.6, 1.0, 6.3),
    )  # fmt: skip
    told = fixture_results.answers(found, "metric")[1].certainty
    assert "That is for the whole package" in told
    assert "9.1" in told
    alone = case("supported", -6.0, -3.0, 0.0, tread_percent=estimate(0.1, -0.1, 0.3))
    assert "package" not in fixture_results.answers(alone, "metric")[1].certainty


def test_without_a_temperature_the_next_step_is_to_give_one() -> None:
    found = case("cannot tell yet", -7.0, 6.0, None)
    found["warnings"] = [{"code": "temperature-unknown", "text": "x.", "trips": []}]
    assert "weather file" in next_step(found)
    assert "temperature" in next_step(found)
