"""Candidates and long descents on page and terminal: widths, units, marks, hostile names."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Literal

import fixture_results
import pytest
from candidate_studies import PER_KM, bus, compare
from mountain_studies import pass_profile, study, truck, turns
from typed_results import typed

from gearing.analysis.candidates.result import CandidatesFinding, Figure
from gearing.analysis.mountain import find_mountain
from gearing.messages.display import Display, System
from gearing.report.candidates_section import candidates_section
from gearing.report.candidates_text import candidate_lines
from gearing.report.charts.routes import route_charts
from gearing.report.evidence.descents import long_descent_table
from gearing.report.page import render
from gearing.report.views.candidates import Column, route_columns
from gearing.results.record import Results
from gearing.study.model import Candidate

CHOICES = (
    Candidate(name="as fitted", drive_tire="265/70R19.5"),
    Candidate(name="275 with the tall axle and a long name", drive_tire="275/70R19.5",
              revolutions_per_km=598 * PER_KM, axle_ratio=4.56),
    Candidate(name="axle alone", axle_ratio=5.29),
    Candidate(name="by its figure", revolutions_per_km=600 * PER_KM),
)  # fmt: skip


@pytest.fixture(scope="module")
def told() -> CandidatesFinding:
    return compare(bus(*CHOICES), draws=8)


def results_of(found: CandidatesFinding) -> Results:
    """Results of a study whose candidates these are."""
    whole = typed(fixture_results.full())
    return replace(whole, candidates=found.candidates, candidates_basis=found.basis)


@pytest.mark.parametrize("units", ["us", "metric"])
def test_the_terminal_has_eighty_columns(
    told: CandidatesFinding, units: Literal["us", "metric"]
) -> None:
    lines = candidate_lines(told, units)
    assert max(map(len, lines)) <= 80
    text = "\n".join(lines)
    assert ("mph" in text) == (units == "us")
    assert ("km/h" in text) == (units == "metric")
    assert "None is best as a whole" in text
    assert "what\nanother tread" in text or "what another tread" in text.replace("\n", " ")
    assert "1 as fitted: The same tires and axle as [after]." in text
    assert "pass, the other way" in text
    by_figure = next(line for line in lines if line.startswith("4 by its figure"))
    assert ("600/mi" if units == "us" else "373/km") in by_figure


def test_marks_say_how_a_figure_stands() -> None:
    column = Column("brake_kwh", "Brakes", 1, interval=True)
    figure = Figure(value=2.0, low=1.0, high=3.0, standing="best")
    told = {
        one: column.cell({"brake_kwh": replace(figure, standing=one)}, ("*", "="))
        for one in ("best", "tie", None)
    }
    span = "2.0 (1.0 to 3.0)"
    assert told == {"best": f"*{span}", "tie": f"={span}", None: span}
    assert column.cell({"brake_kwh": Figure(why="no engine")}) == "-"
    assert column.cell({}) == "-"


def test_us_readers_have_fuel_economy() -> None:
    # 2 % less fuel is 100 / 98 = 2.04 % more distance a gallon (arithmetic); the ends change places
    figures = {"fuel_change_percent": Figure(value=-2.0, low=-3.0, high=-1.0)}
    cells: tuple[tuple[System, str], ...] = (
        ("us", "+2.0 (+1.0 to +3.1)"),
        ("metric", "\N{MINUS SIGN}2.0 (\N{MINUS SIGN}3.0 to \N{MINUS SIGN}1.0)"),
    )
    for units, cell in cells:
        column = next(c for c in route_columns(Display(units)) if c.key == "fuel_change_percent")
        assert column.cell(figures) == cell


def test_the_section_has_a_table_of_routes_and_one_of_gearing(told: CandidatesFinding) -> None:
    section = candidates_section(results_of(told), Display("us"))
    assert section is not None
    assert len(section.charts) == 1
    assert len(section.tables) == 2
    assert len(section.charts[0].panels) == 4
    assert [row[0] for row in section.tables[0].rows][:3] == ["before", "after", "1 as fitted"]
    assert len(section.more) == 2, "the route both ways"
    assert all(len(t.rows) == 6 for t in section.more)
    assert candidates_section(typed(fixture_results.full()), Display("us")) is None


def test_a_page_without_routes_says_what_to_add() -> None:
    found = compare(bus(*CHOICES, routes=()))
    section = candidates_section(results_of(found), Display("metric"))
    assert section is not None
    assert section.charts == ()
    assert "no [[route]]" in section.missing[0]
    assert len(section.tables[0].rows) == 6
    assert "no [[route]]" in "\n".join(candidate_lines(found))


def test_names_from_outside_stay_text() -> None:
    hostile = Candidate(name=fixture_results.HOSTILE, axle_ratio=5.29)
    found = compare(bus(hostile), draws=2)
    page = render(results_of(found), {})
    assert fixture_results.HOSTILE not in page
    assert "&lt;img src=x" in page


@pytest.fixture(scope="module")
def tractor() -> tuple[Results, Any]:
    vehicle = truck(retarder=True) | {"combination": True, "axles": 5, "brakes": "drum"}
    finding = find_mountain(
        study(**vehicle),
        profiles={"pass": pass_profile(down=0.07)},
        revolutions_per_km=turns(310.0, 300.0),
        draws=4,
    )
    return replace(typed(fixture_results.full()), routes=finding.routes), finding.frame


def test_each_descent_has_its_row_and_the_model_its_caution(tractor: tuple[Results, Any]) -> None:
    results, _ = tractor
    table = long_descent_table(results, Display("us"))
    assert len(table.rows) == 4, "two ways, two sets of tires"
    assert any("Drum brakes [°F]" in head for head in table.head)
    for words in ("FHWA", "five-axle", "threefold", "maker's data", "leaves out"):
        assert words in table.note
    assert "mph" not in table.note
    assert "no speeds to drive" in table.note
    (head,) = [i for i, one in enumerate(table.head) if one.startswith("Gear: lower speed")]
    descents = [one for route in results.routes for one in route.descents]
    sides = [(one, side) for one in descents for side in (one.before, one.after) if side]
    for (one, side), row in zip(sides, table.rows, strict=False):
        held = side.retarder_on.held_by_gear_kmh.items()
        # 1 mph is 1.609344 km/h (NIST SP 811)
        known = [(int(g), kmh / 1.609344) for g, kmh in held if kmh and kmh <= one.wanted_kmh]
        told = [f"{gear}: {mph:.0f}" for gear, mph in sorted(known, reverse=True)[:2]]
        assert row[head] == (", ".join(told) or "none")


def test_outside_the_class_the_column_is_gone_and_the_note_says_why() -> None:
    finding = find_mountain(
        study(), profiles={"pass": pass_profile()},
        revolutions_per_km=turns(), draws=2,
    )  # fmt: skip
    table = long_descent_table(
        replace(typed(fixture_results.full()), routes=finding.routes), Display("metric")
    )
    assert not any("Drum brakes" in head for head in table.head)
    assert "No brake temperature: the published model" in table.note


def test_a_route_shades_what_asks_for_care(tractor: tuple[Results, Any]) -> None:
    results, frame = tractor
    charts = route_charts(results, frame, Display("us"))
    assert 1 <= len(charts) <= 4
    panels = charts[0].panels[0]["vconcat"]
    assert [panel["title"]["text"] for panel in panels] == [
        "Height [ft]", "Speed [mph]", "Gear", "Service brakes [hp]",
    ]  # fmt: skip
    shaded = [
        any(layer["mark"]["type"] == "rect" for layer in chart.panels[0]["vconcat"][0]["layer"])
        for chart in charts
    ]
    assert any(shaded)
    assert charts[0].sides == ("before", "after")
    assert route_charts(results, None, Display("us")) == ()
