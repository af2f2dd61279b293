"""Weather as open archives hand it out, each read to the same three hours.

Forms, from memory of their documents: Integrated Surface Data and local climatological data of
the national centers for environmental information, airports' reports as comma-separated columns
(temperatures in degF, wind in knots, altimeter setting in inHg), national services' stations, and
forecast services' archives with a line on the place above the table.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from gearing.logs.weather import read_weather
from gearing.study.model import ColumnRule

ZONE = "America/Denver"  # UTC-7 in February
KNOT_MPS = 1852 / 3600  # exact by definition
INHG_KPA = 3.38639

SURFACE = (
    '"STATION","DATE","REPORT_TYPE","WND","CIG","TMP","SLP"',
    '"720","2026-02-10T07:00:00","FM-15","220,1,N,0046,1","22000,1,9,N","-0056,1","10132,1"',
    '"720","2026-02-10T08:00:00","FM-15","999,9,C,0000,1","22000,1,9,N","+0012,1","99999,9"',
    '"720","2026-02-10T09:00:00","FM-15","010,1,N,9999,9","22000,1,9,N","+9999,9","10140,1"',
)
REPORTS = (
    "station,valid,tmpf,relh,drct,sknt,alti,mslp,gust",
    "XMR,2026-02-10 00:00,14.00,50.0,220.00,9.00,29.92,1014.2,M",
    "XMR,2026-02-10 01:00,M,50.0,M,0.00,29.93,M,M",
    "XMR,2026-02-10 02:00,32.00,50.0,10.00,12.00,29.94,1013.0,18.0",
)
HOURS = (
    "Date,Hour,Temp (F),Avg Wind Speed - mph,Prevailing Wind Direction",
    "02/28/2026,0,14,10,SW",
    "02/28/2026,1,23,0,",
    "02/28/2026,2,32,20,N",
)
PLACE = (
    "latitude,longitude,elevation,utc_offset_seconds,timezone,timezone_abbreviation",
    "44.1,-107.2,1400.0,{},{}",
    "",
    "time,temperature_2m (°F),pressure_msl (hPa),surface_pressure (hPa),"
    "wind_speed_10m (mp/h),wind_direction_10m (°)",
    "2026-02-10T00:00,14.0,1015.0,855.0,10.0,220",
    "2026-02-10T01:00,23.0,1015.0,856.0,0.0,0",
    "2026-02-10T02:00,32.0,1015.0,857.0,20.0,10",
)
STATION = (
    "STATIONS_ID;MESS_DATUM;QN_3;Windgeschwindigkeit [m/s];Windrichtung;eor",
    "1;2026021000;10;  4.6; 220;eor",
    "1;2026021001;10;  0.0;   0;eor",
    "1;2026021002;10;  6.0;  10;eor",
)


def _file(folder: Path, lines: tuple[str, ...]) -> Path:
    path = folder / "weather.csv"
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return path


def test_values_packed_with_their_quality_are_read_in_utc(tmp_path: Path) -> None:
    read = read_weather(_file(tmp_path, SURFACE), ZONE)
    assert read.problems == ()
    frame = read.frame
    assert frame["time"].to_list() == [datetime(2026, 2, 10, h, tzinfo=UTC) for h in (7, 8, 9)]
    assert frame["wind_speed_mps"].to_list() == pytest.approx([4.6, 0.0, None])
    assert frame["wind_from_deg"].to_list() == [220, None, 10]
    assert frame["ambient_temperature_c"].to_list() == pytest.approx([-5.6, 1.2, None])
    assert frame["barometric_pressure_kpa"].to_list() == pytest.approx([101.32, None, 101.4])


def test_airports_reports_are_known_by_their_short_names(tmp_path: Path) -> None:
    read = read_weather(_file(tmp_path, REPORTS), ZONE)
    assert read.problems == ()
    frame = read.frame
    assert frame["time"][0] == datetime(2026, 2, 10, 7, tzinfo=UTC)
    assert frame["wind_speed_mps"].to_list() == pytest.approx([9 * KNOT_MPS, 0.0, 12 * KNOT_MPS])
    assert frame["wind_from_deg"].to_list() == [220, None, 10]
    assert frame["ambient_temperature_c"].to_list() == pytest.approx([-10.0, None, 0.0])
    assert frame["barometric_pressure_kpa"][0] == pytest.approx(29.92 * INHG_KPA, rel=1e-5)


def test_a_bare_hour_beside_the_date_is_the_time_of_day(tmp_path: Path) -> None:
    read = read_weather(_file(tmp_path, HOURS), ZONE)
    assert read.problems == ()
    frame = read.frame
    assert frame["time"].to_list() == [datetime(2026, 2, 28, h, tzinfo=UTC) for h in (7, 8, 9)]
    assert frame["wind_speed_mps"].to_list() == pytest.approx([4.4704, 0.0, 8.9408])
    assert frame["wind_from_deg"].to_list() == [225, None, 0]
    assert frame["ambient_temperature_c"].to_list() == pytest.approx([-10.0, -5.0, 0.0])


@pytest.mark.parametrize(("hours", "first"), [(("0000", "0100", "0200"), 7), (("1", "2", "24"), 8)])
def test_hours_may_be_written_with_minutes_and_end_at_24(
    tmp_path: Path, hours: tuple[str, ...], first: int
) -> None:
    rows = (f"2026-02-10,{hour},{n},90" for n, hour in enumerate(hours))
    lines = ("date,hour,wind speed (m/s),wind direction", *rows)
    frame = read_weather(_file(tmp_path, lines), ZONE).frame
    assert frame["time"][0] == datetime(2026, 2, 10, first, tzinfo=UTC)
    assert frame["time"][2] == datetime(
        2026, 2, 11 if "24" in hours else 10, 7 if "24" in hours else 9, tzinfo=UTC
    )


@pytest.mark.parametrize(
    ("offset", "zone", "hour"),
    [("0", "GMT,GMT", 0), ("-25200", "America/Denver,GMT-7", 7), ("-18000", "X,GMT-5", 5)],
)
def test_a_line_on_the_place_above_the_table_tells_the_zone(
    tmp_path: Path, offset: str, zone: str, hour: int
) -> None:
    lines = (PLACE[0], PLACE[1].format(offset, zone), *PLACE[2:])
    frame = read_weather(_file(tmp_path, lines), ZONE).frame
    assert frame["time"][0] == datetime(2026, 2, 10, hour, tzinfo=UTC)
    assert frame["wind_speed_mps"].to_list() == pytest.approx([4.4704, 0.0, 8.9408])
    assert frame["ambient_temperature_c"].to_list() == pytest.approx([-10.0, -5.0, 0.0])
    # the station's own pressure, not the one brought to sea level
    assert frame["barometric_pressure_kpa"].to_list() == pytest.approx([85.5, 85.6, 85.7])


def test_hours_run_together_with_the_date_are_no_count_of_seconds(tmp_path: Path) -> None:
    read = read_weather(_file(tmp_path, STATION), "UTC")
    assert read.problems == ()
    assert read.frame["time"].to_list() == [datetime(2026, 2, 10, h, tzinfo=UTC) for h in (0, 1, 2)]
    assert read.frame["wind_speed_mps"].to_list() == pytest.approx([4.6, 0.0, 6.0])


def test_a_pressure_the_study_names_is_taken(tmp_path: Path) -> None:
    rule = ColumnRule(heading="mslp", channel="barometric_pressure_kpa", unit="hPa")
    frame = read_weather(_file(tmp_path, REPORTS), ZONE, (rule,)).frame
    assert frame["barometric_pressure_kpa"].to_list() == pytest.approx([101.42, None, 101.3])


def test_a_pressure_without_a_unit_is_settled_by_its_size(tmp_path: Path) -> None:
    rows = (f"2026-02-10 0{h}:00,{24.4 + h / 10:.1f}" for h in range(6))
    frame = read_weather(_file(tmp_path, ("time,station pressure", *rows)), ZONE).frame
    assert frame["barometric_pressure_kpa"][0] == pytest.approx(24.4 * INHG_KPA, rel=1e-5)
