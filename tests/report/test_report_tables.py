"""CSV cells that no spreadsheet takes for a formula, and figures in the reader's units."""

from __future__ import annotations

import io

import polars as pl
import pytest

from gearing.messages import Measured, Quantity, Renderer, Span
from gearing.messages.display import Display
from gearing.report.tables import csv_safe, table


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


@pytest.mark.parametrize(
    ("field", "us", "metric"),
    [
        (Quantity(8.0, "km/h"), "5 mph", "8 km/h"),
        (Span(-40.0, 100.0, "degC"), "-40 to 212 °F", "-40 to 100 °C"),
        (Quantity(1609.0, "m"), "5,279 ft", "1,609 m"),
        (Quantity(1.6, "km", 1), "1.0 mi", "1.6 km"),
        (Measured(0.0, -3.5, 3.5, "m/s", 1), "0.0 (-7.8 to 7.8) mph", "0.0 (-3.5 to 3.5) m/s"),
        (Measured(6.0, 4.8, 7.2, "m^2", 1), "64.6 (51.7 to 77.5) sq ft", "6.0 (4.8 to 7.2) m²"),
        (Quantity(11.0, "K"), "20 °F", "11 °C"),
        (Quantity(0.005, "1/K", 3), "0.003 per °F", "0.005 per °C"),
        (Quantity(0.2, "L/kWh", 3), "0.039 gal per hp-hour", "0.200 L/kWh"),
        (Quantity(-4.0, "% consumption", 1), "4.2 %", "-4.0 %"),
    ],
)
def test_figures_of_messages_come_in_the_readers_units(
    field: Quantity | Span | Measured, us: str, metric: str
) -> None:
    """By the exact factors of NIST SP 811 (2008), Appendix B; a difference of 1 K is 1.8 °F."""
    assert Renderer(Display("us")).field(field) == us
    assert Renderer(Display("metric")).field(field) == metric


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
