"""Tables as spreadsheets, portals and hand-made exports write them, against the values written.

A drive of five minutes with a known place, speed and engine speed at each second is written in
each way; what is read must be that drive, or the reading must say what is missing. Nothing may be
lost without a word.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from whole_reading import read_text

from gearing.logs.weather import read_weather

ROWS = 300
BEGAN = datetime(2026, 5, 14, 14, 5, tzinfo=UTC)
HEADINGS = ["Time", "Latitude", "Longitude", "GPS speed (km/h)", "Vehicle speed (km/h)", "RPM"]
Row = list[str]


def _truth() -> dict[str, np.ndarray]:
    at = np.arange(ROWS)
    speed = 16 + 8 * np.sin(at / 47)
    north = np.cumsum(speed) / 111_132
    return {
        "latitude_deg": 46.5 + north * math.cos(0.7),
        "longitude_deg": -7.25 + north * math.sin(0.7),
        "gps_speed_mps": speed,
        "indicated_speed_mps": speed / 1.03,
        "engine_speed_rpm": 1700 + 40 * speed,
    }


TRUTH = _truth()
WITHIN = {"latitude_deg": 1e-6, "longitude_deg": 1e-6, "engine_speed_rpm": 0.06}


def _stamp(n: int, form: str = "%Y-%m-%dT%H:%M:%SZ") -> str:
    return (BEGAN + timedelta(seconds=n)).strftime(form)


def _values(n: int, written: Callable[[float, int], str] = lambda x, d: f"{x:.{d}f}") -> Row:
    lat, lon, speed, own, rpm = (values[n] for values in TRUTH.values())
    return [
        written(lat, 6),
        written(lon, 6),
        written(speed * 3.6, 2),
        written(own * 3.6, 2),
        written(rpm, 1),
    ]


def _table(rows: list[Row], delimiter: str = ",") -> str:
    return "".join(delimiter.join(row) + "\n" for row in rows)


def _rows(form: str = "%Y-%m-%dT%H:%M:%SZ") -> list[Row]:
    return [[_stamp(n, form), *_values(n)] for n in range(ROWS)]


def _german(x: float, decimals: int) -> str:
    return f"{x:,.{decimals}f}".translate(str.maketrans(",.", ".,"))


def _quoted_where_needed(rows: list[Row]) -> str:
    return _table([[f'"{f}"' if "," in f else f for f in row] for row in rows])


def _aligned() -> str:
    rows = [["Time", "Latitude", "Longitude", "GPS_speed_kmh", "Vehicle_speed_kmh", "Engine_RPM"]]
    return "".join("  ".join(f"{f:>20}" for f in row) + "\n" for row in rows + _rows())


def _parted_dates() -> str:
    parts = ("%Y", "%m", "%d", "%H", "%M", "%S")
    head = ["Year", "Month", "Day", "Hour", "Minute", "Second", *HEADINGS[1:]]
    rows = [[*(str(int(_stamp(n, f))) for f in parts), *_values(n)] for n in range(ROWS)]
    return _table([head, *rows])


def _one_cell(sign: str) -> str:
    head = ["Time", "Position", *HEADINGS[3:]]
    rows = [[t, f'"({lat}{sign} {lon})"', *rest] for t, lat, lon, *rest in _rows()]
    return _table([head, *rows])


def _stacked() -> str:
    head = [
        ["", "GPS", "", "", "ECU", ""],
        ["Time", "Latitude", "Longitude", "Speed", "Speed", "RPM"],
        ["UTC", "deg", "deg", "km/h", "km/h", "1/min"],
    ]
    return _table(head + _rows())


def _scaled() -> str:
    head = ["Time", "lat_e7", "lon_e7", *HEADINGS[3:]]
    lat, lon = TRUTH["latitude_deg"], TRUTH["longitude_deg"]
    rows = [[t, f"{lat[n] * 1e7:.0f}", f"{lon[n] * 1e7:.0f}", *rest]
            for n, (t, _, _, *rest) in enumerate(_rows())]  # fmt: skip
    return _table([head, *rows])


def _broken_headings() -> str:
    head = [f'"{h}"'.replace(" (", "\n(") for h in HEADINGS]
    return _table([head, *_rows()])


def _pages() -> str:
    pages = (_rows()[k : k + 50] for k in range(0, ROWS, 50))
    return "".join(f"Page {i},,,,,\n" + _table([HEADINGS, *p]) for i, p in enumerate(pages))


def _shuffled() -> str:
    rows = [HEADINGS, *_rows()]
    return _table([[*row[:0:-1], row[0]] for row in rows])


RIGHT: dict[str, tuple[Callable[[], str], str]] = {
    "decimal commas and thousands in quotes": (
        lambda: _quoted_where_needed(
            [HEADINGS, *([_stamp(n), *_values(n, _german)] for n in range(ROWS))]
        ),
        "utf-8",
    ),
    "day first with a.m. and p.m.": (
        lambda: _table([HEADINGS, *_rows("%d/%m/%Y %I:%M:%S %p")]),
        "utf-8",
    ),
    "a spreadsheet's Unicode text": (
        lambda: _table(
            [
                HEADINGS,
                *([_stamp(n, "%d.%m.%Y %H:%M:%S"), *_values(n, _german)] for n in range(ROWS)),
            ],
            "\t",
        ),
        "utf-16",
    ),
    "three rows of headings, groups in blanks": (_stacked, "utf-8"),
    "headings broken in their quotes": (_broken_headings, "utf-8"),
    "columns aligned by blanks": (_aligned, "utf-8"),
    "a date in six columns": (_parted_dates, "utf-8"),
    "a place in one cell": (lambda: _one_cell(","), "utf-8"),
    "a place in one cell, a semicolon between": (lambda: _one_cell(";"), "utf-8"),
    "positions as whole numbers": (_scaled, "utf-8"),
    "pages with their headings": (_pages, "utf-8"),
    "columns in another order": (_shuffled, "utf-8"),
    "totals below": (
        lambda: _table([HEADINGS, *_rows()]) + "\nTotal,14.3 km\nAverage,,,57.6,56,2300\n",
        "utf-8",
    ),
}


@pytest.mark.parametrize("name", sorted(RIGHT))
def test_read_right_as_it_is(name: str, tmp_path: Path) -> None:
    write, encoding = RIGHT[name]
    reading = read_text(tmp_path / "log.csv", write(), encoding)
    assert not reading.questions
    samples = reading.samples
    assert samples.height == reading.rows_used == ROWS
    assert samples["time"].to_list() == [BEGAN + timedelta(seconds=n) for n in range(ROWS)]
    for channel, values in TRUTH.items():
        got = samples[channel].to_numpy()
        assert np.abs(got - values).max() <= WITHIN.get(channel, 0.005 / 3.6 + 1e-9), channel


def _two_vehicles() -> str:
    other = [[t, f"{float(lat) + 0.5:.6f}", *rest] for t, lat, *rest in _rows()]
    both = [row for pair in zip(_rows(), other, strict=True) for row in pair]
    return _table([["Unit", *HEADINGS], *(["ab"[i % 2], *row] for i, row in enumerate(both))])


def _cut_epochs() -> str:
    rows = [[f"{(BEGAN.timestamp() + n) * 1000:.2E}", *_values(n)] for n in range(ROWS)]
    return _table([HEADINGS, *rows])


MISSING: dict[str, tuple[str, str, str]] = {
    "minutes alone": (
        _table([HEADINGS, *_rows("%M:%S.0")]),
        "time-unknown",
        "gives minutes and seconds alone ('05:00.0')",
    ),
    "digits cut off": (_cut_epochs(), "time-stands", "only 1 time between them"),
    "two vehicles": (_two_vehicles(), "two-tracks", "rows of more than one vehicle"),
    "headings below": (_table([*_rows(), HEADINGS]), "no-headings", "above the records"),
    "a web page": (
        "<html><table>" + "".join(f"<tr><td>{'</td><td>'.join(r)}</td></tr>\n" for r in _rows()),
        "no-headings",
        "this is a page or a document",
    ),
    "JSON": ('{"time": 1778767500, "speed": 57}\n' * ROWS, "no-headings", "this is JSON"),
}


@pytest.mark.parametrize("name", sorted(MISSING))
def test_what_is_missing_is_told(name: str, tmp_path: Path) -> None:
    text, code, words = MISSING[name]
    reading = read_text(tmp_path / "log.csv", text)
    assert reading.rows_used == 0
    assert reading.rows_read >= ROWS
    (problem,) = reading.set_aside_rows
    assert problem.code == code
    asked = [*reading.questions, problem]
    assert any(words in one.message for one in asked)
    assert all(one.remedy for one in asked)


def test_hours_of_weather_in_columns_of_their_own(tmp_path: Path) -> None:
    path = tmp_path / "weather.csv"
    path.write_text(
        "Year,Month,Day,Hour,Wind speed (m/s),Wind direction (deg),Temperature (degC)\n"
        "2026,5,14,7,1.5,220,8.1\n2026,5,14,8,1.0,190,9.3\n26,12,1,23,2.0,90,-3\n"
    )
    read = read_weather(path, "UTC").frame
    assert read["time"].to_list() == [
        datetime(2026, 5, 14, 7, tzinfo=UTC),
        datetime(2026, 5, 14, 8, tzinfo=UTC),
        datetime(2026, 12, 1, 23, tzinfo=UTC),
    ]
    assert read["wind_speed_mps"].to_list() == [1.5, 1.0, 2.0]


def test_a_few_strange_fixes_are_no_second_vehicle(tmp_path: Path) -> None:
    rows = _rows()
    for n in range(20, ROWS, 20):
        rows[n][1] = "47.9"
    reading = read_text(tmp_path / "log.csv", _table([HEADINGS, *rows]))
    assert reading.rows_used == ROWS
    assert sum(p.count for p in reading.set_aside_values if p.column == "Latitude") == 14


def test_some_rows_of_one_minute_are_kept(tmp_path: Path) -> None:
    """A recorder that writes the minute alone and stopped soon: too few rows to say so."""
    rows = [[_stamp(n, "%Y-%m-%d %H:%M"), *_values(n)] for n in range(12)]
    assert read_text(tmp_path / "log.csv", _table([HEADINGS, *rows])).rows_used == 12
