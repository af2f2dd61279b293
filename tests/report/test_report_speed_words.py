"""The first answer where something stands against it, and the gearing where nothing is measured."""

from __future__ import annotations

from typing import Any

import fixture_results
import pytest
from fixture_results import estimate, side, unknown
from typed_results import typed

from gearing.messages import Message
from gearing.messages.display import Display
from gearing.messages.plain import to_plain
from gearing.report.evidence.speed import speed_section
from gearing.report.evidence.speed_tables import needle_table
from gearing.report.page import render
from gearing.report.phrases import count_phrase
from gearing.report.views.sheet import sheet
from gearing.statistics.estimate import Estimate

Results = dict[str, Any]


def full() -> Results:
    return fixture_results.full()


def told_by(results: Results, basis: str) -> None:
    """Have the turns of the new tires rest on their size or on a published figure."""
    results["speed"]["revolutions_per_km"]["after"]["basis"] = basis
    told = {"/speed/revolutions_per_km/after/basis": to_plain(Message(f"turns-basis/{basis}"))}
    results["messages"] = results.get("messages", {}) | told


def test_the_present_setting_answers_and_the_earlier_is_told() -> None:
    results = full()
    now = estimate(1.0004, 0.9994, 1.0014, 3)
    results["speed"]["odometer_factor"]["after"] = now
    results["speed"]["regimes"] = side(
        [],
        [
            {
                "since": "new-15",
                "at": "2026-03-01T07:12:00+00:00",
                "trips": 8,
                "odometer_factor": estimate(1.0461, 1.045, 1.0472, 8),
            },
            {
                "since": "new-23",
                "at": "2026-04-02T07:12:00+00:00",
                "trips": 6,
                "odometer_factor": now,
            },
        ],
    )
    speed = fixture_results.sentences(results, "us")[0]
    assert "as fast and as far as its computer counts" in speed
    assert "True = 1.0004 x indicated" in speed
    assert (
        "That holds since trip new-23 of 2026-04-02, where the factor changed; until then it was "
        "1.0461 (95 % interval 1.0450 to 1.0472; 8 days of driving)." in speed
    )
    assert "Nothing to reprogram." in speed
    first, *_ = speed_section(typed(results), Display("us")).tables
    assert [row[:2] for row in first.rows[1:]] == [
        ("new tires, until 2026-04-02", "1.0461 (1.0450 to 1.0472)"),
        ("new tires", "1.0004 (0.9994 to 1.0014)"),
    ]


def test_one_level_is_no_matter() -> None:
    results = full()
    results["speed"]["regimes"] = side([], [{"since": "new-15", "at": "2026-03-01"}])
    assert "That holds since" not in fixture_results.sentences(results)[0]


def no_speed_after() -> Results:
    """Logs on the new tires without an indicated speed; the old tires read true."""
    results = full()
    results["speed"]["odometer_factor"] = side(
        estimate(1.0, 0.9995, 1.0004, 9), unknown("no indicated speed is logged")
    )
    results["speed"]["programmed_revolutions_per_km"]["now"] = unknown("not known")
    return results


def test_the_old_tires_never_answer_for_the_new() -> None:
    speed, _, _ = fixture_results.answers(no_speed_after(), "us")
    assert not speed.settled
    assert speed.short == "Cannot tell yet"
    told = speed.sentence()
    assert "Nothing to reprogram" not in told
    assert "the vehicle goes" not in told
    assert told.startswith("Cannot tell yet on the new tires: no indicated speed is logged.")
    assert "Before the change the odometer factor was 1.0000" in told
    # 373.2 turns a km are 600.6 a mile
    assert "The new tires turn 601 revolutions per mile" in told
    assert "whether it must be reprogrammed stays open" in told


def test_where_only_the_old_tires_are_declared_they_are_the_present_ones() -> None:
    speed = fixture_results.sentences(fixture_results.one_period(), "metric")[0]
    assert speed.startswith("On these tires the vehicle goes")


def test_swapped_periods_come_first_and_withhold_the_advice() -> None:
    results = full()
    results["warnings"] = [{"code": "periods-swapped", "text": "They look swapped.", "trips": []}]
    speed, _, _ = fixture_results.answers(results, "us")
    assert speed.headline.startswith("The logs of before and after look swapped (see the warnings)")
    assert speed.short == "Periods swapped?"
    assert "programmed to" not in speed.sentence()
    assert "see which logs are from before and which from after" in speed.next_step
    page = render(typed(results), {})
    assert "Periods swapped?" in page
    assert "True, mph" in render(typed(full()), {})
    assert "True, mph" not in page


@pytest.mark.parametrize("line", ['"V" = { channel = "indicated_speed", unit = "km/h" }', None])
def test_a_doubtful_unit_withholds_the_advice_and_says_what_to_write(line: str | None) -> None:
    results = no_speed_after()
    results["speed"]["odometer_factor"]["after"] = unknown("the values look like km/h")
    results["speed"]["unit_doubts"] = {"before": None, "after": {"factor": 0.635, "line": line}}
    told = fixture_results.sentences(results, "metric")[0]
    assert "programmed to" not in told
    assert "stays open" not in told
    if line is None:
        assert "`gearing inspect`" in told
    else:
        assert f"write under [columns]: {line}, and run again." in told


@pytest.mark.parametrize(
    ("basis", "by"),
    [
        ("size", "By the size of the tires alone"),
        ("published", "By the published figure of the tires"),
    ],
)
def test_a_setting_by_size_is_told_with_its_doubt_and_the_surer_way(basis: str, by: str) -> None:
    results = full()
    told_by(results, basis)
    results["speed"]["programmed_revolutions_per_km"]["should_be"] = estimate(373.2, 365.7, 380.7)
    told = fixture_results.sentences(results, "us")[0]
    # 365.7 to 380.7 a km are 588.5 to 612.7 a mile
    assert (
        "Next: have the computer that counts speed reprogrammed: what it holds as revolutions, "
        f"divided by 1.0461. {by} that is about 601 revolutions per mile (now 628), somewhere "
        "from 589 to 613." in told
    )


def test_a_measured_setting_is_told_as_it_is() -> None:
    told = fixture_results.sentences(full(), "us")[0]
    assert "programmed to 601 revolutions per mile (now 628)." in told


@pytest.mark.parametrize("declared_before", [True, False])
def test_the_declared_axle_ratio_is_not_that_on_the_new_tires(declared_before: bool) -> None:
    results = full()
    results["final_drive"]["effective"]["after"] = unknown("no engine speed is logged")
    results["final_drive"]["change_percent"] = unknown("no engine speed is logged")
    results["final_drive"]["restoring_axle_ratio"] = unknown("no engine speed is logged")
    results["routes"] = []
    if not declared_before:
        results["declared"]["before"] = None
    _, _, mountain = fixture_results.answers(results, "us")
    assert "4.88" not in mountain.sentence()
    assert "4.88" not in mountain.short
    assert mountain.headline == "Cannot tell yet: no engine speed is logged."
    assert not mountain.settled
    # the first screen says no more
    sheet = render(typed(results), {}).split('id="part-mountain"')[1].split("</article>")[0]
    assert "4.88" not in sheet


def test_before_any_change_the_declared_axle_ratio_is_the_present_one() -> None:
    assert (
        "On the present tires the effective axle ratio is 4.88"
        in (fixture_results.sentences(fixture_results.one_period(), "us")[2])
    )


@pytest.mark.parametrize(
    ("method", "n", "words"),
    [
        ("distance-weighted-days", 9, "9 days of driving"),
        ("both-quantizations-days", 1, "1 day of driving"),
        ("random-effects-trips", 4, "4 trips"),
        ("few-trips", 2, "2 trips"),
        ("few-trips", 1, "1 trip"),
        ("welch-trips", 2, "2 trips"),
        ("welch-days", 8, "8 days of driving"),
        ("measured-stretches", 3, "3 measured stretches"),
        ("declared-over-indicated", 1, "1 measured stretch"),
        ("needle-readings", 4, "4 readings"),
        ("full-tanks", 7, "7 tanks"),
        ("same road work, speed, weather and load, days compared", 17, "17 days of driving"),
        (None, None, ""),
    ],
)
def test_what_a_figure_rests_on_is_named_by_its_method(
    method: str | None, n: int | None, words: str
) -> None:
    assert count_phrase(Estimate(1.0, 0.9, 1.1, n, method)) == words


def test_swapped_periods_leave_no_answer_that_hangs_on_their_order_settled() -> None:
    results = fixture_results.full()
    results["warnings"] = [{"code": "periods-swapped", "text": "They look swapped.", "trips": []}]
    _, fuel, mountain = fixture_results.answers(results, "metric")
    for answer in (fuel, mountain):
        assert not answer.settled
        assert answer.short == "Periods swapped?"
        assert answer.headline.startswith("If no logs are swapped: the ")
        assert answer.next_step.endswith("this change is told the wrong way round.")


def test_a_computer_that_holds_the_right_figure_is_left_alone() -> None:
    """The interval is wide, and yet to be set to what is there already is no advice."""
    results = fixture_results.full()
    results["speed"]["odometer_factor"]["after"] = fixture_results.estimate(0.9998, 0.998, 1.0016)
    results["speed"]["programmed_revolutions_per_km"] = {"now": 378.31, "should_be": 378.24}
    speed, _, _ = fixture_results.answers(results, "metric")
    assert speed.next_step.startswith("Nothing to reprogram: 378 revolutions per km is right.")


def test_a_factor_that_may_be_one_asks_for_no_reprogramming() -> None:
    """Two days a side leave it open; a division by 1.0004 is nothing to send anyone for."""
    results = fixture_results.full()
    results["speed"]["odometer_factor"]["after"] = fixture_results.estimate(1.0004, 0.9961, 1.0047)
    speed, _, _ = fixture_results.answers(results, "metric")
    assert speed.next_step.startswith("Nothing to reprogram, as far as these logs tell.")
    assert "(now" not in speed.next_step


def test_a_speedometer_nothing_is_known_of_gets_no_table_of_blanks() -> None:
    nothing = {"true_kmh": None, "engine_rpm": None, "gear": None}
    known = {"true_kmh": 101.9, "engine_rpm": 2007.0, "gear": 6}
    row = {"shown_kmh": 100.0, "basis": "bus speed taken as shown", "after": known}
    results = full()
    results["speed"]["speedometer"] = [row | {"before": nothing}]
    shown = needle_table(typed(results), Display("metric"))
    assert shown.rows == (("100", "101.9", "2,007", "6"),)
    assert not any("old tires" in head for head in shown.head)
    results["speed"]["speedometer"] = [row | {"before": nothing, "after": nothing}]
    assert needle_table(typed(results), Display("metric")).rows == ()
    for rule in results["speed"]["rules"]:
        rule |= {"figure": None, "figure_low": None, "figure_high": None, "meets": None}
    captions = [t.caption for t in speed_section(typed(results), Display("metric")).tables]
    assert not any(caption.startswith("The rules") for caption in captions)


@pytest.mark.parametrize(
    ("count", "words"),
    [
        (0, ""),
        (1, "1 trip looks filed wrongly: left out."),
        (8, "8 trips look filed wrongly: left out."),
    ],
)
def test_trips_kept_out_as_misfiled_are_told_before_the_answers(count: int, words: str) -> None:
    results = full()
    trips = [f"trip{number}" for number in range(count)]
    one = {"code": "misfiled", "text": "These are filed wrong.", "trips": trips}
    results["warnings"] = [one] if count else []
    told = [look.text for look in sheet(typed(results), {}, Display("us")).look]
    assert ([words] if count else []) == [text for text in told if "filed wrongly" in text]


def test_tires_only_planned_are_set_once_they_are_fitted() -> None:
    """What the computer works with is known from the old tires."""
    results = full()
    results["speed"]["odometer_factor"]["after"] = unknown("no log shows driving on them yet")
    told_by(results, "published")
    told = fixture_results.sentences(results, "us")[0]
    assert "Cannot tell yet on the new tires: no log shows driving on them yet." in told
    assert "Before the change the odometer factor was 1.0006" in told
    assert "and the computer works with 628 now: have it set once they are fitted." in told
    del results["speed"]["programmed_revolutions_per_km"]["now"]
    assert "stays open" in fixture_results.sentences(results, "us")[0]


def test_routes_before_any_change_ask_for_the_tires_planned() -> None:
    results = full()
    assert "[after]" not in fixture_results.sentences(results, "us")[2]
    results["declared"]["after"] = None
    assert (
        "Next: name the tires planned under [after]" in fixture_results.sentences(results, "us")[2]
    )
