"""`gearing mountain` in the words a user reads: routes, the way shown, profiles of no use."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from gearing.cli import main

STUDY = """
name = "bookmobile"
units = "{units}"

[vehicle]
mass = "12000 kg"
fuel = "diesel"
axle_ratio = 4.88
gear_ratios = [3.51, 1.91, 1.43, 1.00, 0.74, 0.64]

[vehicle.engine]
governed_rpm = 2500
torque_curve = {{ rpm = [800, 1600, 2400], torque = ["700 N*m", "890 N*m", "690 N*m"] }}

[before]
drive_tire = "245/70R19.5"
revolutions_per_mile = 628
logs = ["before/*.csv"]

[after]
drive_tire = "265/70R19.5"
revolutions_per_mile = 608
logs = ["after/*.csv"]

[[route]]
name = "Quill Gap"
profile = "quill_gap.csv"
target_speed = "55 mph"
"""
COLUMNS = """
[columns]
"distance" = { channel = "distance", unit = "km" }
"elevation" = { channel = "altitude", unit = "m" }
"""


@pytest.fixture(autouse=True)
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    """No line is wrapped, so that sentences stand as they are."""
    monkeypatch.setenv("COLUMNS", "4000")


def road(headings: str, *, hole: bool = False) -> str:
    """20 km with a point each 100 m: 8 km level, 5 km up at 6 %, level; the hill left out."""
    rows = [
        f"{step / 10:.1f},{500 + 0.6 * min(max(step - 80, 0), 50) * 10:.1f}"
        for step in range(201)
        if not (hole and 70 < step < 140)
    ]
    return "\n".join([headings, *rows, ""])


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "study.toml").write_text(STUDY.format(units="us"), encoding="utf-8")
    return tmp_path


def told(folder: Path, profile: str, *words: str, more: str = "") -> str:
    (folder / "quill_gap.csv").write_text(profile, encoding="utf-8")
    study = folder / "study.toml"
    if more:
        study.write_text(study.read_text("utf-8") + more, encoding="utf-8")
    found = CliRunner().invoke(main, ["mountain", str(study), *words])
    assert found.exit_code == 0, found.output
    return found.stdout


def test_each_line_names_the_way_it_shows(folder: Path) -> None:
    profile = road("distance (km),elevation (m)")
    forward = told(folder, profile).splitlines()
    back = told(folder, profile, "--reverse").splitlines()
    assert forward[0].startswith("Quill Gap: ")
    assert back[0].startswith("Quill Gap, the other way: ")
    assert sorted(forward) == sorted(back)
    # uphill the bus falls well under the wanted 55 mph, downhill the brakes work
    assert "slowest point" in forward[0]
    assert "brakes" in back[0]


def test_a_profile_without_units_says_what_to_add(folder: Path) -> None:
    lines = told(folder, road("distance,elevation")).splitlines()
    reason = "cannot tell yet, its profile quill_gap.csv could not be read."
    assert lines[:2] == [f"Quill Gap: {reason}", f"Quill Gap, the other way: {reason}"]
    (asked,) = [line for line in lines[2:] if "could not be used" in line]
    assert asked.startswith("Quill Gap: the profile quill_gap.csv could not be used: the unit is")
    for line in COLUMNS.strip().splitlines()[1:]:
        assert line in asked
    assert "Under [columns] in the study add" in asked
    tree = json.loads(told(folder, road("distance,elevation"), "--format", "json"))
    assert [one["code"] for one in tree["warnings"]] == ["profile-not-used"]
    # and with those lines the route is judged
    assert "slowest point" in told(folder, road("distance,elevation"), more=COLUMNS)


def test_what_to_add_is_told_though_the_vehicle_lacks_something_too(folder: Path) -> None:
    study = folder / "study.toml"
    study.write_text(study.read_text("utf-8").replace('mass = "12000 kg"\n', ""), encoding="utf-8")
    words = told(folder, road("distance,elevation"))
    assert "mass" in words
    assert "Under [columns] in the study add" in words


@pytest.mark.parametrize(
    ("units", "where"), [("us", "4.3 to 8.7 mi"), ("metric", "7.0 to 14.0 km")]
)
def test_a_hole_is_told_in_the_readers_units(folder: Path, units: str, where: str) -> None:
    profile = road("distance (km),elevation (m)", hole=True)
    words = told(folder, profile, "--units", units)
    assert f"Quill Gap: cannot tell yet, the profile has no points from {where}." in words
    assert f"The profile of Quill Gap (quill_gap.csv) has no points from {where}" in words
    assert "suits" not in words
