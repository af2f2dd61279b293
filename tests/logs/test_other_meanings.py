"""Logs whose numbers would be read without a word as something else: what is read is the drive
they were written from, or the reading asks.

Spreadsheets' two day counts: ISO/IEC 29500-1, date bases 1900 and 1904 (from memory); Julian and
modified Julian days: their definitions by the International Astronomical Union (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
from known_drive import (
    AT,
    BEGAN,
    DRIVE,
    ENGINE,
    LAT,
    LON,
    MOST,
    PLACE,
    REST,
    ROWS,
    SPEED,
    assert_as_it_was,
    cells,
    iso,
    place_at,
    time_at,
    written,
)
from whole_reading import read_text

from gearing.logs.column_rule import ColumnRule
from gearing.logs.model import Reading
from gearing.logs.read import read_log

GPS = "GPS speed (km/h)"
GPS_BEGAN = datetime(1980, 1, 6, tzinfo=UTC)  # IS-GPS-200
LEAP_S = 18  # seconds GPS is ahead of UTC since 2017 (IERS Bulletin C 52)


def _parts(degrees: float) -> tuple[int, float]:
    whole = int(abs(degrees))
    return whole, (abs(degrees) - whole) * 60


def _speed(n: int) -> str:
    return f"{SPEED[n] * 3.6:.2f}"


def _in_two(n: int, sign: str) -> list[str]:
    (lat, lat_min), (lon, lon_min) = _parts(LAT[n]), _parts(LON[n])
    return [str(lat), f"{lat_min:.5f}", f"{sign}{lon}", f"{lon_min:.5f}"]


def _in_three(n: int) -> list[str]:
    angles = (_parts(LAT[n]), _parts(LON[n]))
    return [
        part
        for side, (whole, minutes) in zip(("", "-"), angles, strict=True)
        for part in (f"{side}{whole}", str(int(minutes)), f"{minutes % 1 * 60:.3f}")
    ]


PARTED = {
    "degrees and minutes": written(
        ["Time", "lat_deg", "lat_min", "lon_deg", "lon_min", GPS],
        lambda n: [iso(n), *_in_two(n, "-"), _speed(n)],
    ),
    "units in brackets": written(
        ["Time", "Lat (deg)", "Lat (min)", "Lon (deg)", "Lon (min)", GPS],
        lambda n: [iso(n), *_in_two(n, "-"), _speed(n)],
    ),
    "sides in columns of their own": written(
        ["Time", "Latitude", "Latitude min", "NS", "Longitude", "Longitude min", "EW", GPS],
        lambda n: [iso(n), *_in_two(n, "")[:2], "N", *_in_two(n, "")[2:], "W", _speed(n)],
    ),
    "degrees, minutes and seconds": written(
        ["Time", "Lat Deg", "Lat Min", "Lat Sec", "Lon Deg", "Lon Min", "Lon Sec", GPS],
        lambda n: [iso(n), *_in_three(n), _speed(n)],
    ),
    "German": written(
        ["Zeit", "Breite Grad", "Breite Min", "Länge Grad", "Länge Minuten", GPS],
        lambda n: [iso(n), *_in_two(n, "-"), _speed(n)], ";",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", sorted(PARTED))
def test_positions_in_parts(name: str, tmp_path: Path) -> None:
    assert_as_it_was(read_text(tmp_path / "log.csv", PARTED[name]), PLACE)


def test_longitudes_all_around(tmp_path: Path) -> None:
    """352.1 degrees east is 7.9 degrees west, and not 3 degrees and 52.1 minutes."""

    def row(n: int) -> list[str]:
        return [iso(n), place_at(n)[0], f"{LON[n] + 360:.6f}", _speed(n)]

    text = written(["Time", *REST[:2], GPS], row)
    assert_as_it_was(read_text(tmp_path / "log.csv", text), PLACE)


@pytest.mark.parametrize("unit", [" (semicircles)", ""])
def test_semicircles(unit: str, tmp_path: Path) -> None:
    """Without the unit they are told from ten-millionths of a degree by the speed."""

    def row(n: int) -> list[str]:
        return [iso(n), *(f"{one[n] * 2**31 / 180:.0f}" for one in (LAT, LON)), _speed(n)]

    head = ["Time", f"position_lat{unit}", f"position_long{unit}", GPS]
    assert_as_it_was(read_text(tmp_path / "log.csv", written(head, row)), PLACE)


def test_half_a_degree_south_in_parts(tmp_path: Path) -> None:
    """No whole degree carries the sign there: the minutes do."""
    text = written(["Time", "lat_deg", "lat_min", "Longitude"],
                   lambda n: [iso(n), "0", f"-{30 + n / 1000:.4f}", place_at(n)[1]])  # fmt: skip
    latitude = read_text(tmp_path / "log.csv", text).samples["latitude_deg"].to_numpy()
    assert np.abs(latitude + (30 + AT / 1000) / 60).max() < 1e-6


def test_the_least_latitude_is_no_part_of_one(tmp_path: Path) -> None:
    head = ["Time", "Latitude", "lat_min", "lat_max", "Longitude", GPS]
    text = written(head, lambda n: [iso(n), place_at(n)[0], f"{LAT.min():.6f}", f"{LAT.max():.6f}",
                                    place_at(n)[1], _speed(n)])  # fmt: skip
    assert_as_it_was(read_text(tmp_path / "log.csv", text), PLACE)


def test_minutes_beyond_an_hour_are_told(tmp_path: Path) -> None:
    head = ["Time", "lat_deg", "lat_min", "Longitude", GPS]
    text = written(head, lambda n: [iso(n), "44", "75.5", place_at(n)[1], _speed(n)])
    told = read_text(tmp_path / "log.csv", text).set_aside_values
    assert {(one.column, one.code) for one in told} >= {("lat_deg", "unreadable-value")}


def _since(began: datetime, scale: float = 1.0, more: int = 0) -> Callable[[int], str]:
    return lambda n: f"{((time_at(n) - began).total_seconds() + more) * scale:.0f}"


def _days(to_1970: float) -> Callable[[int], str]:
    return lambda n: f"{time_at(n).timestamp() / 86_400 + to_1970:.8f}"


GPS_S = _since(GPS_BEGAN, 1, LEAP_S)
COUNTS = {
    "GPS seconds, the day in the name": ("2026-05-14_1405.csv", GPS_S),
    "GPS milliseconds, the day in the name": ("2026-05-14.csv", _since(GPS_BEGAN, 1000, LEAP_S)),
    "days since 1904, the day in the name": ("drive 2026-05-14.csv", _days(24_107)),
    "modified Julian days": ("log.csv", _days(40_587)),
    "Julian days": ("log.csv", _days(2_440_587.5)),
    "days of a matrix program": ("log.csv", _days(719_529)),
    "days since 1970": ("log.csv", _days(0)),
}


@pytest.mark.parametrize("name", sorted(COUNTS))
def test_counts_from_another_day(name: str, tmp_path: Path) -> None:
    file, count = COUNTS[name]
    text = written(["Time", *REST], lambda n: [count(n), *cells(n)])
    assert_as_it_was(read_text(tmp_path / file, text), MOST)


def test_gps_seconds_beside_the_date(tmp_path: Path) -> None:
    head = ["Date", "UTC time", "GPS time", *REST]
    text = written(head, lambda n: [*time_at(n).strftime("%Y-%m-%d %H:%M:%S").split(), GPS_S(n),
                                    *cells(n)])  # fmt: skip
    assert_as_it_was(read_text(tmp_path / "log.csv", text), MOST)


def test_gps_seconds_without_a_date_are_asked_about(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    text = written(["GPS time (s)", *REST], lambda n: [GPS_S(n), *cells(n)])
    (question,) = read_text(path, text).questions
    assert (question.code, "2016" in question.message) == ("old-dates", True)
    assert 'unit = "s since 1980-01-06"' in question.remedy
    rule = ColumnRule(heading="GPS time (s)", channel="time", unit="s since 1980-01-06")
    assert_as_it_was(read_log(path, rules=(rule,)), MOST)


def test_seconds_since_1970_of_the_day_in_the_name_are_not_asked_about(tmp_path: Path) -> None:
    began = datetime(2016, 5, 9, 14, 5, tzinfo=UTC)
    text = written(["Time", *REST], lambda n: [f"{began.timestamp() + n:.0f}", *cells(n)])
    reading = read_text(tmp_path / "2016-05-09.csv", text)
    assert (reading.samples["time"][0], reading.questions) == (began, ())


def test_days_since_1904_by_rule(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    read_text(path, written(["Time", *REST], lambda n: [_days(24_107)(n), *cells(n)]))
    rule = ColumnRule(heading="Time", channel="time", unit="days since 1904-01-01")
    late = read_log(path, rules=(rule,)).samples["time"][0] - BEGAN
    assert abs(late) < timedelta(milliseconds=1)


def _clock(form: str, *more: str) -> Callable[[int], list[str]]:
    return lambda n: [time_at(n).strftime(form), *more, *cells(n)]


def _away(hours: int, *more: str) -> Callable[[int], list[str]]:
    zone = timezone(timedelta(hours=hours))
    return lambda n: [f"{time_at(n).astimezone(zone):%Y-%m-%d %H:%M:%S}", *more, *cells(n)]


TIMES: dict[str, tuple[str, list[str], Callable[[int], list[str]]]] = {
    "p.m. in front": ("2026-05-14.csv", ["Time"], _clock("PM %I:%M:%S")),
    "twelve hours, the time in the name": (
        "2026-05-14_1405.csv", ["Time"], _clock("%d/%m/%Y %I:%M:%S")),
    "a time of twelve hours alone": ("2026-05-14_1404.csv", ["Time"], _clock("%I:%M:%S")),
    "Korean": ("log.csv", ["Time"], _clock("%Y. %m. %d. 오후 %I:%M:%S")),
    "Chinese": ("log.csv", ["Time"], _clock("%Y年%m月%d日%H时%M分%S秒")),
    "Japanese": ("log.csv", ["Time"], _clock("%Y年%m月%d日 午後 %I:%M:%S")),
    "Italian": ("log.csv", ["Ora"], _clock("%d-mag-%Y %H:%M:%S")),
    "Polish": ("log.csv", ["Czas"], _clock("%d maja %Y %H:%M:%S")),
    "the year in front, in two digits": ("log.csv", ["Time"], _clock("%y/%m/%d %H:%M:%S")),
    "the year behind, in two digits": ("log.csv", ["Time"], _clock("%d-%m-%y %H:%M:%S")),
    "the Thai calendar": ("log.csv", ["Time"], _clock("%d/%m/2569 %H:%M:%S")),
    "microseconds that might be seconds since 1970": (
        "2026-05-14_1405.csv", ["Time (us)"], lambda n: [str(n * 1_000_000), *cells(n)]),
    "an offset in hours and minutes": (
        "log.csv", ["Time", "UTC offset"], _away(-6, "-06:00")),
    "an offset in digits": ("log.csv", ["Time", "UTC offset"], _away(9, "0900")),
    "an offset in hours": ("log.csv", ["Time", "GMT offset (h)"], _away(2, "2")),
    "an offset in minutes": ("log.csv", ["Time", "tz"], _away(-7, "-420")),
    "an offset in seconds": ("log.csv", ["Time", "tz offset"], _away(-6, "-21600")),
    "a zone by its place": ("log.csv", ["Time", "Time zone"], _away(-6, "America/Denver")),
    "a zone in the heading": ("log.csv", ["Time (MDT)"], _away(-6)),
    "a zone by name": ("log.csv", ["Time", "Time zone"], _away(-6, "MDT")),
}  # fmt: skip


@pytest.mark.parametrize("name", sorted(TIMES))
def test_clocks(name: str, tmp_path: Path) -> None:
    file, head, row = TIMES[name]
    assert_as_it_was(read_text(tmp_path / file, written([*head, *REST], row)), MOST)


def test_a_zone_by_its_place_above_the_headings(tmp_path: Path) -> None:
    text = "Time zone: America/Denver\n" + written(["Time", *REST], _away(-6))
    reading = read_text(tmp_path / "log.csv", text)
    assert_as_it_was(reading, MOST)
    assert not reading.dialect.local


def test_the_zone_may_change_on_the_way(tmp_path: Path) -> None:
    def row(n: int) -> list[str]:
        return _away(-6, "-06:00")(n) if n < 700 else _away(-7, "-07:00")(n)

    assert_as_it_was(
        read_text(tmp_path / "log.csv", written(["Time", "UTC offset", *REST], row)), MOST
    )


@pytest.mark.parametrize("name", ["2026-05-15.csv", "2026-05-14_0205.csv", "log.csv"])
def test_the_morning_is_no_afternoon(name: str, tmp_path: Path) -> None:
    text = written(["Time", *REST], _clock("%Y-%m-%d %I:%M:%S"))
    times = read_text(tmp_path / name, text).samples["time"]
    assert times[0] == BEGAN - timedelta(hours=12)


def test_a_calendar_that_is_not_known_is_told(tmp_path: Path) -> None:
    text = written(["Time", *REST], _clock("1405/02/24 %H:%M:%S"))
    (problem,) = read_text(tmp_path / "log.csv", text).set_aside_rows
    assert (problem.code, problem.count) == ("unreadable-time", ROWS)


@pytest.mark.parametrize(
    "heading", ["Fuel rate gal/h (UK)", "Fuel flow [gal(UK)/h]", "Fuel rate (imp gal/h)"]
)
def test_imperial_gallons(heading: str, tmp_path: Path) -> None:
    """4.54609 L, by definition (Weights and Measures Act 1985, from memory)."""
    rate = DRIVE["fuel_rate_lph"]
    text = written(["Time", *REST[:2], heading],
                   lambda n: [iso(n), *place_at(n), f"{rate[n] / 4.54609:.4f}"])  # fmt: skip
    reading = read_text(tmp_path / "log.csv", text)
    assert np.abs(reading.samples["fuel_rate_lph"].to_numpy() - rate).max() < 0.001


@pytest.mark.parametrize(("heading", "scale"), [("SPN 190", 8), ("010C", 4), ("SPN 183", 20)])
def test_a_column_mostly_beyond_its_range_is_asked_about(
    heading: str, scale: int, tmp_path: Path
) -> None:
    """Counts of a bus as they come, in eighths and quarters of 1/min and twentieths of 1 L/h (SAE
    J1939-71 and J1979, from memory): what of it is within the range is no more right."""
    values = DRIVE["fuel_rate_lph"] if heading == "SPN 183" else ENGINE
    text = written(["Time", *REST[:2], heading],
                   lambda n: [iso(n), *place_at(n), f"{values[n] * scale:.0f}"])  # fmt: skip
    reading = read_text(tmp_path / "log.csv", text)
    (question,) = reading.questions
    assert (question.code, question.column) == ("which-unit", heading)
    assert set(reading.samples.columns) == {"time", "line", *PLACE[:2]}


@pytest.mark.parametrize(("pressure", "unit"), [("715", None), ("1003", "hPa"), ("0.95", "bar")])
def test_pressures_that_may_be_of_two_units_are_asked_about(
    pressure: str, unit: str | None, tmp_path: Path
) -> None:
    text = written(["Time", *REST[:2], "Barometric pressure"],
                   lambda n: [iso(n), *place_at(n), pressure])  # fmt: skip
    reading = read_text(tmp_path / "log.csv", text)
    assert bool(reading.questions) == (unit is None)
    assert reading.columns[-1].unit == unit


def _under(unit_row: str, head: list[str], row: Callable[[int], list[str]]) -> str:
    first, rest = written(head, row).split("\n", 1)
    return f"{first}\n{unit_row}\n{rest}"


def test_units_that_differ_are_settled_by_the_positions(tmp_path: Path) -> None:
    head = ["Time", *REST[:3], "GPS speed (mph)", "Vehicle speed (mph)", "RPM"]
    text = _under("UTC,deg,deg,m,km/h,km/h,rpm", head, lambda n: [iso(n), *cells(n)[:6]])
    assert_as_it_was(read_text(tmp_path / "log.csv", text), MOST[:6])


@pytest.mark.parametrize(("inside", "below"), [("gal/h", "L/h"), ("L/h", "gal/h")])
def test_units_that_differ_are_asked_about(inside: str, below: str, tmp_path: Path) -> None:
    head = ["Time", *REST[:2], f"Fuel rate ({inside})"]
    text = _under(f"UTC,deg,deg,{below}", head, lambda n: [iso(n), *place_at(n), cells(n)[6]])
    reading = read_text(tmp_path / "log.csv", text)
    (question,) = reading.questions
    assert f"{inside} and {below}" in question.message
    assert all(f'unit = "{unit}"' in question.remedy for unit in (inside, below))
    assert "fuel_rate_lph" not in reading.samples.columns


def test_units_in_cells_against_the_heading(tmp_path: Path) -> None:
    text = written(["Time", *REST[:2], "Fuel rate (gal/h)"],
                   lambda n: [iso(n), *place_at(n), f"{cells(n)[6]} L/h"])  # fmt: skip
    (question,) = read_text(tmp_path / "log.csv", text).questions
    assert "gal/h and L/h" in question.message


@pytest.mark.parametrize("speed", ["GPS speed (mph)", "Vehicle speed (mph)"])
def test_a_unit_that_the_positions_disprove_is_asked_about(speed: str, tmp_path: Path) -> None:
    text = written(["Time", *REST[:2], speed], lambda n: [iso(n), *place_at(n), _speed(n)])
    reading = read_text(tmp_path / "log.csv", text)
    (question,) = reading.questions
    assert "mph and km/h" in question.message
    assert set(reading.samples.columns) == {"time", "line", *PLACE[:2]}
    rule = ColumnRule(heading=speed, channel=speed.split(" (")[0], unit="mph")
    assert not read_log(tmp_path / "log.csv", rules=(rule,)).questions  # the study's word


@pytest.mark.parametrize("factor", [0.9, 1.1])
def test_a_speed_off_by_its_tires_is_not_asked_about(factor: float, tmp_path: Path) -> None:
    text = written(["Time", *REST[:2], "Vehicle speed (km/h)"],
                   lambda n: [iso(n), *place_at(n), f"{SPEED[n] * 3.6 * factor:.2f}"])  # fmt: skip
    reading = read_text(tmp_path / "log.csv", text)
    assert not reading.questions
    assert not reading.repairs


WINDS = np.cumsum(2 * np.sin(AT / 150)) / 60  # direction [rad] of a road that winds
NORTH_M, EAST_M = (np.cumsum(SPEED * turned(WINDS)) for turned in (np.cos, np.sin))
ROAD_LAT = 44.2 + NORTH_M / 111_132
ROAD_LON = 7.2 + EAST_M / (111_320 * math.cos(math.radians(44.2)))


def _along(first: str, second: str, row: Callable[[int], list[str]]) -> str:
    return written(["Time", first, second, GPS],
                   lambda n: [iso(n), *row(n), _speed(n)])  # fmt: skip


def _behind_the_point(degrees: float) -> str:
    whole, minutes = _parts(degrees)
    return f"{whole + minutes / 100:.8f}"


FORMS = {
    "in each other's place": _along(
        "Longitude", "Latitude", lambda n: [f"{ROAD_LAT[n]:.6f}", f"{ROAD_LON[n]:.6f}"]
    ),
    "minutes behind the point": _along(
        "Latitude", "Longitude",
        lambda n: [_behind_the_point(ROAD_LAT[n]), _behind_the_point(ROAD_LON[n])],
    ),
    "radians": _along(
        "Latitude", "Longitude",
        lambda n: [f"{math.radians(ROAD_LAT[n]):.9f}", f"{math.radians(ROAD_LON[n]):.9f}"],
    ),
    "as they should be": _along(
        "Latitude", "Longitude", lambda n: [f"{ROAD_LAT[n]:.6f}", f"{ROAD_LON[n]:.6f}"]
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", sorted(FORMS))
def test_the_form_of_positions_is_told_by_the_speed(name: str, tmp_path: Path) -> None:
    reading = read_text(tmp_path / "log.csv", FORMS[name])
    for channel, road in (("latitude_deg", ROAD_LAT), ("longitude_deg", ROAD_LON)):
        assert np.abs(reading.samples[channel].to_numpy() - road).max() < 2e-6
    told = [one.code for one in reading.repairs]
    assert told == ([] if name == "as they should be" else ["positions-in"])


def test_a_pair_in_one_cell_longitude_first(tmp_path: Path) -> None:
    def row(n: int) -> list[str]:
        return [iso(n), f'"{ROAD_LON[n]:.6f}, {ROAD_LAT[n]:.6f}"', _speed(n)]

    text = written(["Time", "Coordinates", GPS], row)
    samples = read_text(tmp_path / "log.csv", text).samples
    assert np.abs(samples["latitude_deg"].to_numpy() - ROAD_LAT).max() < 2e-6


def test_a_letter_of_the_other_side_is_no_position(tmp_path: Path) -> None:
    def row(n: int) -> list[str]:
        return [iso(n), f"{-LON[n]:.6f} W", f"{LAT[n]:.6f} N", _speed(n)]

    text = written(["Time", *REST[:2], GPS], row)
    reading = read_text(tmp_path / "log.csv", text)
    told = {(one.column, one.code, one.count) for one in reading.set_aside_values}
    assert told == {(one, "unreadable-value", ROWS) for one in REST[:2]}


@pytest.mark.parametrize("behind", [True, False])
@pytest.mark.parametrize("letters", ["NW", "nw", "North,West"])
def test_sides_under_any_heading(behind: bool, letters: str, tmp_path: Path) -> None:
    north, west = letters.split(",") if "," in letters else letters
    head = ["Latitude", "Hem", "Longitude", "Hem 2"]

    def row(n: int) -> list[str]:
        pairs = ([place_at(n)[0], north], [f"{-LON[n]:.6f}", west])
        return [
            iso(n),
            *(one for pair in pairs for one in (pair if behind else pair[::-1])),
            _speed(n),
        ]

    heads = head if behind else [head[1], head[0], head[3], head[2]]
    text = written(["Time", *heads, GPS], row)
    assert_as_it_was(read_text(tmp_path / "log.csv", text), PLACE)


def test_one_parameter_in_two_units(tmp_path: Path) -> None:
    def value(n: int) -> str:
        return f"{SPEED[n] * 3.6:.2f},km/h" if n < 1000 else f"{SPEED[n] / 0.44704:.2f},mph"

    rows = (
        f"{iso(n)},GPS speed,{value(n)}\n{iso(n)},RPM,{ENGINE[n]:.0f},rpm\n" for n in range(ROWS)
    )
    reading = read_text(tmp_path / "log.csv", "Time,Parameter,Value,Unit\n" + "".join(rows))
    (problem,) = {one.code for one in reading.set_aside_rows}
    assert (problem, sum(one.count for one in reading.set_aside_rows)) == (
        "other-unit",
        ROWS - 1000,
    )
    speed = reading.samples["gps_speed_mps"].to_numpy()
    assert np.nanmax(np.abs(speed - DRIVE["gps_speed_mps"])) < 0.01
    assert np.isnan(speed).sum() == ROWS - 1000


def _codes(reading: Reading) -> int:
    return sum(one.count for one in reading.set_aside_values)


def test_values_set_aside_are_not_held(tmp_path: Path) -> None:
    """A value that never repeats itself, with a code now and then: no row is without a value, so
    the recorder does not write changes alone."""
    whole = 40 + AT % 3 + AT // 3 % 7 * 5
    cell = [str(value) if n % 7 != 3 else "-273" for n, value in enumerate(whole)]
    head = ["Time", *REST[:2], "Coolant temperature (degC)"]
    text = written(head, lambda n: [iso(n), *place_at(n), cell[n]])
    reading = read_text(tmp_path / "log.csv", text)
    assert _codes(reading) == reading.samples["coolant_temperature_c"].null_count() == len(AT[3::7])
