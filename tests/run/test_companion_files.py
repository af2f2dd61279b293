"""Companion files that give nothing: named in the answer, with why and what to add."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from log_maker import write_logs

from gearing.run.batch import Options, run_study
from gearing.run.progress import Progress

pytestmark = pytest.mark.drill

# the logs are of 2025-01-06 to 2025-01-09, each 25 minutes from 07:00 on
FILLUPS = "date,odometer (km),volume (L)\n" + "".join(
    f"2025-01-{day:02d} 12:00,{150000 + 200 * day},50\n" for day in range(1, 16)
)


def _run(folder: Path, **files: str) -> dict[str, Any]:
    study = write_logs(folder, 4, 1500)
    keys = []
    for key, text in files.items():
        (folder / f"{key}.csv").write_text(text)
        keys.append(f'{key} = "{key}.csv"\n')
    study.write_text("".join(keys) + study.read_text())
    return run_study(study, Options(out=folder / "out", jobs=1), Progress(quiet=True)).results


def _warned(results: dict[str, Any]) -> dict[str, str]:
    return {one["code"]: one["text"] for one in results["warnings"]}


def _why(results: dict[str, Any]) -> str:
    return str(results["fuel"]["change_percent"]["fillups"]["why"])


@pytest.mark.parametrize(
    ("headings", "lines"),
    [
        ("date,odometer,volume", ('"odometer" = { channel = "indicated_distance", unit = "mi" }',)),
        (
            "noted,counter,stuff",
            ('"noted" = { channel = "time" }', '"stuff" = { channel = "volume"'),
        ),
    ],
)
def test_a_fill_up_log_that_cannot_be_used_is_named(
    tmp_path: Path, headings: str, lines: tuple[str, ...]
) -> None:
    results = _run(tmp_path, fillups=FILLUPS.replace("date,odometer (km),volume (L)", headings))
    for told in (_why(results), _warned(results)["fill-ups-not-used"]):
        assert "ill-up log fillups.csv could not be used" in told
        assert "names no fill-up log" not in told
        assert all(line in told for line in lines)
    assert any(one["file"] == "fillups.csv" for one in results["questions"])
    aside = list(csv.DictReader((tmp_path / "out" / "set_aside.csv").read_text().splitlines()))
    assert [(one["file"], one["count"]) for one in aside] == [("fillups.csv", "15")]
    assert results["input"]["rows_set_aside"] == 0  # of logs


def test_without_a_fill_up_log_the_study_names_none(tmp_path: Path) -> None:
    results = _run(tmp_path)
    assert _why(results) == "the study names no fill-up log (fillups = ...)"
    assert "no weather file covers the driving" in results["fuel"]["weather_used"]
    assert not {"fill-ups-not-used", "weather-not-used"} & set(_warned(results))


def test_a_slipped_digit_is_told_and_its_fuel_counts_on(tmp_path: Path) -> None:
    results = _run(tmp_path, fillups=FILLUPS.replace(",150400,", ",15040.0,"))
    assert "fillups.csv, line 3" in _warned(results)["fill-ups-doubted"]
    assert "tanks-doubted" not in _warned(results)


def test_a_tank_that_cannot_be_is_told(tmp_path: Path) -> None:
    results = _run(tmp_path, fillups=FILLUPS.replace("150600,50", "150600,500"))
    assert "2025-01-03" in _warned(results)["tanks-doubted"]


WEATHER = "time,wind speed (m/s),wind direction,temperature (C)\n" + "".join(
    f"{{month}}-{day:02d} {hour:02d}:00,3,270,5\n" for day in range(5, 11) for hour in range(24)
)


def test_weather_that_covers_nothing_is_named_with_its_dates(tmp_path: Path) -> None:
    results = _run(tmp_path, weather=WEATHER.replace("{month}", "2025-03"))
    for told in (results["fuel"]["weather_used"], _warned(results)["weather-not-used"]):
        assert "eather file weather.csv covers none of the driving" in told
        assert "from 2025-03-05 to 2025-03-10" in told
        assert "from 2025-01-06 to 2025-01-09" in told


def test_weather_that_covers_the_driving_is_not_complained_of(tmp_path: Path) -> None:
    results = _run(tmp_path, weather=WEATHER.replace("{month}", "2025-01"))
    assert "weather-not-used" not in _warned(results)
    assert "covers none" not in results["fuel"]["weather_used"]


def test_weather_without_a_unit_is_named(tmp_path: Path) -> None:
    results = _run(tmp_path, weather="time,temperature\n2025-01-06 06:00,12\n2025-01-09 08:00,13\n")
    for told in (results["fuel"]["weather_used"], _warned(results)["weather-not-used"]):
        assert "eather file weather.csv could not be used" in told
        assert '"temperature" = { channel = "ambient_temperature", unit = "degC" }' in told


def test_without_any_temperature_the_file_named_is_not_asked_for_as_if_there_were_none(
    tmp_path: Path,
) -> None:
    study = write_logs(tmp_path, 8, 1500)
    for log in tmp_path.glob("*/*.csv"):
        pl.read_csv(log).drop("Ambient temperature (degC)").write_csv(log)
    (tmp_path / "weather.csv").write_text("time,temperature\n2025-01-06 06:00,12\n")
    bare = study.read_text()
    for head, asked in (("", "(weather = ...)"), ('weather = "weather.csv"\n', "that covers them")):
        study.write_text(head + bare)
        options = Options(out=tmp_path / "out", jobs=1)
        results = run_study(study, options, Progress(quiet=True)).results
        (told,) = [w for w in results["warnings"] if w["code"] == "temperature-unknown"]
        assert asked in told["text"]
