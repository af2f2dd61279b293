"""The fuel section's words and tables: which figure decides, what each count counts, and why."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import fixture_results
import pytest
from typed_results import typed

from gearing.analysis.fuel.ranges import ranges_of
from gearing.messages import Quantity, message
from gearing.messages.display import Display
from gearing.report.charts.estimates import estimates_chart, estimates_table
from gearing.report.evidence.fuel import fuel_section
from gearing.report.evidence.gears import input_table
from gearing.report.evidence.physics import TWO_FITS, physics_table
from gearing.report.evidence.speed_tables import settings_table
from gearing.report.reader import for_reader
from gearing.report.section import Section
from gearing.results import plain, with_messages
from gearing.study.model import Study

METRIC, US = Display("metric"), Display("us")


def without(*keys: str) -> dict[str, Any]:
    results = fixture_results.full()
    for key in keys:
        results["fuel"]["change_percent"][key] = fixture_results.unknown("no temperature is known")
    return results


def section(results: dict[str, Any], display: Display = METRIC) -> Section:
    return fuel_section(typed(results), {}, display)


@pytest.mark.parametrize(
    ("missing", "said"),
    [
        ((), "decides: it has corrected distance, road, speed, weather and load"),
        (("adjusted",), "decides: it has corrected distance and road, but not speed"),
        (("adjusted", "matched"), "None of them decides"),
    ],
)
def test_the_chart_names_the_figure_that_decides(missing: tuple[str, ...], said: str) -> None:
    chart = estimates_chart(typed(without(*missing)), METRIC)
    assert chart is not None
    assert said in chart.reading
    drawn = str(chart.panels[0])
    assert ("'decides': True" in drawn) == ("None" not in said)


def test_what_is_counted_has_its_unit() -> None:
    results = fixture_results.full()
    results["fuel"]["change_percent"]["fillups"] = fixture_results.estimate(-1.5, -5.6, 2.6, 7)
    shown = estimates_table(typed(results), METRIC)
    counts = {row[0]: row[2] for row in shown.rows}
    assert counts["Fill-ups"] == "7 tanks"
    assert counts["Like for like"] == "14 days"
    assert "Days" not in shown.head


@pytest.mark.parametrize(
    ("change", "words"),
    [(-1.6, "Fewer engine revolutions alone"), (1.6, "More engine revolutions alone")],
)
def test_smaller_tires_turn_the_engine_more(change: float, words: str) -> None:
    results = fixture_results.full()
    results["fuel"]["expected_percent"] = fixture_results.estimate(change, change - 0.5, change)
    told = [one for one in section(results).remarks if "engine revolutions" in one]
    assert len(told) == 1
    assert told[0].startswith(words)


def test_why_fuel_bought_and_counted_cannot_be_compared_is_told_in_its_table() -> None:
    results = fixture_results.full()
    results["fuel"]["engine_computer_scale"] = fixture_results.side(
        fixture_results.unknown("needs two whole tanks; there are 0"),
        fixture_results.unknown("needs two whole tanks; there is 1"),
    )
    compared = next(
        t for t in section(results).tables if t.caption == "What was compared, as driven"
    )
    assert [row[-1] for row in compared.rows] == ["not known", "not known"]
    assert "needs two whole tanks; there are 0 (old tires)" in compared.note
    assert "needs two whole tanks; there is 1 (new tires)" in compared.note
    results["fuel"]["engine_computer_scale"]["before"] = fixture_results.estimate(1.02, 1.01, 1.03)
    compared = next(
        t for t in section(results).tables if t.caption == "What was compared, as driven"
    )
    assert "old tires" not in compared.note


def physics(name: str, value: float, unit: str) -> dict[str, Any]:
    row = {"name": name, "value": value, "unit": unit, "points": 0.1, "estimated_share": 0.1}
    return {"fuel": {"physics": [row | {"source": "default"}]}}


@pytest.mark.parametrize(
    ("name", "value", "unit", "us", "metric"),
    [
        # 1 hp is 745.7 W, 1 mph 0.44704 m/s, 1 kelvin 1.8 degF, 1 gal 3.785 L (NIST SP 811)
        ("overhead", 22371.0, "W", "30 hp", "22.4 kW"),
        ("rolling_per_k", 0.009, "1/K", "0.005 per °F", "0.009 per °C"),
        ("rolling_speed", 0.01, "s/m", "0.00447 per mph", "0.00278 per km/h"),
        ("wind_square", -4.0, "m2/s2", "\N{MINUS SIGN}4.47 mph", "\N{MINUS SIGN}2 m/s"),
        ("drag_area", 6.0, "m2", "64.6 sq ft", "6 m²"),
        ("yaw", 0.012, "1/deg", "0.012 per degree", "0.012 per degree"),
        ("wind_from_east", 1.0, "m/s", "2.24 mph", "1 m/s"),
        ("bend", 0.05, "-", "0.05", "0.05"),
    ],
)
def test_physics_is_in_the_readers_units(
    name: str, value: float, unit: str, us: str, metric: str
) -> None:
    for display, wanted in ((US, us), (METRIC, metric)):
        assert physics_table(typed(physics(name, value, unit)), display).rows[0][2] == wanted


def test_fuel_for_work_is_in_the_readers_units() -> None:
    value, unit = US.plain(0.2, "L/kWh")
    assert value == pytest.approx(0.2 / 3.785412 * 0.745700, rel=1e-6)
    assert unit == "gal per hp-hour"
    assert METRIC.plain(0.2, "L/kWh") == (0.2, "L/kWh")


def test_no_engineers_unit_is_left_on_a_us_page() -> None:
    study = Study(name="x", slug="x", path=Path("x"))
    for one in ranges_of(study, wind_known=True, days=(9, 9)).each:
        shown = physics_table(typed(physics(one.name, one.value or 0.1, one.unit)), US).rows[0][2]
        assert not re.search(r"m/s|m2|m²|s/m|1/|\bW\b|\bkW|\bkg\b|\bL\b|°C", shown), shown


@pytest.mark.parametrize(
    ("verdict", "more", "told"),
    [
        ("supported", 640.0, False),
        ("smaller than claimed", 640.0, False),
        ("cannot tell yet", 640.0, True),
        ("some saving, size unsettled", 640.0, True),
        ("some saving, size unsettled", 0.0, False),
        ("cannot tell yet", None, False),
    ],
)
def test_driving_still_to_do_is_told_only_where_the_question_is_open(
    verdict: str, more: float | None, told: bool
) -> None:
    results = fixture_results.full()
    results["fuel"] |= {"verdict": verdict, "more_driving_km": more}
    shown = section(results)
    assert any("more true km" in one for one in shown.remarks) == told


def test_a_saving_that_may_be_none_may_never_pay() -> None:
    results = fixture_results.full()
    worth = results["fuel"]["savings"]
    worth["saving_per_year"] = fixture_results.estimate(1361.0, -561.0, 2884.0)
    worth["years_to_pay"] = fixture_results.estimate(1.69, 0.80, 0.0) | {"high": None}
    shown = next(t for t in section(results).tables if t.caption == "What it is worth")
    figures = dict(shown.rows)
    assert figures["Years until it has paid"] == "1.7 (0.8 to never)"
    assert figures["Saved a year [USD]"] == "1,361 (\N{MINUS SIGN}561 to 2,884)"


def test_wind_that_touched_nothing_is_no_remark() -> None:
    results = fixture_results.full()
    results["fuel"]["weather_used"] = "not used"
    assert "Not used." not in section(results).remarks


def test_a_tread_in_32nds_of_an_inch_is_no_word_for_a_metric_reader() -> None:
    # 4/32 in is 3.175 mm; one turn of 600 a mile is 0.167 %, one of 372.8 a km 0.268 %
    results = fixture_results.full()
    results["speed"]["to_program"] = {
        "now": {f"tire_rev_per_{per}": fixture_results.estimate(600, 599, 601) for per in
                ("mile", "km")},
        "one_revolution_percent": 100 / 600,
        "tread_note": plain(message("tread-note/declared", worn=Quantity(3.175, "mm tread", 1))),
    }  # fmt: skip
    results = with_messages(results)
    metric, us = (
        settings_table(for_reader(typed(results), display), display).note
        for display in (METRIC, US)
    )
    assert "One whole revolution per km is 0.27 %" in metric
    assert metric.endswith("half-way from the declared tread to 3.2 mm.")
    assert "mile" not in metric
    assert "One whole revolution per mile is 0.17 %" in us
    assert us.endswith("4/32 in.")


def test_both_fits_of_the_vehicle_say_how_they_differ() -> None:
    """The same rolling resistance stands with two values in one report: both tables say why, and
    neither does where it stands alone."""
    results = fixture_results.full()
    both = physics_table(typed(results), METRIC), input_table(typed(results), METRIC)
    assert {one.note for one in both} == {TWO_FITS}
    results["mountain"]["parameters"] = []
    assert physics_table(typed(results), METRIC).note == ""
