"""Readings of the dash from a file: a passenger's notes, many in a row."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from gearing.messages import GearingError
from gearing.study import load_study
from gearing.units import KMH_MPS, MILE_M, MPH_MPS

STUDY = """\
name = "x"
time_zone = "America/Denver"
dash = "dash.csv"
fillups = "fillups.csv"
[before]
drive_tire = "245/70R19.5"
"""


def study_with(folder: Path, dash: str):
    (folder / "fillups.csv").write_text("date,odometer (mi),volume (gal)\n2026-03-01,100,20\n")
    (folder / "dash.csv").write_text(dash)
    (folder / "study.toml").write_text(STUDY)
    return load_study(folder / "study.toml")


def test_speeds_and_odometers_in_one_file(tmp_path: Path) -> None:
    study = study_with(
        tmp_path,
        "time,speed (mph),odometer (mi)\n"
        "2026-03-01 08:30:00,55,\n2026-03-01 08:00:00,,48210\n2026-03-01 08:40:00,60,48240\n",
    )
    first, second, third = study.dash
    # local time of Denver in winter is seven hours behind UTC
    assert first.at == datetime(2026, 3, 1, 15, tzinfo=UTC)
    assert first.odometer_m == pytest.approx(48210 * MILE_M)
    assert first.speed_mps is None
    assert second.speed_mps == pytest.approx(55 * MPH_MPS)
    assert third.odometer_m == pytest.approx(48240 * MILE_M)


@pytest.mark.parametrize("heading", ["speed (km/h)", "Speedometer [km/h]", "needle km/h"])
def test_the_speed_may_be_called_many_names(tmp_path: Path, heading: str) -> None:
    study = study_with(tmp_path, f"time,{heading}\n2026-03-01 08:30:00,88\n")
    assert [r.speed_mps for r in study.dash] == [pytest.approx(88 * KMH_MPS)]


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    (tmp_path / "fillups.csv").write_text("date,odometer (mi),volume (gal)\n2026-03-01,100,20\n")
    (tmp_path / "study.toml").write_text(STUDY)
    with pytest.raises(GearingError, match=r"dash = .*is not there"):
        load_study(tmp_path / "study.toml")
