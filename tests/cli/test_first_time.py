"""A first-time user's folder, from `gearing inspect` to a report in one round of questions.

Three recorders' files of drives whose truth is known (`sample_logs/truth.json`, by which they were
made): one that logs everything, some of its files saved again by spreadsheets or packed together;
one that logs the bus alone, with headings that leave doubt; a phone's tracks. What a user does is
done here as it is told: blanks filled in, the # taken off one line a question.
"""

from __future__ import annotations

import json
import re
import zipfile
from datetime import datetime
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from click.testing import CliRunner
from sample_study import SAMPLE, TRUTH

from gearing.cli import main
from gearing.logs.read import read_log

pytestmark = pytest.mark.drill

ROWS = 1200
TIME = "Time (UTC)"
# channel: heading, decimals, from the channel's unit to the heading's
COLUMNS = {
    "latitude_deg": ("Latitude (deg)", 6, 1.0),
    "longitude_deg": ("Longitude (deg)", 6, 1.0),
    "altitude_m": ("Altitude (m)", 1, 1.0),
    "gps_speed_mps": ("GPS speed (km/h)", 2, 3.6),
    "indicated_speed_mps": ("Vehicle speed (km/h)", 3, 3.6),
    "engine_speed_rpm": ("Engine RPM (rpm)", 2, 1.0),
    "fuel_rate_lph": ("Engine fuel rate (L/h)", 2, 1.0),
    "ambient_temperature_c": ("Ambient air temperature (degC)", 0, 1.0),
}
BUS = {
    TIME: "Time (UTC)",
    "Vehicle speed (km/h)": "Vehicle speed (km/h)",
    "Engine RPM (rpm)": "Engine speed (rpm)",
    "Engine fuel rate (L/h)": "Fuel rate",
    "Ambient air temperature (degC)": "Temperature",
}


def _drives(side: str) -> list[pl.DataFrame]:
    """Parts of a period's drives, as text: of one recorder of the sample, whose speed is cut to
    whole units in one way."""
    found = []
    for path in sorted((SAMPLE / side).glob("*.csv")):
        reading = read_log(path)
        if TIME not in reading.headings or not set(COLUMNS) <= set(reading.samples.columns):
            continue
        parts = (reading.samples.slice(at, ROWS) for at in (0, ROWS))
        found += [_text(part) for part in parts if part.height == ROWS]
    return found


def _text(samples: pl.DataFrame) -> pl.DataFrame:
    columns = {TIME: [f"{m:%Y-%m-%dT%H:%M:%SZ}" for m in samples["time"].to_list()]}
    for name, (heading, places, factor) in COLUMNS.items():
        given = samples[name].to_list()
        columns[heading] = ["" if v is None else f"{v * factor:.{places}f}" for v in given]
    return pl.DataFrame(columns)


def _moments(drive: pl.DataFrame) -> list[datetime]:
    return [datetime.fromisoformat(text) for text in drive[TIME].to_list()]


def _german(drive: pl.DataFrame) -> bytes:
    """As a German spreadsheet saves it: semicolons, decimal commas, points in the date."""
    days = pl.Series(TIME, [f"{m:%d.%m.%Y %H:%M:%S}" for m in _moments(drive)])
    numbers = pl.exclude(TIME).str.replace(".", ",", literal=True)
    text = drive.with_columns(numbers).with_columns(days).write_csv(separator=";")
    return text.replace("\n", "\r\n").replace("degC", "°C").encode("cp1252")


def _american(drive: pl.DataFrame) -> bytes:
    """As a spreadsheet of the United States saves it: month first, twelve hours."""
    days = [f"{m.month}/{m.day}/{m.year} {m:%I:%M:%S %p}" for m in _moments(drive)]
    text = drive.with_columns(pl.Series(TIME, days)).write_csv(quote_style="always")
    return text.replace("\n", "\r\n").encode("utf-8-sig")


def _bus(drive: pl.DataFrame) -> bytes:
    return drive.select(pl.col(old).alias(new) for old, new in BUS.items()).write_csv().encode()


def _track(drive: pl.DataFrame) -> bytes:
    names = ("Latitude (deg)", "Longitude (deg)", "Altitude (m)", TIME)
    points = "".join(
        f'<trkpt lat="{lat}" lon="{lon}"><ele>{ele}</ele><time>{time}</time></trkpt>\n'
        for lat, lon, ele, time in drive.select(names).iter_rows()
        if lat and lon
    )
    head = '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>\n'
    return f"{head}{points}</trkseg></trk></gpx>\n".encode()


def _folder(folder: Path) -> Path:
    """Fourteen files of logs, seven of each period, and a spreadsheet."""
    for side in ("before", "after"):
        place = folder / side
        place.mkdir(parents=True)
        one, saved, two, copied, *packed, apart = _drives(side)[:7]
        (place / "one.csv").write_bytes(one.write_csv().encode())
        (place / "two.csv").write_bytes(two.write_csv().encode())
        (place / "saved.csv").write_bytes(_german(saved))
        (place / "copy of log.csv").write_bytes(_american(copied))
        with zipfile.ZipFile(place / "older.zip", "w") as archive:
            for number, drive in enumerate(packed):
                archive.writestr(f"log{number}.csv", drive.write_csv())
        (place / "bus.csv").write_bytes(_bus(apart))
        (place / "phone.gpx").write_bytes(_track(apart))
    (folder / "tank receipts.xlsx").write_bytes(b"PK\x03\x04 whatever a spreadsheet holds")
    return folder


def _run(*words: str | Path) -> str:
    done = CliRunner().invoke(main, [str(word) for word in words])
    assert done.exit_code == 0, done.output
    return done.output


def _filled_in(text: str) -> tuple[str, set[str]]:
    """The study with its blanks filled, and the # off the first line of each question."""
    for tire in ("245/70R19.5", "265/70R19.5"):
        text = text.replace('drive_tire = "?"', f'drive_tire = "{tire}"', 1)
    text = text.replace("# axle_ratio", "axle_ratio").replace("# gear_ratios", "gear_ratios")
    answered: set[str] = set()
    lines = text.splitlines()
    for index, line in enumerate(lines):
        key = re.match(r'# ("(?:[^"\\]|\\.)*") = \{ channel', line)
        if key and key[1] not in answered:
            answered.add(key[1])
            lines[index] = line.removeprefix("# ")
    return "\n".join(lines) + "\n", answered


def test_one_round_of_questions_leads_to_a_report(tmp_path: Path) -> None:
    folder = _folder(tmp_path / "bus")
    told = _run("inspect", folder)
    assert told.startswith(
        "16 logs of 4 recorders: "
    )  # one of them twice: its headings saved in °C
    assert "tank receipts.xlsx: a spreadsheet" in told
    questions = told.split("\nQuestions\n")[1].split("\n\n")[0]
    assert questions.count("Add one of these lines") == 2, questions

    study = tmp_path / "study.toml"
    written = _run("inspect", "--write-study", study, folder)
    assert "2 headings left in doubt" in written
    text, answered = _filled_in(study.read_text(encoding="utf-8"))
    assert answered == {'"Fuel rate"', '"Temperature"'}
    assert '"?"' not in re.sub(r"(?m)^#.*$", "", text)
    study.write_text(text, encoding="utf-8")

    _run("run", study, "--out", tmp_path / "out", "--jobs", "1", "--quiet")
    assert (tmp_path / "out" / "report.html").is_file()
    results: dict[str, Any] = json.loads((tmp_path / "out" / "results.json").read_text("utf-8"))
    assert results["input"]["files"] == 16
    assert results["input"]["rows_set_aside"] == 0
    assert results["input"]["rows_used"] > 15 * ROWS
    assert len(results["trips"]) == 14  # the bus's logs lie on the phone's clock
    assert all(trip["odometer_factor"] for trip in results["trips"])
    truth = TRUTH["odometer_factor"]
    for side in ("before", "after"):
        factor = results["speed"]["odometer_factor"][side]
        assert factor["value"] == pytest.approx(truth[side], rel=2e-3)
        assert factor["low"] <= truth[side] <= factor["high"]
    assert "Questions" not in _run("inspect", folder, "--columns", study)
