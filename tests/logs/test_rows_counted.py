"""Every line of a file is counted: as headings, passed over, set aside or used.

Each count is taken from the file itself here, by another route than the reader's.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from damaged_logs import variants
from line_counts import counted, records

from gearing.logs.fillups import read_fillups
from gearing.logs.profiles import read_profile
from gearing.logs.read import read_log
from gearing.logs.weather import read_weather

LOGS = Path(__file__).resolve().parents[3] / "shared" / "logs"
VARIANTS = variants()


@pytest.mark.parametrize("variant", VARIANTS, ids=[v.name for v in VARIANTS])
def test_variants(variant: object, tmp_path: Path) -> None:
    path = variant.write(tmp_path)  # type: ignore[attr-defined]
    reading = read_log(path, **variant.options)  # type: ignore[attr-defined]
    assert counted(reading) == records(path, reading)


@pytest.mark.skipif(not LOGS.is_dir(), reason="no logs by others beside the checkout")
def test_logs_by_others() -> None:
    for path in sorted(p for p in LOGS.rglob("*") if p.suffix in (".csv", ".gpx")):
        reading = read_log(path)
        assert counted(reading) == records(path, reading), path


def _restarted(first: int, second: int) -> str:
    """A recorder that begins anew with a sensor more."""
    lines = ["Time,GPS speed [km/h],Engine speed [rpm]"]
    lines += [f"2026-03-01T08:{i // 60:02d}:{i % 60:02d}Z,50.1,1500" for i in range(first)]
    lines.append("Time,GPS speed [km/h],Engine speed [rpm],Fuel rate [L/h],Altitude [m],HDOP")
    lines += [
        f"2026-03-01T09:{i // 60:02d}:{i % 60:02d}Z,60.1,1600,20,700,0.9" for i in range(second)
    ]
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("first", [5, 100, 300, 900])
def test_a_recorder_that_restarts_with_more_columns(first: int, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(_restarted(first, 200))
    reading = read_log(path)
    assert (reading.rows_read, reading.rows_used) == (first + 200, first + 200)
    assert reading.samples["fuel_rate_lph"].count() == 200
    assert counted(reading) == first + 202


def test_a_short_table_above_the_log_is_no_log(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("Vehicle,Distance,Speed\n7,120,60\n\n" + _restarted(50, 0))
    reading = read_log(path)
    assert reading.rows_read == reading.rows_used == 50


def test_records_that_begin_with_a_letter_and_new_headings_among_them(tmp_path: Path) -> None:
    rows = [f"bus,2026-03-01T{i // 3600 + 8:02d}:{i // 60 % 60:02d}:{i % 60:02d}Z,50,1500"
            for i in range(3000)]  # fmt: skip
    more = [f"bus,2026-03-01T{i // 3600 + 10:02d}:{i // 60 % 60:02d}:{i % 60:02d}Z,1500,50"
            for i in range(3000)]  # fmt: skip
    head = ["Vehicle,Time,GPS speed [km/h],Engine speed [rpm]"]
    other = ["Vehicle,Time,Engine speed [rpm],GPS speed [km/h]"]
    path = tmp_path / "log.csv"
    path.write_text("\n".join([*head, *rows, *other, *more]) + "\n")
    samples = read_log(path).samples
    assert samples["engine_speed_rpm"].unique().to_list() == [1500.0]
    assert samples.height == 6000


def test_a_fillup_log_with_new_headings_half_way(tmp_path: Path) -> None:
    path = tmp_path / "fillups.csv"
    old = "".join(f"2026-01-{d:02d},{1000 + 300 * d},22.5\n" for d in range(1, 11))
    new = "".join(f"2026-02-{d:02d},{9000 + 300 * d},21.5,yes,80\n" for d in range(1, 11))
    path.write_text(
        "date,odometer (mi),volume (gal)\n"
        + old
        + "date,odometer (mi),volume (gal),full,price\n"
        + new
    )
    read = read_fillups(path, "UTC")
    assert read.frame.height == 20
    assert read.frame["volume_l"].to_list() == pytest.approx(
        [22.5 * 3.785411784] * 10 + [21.5 * 3.785411784] * 10
    )
    assert read.set_aside_rows == ()


def test_weather_rows_of_a_repeated_time(tmp_path: Path) -> None:
    path = tmp_path / "weather.csv"
    hours = "".join(f"2026-03-01T{h:02d}:00Z,{h},180\n" for h in range(10))
    path.write_text(
        "time,wind speed (m/s),wind direction (deg)\n" + hours + "2026-03-01T03:00Z,9,90\n"
    )
    read = read_weather(path, "UTC")
    assert read.frame.height == 10
    assert read.frame["wind_speed_mps"][3] == 3
    told = [(p.code, p.first_line) for p in read.set_aside_rows]
    assert told == [("repeated-time", 12)]


def test_profile_rows_without_elevation_or_repeated(tmp_path: Path) -> None:
    path = tmp_path / "profile.csv"
    path.write_text("distance [m],elevation [m]\n0,500\n100,\n200,510\n200,520\n,530\n300,540\n")
    read = read_profile(path)
    assert read.frame["altitude_m"].to_list() == [500, 510, 540]
    told = sorted((p.code, p.first_line) for p in read.set_aside_rows)
    assert told == [("no-values", 3), ("no-values", 6), ("repeated-distance", 5)]


def test_a_track_written_in_one_line_with_a_point_twice(tmp_path: Path) -> None:
    points = "".join(
        f'<trkpt lat="{40 + i * 1e-4:.5f}" lon="-3"><time>2026-03-01T08:00:{i:02d}Z</time></trkpt>'
        for i in [*range(40), 39]
    )
    path = tmp_path / "track.gpx"
    path.write_text(f'<gpx version="1.1"><trk><trkseg>{points}</trkseg></trk></gpx>')
    reading = read_log(path)
    assert (reading.rows_read, reading.rows_used, reading.samples.height) == (41, 40, 40)
    assert [(p.code, p.count) for p in reading.set_aside_rows] == [("repeated-row", 1)]
