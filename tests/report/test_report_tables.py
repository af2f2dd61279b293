"""CSV cells that no spreadsheet takes for a formula, and sentences in the reader's units."""

from __future__ import annotations

import io

import polars as pl
import pytest

from gearing.messages.display import Display
from gearing.report.tables import csv_safe, table
from gearing.report.translate import in_reader_units, translated


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_cell_starts_a_formula(start: str) -> None:
    frame = pl.DataFrame({"file": [f"{start}cmd|' /C calc'!A0", "plain"], "count": [-1, 2]})
    safe = csv_safe(frame)
    assert safe["file"].to_list() == [f"'{start}cmd|' /C calc'!A0", "plain"]
    assert safe["count"].to_list() == [-1, 2]


def test_numbers_written_as_text_stay_numbers() -> None:
    values = ["-1.5", "+3", "-.5e3", "1e9", "-12-3", "- 4", None, ""]
    safe = csv_safe(pl.DataFrame({"value": values}))["value"].to_list()
    assert safe == ["-1.5", "+3", "-.5e3", "1e9", "'-12-3", "'- 4", None, ""]


def test_lists_are_joined_before_they_are_made_safe() -> None:
    frame = pl.DataFrame({"flags": [["=1+1", "misfiled"], []]})
    safe = csv_safe(frame)
    assert safe["flags"].to_list() == ["'=1+1; misfiled", ""]
    assert pl.read_csv(io.BytesIO(safe.write_csv().encode())).height == 2


def test_a_long_table_says_what_it_left_out() -> None:
    shown = table("x", ("a",), [(str(i),) for i in range(500)], limit=400)
    assert len(shown.rows) == 400
    assert "100 more rows" in shown.note


def test_sentences_of_the_findings_turn_into_us_units() -> None:
    us = Display("us")
    assert in_reader_units("falls by 8 km/h", us) == "falls by 5 mph"
    assert in_reader_units("at -40 to 100 degC", us) == "at -40 to 212 °F"
    assert in_reader_units("1,609 m of road, 1.6 km", us) == "5,279 ft of road, 1.0 mi"
    # standards and rules keep their figures
    assert in_reader_units("49 CFR 393.82, 245/70R19.5", us) == "49 CFR 393.82, 245/70R19.5"
    assert in_reader_units("at 12 degC", Display("metric")) == "at 12 °C"
    assert in_reader_units("wind 0 (-3.5 to 3.5) m/s", us) == "wind 0 (-7.8 to 7.8) mph"
    assert in_reader_units("area 6.0 (4.8 to 7.2) m^2", us) == "area 64.6 (51.7 to 77.5) sq ft"
    assert in_reader_units("colder by 11 K", us) == "colder by 20 °F"
    assert in_reader_units("0.005 (0.002 to 0.009) 1/K", us) == "0.003 (0.001 to 0.005) per °F"
    both = "over the first 1,000 miles (1,600 km)"
    assert in_reader_units(both, us) == "over the first 1,000 miles"
    assert in_reader_units(both, Display("metric")) == "over the first 1,600 km"
    both = "above 6,600 ft (2,000 m) of altitude 3.0 % for every 1,000 ft (305 m)"
    assert in_reader_units(both, us) == "above 6,600 ft of altitude 3.0 % for every 1,000 ft"
    metric = in_reader_units(both, Display("metric"))
    assert metric == "above 2,000 m of altitude 3.0 % for every 305 m"
    tree = {"trips": ["8 km"], "name": "8 km/h", "text": "8 km/h", "routes": [{"care": ["8 km/h"]}]}
    assert translated(tree, us) == {
        "trips": ["8 km"],
        "name": "8 km/h",
        "text": "5 mph",
        "routes": [{"care": ["5 mph"]}],
    }


def test_a_cell_without_a_figure_shows_as_a_dash() -> None:
    shown = table("Trips", ("Trip", "km"), [("a", None), ("b", "2")])
    assert shown.rows == (("a", "-"), ("b", "2"))


def test_a_column_without_any_figure_is_left_out() -> None:
    """A study of one period once had a column of dashes for the other."""
    shown = table("Gears", ("Gear", "Old", "New", "Share"), [("1", "-", "5", None)] * 2)
    assert shown.head == ("Gear", "New")
    assert shown.rows == (("1", "5"),) * 2
    assert shown.figures == {1}
    # one figure anywhere keeps it, and the first column names the row
    kept = table("Gears", ("Gear", "Old"), [("", "-"), ("", "5")])
    assert kept.head == ("Gear", "Old")
