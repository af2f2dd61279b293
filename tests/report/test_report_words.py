"""The three answers in words: figures against published or hand-derived ones, and no blanks."""

from __future__ import annotations

import re
from typing import Any

import fixture_results
import pytest
from typed_results import typed

from gearing.analysis.mountain import MountainFinding
from gearing.messages.display import Display, digits, economy_percent, rough, signed
from gearing.report.phrases import change_interval_phrase, level_phrase
from gearing.report.terminal import route_lines, study_lines
from gearing.report.typography import unbroken
from gearing.report.views.sheet import sheet
from gearing.statistics.estimate import Estimate

BOTH = ("us", "metric")
US, METRIC = Display("us"), Display("metric")


@pytest.mark.parametrize("units", BOTH)
@pytest.mark.parametrize("case", fixture_results.CASES)
def test_every_case_gives_three_finished_sentences(case: str, units: str) -> None:
    sentences = fixture_results.sentences(fixture_results.CASES[case](), units)
    assert len(sentences) == 3
    for sentence in sentences:
        assert sentence.endswith(".")
        assert not re.search(r"\bNone\b|\bnan\b|\{\}|\.\.|  ", sentence), sentence


@pytest.mark.parametrize("units", BOTH)
@pytest.mark.parametrize("case", ["full", "cannot_tell", "one_period", "no_fuel"])
def test_sentences_survive_a_plain_terminal(case: str, units: str) -> None:
    sentences = fixture_results.sentences(fixture_results.CASES[case](), units)
    assert len(sentences) == 3
    assert [sentence for sentence in sentences if not sentence.isascii()] == []


def test_economy_and_consumption_are_each_others_inverse() -> None:
    # the constructed test-to-control example: 5.062 % fuel saved is 5.331 % improvement
    # (SAE J1321, 1986, defines both; figures worked by hand from its definitions)
    assert economy_percent(-5.062) == pytest.approx(5.331, abs=0.002)
    # 8.00 mpg at a factor of 1.04642 is 8.371 mpg
    assert 8.00 * (1 + economy_percent(100 * (1 / 1.04642 - 1)) / 100) == pytest.approx(
        8.371, abs=5e-4
    )


def test_us_readers_get_economy_and_metric_ones_consumption() -> None:
    results = fixture_results.full()
    _, us, _ = fixture_results.sentences(results, "us")
    _, metric, _ = fixture_results.sentences(results, "metric")
    # -2.8 % consumption is +2.9 % economy; the interval turns round with it
    assert "fuel economy is 2.9 % higher" in us
    assert "1.5 to 4.3 % higher" in us
    assert "fuel consumption is 2.8 % lower" in metric
    assert "1.5 to 4.1 % lower" in metric
    claim = "The claim: fuel economy 4.2 % higher, which is fuel consumption 4.0 % lower"
    assert claim in us
    # apart from the claim, which is told both ways, the two are never mixed
    assert "consumption" not in us.replace(claim, "")
    assert "economy" not in metric.split("The claim")[0]


def test_the_speed_answer_carries_the_worked_example() -> None:
    # 541 to 517 revolutions per mile: factor 1.04642, 1,000 odometer miles are 1,046.42
    results = fixture_results.full()
    results["speed"]["odometer_factor"]["after"] = fixture_results.estimate(1.04642, 1.045, 1.048)
    results["speed"]["programmed_revolutions_per_km"] = {
        "now": 541 / 1.609344,
        "should_be": 517 / 1.609344,
    }
    speed, _, _ = fixture_results.sentences(results, "us")
    assert "1,000 miles on the odometer are 1,046" in speed
    assert "517 revolutions per mile (now 541)" in speed
    assert "60 mph the true speed is 62.8 mph" in speed


def test_a_broken_rule_is_told_in_the_first_answer() -> None:
    results = fixture_results.full()
    results["speed"]["rules"][2]["meets"] = False
    for units, told in (
        ("us", "At 50 mph the needle reads 2.2 mph low: within 49 CFR 393.82 and outside UN"),
        ("metric", "At 80 km/h the needle reads 3.5 km/h low: outside UN Regulation 39 and within"),
    ):
        assert told in fixture_results.sentences(results, units)[0]
    # before the answers stands the rule of the reader's own roads alone
    assert not any("Regulation" in one.text for one in sheet(typed(results), {}, US).look)
    assert any("Regulation" in one.text for one in sheet(typed(results), {}, METRIC).look)


def test_cannot_tell_is_not_settled_and_says_how_far_to_drive() -> None:
    _, fuel, mountain = fixture_results.answers(fixture_results.cannot_tell(), "metric")
    assert not fuel.settled
    assert fuel.headline.startswith("Cannot tell yet")
    assert "about 1,800 more true km" in fuel.next_step
    assert not mountain.settled


def test_without_an_answer_the_change_as_driven_is_told_and_a_plan_where_there_is_one() -> None:
    results = fixture_results.full()
    results["fuel"] |= {"verdict": None, "verdict_why": "no temperature is known"}
    results["fuel"]["plan"] = {"text": "Drive 9 days a side."}
    _, fuel, _ = fixture_results.sentences(results, "us")
    # -0.7 % consumption is +0.7 % economy
    assert fuel.startswith(
        "Not answered: no temperature is known. As driven, fuel economy is 0.7 %"
    )
    assert fuel.endswith("Next: drive 9 days a side.")


def test_a_slower_reading_computer_is_told_the_other_way() -> None:
    results = fixture_results.full()
    results["speed"]["odometer_factor"]["after"] = fixture_results.estimate(0.971, 0.97, 0.972)
    assert (
        "2.9 % slower and less far than its computer counts"
        in fixture_results.sentences(results)[0]
    )


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (1.0, 2.0, "1.0 to 2.0 % higher"),
        (-2.0, -1.0, "1.0 to 2.0 % lower"),
        (-1.0, 2.0, "1.0 % lower to 2.0 % higher"),
    ],
)
def test_the_interval_of_a_change_has_no_sign_to_misread(
    low: float, high: float, words: str
) -> None:
    shown = change_interval_phrase(Estimate((low + high) / 2, low, high))
    assert shown == f"95 % interval {words}"


def test_numbers_as_text() -> None:
    assert digits(-0.04, 1) == "0.0"
    assert digits(12345.6, 0) == "12,346"
    assert signed(-1.25, 1) == "\N{MINUS SIGN}1.2"
    assert signed(0.02, 1) == "0.0"
    assert rough(1234) == "1,200"
    assert rough(96) == "96"
    assert level_phrase(-0.01) == "the same"
    assert Display("us").fuel(10.0) == pytest.approx(23.5215, abs=1e-4)  # NIST SP 811


def routes(results: dict[str, Any]) -> MountainFinding:
    return typed(results).mountain


def test_route_lines_tell_each_way() -> None:
    lines = route_lines(routes(fixture_results.full()), "us")
    assert lines[0].startswith(
        "Cold Spring Pass: gearing suits, with care; slowest point 38 (before 41) mph"
    )
    assert lines[1].startswith("Cold Spring Pass, the other way: gearing suits;")
    assert route_lines(routes({}), "us") == ["No route judged: the study names none."]


def test_the_brakes_are_told_of_new_tires_alone() -> None:
    results = fixture_results.full()
    for side, stops in (("before", 2.6), ("after", 3.1)):
        results["routes"][0][side]["brake_stops"] = stops
    told = route_lines(routes(results), "us")[0]
    assert "service brakes up to 3.1 (before 2.6) full stops" in told
    results["routes"][0]["before"] = None
    assert "service brakes up to 3.1 full stops" in route_lines(routes(results), "us")[0]


def test_of_many_routes_the_worst_are_told_first() -> None:
    results = fixture_results.full()
    fine = results["routes"][1]
    worst = {**fine, "name": "Quill Gap", "verdict": "does not suit", "care": ["it stalls"]}
    results["routes"] = [{**fine, "name": f"Road {n}", "care": ["a bend"]} for n in range(7)]
    results["routes"].append(worst)
    first = sheet(typed(results), {}, US)
    assert first.ways[0].sentence().startswith("Quill Gap: gearing does not suit")
    assert first.ways[0].care == ("It stalls.",)
    assert first.mountain.action == "Watch on Quill Gap: it stalls"
    assert first.routes[0].name == "Quill Gap"
    lines = [line.text for line in study_lines(typed(results), "us")]
    assert "2 more ways in the report." in lines  # six of eight are told
    assert sum("A bend." in line for line in lines) == 5


def test_what_the_change_alone_does_is_told_apart_from_the_road() -> None:
    results = fixture_results.full()
    for route in results["routes"]:
        for way in (route, route.get("reversed", {})):
            way |= {"change": "suits"}
    assert sheet(typed(results), {}, US).mountain.short.endswith(
        "; the new tires spoil no route, the roads ask for care"
    )
    results["routes"][0]["change"] = "suits with care"
    told = sheet(typed(results), {}, US).mountain.short
    assert told.endswith("; the new tires make Cold Spring Pass harder")


def test_needle_and_card_hold_until_the_computer_is_set() -> None:
    results = fixture_results.full()
    ratio = fixture_results.estimate(0.98, 0.97, 0.99, 4, "needle-readings")
    results["speed"]["speedometer_ratio"] = fixture_results.side(None, ratio)
    first = sheet(typed(results), {}, US)
    assert first.card is not None
    # 60 / 0.98 = 61.22 true, which a computer at 1 / 1.0461 counts as 58.5
    assert "60 on it will be about 58.5" in first.card.note
    assert first.card.note.startswith("Only until the computer is reprogrammed.")
    results["speed"]["programmed_revolutions_per_km"]["now"] = fixture_results.estimate(
        373.2, 372.5, 373.9
    )
    first = sheet(typed(results), {}, US)
    assert first.card is not None
    assert "reprogrammed" not in first.card.note


@pytest.mark.parametrize(
    ("value", "low", "high", "words"),
    [
        (-0.004, -0.04, 0.03, "0.04 % slower to 0.03 % faster"),
        (0.3, -1.2, 1.8, "1.2 % slower to 1.8 % faster"),
        (-0.04, -0.05, -0.03, "0.05 % slower to 0.03 % slower"),
    ],
)
def test_an_engine_that_turns_as_before_is_not_told_to_turn_nothing_slower(
    value: float, low: float, high: float, words: str
) -> None:
    results = fixture_results.full()
    results["final_drive"]["change_percent"] = fixture_results.estimate(value, low, high)
    _, _, mountain = fixture_results.answers(results, "us")
    assert mountain.headline.startswith("The engine turns as fast as before")
    assert f"(95 % interval {words}; " in mountain.headline
    assert mountain.short.startswith("Engine speed as before")
    assert "bring the old gearing back" not in mountain.next_step


def test_fill_ups_that_say_otherwise_are_heard_in_the_answer() -> None:
    results = fixture_results.full()
    results["fuel"]["change_percent"]["fillups"] = fixture_results.estimate(23.6, 18.9, 28.4, 7)
    _, fuel, _ = fixture_results.answers(results, "metric")
    assert "But the fill-ups say otherwise. By the fill-up log" in fuel.certainty
    assert "fuel consumption is 23.6 % higher (95 % interval 18.9 to 28.4 %" in fuel.certainty
    assert fuel.next_step.startswith("Next: see why they part")
    # as driven the logs say the same: it is road, speed and weather, not the count of fuel
    driven = results["fuel"]["change_percent"]["true_distance"]
    results["fuel"]["change_percent"]["true_distance"] = fixture_results.estimate(20.0, 16.0, 24.0)
    assert "say otherwise" not in fixture_results.answers(results, "metric")[1].sentence()
    results["fuel"]["change_percent"]["true_distance"] = driven
    results["fuel"]["change_percent"]["fillups"] = fixture_results.estimate(-1.0, -6.0, 5.0, 7)
    assert "say otherwise" not in fixture_results.answers(results, "metric")[1].sentence()


def test_old_tires_without_fuel_get_no_yet() -> None:
    """What the old tires used can be logged no more."""
    results = fixture_results.cannot_tell()
    for empty, words in (("before", "on the old tires."), ("after", "on the new tires yet.")):
        for side in ("before", "after"):
            results["fuel"]["sides"][side]["days"] = 0 if side == empty else 8
        assert fixture_results.answers(results, "us")[1].headline.endswith(words)


def test_a_reason_is_given_once() -> None:
    results = fixture_results.cannot_tell()
    why = "how far was truly driven is not known: log position"
    lost = fixture_results.unknown(why)
    results["fuel"] |= {"verdict_why": why, "more_driving_km": None, "more_driving_km_why": why}
    results["fuel"]["change_percent"] |= {"adjusted": lost, "matched": lost, "true_distance": lost}
    assert (
        fixture_results.answers(results, "us")[1].sentence().count("how far was truly driven") == 1
    )


def test_a_figure_and_its_unit_stay_on_one_line() -> None:
    assert (
        unbroken("from 9/32 in to 4/32 in.")
        == "from 9/32\N{NO-BREAK SPACE}in to 4/32\N{NO-BREAK SPACE}in."
    )
    assert unbroken("62 mph in 2026") == "62\N{NO-BREAK SPACE}mph in 2026"
