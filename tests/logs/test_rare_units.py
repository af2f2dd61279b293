"""Units that recorders write beside the usual ones, and what is asked where none is known.

Factors: NIST Special Publication 811 (2008), Appendix B (gallons, pound); a cubic centimeter is a
milliliter. Whole ten-millionths of a degree: common practice of receivers' records, no source.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from gearing.logs.model import Reading
from gearing.logs.read import read_log
from gearing.study.model import ColumnRule


def _read(
    folder: Path, column: str, *values: object, rules: tuple[ColumnRule, ...] = ()
) -> Reading:
    rows = [f"2026-05-04T08:00:{n:02d}Z,5{n},{value}" for n, value in enumerate(values)]
    path = folder / "a.csv"
    path.write_text("\n".join([f"Time,GPS speed (km/h),{column}", *rows]) + "\n")
    return read_log(path, rules=rules)


@pytest.mark.parametrize(
    ("column", "value", "channel", "expected"),
    [
        ("Fuel rate (cc/min)", 300, "fuel_rate_lph", 18.0),
        ("Fuel flow [mL/min]", 300, "fuel_rate_lph", 18.0),
        ("Fuel rate (L/min)", 0.3, "fuel_rate_lph", 18.0),
        ("Fuel Rate (imp gal/h)", 2, "fuel_rate_lph", 9.09218),
        ("Fuel flow (lb/h)", 80, "fuel_mass_rate_gps", 10.0798),
    ],
)
def test_fuel_rates(
    tmp_path: Path, column: str, value: float, channel: str, expected: float
) -> None:
    reading = _read(tmp_path, column, *([value] * 6))
    assert reading.questions == ()
    assert reading.samples[channel][0] == pytest.approx(expected, rel=1e-5)


def test_a_unit_that_is_not_known_is_named(tmp_path: Path) -> None:
    (question,) = _read(tmp_path, "Fuel rate (firkin/h)", *range(6)).questions
    assert question.code == "which-unit"
    assert "'firkin/h', which is not a unit the program knows" in question.message
    shown = [tomllib.loads(f"[columns]\n{s}\n")["columns"] for s in question.remedy.split("\n")[1:]]
    assert {"Fuel rate (firkin/h)": {"channel": "ignore"}} in shown


@pytest.mark.parametrize("heading", ["Latitude", "lat", "Latitude (1e-7 deg)", "lat [degE7]"])
def test_positions_in_ten_millionths(tmp_path: Path, heading: str) -> None:
    reading = _read(
        tmp_path, f"{heading},Longitude", *(f"{386099910 + n},{-1108699570 - n}" for n in range(6))
    )
    assert reading.questions == ()
    assert reading.samples["latitude_deg"][1] == pytest.approx(38.6099911, abs=1e-9)
    assert reading.samples["longitude_deg"][1] == pytest.approx(-110.8699571, abs=1e-9)


def test_positions_that_may_be_either_are_asked(tmp_path: Path) -> None:
    cells = [f"{38609991 + n},{-110869957 - n}" for n in range(6)]
    asked = _read(tmp_path, "Latitude,Longitude", *cells)
    assert [q.code for q in asked.questions] == ["which-unit"] * 2
    rules = tuple(
        ColumnRule(heading=name, channel=name.lower(), unit="1e-6 deg")
        for name in ("Latitude", "Longitude")
    )
    reading = _read(tmp_path, "Latitude,Longitude", *cells, rules=rules)
    assert reading.questions == ()
    assert reading.samples["latitude_deg"][0] == pytest.approx(38.609991, abs=1e-9)
    said = _read(tmp_path, "Latitude (1e-6 deg),Longitude (1e-6 deg)", *cells)
    assert said.samples["longitude_deg"][0] == pytest.approx(-110.869957, abs=1e-9)
