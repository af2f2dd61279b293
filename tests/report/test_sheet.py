"""The first screen's figures and drawings against closed forms worked beside them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import fixture_results
import polars as pl
import pytest
from typed_results import typed, typed_fleet

from gearing.messages import Message, Quantity, Span, message, warning
from gearing.messages.display import Display
from gearing.messages.told import Told
from gearing.report.charts.days import days_chart
from gearing.report.charts.grade import grade_chart
from gearing.report.charts.speed import speed_charts
from gearing.report.views.bar import WIDTH, fuel_bar
from gearing.report.views.fleet import fleet_sheet
from gearing.report.views.sheet import sheet
from gearing.report.views.strip import WIDTH as ROAD
from gearing.report.views.strip import strip
from gearing.results.record import Results

US, METRIC = Display("us"), Display("metric")


def fuel(value: float, low: float, high: float, claim: float | None) -> Results:
    results = fixture_results.full()
    results["fuel"]["change_percent"]["adjusted"] = fixture_results.estimate(value, low, high)
    results["fuel"]["claim_percent"] = claim
    results["declared"]["claim"] = claim and {"consumption_change_percent": claim}
    return typed(results)


@pytest.mark.parametrize("claim", [None, -4.0, 6.0, -30.0])
@pytest.mark.parametrize(("low", "high"), [(-4.0, -2.0), (-0.4, 0.6), (-18.0, 25.0)])
def test_places_on_the_bar_are_in_proportion(low: float, high: float, claim: float | None) -> None:
    bar = fuel_bar(fuel((low + high) / 2, low, high, claim), METRIC)
    assert bar is not None
    one = (bar.margin[1] - bar.margin[0]) / 2  # one percent: the margin is one either way
    assert bar.zero == pytest.approx(sum(bar.margin) / 2, abs=0.11)
    for place, percent in ((bar.low, low), (bar.high, high), (bar.value, (low + high) / 2)):
        assert place == pytest.approx(bar.zero + percent * one, abs=0.11 + 0.06 * abs(percent))
    assert (bar.claim is None) == (claim is None)
    every = [bar.low, bar.high, *bar.margin, *(x for x, _ in bar.ticks)]
    every += [] if bar.claim is None else [bar.claim]
    assert min(every) >= 0
    assert max(every) <= WIDTH
    assert 2 <= len(bar.ticks) <= 8


def test_a_bar_is_in_the_readers_sense() -> None:
    bar = fuel_bar(fuel(-2.8, -4.1, -1.5, -4.0), US)
    assert bar is not None
    assert bar.claim is not None
    assert bar.claim > bar.value > bar.zero  # economy, where right is better
    assert bar.claim_label == "claim +4.2"  # 100 / 96 - 1


def road(lower_from: float, lower_to: float) -> pl.DataFrame:
    """A road of 10 km with a lower gear after from one place to another, on the way there."""
    at = pl.int_range(0, 10_001, 50, eager=True).cast(pl.Float64)
    there = pl.DataFrame({"distance_m": at}).with_columns(
        route=pl.lit("Cold Spring Pass"),
        direction=pl.lit("forward"),
        altitude_m=1500 + pl.col("distance_m") / 20,
        before_gear=pl.lit(6),
        after_gear=6 - pl.col("distance_m").is_between(lower_from, lower_to).cast(pl.Int32),
    )
    down = 2000 - pl.col("altitude_m")
    back = there.with_columns(direction=pl.lit("reversed"), altitude_m=down)
    return pl.concat([there, back])


def test_a_lost_gear_lies_on_the_strip_where_it_is_lost_each_way() -> None:
    bend = Message("watch", (("at", Span(1.0, 3.0, "km", 1)),))
    (route, *_) = typed(fixture_results.full()).routes
    assert route.reversed is not None
    back = replace(route.reversed, care=(Told(bend, "a bend from 1.0 to 3.0 km"),))
    name, frame = "Cold Spring Pass", road(2_000, 4_000)
    there = strip(name, "forward", replace(route, care=()), frame, METRIC)
    assert there is not None
    # 2 to 4 of 10 km, uphill
    assert there.lost == ((pytest.approx(0.2 * ROAD), pytest.approx(0.2 * ROAD)),)
    assert there.care == ()
    assert [label for _, label in there.ticks] == ["0", "2", "4", "6", "8", "10 km"]
    drawn = strip(name, "reversed", back, frame, METRIC)
    assert drawn is not None
    assert drawn.care == ((pytest.approx(0.1 * ROAD), pytest.approx(0.2 * ROAD)),)
    assert drawn.lost == (), "downhill a lower gear is what is wanted"
    assert strip(name, "forward", route, None, METRIC) is None


def test_the_rules_lie_over_readings_of_the_needle_alone() -> None:
    results = fixture_results.full()
    (computer,) = speed_charts(typed(results), US)
    assert computer.key == "speed"
    for words in ("Regulation 39", "393.82"):
        assert words not in computer.reading
    assert "var(--strip)" not in str(computer.panels)
    ratio = fixture_results.estimate(0.98, 0.97, 0.99, 4, "needle-readings")
    results["speed"]["speedometer_ratio"] = fixture_results.side(None, ratio)
    needle, computer = speed_charts(typed(results), US)
    assert (needle.key, computer.key) == ("needle", "speed")
    assert "Regulation 39" in needle.reading
    assert "var(--strip)" in str(needle.panels)
    assert "var(--strip)" not in str(computer.panels)


def test_five_speeds_and_the_card_are_those_of_the_needle() -> None:
    results = fixture_results.full()
    ratio = fixture_results.estimate(0.98, 0.97, 0.99, 4, "needle-readings")
    results["speed"]["speedometer_ratio"] = fixture_results.side(None, ratio)
    first = sheet(typed(results), {}, US)
    assert first.speeds is not None
    assert first.card is not None
    assert len(first.speeds.shown) == 5
    assert first.speeds.shown_by == "needle"
    true = dict(zip(first.speeds.shown, first.speeds.true, strict=True))
    assert true["60"] == "61.2"  # 60 / 0.98
    rpm = dict(zip(first.card.shown, first.card.engine, strict=True))
    # 61.22 mph is 98.53 km/h; 373.2 tire turns a km, axle 4.88, sixth gear 0.64
    assert rpm["60"] == f"{round(98.53 * 373.2 * 4.88 * 0.64 / 60, -1):,.0f}"
    assert rpm["25"] == "-"  # under the speed the engine lugs at


def test_money_that_may_be_lost_is_not_told_as_saved() -> None:
    results = fixture_results.full()
    given = "At 6,000 miles a year and 4.10 USD/gal: "  # 9,656 km, and 3.785411784 L a gallon
    assert sheet(typed(results), {}, US).money == f"{given}saves 100 (55 to 150) USD a year."
    worth = results["fuel"]["savings"]
    worth["saving_per_year"] = fixture_results.estimate(1361.0, -561.0, 2884.0)
    worth["years_to_pay"] = fixture_results.estimate(1.69, 0.80, 0.0) | {"high": None}
    results["declared"]["money"]["cost"] = 2300.0
    assert sheet(typed(results), {}, US).money == (
        f"{given}somewhere from 560 USD lost to 2,900 saved a year, best put at 1,400 saved. "
        "The 2,300 USD are back in 1.7 years (0.8 to never)."
    )


def test_days_are_told_as_the_reader_has_them() -> None:
    results = fixture_results.full()
    days = pl.DataFrame(
        {
            "side": ["before", "after", "after"],
            "local_day": [date(2026, 1, 5), date(2026, 3, 2), date(2026, 3, 3)],
            "adjusted_percent": [0.0, -4.0, None],
        }
    )
    chart = days_chart(typed(results), days, US)
    assert chart is not None
    # 4 % less consumption is 100 / 96 - 1 = 4.2 % more economy
    assert chart.table.rows == (
        ("2026-01-05", "old tires", "0.0"),
        ("2026-03-02", "new tires", "+4.2"),
    )
    assert days_chart(typed(results), days.drop("adjusted_percent"), US) is None


def test_the_steepest_grade_of_each_road_crosses_the_gears_lines() -> None:
    results = fixture_results.full()
    for row in results["mountain"]["gears"]:
        for side in ("before", "after"):
            row[side]["sustained_percent"] = {str(v): 500 * row["ratio"] / v for v in (60, 70, 80)}
    chart = grade_chart(typed(results), METRIC)
    assert chart is not None
    assert "Cold Spring Pass is 6.4 % at its steepest" in chart.alt
    assert grade_chart(typed(fixture_results.full()), METRIC) is None


def test_a_fleets_line_says_what_to_program_and_what_to_mend() -> None:
    results = fixture_results.fleet()
    results["vehicles"][0] |= {
        "programmed_now_per_km": 390.3,
        "programmed_should_be_per_km": 378.4,
        "years_to_pay": fixture_results.estimate(10.9, 7.3, 21.4),
        "mountain": "suits with care",
        "warning_codes": ["misfiled", "new-tires"],
    }
    first = fleet_sheet(typed_fleet(results), US)
    line = first.vehicles[0]
    # 390.3 and 378.4 turns a km are 628.1 and 609.0 a mile
    assert line.cells["Program, revolutions per mile"] == "628 to 609"
    assert line.cells["Paid back in years"] == "11 (7 to 21)"
    assert line.cells["Mountain"] == "suits with care"
    assert line.mend == "a trip is filed under the wrong tires"
    assert line.link == "./bus-1/report.html"


def test_a_fleet_without_a_control_says_so_first() -> None:
    results = fixture_results.fleet()
    assert "no unchanged vehicle" not in fixture_results.fleet_answer(results, "us")
    results["fuel"]["difference"] = fixture_results.unknown("there are no controls")
    results["fuel"]["answer"] = results["fuel"]["pooled"]
    told = fixture_results.fleet_answer(results, "us")
    assert told.split(":")[0].endswith("with no unchanged vehicle to compare with")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (message("fuel-missing-under-load", share=Quantity(30.0, "%")), "Fuel is missing"),
        (
            message("engine-otherwise/loaded", change=Quantity(6.0, "%", 1), more=True),
            "The engine itself takes other fuel",
        ),
    ],
)
def test_what_the_fuel_figures_hold_besides_tires_is_told_at_the_top(
    change: Message, words: str
) -> None:
    results = typed(fixture_results.full())
    assert not any(look.text.startswith(words) for look in sheet(results, {}, US).look)
    warned = replace(results, warnings=(*results.warnings, warning(change)))
    assert any(look.text.startswith(words) for look in sheet(warned, {}, US).look)
