"""Logs in dialects of recorders, fleets' exports, phones and spreadsheets, against the drive
they were written from.

A drive of half an hour at a row a second, with a stop in it, is written in each way. What is read
must be that drive; what cannot be read must be told, and no row lost without a word.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from known_drive import (
    AT,
    BEGAN,
    DRIVE,
    ENGINE,
    FUEL,
    LAT,
    LOAD,
    LON,
    MOST,
    NEEDLE,
    PLACE,
    REST,
    ROWS,
    SPEED,
    WITHIN,
    assert_as_it_was,
    cells,
    comma_cells,
    in_minutes,
    iso,
    place_at,
    time_at,
    written,
)
from whole_reading import read_text

from gearing.logs.column_rule import ColumnRule
from gearing.logs.read import read_log

LEAP_S = 18  # seconds GPS is ahead of UTC since 2017 (IERS Bulletin C 52)
GPS_BEGAN = datetime(1980, 1, 6, tzinfo=UTC)  # IS-GPS-200


def _gps_week(scale: int, n: int) -> list[str]:
    week, second = divmod(int((time_at(n) - GPS_BEGAN).total_seconds()) + LEAP_S, 604_800)
    return [str(week), str(second * scale)]


def _hundreds(n: int, began: datetime) -> str:
    return str((time_at(n) - began) // timedelta(microseconds=1) * 10)


def _local(form: str, sign: str, *head: str) -> str:
    return written(
        list(head),
        lambda n: [*(time_at(n).strftime(one) for one in form.split("|")), *comma_cells(n)],
        sign,
    )


# a dialect: the file's name, its text, what codes it, and the channels it holds
Dialect = tuple[str, str, str, tuple[str, ...]]
RIGHT: dict[str, Dialect] = {
    "UTF-16 without a mark": (
        "log.csv", written(["Time", *REST], lambda n: [iso(n), *cells(n)]), "utf-16-be", MOST,
    ),
    "Italian": (
        "log.csv",
        _local("%d/%m/%Y|%H:%M:%S", ";", "Data", "Ora", "Latitudine (°)", "Longitudine (°)",
               "Quota (m)", "Velocità GPS (km/h)", "Velocità veicolo (km/h)",
               "Giri motore (1/min)", "Portata carburante (l/h)"), "cp1252", MOST,
    ),
    "Dutch": (
        "log.csv",
        _local("%d-%m-%Y|%H:%M:%S", ";", "Datum", "Tijd", "Breedtegraad", "Lengtegraad",
               "Hoogte (m)", "GPS snelheid (km/u)", "Voertuigsnelheid (km/u)", "Toerental (tpm)",
               "Brandstofverbruik (l/u)"), "utf-8", MOST,
    ),
    "Portuguese": (
        "log.csv",
        _local("%d/%m/%Y|%H:%M:%S", ";", "Data", "Hora", "Latitude", "Longitude", "Altitude (m)",
               "Velocidade GPS (km/h)", "Velocidade do veículo (km/h)", "Rotação do motor (rpm)",
               "Consumo de combustível (L/h)"), "utf-8", MOST,
    ),
    "Swedish": (
        "log.csv",
        _local("%Y-%m-%d %H:%M:%S", ";", "Tid", "Latitud", "Longitud", "Höjd (m)",
               "GPS-hastighet (km/h)", "Fordonshastighet (km/h)", "Varvtal (rpm)",
               "Bränsleflöde (l/h)"), "cp1252", MOST,
    ),
    "Polish": (
        "log.csv",
        _local("%Y-%m-%d %H:%M:%S", ";", "Czas", "Szerokość geograficzna", "Długość geograficzna",
               "Wysokość [m]", "Prędkość GPS [km/h]", "Prędkość pojazdu [km/h]",
               "Obroty silnika [obr/min]", "Zużycie paliwa [l/h]"), "utf-8", MOST,
    ),
    "GPS week and seconds of it": (
        "log.csv",
        written(["GPS Week", "GPS Seconds of Week", *REST],
                lambda n: [*_gps_week(1, n), *cells(n)]),
        "utf-8", MOST,
    ),
    "GPS week and milliseconds of it": (
        "log.csv",
        written(["Week", "iTOW (ms)", *REST], lambda n: [*_gps_week(1000, n), *cells(n)]),
        "utf-8", MOST,
    ),
    "seconds of the day": (
        "drive 2026-05-14.csv",
        written(["Seconds of day", *REST], lambda n: [str(50_700 + n), *cells(n)]), "utf-8", MOST,
    ),
    "nanoseconds since 1970": (
        "log.csv",
        written(["timestamp_ns", *REST],
               lambda n: [f"{int(time_at(n).timestamp())}000000000", *cells(n)]), "utf-8", MOST,
    ),
    "steps of 100 ns since the year 1": (
        "log.csv",
        written(["Time", *REST],
                lambda n: [_hundreds(n, datetime(1, 1, 1, tzinfo=UTC)), *cells(n)]),
        "utf-8", MOST,
    ),
    "steps of 100 ns since 1601": (
        "log.csv",
        written(["Time", *REST],
               lambda n: [_hundreds(n, datetime(1601, 1, 1, tzinfo=UTC)), *cells(n)]),
        "utf-8", MOST,
    ),
    "longitudes of the west": (
        "log.csv",
        written(["Time", "Latitude (°N)", "Longitude (°W)", *REST[2:]],
               lambda n: [iso(n), place_at(n)[0], f"{-LON[n]:.6f}", *cells(n)[2:]]), "utf-8", MOST,
    ),
    "a dial's thousands": (
        "log.csv",
        written(["Time", *REST[:5], "RPM x1000", REST[6]],
               lambda n: [iso(n), *cells(n)[:5], f"{ENGINE[n] / 1000:.4f}", cells(n)[6]]),
        "utf-8", MOST,
    ),
    "radians a second": (
        "log.csv",
        written(["Time", *REST[:5], "Engine speed (rad/s)", REST[6]],
               lambda n: [iso(n), *cells(n)[:5], f"{ENGINE[n] * math.pi / 30:.3f}", cells(n)[6]]),
        "utf-8", MOST,
    ),
    "quarter turns as the bus counts them": (
        "log.csv",
        written(["Time", *REST[:5], "Engine speed (0.25 rpm/bit)", REST[6]],
               lambda n: [iso(n), *cells(n)[:5], f"{ENGINE[n] * 4:.0f}", cells(n)[6]]),
        "utf-8", MOST,
    ),
    "a count of hundredths": (
        "2026-05-14_1405.csv",
        written(["Time", *REST], lambda n: [str(n * 100), *cells(n)]), "utf-8", MOST,
    ),
    "a count of minutes": (
        "2026-05-14_1405.csv",
        written(["Time", *REST], lambda n: [f"{n / 60:.8f}", *cells(n)]), "utf-8", MOST,
    ),
    "minutes and seconds like hours and minutes": (
        "2026-05-14_1405.csv",
        written(["Time", *REST], lambda n: [f"{n // 60}:{n % 60:02d}", *cells(n)]), "utf-8", MOST,
    ),
    "points that part thousands, and no other": (
        "log.csv",
        written(["Time", *REST[:5], "RPM"],
               lambda n: [iso(n), *cells(n)[:5], f"{ENGINE[n]:,.0f}".replace(",", ".")], ";"),
        "utf-8", MOST[:6],
    ),
    "commas that part thousands, between semicolons": (
        "log.csv",
        written(["Time", "RPM"], lambda n: [iso(n), f"{ENGINE[n]:,.0f}"], ";"),
        "utf-8", ("engine_speed_rpm",),
    ),
    "date and time in digits alone": (
        "log.csv",
        written(["Date", "Time", *REST],
               lambda n: [time_at(n).strftime("%Y%m%d"), time_at(n).strftime("%H%M%S"), *cells(n)]),
        "utf-8", MOST,
    ),
    "a time in digits alone, without its zeros": (
        "2026-05-14.csv",
        written(["Time", *REST],
               lambda n: [str(int(time_at(n).strftime("%H%M%S"))) + ".00", *cells(n)]),
        "utf-8", MOST,
    ),
    "degrees and minutes in one, letters behind": (
        "log.csv",
        written(["Time", "Latitude", "Longitude", "Speed (knots)"],
               lambda n: [iso(n), in_minutes(LAT[n], 2) + "N", in_minutes(LON[n], 3) + "W",
                          f"{SPEED[n] * 3600 / 1852:.2f}"]), "utf-8", PLACE,
    ),
    "positions in ten-millionths": (
        "log.csv",
        written(["time", "lat", "lon", "gps speed (m/s)"],
               lambda n: [iso(n), f"{LAT[n] * 1e7:.0f}", f"{LON[n] * 1e7:.0f}",
                          f"{SPEED[n]:.2f}"]), "utf-8", PLACE,
    ),
    "positions in radians": (
        "log.csv",
        written(["time", "lat", "lon", "gps speed (m/s)"],
               lambda n: [iso(n), f"{math.radians(LAT[n]):.9f}", f"{math.radians(LON[n]):.9f}",
                          f"{SPEED[n]:.2f}"]), "utf-8", PLACE,
    ),
    "units and thousands in the cells": (
        "log.csv",
        written(["Time", "Latitude", "Longitude", "GPS speed", "Vehicle speed", "RPM", "Fuel rate"],
               lambda n: [iso(n), *place_at(n), f"{SPEED[n] * 3.6:.1f} km/h",
                          f"{NEEDLE[n] * 3.6:.0f}km/h",
                          f"{ENGINE[n]:,.0f} rpm".replace(",", "\u202f"), f"{FUEL[n]:.2f} L/h"]),
        "utf-8", (*PLACE, "indicated_speed_mps", "engine_speed_rpm", "fuel_rate_lph"),
    ),
    "cells as formulas": (
        "log.csv",
        written(["Time", *REST], lambda n: [f'="{iso(n)}"', *(f'="{one}"' for one in cells(n))]),
        "utf-8", MOST,
    ),
    "a load as a fraction": (
        "log.csv",
        written(["Time", *REST, "Engine load"],
               lambda n: [iso(n), *cells(n), f"{LOAD[n] / 100:.3f}"]),
        "utf-8", tuple(DRIVE),
    ),
    "a load as a byte": (
        "log.csv",
        written(["Time", *REST, "Engine load (0-255)"],
               lambda n: [iso(n), *cells(n), f"{LOAD[n] * 2.55:.0f}"]), "utf-8", tuple(DRIVE),
    ),
    "the trip's number": (
        "log.csv",
        written(["Time", "Trip", *REST], lambda n: [iso(n), str(1 + n // 600), *cells(n)]),
        "utf-8", MOST,
    ),
    "one number for all": (
        "log.csv",
        written(["Vehicle ID", "Time", "Trip", *REST], lambda n: ["7", iso(n), "12", *cells(n)]),
        "utf-8", MOST,
    ),
    "the accuracy of the speed": (
        "log.csv",
        written(["Time", *REST[:4], "Speed accuracy (m/s)"],
               lambda n: [iso(n), *cells(n)[:4], "0.4"]), "utf-8", MOST[:4],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", sorted(RIGHT))
def test_the_drive_is_read_as_it_was(name: str, tmp_path: Path) -> None:
    file, text, encoding, channels = RIGHT[name]
    reading = read_text(tmp_path / file, text, encoding)
    assert_as_it_was(reading, channels)


def test_seconds_of_the_day_pass_midnight(tmp_path: Path) -> None:
    text = written(["Seconds of day", *REST], lambda n: [str((85_800 + n) % 86_400), *cells(n)])
    times = read_text(tmp_path / "drive 2026-05-14.csv", text).samples["time"]
    began = datetime(2026, 5, 14, 23, 50, tzinfo=UTC)
    assert times.to_list() == [began + timedelta(seconds=n) for n in range(ROWS)]


@pytest.mark.parametrize(
    ("form", "day"),
    [("%d%m%y", "2026-05-14"), ("%m%d%y", "2026-05-14"), ("%y%m%d", "2026-05-14"),
     ("%d%m%y", "2026-05-20"), ("%y%m%d", "2026-05-20")],
)  # fmt: skip
def test_a_date_of_six_digits_is_right_or_asked_for(form: str, day: str, tmp_path: Path) -> None:
    """200526 is the 20th of May 2026 or the 26th of May 2020: never taken for either."""
    began = datetime.fromisoformat(f"{day}T14:05:00Z")
    head = ["Date", "Time", *REST]
    text = written(head, lambda n: [began.strftime(form),
                                   (began + timedelta(seconds=n)).strftime("%H%M%S"),
                                   *cells(n)])  # fmt: skip
    reading = read_text(tmp_path / "log.csv", text)
    if reading.rows_used:
        assert reading.samples["time"][0] == began
    else:
        assert reading.questions
    assert bool(reading.rows_used) == day.endswith("14")


def _of_two(place: float, whose: Callable[[int], str], at: Callable[[int], int]) -> str:
    def row(n: int) -> list[str]:
        lat, *rest = cells(n)
        away = place if whose(n) == "B" else 0.0
        return [whose(n), iso(at(n)), f"{float(lat) + away:.6f}", *rest]

    return written(["Vehicle", "Time", *REST], row)


@pytest.mark.parametrize(
    "text",
    [
        _of_two(2.0, lambda n: "AB"[n % 2], lambda n: n),
        _of_two(2.0, lambda n: "AB"[n // 900], lambda n: n % 900),
        _of_two(0.01, lambda n: "AB"[n // 900], lambda n: n),
    ],
    ids=["row by row", "one below the other", "one after the other"],
)
def test_several_vehicles_are_no_log(text: str, tmp_path: Path) -> None:
    reading = read_text(tmp_path / "log.csv", text)
    (problem,) = reading.set_aside_rows
    assert problem.code == "several-vehicles"
    assert "'Vehicle' names 2" in problem.message
    assert reading.rows_used == 0


def test_a_damaged_number_is_no_second_vehicle(tmp_path: Path) -> None:
    text = _of_two(0.0, lambda n: "A#" if n == 77 else "A", lambda n: n)
    assert read_text(tmp_path / "log.csv", text).rows_used == ROWS


def test_a_table_beside_the_first_is_told(tmp_path: Path) -> None:
    head = ["Time", *REST[:4], "", "Time", "RPM"]
    text = written(head, lambda n: [iso(n), *cells(n)[:4], "", iso(n + 100), cells(n)[5]])
    reading = read_text(tmp_path / "log.csv", text)
    assert reading.rows_used == ROWS
    assert "engine_speed_rpm" not in reading.samples.columns
    told = {(p.column, p.code, p.count) for p in reading.set_aside_values}
    assert told == {(one, "second-table", ROWS) for one in ("Time #2", "RPM")}
    assert all(p.remedy for p in reading.set_aside_values)


def test_the_same_time_twice_is_one_table(tmp_path: Path) -> None:
    head = ["Time", *REST[:4], "", "Time", "RPM"]
    text = written(head, lambda n: [iso(n), *cells(n)[:4], "", iso(n), cells(n)[5]])
    reading = read_text(tmp_path / "log.csv", text)
    off = np.abs(reading.samples["engine_speed_rpm"].to_numpy() - ENGINE).max()
    assert off <= WITHIN["engine_speed_rpm"]


@pytest.mark.parametrize("decimals", [0, 1])
def test_a_trips_distance_is_asked_about(decimals: int, tmp_path: Path) -> None:
    way_km = np.cumsum(NEEDLE) / 1000
    text = written(
        ["Time", "Trip", *REST], lambda n: [iso(n), f"{way_km[n]:.{decimals}f}", *cells(n)]
    )
    (question,) = read_text(tmp_path / "log.csv", text).questions
    assert question.column == "Trip"


def _with(heading: str, cell: Callable[[int], str]) -> str:
    return written(["Time", *REST[:4], heading], lambda n: [iso(n), *cells(n)[:4], cell(n)])


@pytest.mark.parametrize("heading", ["RPM (max)", "RPM (raw)", "Engine speed (rpm/2)"])
def test_another_engine_speed_is_asked_about(heading: str, tmp_path: Path) -> None:
    reading = read_text(tmp_path / "log.csv", _with(heading, lambda n: f"{ENGINE[n]:.0f}"))
    (question,) = reading.questions
    assert question.column == heading
    assert "engine_speed_rpm" not in reading.samples.columns


def test_sixteens_digits_are_no_numbers(tmp_path: Path) -> None:
    """0AF0 is no number and 1230 would be one: of such a column none is."""
    reading = read_text(tmp_path / "log.csv", _with("010C", lambda n: f"{int(ENGINE[n] * 4):04X}"))
    (problem,) = reading.set_aside_values
    assert (problem.code, problem.count) == ("unreadable-value", ROWS)


def test_fuel_since_the_row_before_is_no_count(tmp_path: Path) -> None:
    reading = read_text(
        tmp_path / "log.csv", _with("Fuel used (L)", lambda n: f"{FUEL[n] / 3600:.6f}")
    )
    (problem,) = reading.set_aside_values
    assert (problem.code, problem.count) == ("no-count", ROWS)
    assert problem.remedy


@pytest.mark.parametrize("written", [lambda used: used % 3.0, lambda used: used])
def test_a_count_set_back_now_and_then_is_one(
    written: Callable[[np.ndarray], np.ndarray], tmp_path: Path
) -> None:
    used = written(np.cumsum(FUEL) / 3600)
    reading = read_text(tmp_path / "log.csv", _with("Fuel used (L)", lambda n: f"{used[n]:.4f}"))
    assert not reading.set_aside_values
    assert np.abs(reading.samples["fuel_used_l"].to_numpy() - used).max() <= 5e-5 + 1e-9


def test_rows_above_the_headings_are_counted(tmp_path: Path) -> None:
    head, *rows = written(["Time", *REST], lambda n: [iso(n), *cells(n)]).splitlines()
    text = "\n".join([*rows[:500], head, *rows[500:]]) + "\n"
    reading = read_text(tmp_path / "log.csv", text)
    assert (reading.rows_read, reading.rows_used) == (ROWS, ROWS - 500)
    (problem,) = reading.set_aside_rows
    assert (problem.code, problem.first_line, problem.last_line) == ("above-headings", 1, 500)


def test_a_count_from_2001_is_asked_about(tmp_path: Path) -> None:
    began = datetime(2001, 1, 1, tzinfo=UTC)
    text = written(
        ["Time", *REST], lambda n: [f"{(time_at(n) - began).total_seconds():.1f}", *cells(n)]
    )
    (question,) = read_text(tmp_path / "log.csv", text).questions
    assert 'unit = "s since 2001-01-01"' in question.remedy
    path = tmp_path / "log.csv"
    rule = ColumnRule(heading="Time", channel="time", unit="s since 2001-01-01")
    assert read_log(path, rules=(rule,)).samples["time"][0] == BEGAN


@pytest.mark.parametrize("fault", ["held", "spikes", "no fix"])
def test_faults_of_positions_do_not_stretch_the_time(fault: str, tmp_path: Path) -> None:
    """Seconds that stay seconds, whatever the fixes do."""
    lat = LAT.copy()
    if fault == "held":
        lat = LAT[AT // 10 * 10]
    elif fault == "spikes":
        lat[::90] += 0.05
    else:
        lat[::450] = 0.0

    def row(n: int) -> list[str]:
        return [str(n), f"{lat[n]:.6f}", *cells(n)[1:]]

    reading = read_text(tmp_path / "2026-05-14_1405.csv", written(["Time", *REST], row))
    assert reading.samples["time"].to_list() == [time_at(n) for n in range(ROWS)]


def test_fractions_beside_hundreds_are_no_thousands(tmp_path: Path) -> None:
    """A rate of 1.234 and of 100 L/h, with zeros at the end left out."""
    rate = np.where(AT % 3 == 0, 100 + AT % 7, 1 + AT % 977 / 1000)
    reading = read_text(tmp_path / "log.csv", _with("Fuel rate (L/h)", lambda n: f"{rate[n]:.6g}"))
    assert np.abs(reading.samples["fuel_rate_lph"].to_numpy() - rate).max() < 1e-9
