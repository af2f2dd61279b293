"""The terminal's lines: what to do first, wrapped, coloured only where asked, by weight."""

from __future__ import annotations

import re

import fixture_results
import pytest
from typed_results import typed, typed_fleet

from gearing.report.lines import Line, printed
from gearing.report.terminal import fleet_lines, study_lines


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("case", fixture_results.CASES)
@pytest.mark.parametrize("width", [40, 80, 132])
def test_no_line_is_wider_than_the_terminal(case: str, units: str, width: int) -> None:
    told = printed(study_lines(typed(fixture_results.CASES[case]()), units), width=width)
    longest = max(len(word) for word in told.split())
    for line in told.splitlines():
        assert len(line) <= max(width, 13 + longest), line


def test_each_question_begins_with_what_to_do() -> None:
    lines = study_lines(typed(fixture_results.full()), "us")
    firsts = {line.label: line.text for line in lines if line.label}
    # 390.4 and 373.2 turns a km are 628.3 and 600.6 a mile
    assert firsts["Speedometer"] == "Program 601 (599 to 602) revolutions per mile, now 628"
    assert firsts["Fuel"] == "No more driving is needed to judge the claim"
    assert firsts["Mountain"].startswith("Watch on Cold Spring Pass: a climb's lowest speed falls")
    assert [line.kind for line in lines if line.label in ("Speedometer", "Fuel", "Mountain")] == [
        "action"
    ] * 3


def test_readings_of_the_needle_answer_before_the_computer() -> None:
    results = fixture_results.full()
    ratio = fixture_results.estimate(0.98, 0.97, 0.99, 4, "needle-readings")
    results["speed"]["speedometer_ratio"] = fixture_results.side(None, ratio)
    told = printed(study_lines(typed(results), "us"))
    # 60 shown at 0.98 shown for true is 60 / 0.98 = 61.2, from 60.6 to 61.9
    assert (
        "At 60 mph on the needle you do 61.2 (60.6 to 61.9) mph. 4 needle readings, 14 days."
        in told
    )
    results["speed"]["speedometer_ratio"] = fixture_results.side(
        ratio, None
    )  # of the old tires alone
    assert "by the computer you do" in printed(study_lines(typed(results), "us"))


def test_a_terminal_gets_colour_and_a_file_gets_none() -> None:
    lines = study_lines(typed(fixture_results.full()), "us")
    plain, coloured = printed(lines), printed(lines, colour=True)
    assert "\x1b" not in plain
    assert re.sub(r"\x1b\[\d+m", "", coloured) == plain
    assert coloured.count("\x1b[0m") == len(re.findall(r"\x1b\[(?!0m)\d+m", coloured))


def test_what_turns_an_answer_round_is_told_before_the_rest() -> None:
    results = fixture_results.full()
    results["questions"] = []
    codes = ("seasons", "logs-not-used", "misfiled", "declared-contradicts-logs", "new-tires")
    results["warnings"] = [{"code": code, "text": f"{code} told.", "trips": []} for code in codes]
    lines = [line.text for line in study_lines(typed(results), "us")]
    told = [text for text in lines if text.endswith(" told.")]
    assert told == ["declared-contradicts-logs told.", "misfiled told.", "logs-not-used told."]
    assert lines[-1] == "2 more warnings in the report."


def test_a_fleet_names_what_is_to_mend() -> None:
    results = fixture_results.fleet()
    results["vehicles"][2]["warning_codes"] = ["misfiled", "seasons"]
    told = [line.text for line in fleet_lines(typed_fleet(results), "us")]
    assert "bus 3: a trip is filed under the wrong tires" in told


def test_lines_without_labels_begin_at_the_margin() -> None:
    assert printed([Line("one two three")], width=40) == "one two three"
