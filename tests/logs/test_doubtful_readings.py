"""Columns that could be read as something else without a word: they are asked about, told of, or
settled by what cannot be otherwise.

Counts of temperature: SAE J1979 PID 05 and 0F, SAE J1939-71 SPN 110 and 172 carry degrees Celsius
in a byte, from -40 on. The two first days of spreadsheets: ISO/IEC 29500-1 (from memory).
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from known_drive import (
    AT,
    BEGAN,
    DRIVE,
    ENGINE,
    NEEDLE,
    ROWS,
    SPEED,
    iso,
    time_at,
    written,
)
from whole_reading import read_text

from gearing.logs.column_rule import ColumnRule
from gearing.logs.model import Reading
from gearing.logs.read import read_log

WARM = np.minimum(88, 20 + AT // 4) + AT % 3  # degC, of an engine that warms up


def _needle(n: int) -> str:
    return f"{NEEDLE[n] * 3.6:.1f}"


def _codes(reading: Reading) -> list[tuple[str, str]]:
    return [(one.code, one.column) for one in reading.questions]


def _course(turning: bool) -> tuple[np.ndarray, np.ndarray]:
    """Latitude and longitude of the drive eastward, straight on or ever turning."""
    course = AT / 150 if turning else np.full(ROWS, math.pi / 2)
    north, east = np.cumsum(SPEED * np.cos(course)), np.cumsum(SPEED * np.sin(course))
    latitude = 44.2 + north / 111_132
    return latitude, -7.9 + east / (111_320 * math.cos(math.radians(44.2)))


def _swapped(folder: Path, turning: bool, **options: tuple[ColumnRule, ...]) -> Reading:
    latitude, longitude = _course(turning)
    head = ["Time", "Latitude", "Longitude", "Vehicle speed (km/h)"]
    row = lambda n: [iso(n), f"{longitude[n]:.6f}", f"{latitude[n]:.6f}", _needle(n)]  # noqa: E731
    path = folder / "log.csv"
    path.write_text(written(head, row))
    return read_log(path, **options)


def test_swapped_positions_are_put_right_by_the_dash_on_a_road_that_turns(tmp_path: Path) -> None:
    reading = _swapped(tmp_path, turning=True)
    assert [one.code for one in reading.repairs] == ["positions-in"]
    assert reading.samples["latitude_deg"].to_numpy() == pytest.approx(_course(True)[0], abs=2e-6)


def test_swapped_positions_are_asked_about_on_a_straight_road(tmp_path: Path) -> None:
    """As they stand the dash would be off by a third."""
    asked = _swapped(tmp_path, turning=False)
    assert _codes(asked) == [("which-channel", "Latitude"), ("which-channel", "Longitude")]
    assert "latitude_deg" not in asked.samples.columns
    rules = tuple(
        ColumnRule(heading=heading, channel=channel)
        for heading, channel in (("Latitude", "longitude"), ("Longitude", "latitude"))
    )
    answered = _swapped(tmp_path, turning=False, rules=rules)
    assert not answered.questions
    assert answered.samples["latitude_deg"].to_numpy() == pytest.approx(_course(False)[0], abs=2e-6)


@pytest.mark.parametrize("factor", [0.9, 1.1])
def test_tires_do_not_make_positions_doubtful(factor: float, tmp_path: Path) -> None:
    latitude, longitude = _course(turning=False)
    head = ["Time", "Latitude", "Longitude", "Vehicle speed (km/h)"]
    row = lambda n: [iso(n), f"{latitude[n]:.6f}", f"{longitude[n]:.6f}",  # noqa: E731
                     f"{SPEED[n] * 3.6 * factor:.1f}"]  # fmt: skip
    assert not read_text(tmp_path / "log.csv", written(head, row)).questions


@pytest.mark.parametrize("heading", ["SPN 110", "PID 05", "Coolant temp"])
def test_counts_of_a_bus_are_no_degrees(heading: str, tmp_path: Path) -> None:
    text = written(["Time", "RPM", heading], lambda n: [iso(n), "900", f"{WARM[n] + 40}"])
    reading = read_text(tmp_path / "log.csv", text)
    assert reading.samples["coolant_temperature_c"].to_list() == WARM.tolist()
    assert not reading.questions


def test_air_is_in_counts_where_the_coolant_is(tmp_path: Path) -> None:
    row = lambda n: [iso(n), f"{WARM[n] + 40}", f"{AT[n] % 5 + 60}"]  # noqa: E731
    reading = read_text(tmp_path / "log.csv", written(["Time", "SPN 110", "SPN 172"], row))
    assert reading.samples["intake_air_temperature_c"].to_list() == (AT % 5 + 20).tolist()


def test_degrees_that_no_engine_has_are_asked_about(tmp_path: Path) -> None:
    head = ["Time", "RPM", "Coolant temperature (degC)"]
    text = written(head, lambda n: [iso(n), "900", f"{WARM[n] + 40}"])
    reading = read_text(tmp_path / "log.csv", text)
    assert _codes(reading) == [("two-units", head[2])]
    assert 'unit = "counts above -40 degC"' in reading.questions[0].remedy


def test_a_transmission_may_be_so_hot(tmp_path: Path) -> None:
    text = written(["Time", "RPM", "Transmission oil temp"],
                   lambda n: [iso(n), "900", f"{120 + n % 4}"])  # fmt: skip
    assert _codes(read_text(tmp_path / "log.csv", text)) == [
        ("which-unit", "Transmission oil temp")
    ]


def _rpm(n: int) -> str:
    return f"{ENGINE[n]:.0f}"


@pytest.mark.parametrize(
    ("head", "row", "read"),
    [
        (["Tacho", "Speed km/h"], lambda n: [_rpm(n), _needle(n)], (0, 1)),
        (["Tacho", "Vehicle speed (km/h)"], lambda n: [_rpm(n), _needle(n)], (0, 1)),
        (["Speed km/h", "tach"], lambda n: [_needle(n), _rpm(n)], (0, 1)),
        (["Tacho (km/h)", "Motor rpm"], lambda n: [_needle(n), _rpm(n)], (0, 1)),
        (["Tacho", "GPS km/h"], lambda n: [_needle(n), f"{SPEED[n] * 3.6:.2f}"], (1, 0)),
    ],
)  # fmt: skip
def test_a_tacho_is_what_its_numbers_are(
    head: list[str], row: object, read: tuple[int, int], tmp_path: Path
) -> None:
    """An engine's dial beside a plain speed does not take its place."""
    assert callable(row)
    text = written(["Time", *head], lambda n: [iso(n), *row(n)])
    reading = read_text(tmp_path / "log.csv", text)
    assert not reading.questions
    second = "engine_speed_rpm" if read == (0, 1) else "gps_speed_mps"
    assert set(reading.samples.columns) == {"time", "line", "indicated_speed_mps", second}
    for name in ("indicated_speed_mps", second):
        assert np.abs(reading.samples[name].to_numpy() - DRIVE[name]).max() < 0.6


def test_a_tacho_that_may_be_either_does_not_give_up_the_speed_beside_it(tmp_path: Path) -> None:
    text = written(["Time", "Tacho", "Speed km/h"],
                   lambda n: [iso(n), f"{NEEDLE[n] * 3.7:.0f}", _needle(n)])  # fmt: skip
    asked = dict.fromkeys(column for _, column in _codes(read_text(tmp_path / "log.csv", text)))
    assert set(asked) == {"Tacho", "Speed km/h"}


@pytest.mark.parametrize("falling", [False, True])
def test_days_that_may_count_from_1904_are_told(falling: bool, tmp_path: Path) -> None:
    """Nothing but the day tells the two counts apart."""
    at = (lambda n: ROWS - 1 - n) if falling else (lambda n: n)
    days = lambda n: f"{time_at(at(n)).timestamp() / 86_400 + 25_569 - 1462:.8f}"  # noqa: E731
    text = written(["Time", "RPM"], lambda n: [days(n), _rpm(n)])
    unknown = read_text(tmp_path / "log.csv", text)
    told = {one.code: one.message for one in unknown.repairs}
    assert f"{BEGAN:%Y-%m-%d}" in told["counted-from-1900"]
    named = read_text(tmp_path / f"{BEGAN:%Y-%m-%d}.csv", text)
    assert "counted-from-1900" not in {one.code for one in named.repairs}
    assert named.samples["time"][0] == BEGAN


def test_local_times_beyond_any_calendar_stop_nothing(tmp_path: Path) -> None:
    """Steps of 100 ns since the year 1, local, through the hour that does not exist; one is
    damaged."""
    began = (time_at(0).timestamp() + 62_135_596_800) * 1e7
    gap = began - (BEGAN.timestamp() - 1_772_937_000) * 1e7  # 2026-03-08, half past two
    text = written(["Time", "RPM"], lambda n: [
        "-9000000000000000000" if n == 9 else f"{gap + n * 1e7:.0f}", _rpm(n)])  # fmt: skip
    path = tmp_path / "log.csv"
    path.write_text(text)
    reading = read_log(path, time_zone="America/Denver")
    assert reading.rows_used == ROWS - 1
    assert [one.code for one in reading.set_aside_rows] == ["unreadable-time"]


def test_digits_before_a_time_of_day_are_a_date_that_is_not_known(tmp_path: Path) -> None:
    """2026-134 is the 14th of May; the day in the file's name is not put in its place."""
    text = written(["Time", "RPM"], lambda n: [time_at(n).strftime("%Y-%jT%H:%M:%SZ"), _rpm(n)])
    reading = read_text(tmp_path / "2026-01-01.csv", text)
    assert [code for code, _ in _codes(reading)] == ["which-time"]


CELLS = {
    "km/h": SPEED * 3.6,
    "1/min": ENGINE,
    "kPa": 90 + AT % 3,
    "mL/s": 2 + AT % 7 / 10,
}  # fmt: skip
CHANNELS = ("gps_speed_mps", "engine_speed_rpm", "barometric_pressure_kpa", "fuel_rate_lph")
SCALES = (1 / 3.6, 1, 1, 3.6)
NAMES = {
    "English": ["Time", "GPS speed", "Engine speed", "Barometric pressure", "Fuel rate"],
    "Polish": ["Data i godzina", "Prędkość GPS", "Obroty", "Ciśnienie atmosferyczne",
               "Zużycie paliwa"],
    "Japanese": ["日時", "GPS速度", "エンジン回転数", "大気圧", "燃料流量"],
}  # fmt: skip
STAMPS = {
    "English": "%Y:%m:%d %H:%M:%S",
    "Polish": "%Y_%m_%d_%H_%M_%S",
    "Japanese": "%Y年%m月%d日 %H時%M分%S秒",
}


@pytest.mark.parametrize("inside", [True, False], ids=["units in cells", "units in headings"])
@pytest.mark.parametrize("sign", [".", ","])
@pytest.mark.parametrize("language", NAMES)
def test_units_behind_a_blank(language: str, sign: str, inside: bool, tmp_path: Path) -> None:
    first, *names = NAMES[language]
    head = names if inside else [f"{one} {unit}" for one, unit in zip(names, CELLS, strict=True)]

    def row(n: int) -> list[str]:
        numbers = (f"{values[n]:.3f}".replace(".", sign) for values in CELLS.values())
        return [time_at(n).strftime(STAMPS[language]),
                *(f"{one} {unit}" if inside else one
                  for one, unit in zip(numbers, CELLS, strict=True))]  # fmt: skip

    reading = read_text(tmp_path / "log.csv", written([first, *head], row, ";"))
    assert (_codes(reading), reading.set_aside_values) == ([], ())
    assert reading.samples["time"].to_list() == [time_at(n) for n in range(ROWS)]
    for name, values, scale in zip(CHANNELS, CELLS.values(), SCALES, strict=True):
        assert reading.samples[name].to_numpy() == pytest.approx(values * scale, abs=0.002)


def test_the_same_headings_over_other_units_begin_anew(tmp_path: Path) -> None:
    """A recorder that was set from km/h to mph on the way: its second units row is read."""
    half = ROWS // 2

    def rows(first: int, scale: float) -> str:
        return "".join(
            f"{iso(n)},{NEEDLE[n] * scale:.2f},{ENGINE[n]:.0f}\n"
            for n in range(first, first + half)
        )

    head = "Time,Vehicle speed,RPM\n"
    text = f"{head},km/h,rpm\n{rows(0, 3.6)}{head},mph,rpm\n{rows(half, 3600 / 1609.344)}"
    reading = read_text(tmp_path / "log.csv", text)
    assert [one.code for one in reading.repairs] == ["new-headings"]
    assert not reading.questions
    assert reading.samples["indicated_speed_mps"].to_numpy() == pytest.approx(NEEDLE, abs=0.01)


@pytest.mark.parametrize("sign", [".", ","])
@pytest.mark.parametrize("idles", [True, False])
def test_heights_whose_thousands_are_parted(sign: str, idles: bool, tmp_path: Path) -> None:
    """1.764 m beside turns of 2.086 and 950 is 1764 m: one sign does not part both thousands and
    decimals. Nor does any engine turn two times a minute."""
    turns = np.rint(ENGINE if idles else ENGINE + 400).astype(int)
    height = 1200 + AT // 3
    text = written(
        ["Time", "RPM", "Altitude (m)", "Vehicle speed (km/h)"],
        lambda n: [iso(n), *(f"{one[n]:,}".replace(",", sign) for one in (turns, height)),
                   f"{NEEDLE[n] * 3.6:.0f}"],
        ";",
    )  # fmt: skip
    reading = read_text(tmp_path / "log.csv", text)
    assert reading.samples["engine_speed_rpm"].to_list() == turns.tolist()
    assert reading.samples["altitude_m"].to_list() == height.tolist()
    assert {one.code for one in reading.repairs} == {"thousands-separator"}


def test_names_behind_the_numbers_of_group_and_parameter(tmp_path: Path) -> None:
    """SAE J1939-71: parameter 190 in group 61444, 84 in 65265."""
    head = ["Time", "61444_190_EngineSpeed", "65265_84_WheelBasedVehicleSpeed [km/h]"]
    reading = read_text(
        tmp_path / "log.csv", written(head, lambda n: [iso(n), _rpm(n), _needle(n)])
    )
    assert not reading.questions
    assert set(reading.samples.columns) == {
        "time",
        "line",
        "engine_speed_rpm",
        "indicated_speed_mps",
    }


@pytest.mark.parametrize("sign", [".", ","])
def test_one_speed_in_two_units_is_one(sign: str, tmp_path: Path) -> None:
    head = ["Time", "Vehicle speed (mph)", "Vehicle speed (km/h)"]

    def text(off: float) -> str:
        return written(
            head,
            lambda n: [iso(n), f"{NEEDLE[n] * 3600 / 1609.344 * off:.0f}".replace(".", sign),
                       f"{NEEDLE[n] * 3.6:.1f}".replace(".", sign)],
            ";",
        )  # fmt: skip

    reading = read_text(tmp_path / "log.csv", text(1))
    assert not reading.questions
    assert reading.samples["indicated_speed_mps"].to_numpy() == pytest.approx(NEEDLE, abs=0.02)
    assert [code for code, _ in _codes(read_text(tmp_path / "log.csv", text(1.05)))] == [
        "which-column"
    ]
