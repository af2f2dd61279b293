"""What is said to do next about the fuel: it must follow from the verdict."""

from __future__ import annotations

from typing import Any

import fixture_results
import pytest

estimate = fixture_results.estimate


def case(
    verdict: str | None, low: float, high: float, more: float | None, **fuel: Any
) -> dict[str, Any]:
    results = fixture_results.full()
    results["fuel"]["change_percent"]["adjusted"] = estimate((low + high) / 2, low, high)
    results["fuel"] |= {"verdict": verdict, "more_driving_km": more} | fuel
    return results


def next_step(results: dict[str, Any]) -> str:
    return fixture_results.answers(results, "metric")[1].next_step


def days(results: dict[str, Any], before: int, after: int) -> dict[str, Any]:
    for side, count in (("before", before), ("after", after)):
        results["fuel"]["sides"][side]["days"] = count
    return results


TOO_SHORT = "7 days on the old tires are too few for a change of 2 % to show"


@pytest.mark.parametrize("more", [0.0, 80.0, None])
@pytest.mark.parametrize(
    ("verdict", "low", "high", "words"),
    [
        ("supported", -6.0, -2.5, "No more driving is needed to judge the claim."),
        ("smaller than claimed", -3.5, -0.5, "No more driving is needed to judge the claim."),
        ("no change", -0.9, 0.8, "No more driving is needed to say so."),
        ("worse", 1.0, 3.0, "No more driving is needed to say so."),
        ("less fuel", -5.0, -2.0, "No more driving is needed to say so."),
    ],
)
def test_a_settled_verdict_asks_for_no_more_driving(
    verdict: str, low: float, high: float, words: str, more: float | None
) -> None:
    found = case(verdict, low, high, more, more_driving_km_why=None if more else TOO_SHORT)
    assert next_step(found) == words


def test_a_claim_refuted_leaves_open_whether_anything_is_saved() -> None:
    told = next_step(case("smaller than claimed", -3.5, 0.5, 80.0))
    assert "to judge the claim; whether the tires save anything is still open" in told


@pytest.mark.parametrize("verdict", ["some saving, size unsettled", "cannot tell yet"])
@pytest.mark.parametrize("more", [0.0, 80.0, None])
def test_an_unsettled_verdict_says_what_would_settle_it(verdict: str, more: float | None) -> None:
    told = next_step(case(verdict, -4.2, -1.6, more, more_driving_km_why=TOO_SHORT))
    assert told
    assert "No more driving is needed" not in told
    if more is None:
        assert told == f"More driving on the new tires alone will not settle it: {TOO_SHORT}."
    elif more:
        assert told.startswith("Next: about 80 more true km on the new tires")
    else:
        assert told.startswith("Next: more days on the new tires")


@pytest.mark.parametrize("more", [0.0, 80.0, None])
def test_what_the_study_declares_wrong_is_corrected_not_driven_away(more: float | None) -> None:
    keys = ["vehicle.mass", "vehicle.fuel"]
    found = case("cannot tell yet", -4.2, -1.6, more, verdict_basis="adjusted")
    found["warnings"] = [{"code": "declared-contradicts-logs", "text": "", "keys": keys}]
    told = next_step(found)
    assert told.startswith("Next: correct vehicle.mass and vehicle.fuel in the study")
    assert "days" not in told
    # fill-ups know no weight
    found["fuel"]["verdict_basis"] = "fillups"
    assert "vehicle.mass" not in next_step(found)


def test_what_physics_leaves_open_is_not_to_be_driven_away() -> None:
    # 1.2 of 1.3 points either way are what is not known of air and tires
    found = case("some saving, size unsettled", -4.2, -1.6, 0.0, physics_half_width_percent=1.2)
    assert "temperatures and speeds of the other period" in next_step(found)
    assert "more days of this kind hardly narrow" in next_step(found)


@pytest.mark.parametrize(("before", "after"), [(1, 1), (3, 9), (9, 2)])
def test_too_few_days_are_cured_by_driving(before: int, after: int) -> None:
    found = case(
        "cannot tell yet", -9.0, 5.0, None,
        more_driving_km_why="fewer than two days a side can be compared",
    )  # fmt: skip
    told = next_step(days(found, before, after))
    assert told.startswith("Next: at least 4 days")
    assert f"so far {before} on the old tires and {after} on the new tires" in told
    assert "will not settle" not in told


def test_what_a_log_lacks_is_named_and_no_driving_spoken_of() -> None:
    found = case("cannot tell yet", -4.0, 1.0, None, more_driving_km_why="no temperature is known")
    found["fuel"]["change_percent"]["adjusted"] = fixture_results.unknown("no temperature is known")
    assert next_step(found) == "There is no adjusted figure: no temperature is known."


def test_a_verdict_without_an_adjusted_figure_says_what_is_missing() -> None:
    found = case("no change", -0.5, 0.5, None)
    found["fuel"]["change_percent"]["adjusted"] = fixture_results.unknown("no temperature is known")
    assert next_step(found) == (
        "No more driving is needed to say so. There is no adjusted figure: no temperature is known."
    )


def test_a_reason_is_told_once() -> None:
    found = case("cannot tell yet", 0.0, 0.0, None, verdict_why="A trailer was towed on one side.")
    for key in ("adjusted", "matched"):
        found["fuel"]["change_percent"][key] = fixture_results.unknown(
            "A trailer was towed on one side."
        )
    assert (
        fixture_results.answers(found, "metric")[1].sentence().lower().count("a trailer was towed")
        == 1
    )


@pytest.mark.parametrize("verdict", [None, "cannot tell yet"])
def test_fill_ups_alone_are_told_for_what_they_are(verdict: str | None) -> None:
    results = fixture_results.no_fuel()
    results["fuel"]["verdict"] = verdict
    results["fuel"]["change_percent"]["fillups"] = estimate(1.2, -1.3, 3.9, 12)
    fuel = fixture_results.answers(results, "metric")[1]
    assert fuel.short == "Cannot tell yet"
    assert not fuel.settled
    assert "no log carries fuel rate" in fuel.headline
    assert (
        "By the fill-up log, with the season taken out but not road and weather, fuel consumption "
        "is 1.2 % higher (95 % interval 1.3 % lower to 3.9 % higher; 12 tanks)." in fuel.sentence()
    )


def test_without_an_adjusted_figure_what_is_known_is_told_as_driven() -> None:
    results = case("cannot tell yet", 0.0, 0.0, None, verdict_why="no step of road is fit")
    for key in ("adjusted", "matched"):
        results["fuel"]["change_percent"][key] = fixture_results.unknown("no temperature is known")
    results["fuel"]["change_percent"]["fillups"] = estimate(-1.5, -5.6, 2.6, 7)
    told = fixture_results.answers(results, "metric")[1].sentence()
    assert "As driven, fuel consumption is 0.7 % lower per true distance" in told
    assert "By the fill-up log" in told


def test_two_empty_sides_are_not_told_as_one() -> None:
    results = days(case("cannot tell yet", 0.0, 0.0, None, verdict_why="no fuel is logged"), 0, 0)
    results["fuel"]["change_percent"]["adjusted"] = fixture_results.unknown("no fuel is logged")
    results["fuel"]["change_percent"]["matched"] = fixture_results.unknown("no fuel is logged")
    assert "no fuel is logged" in fixture_results.answers(results, "metric")[1].headline
    assert "on the new tires yet" not in fixture_results.answers(results, "metric")[1].headline


def test_what_would_settle_the_verdict_goes_before_what_would_show() -> None:
    found = case("some saving, size unsettled", -4.2, -1.6, 80.0, deciding_km=930.0)
    assert next_step(found) == (
        "Next: about 930 more true km on the new tires would settle it, were the change to stay as "
        "it is."
    )


def test_what_settles_the_verdict_goes_before_what_no_distance_shows() -> None:
    found = case(
        "cannot tell yet", -4.2, 0.6, None, deciding_km=930.0, more_driving_km_why=TOO_SHORT
    )
    assert "930 more true km on the new tires would settle it" in next_step(found)
