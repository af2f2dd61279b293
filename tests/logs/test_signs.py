"""A minus and a letter that name the same side of a meridian or the equator (ISO 6709)."""

from __future__ import annotations

from pathlib import Path

import pytest

from gearing.logs.read import read_log

WRITTEN = [
    ("-1.5585 W", -1.5585),
    ("1.5585 W", -1.5585),
    ("-1.5585", -1.5585),
    ("1.5585 E", 1.5585),
    ("-1°33'30.6″W", -1.5585),
]


@pytest.mark.parametrize(("text", "degrees"), WRITTEN)
def test_in_one_cell(text: str, degrees: float, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    rows = [f"2026-03-01T08:00:{s:02d}Z;-40.5 S;{text};30" for s in range(40)]
    path.write_text("\n".join(["Time;Latitude;Longitude;GPS speed [km/h]", *rows]) + "\n")
    samples = read_log(path).samples
    assert samples["longitude_deg"].to_list() == pytest.approx([degrees] * 40)
    assert samples["latitude_deg"].to_list() == pytest.approx([-40.5] * 40)


@pytest.mark.parametrize(("text", "degrees"), [("-1.5585,W", -1.5585), ("1.5585,W", -1.5585)])
def test_in_a_column_of_its_own(text: str, degrees: float, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    rows = [f"2026-03-01T08:00:{s:02d}Z,40.5,N,{text},30" for s in range(40)]
    head = "Time,Latitude,N/S,Longitude,E/W,GPS speed [km/h]"
    path.write_text("\n".join([head, *rows]) + "\n")
    assert read_log(path).samples["longitude_deg"].to_list() == pytest.approx([degrees] * 40)
