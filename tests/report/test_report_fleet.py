"""The fleet's answer and page."""

from __future__ import annotations

import re

import fixture_results
import pytest

from gearing.report.fleet_page import render_fleet


def test_the_answer_is_in_the_readers_sense() -> None:
    us = fixture_results.fleet_answer(fixture_results.fleet(), "us")
    metric = fixture_results.fleet_answer(fixture_results.fleet(), "metric")
    # 100 / 97.0 - 1 = 3.1 %
    assert "fuel economy is 3.1 % higher" in us
    assert "11 vehicles" in us
    assert "fuel consumption is 3.0 % lower" in metric
    assert "beyond what the unchanged vehicles show" in metric


def test_without_controls_the_pooled_figure_answers() -> None:
    results = fixture_results.fleet()
    results["fuel"]["difference"] = fixture_results.unknown("there are no controls")
    results["fuel"]["answer"] = results["fuel"]["pooled"]
    results["fuel"]["verdict"] = "cannot tell yet"
    results["fuel"]["verdict_why"] = "the seasons before and after differ"
    answer = fixture_results.fleet_answer(results, "metric")
    assert answer.startswith("Cannot tell yet")
    assert "over the vehicles with new tires" in answer
    assert answer.endswith("The seasons before and after differ.")


@pytest.mark.parametrize(
    ("verdict", "reason", "ending"),
    [
        ("less fuel", "the whole interval is below -1 %", "No more driving is needed to say so."),
        (
            "cannot tell yet",
            "the interval holds both a saving and none worth the name",
            "none worth the name. Next: more days, or more vehicles, unchanged ones too, narrow "
            "the interval.",
        ),
        (
            "some saving, size unsettled",
            "the whole interval is below -1 %",
            "Next: more days, or more vehicles, unchanged ones too, narrow the interval.",
        ),
    ],
)
def test_the_fleets_answer_says_what_to_do_next(verdict: str, reason: str, ending: str) -> None:
    results = fixture_results.fleet()
    results["fuel"] |= {"verdict": verdict, "verdict_why": reason}
    answer = fixture_results.fleet_answer(results, "us")
    assert answer.endswith(ending)
    # of consumption, where the reader has economy
    assert "-1 %" not in answer


@pytest.mark.parametrize(("count", "few"), [(2, True), (3, False)])
def test_two_vehicles_are_not_spoken_of_as_a_fleet(count: int, few: bool) -> None:
    results = fixture_results.fleet()
    results["fuel"]["pooled"]["n"] = count
    answer = fixture_results.fleet_answer(results, "us")
    assert ("as far as two vehicles can tell" in answer) is few
    assert ("more vehicles make it surer" in answer) is few
    assert ("No more driving is needed" in answer) is not few
    results["fuel"] |= {"between_percent": 0.0, "heterogeneity_percent": 0.0}
    page = render_fleet(results)
    assert f"{count} are too few to tell" in page


def test_names_of_one_depot_stay_apart_beside_the_chart() -> None:
    results = fixture_results.fleet()
    for number, row in enumerate(results["vehicles"]):
        row["name"] = f"Northern depot, library bus number {number + 10}"
    specs = render_fleet(results).split('id="specs"')[1].split("</script>")[0]
    labels = specs.split("labelExpr")[1].split("labelLimit")[0]
    for number in range(len(results["vehicles"])):
        assert f"umber {number + 10}" in labels
    for own in ("New tires, pooled", "Unchanged, pooled", "Difference"):
        assert own in labels


def test_each_vehicle_stands_above_the_pooled_figures() -> None:
    page = render_fleet(fixture_results.fleet())
    assert page.index("Every vehicle") < page.index("The fleet together")
    assert "Interval chart: New tires, pooled" in page


def test_vehicles_that_seem_alike_may_not_be() -> None:
    results = fixture_results.fleet()
    results["fuel"] |= {"between_percent": 0.0, "heterogeneity_percent": 0.0}
    assert "That does not make them alike" in render_fleet(results)


def test_a_vehicle_that_is_control_has_no_verdict_on_them() -> None:
    results = fixture_results.fleet()
    kept = [row for row in results["vehicles"] if row["role"] == "control"]
    assert kept
    for row in kept:
        row["verdict"] = "smaller than claimed"
    for row in results["vehicles"]:
        if row["role"] != "control":
            row["verdict"] = "supported"
    assert "smaller than claimed" not in render_fleet(results)


@pytest.mark.parametrize("damage", [{}, {"vehicles": None}, {"fuel": {"answer": None}}])
def test_a_fleet_with_gaps_still_makes_a_page(damage: dict[str, object]) -> None:
    page = render_fleet({"fleet": "small", **damage})
    assert "Not answered" in page


def test_every_vehicle_is_named_as_text_and_linked_to_its_report() -> None:
    page = render_fleet(fixture_results.fleet())
    assert fixture_results.HOSTILE not in page
    assert fixture_results.CLOSER not in page
    assert len(re.findall(r'href="\./bus-\d+/report\.html"', page)) == 11
    assert "bus 11" in page
