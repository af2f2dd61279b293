"""The fleet's answer and page."""

from __future__ import annotations

import re
from dataclasses import replace

import fixture_results
import pytest
from typed_results import typed_fleet

from gearing.messages import Items, Message, Quantity, Renderer, Text, UserText, message
from gearing.messages.plain import to_plain
from gearing.messages.told import Told
from gearing.report.fleet_page import render_fleet
from gearing.run.fleet import warnings_of_vehicle


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
            message("verdict/open"),
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
def test_the_fleets_answer_says_what_to_do_next(verdict: str, reason: Text, ending: str) -> None:
    results = fixture_results.fleet()
    results["fuel"] |= {"verdict": verdict, "verdict_why": str(reason)}
    if isinstance(reason, Message):
        results["messages"] = {"/fuel/verdict_why": to_plain(reason)}
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
    page = render_fleet(typed_fleet(results))
    assert f"{count} are too few to tell" in page


def test_names_of_one_depot_stay_apart_beside_the_chart() -> None:
    results = fixture_results.fleet()
    for number, row in enumerate(results["vehicles"]):
        row["name"] = f"Northern depot, library bus number {number + 10}"
    specs = render_fleet(typed_fleet(results)).split('id="specs"')[1].split("</script>")[0]
    labels = specs.split("labelExpr")[1].split("labelLimit")[0]
    for number in range(len(results["vehicles"])):
        assert f"umber {number + 10}" in labels
    for own in ("New tires, pooled", "Unchanged, pooled", "Difference"):
        assert own in labels


def test_each_vehicle_stands_above_the_pooled_figures() -> None:
    page = render_fleet(typed_fleet(fixture_results.fleet()))
    assert page.index("Every vehicle") < page.index("The fleet together")
    assert "Interval chart: New tires, pooled" in page


def test_vehicles_that_seem_alike_may_not_be() -> None:
    results = fixture_results.fleet()
    results["fuel"] |= {"between_percent": 0.0, "heterogeneity_percent": 0.0}
    assert "That does not make them alike" in render_fleet(typed_fleet(results))


def test_a_vehicle_that_is_control_has_no_verdict_on_them() -> None:
    results = fixture_results.fleet()
    kept = [row for row in results["vehicles"] if row["role"] == "control"]
    assert kept
    for row in kept:
        row["verdict"] = "smaller than claimed"
    for row in results["vehicles"]:
        if row["role"] != "control":
            row["verdict"] = "supported"
    assert "smaller than claimed" not in render_fleet(typed_fleet(results))


@pytest.mark.parametrize("damage", [{}, {"vehicles": []}, {"fuel": {"answer": None}}])
def test_a_fleet_with_gaps_still_makes_a_page(damage: dict[str, object]) -> None:
    page = render_fleet(typed_fleet({"fleet": "small", **damage}))
    assert "Not answered" in page


def test_every_vehicle_is_named_as_text_and_linked_to_its_report() -> None:
    page = render_fleet(typed_fleet(fixture_results.fleet()))
    assert fixture_results.HOSTILE not in page
    assert fixture_results.CLOSER not in page
    assert len(re.findall(r'href="\./bus-\d+/report\.html"', page)) == 11
    assert "bus 11" in page


@pytest.mark.parametrize(("high", "none"), [(-0.5, False), (0.0, True), (0.9, True)])
def test_a_fleet_calls_nothing_a_gain_that_may_be_none(high: float, *, none: bool) -> None:
    results = fixture_results.fleet()
    results["fuel"]["verdict"] = "smaller than claimed"
    results["fuel"]["answer"] = fixture_results.estimate(-1.5, -3.5, high)
    for row in results["vehicles"]:
        row["verdict"] = "smaller than claimed"
        row["change_percent"] = fixture_results.estimate(-1.5, -3.5, high)
    assert fixture_results.fleet_answer(results, "metric").startswith("No saving shown") is none
    page = render_fleet(typed_fleet(results))
    assert ("no saving shown" in page) is none
    assert ("smaller than claimed" in page) is not none


def test_a_shared_fleet_page_hides_what_vehicles_warnings_name() -> None:
    """A vehicle's warning keeps its message, so that the fleet's page knows a file from a word."""
    holes = message(
        "profile-missing", stretches=Items((message("profile-missing/more", places=1),))
    )
    told = Told(
        message(
            "profile-hole",
            route=UserText("Ollerby Pass"),
            file=UserText("mabels survey", "file"),
            holes=holes,
            spacing=Quantity(1.0, "km", 1),
        )
    )
    vehicle = {"warnings": [{"code": "logs-not-used", "text": told, "trips": []}]}
    rows = warnings_of_vehicle("bus 11", "changed", vehicle)
    assert [row.code for row in rows] == ["logs-not-used"]
    assert str(rows[0].told) == f"bus 11: {told}"
    results = replace(typed_fleet(fixture_results.fleet()), warnings=rows)
    own, handed_on = (render_fleet(results, share=share, units="us") for share in (False, True))
    assert "mabels survey" in own
    assert "mabels survey" not in handed_on
    for page in (own, handed_on):
        assert "at most 0.6" in page  # 1 km is 0.62 mi
        assert "bus" in page


def test_a_control_is_spoken_of_as_one() -> None:
    """What its run says of its two periods is no word of old and new tires, whoever reads it."""
    few = message("too-few-old-days", days=5, target=Quantity(2.0, "%"))
    told = {
        role: Renderer().text(message(code, vehicle=UserText("bus 9"), why=few))
        for role, code in (("changed", "left-out"), ("control", "left-out/control"))
    }
    assert "on the old tires" in told["changed"]
    assert "in the earlier period" in told["control"]
    assert "tires" not in told["control"]
