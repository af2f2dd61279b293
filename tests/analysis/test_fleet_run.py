"""A small fleet from raw logs to the fleet's answer: buses with new tires, vans without.

All burn 3 % more in the second half (winter fuel, say); the buses' new tires save 4 %.
"""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from gearing.run.batch import Options
from gearing.run.fleet import run_fleet
from gearing.run.progress import Progress

pytestmark = pytest.mark.drill  # a whole fleet from raw logs

DAYS = 6
SEASON, TIRES = 1.03, 0.96
RING_RADIUS_M = 1700.0


def log_text(g: np.random.Generator, start: datetime, factor: float, taller: float) -> str:
    """Ten minutes at one sample a second on one ring road, fuel by speed alone."""
    t = np.arange(600.0)
    speed = 18 + 6 * np.sin(t / 47 + g.uniform(0, 6))
    course = np.cumsum(speed) / RING_RADIUS_M
    latitude = 41 + np.cumsum(speed * np.cos(course)) / 111_050
    longitude = -7 + np.cumsum(speed * np.sin(course)) / (111_320 * math.cos(math.radians(41)))
    fuel = (4 + 0.5 * speed + 0.012 * speed**2) * factor
    rows = [
        "Time,Latitude,Longitude,Altitude (m),GPS Speed (m/s),Vehicle Speed (km/h),"
        "Engine RPM,Engine Fuel Rate (L/h),Ambient Air Temperature (degC)"
    ]
    for i in range(len(t)):
        moment = start + timedelta(seconds=i)
        rows.append(
            f"{moment:%Y-%m-%dT%H:%M:%SZ},{latitude[i]:.7f},{longitude[i]:.7f},250.0,{speed[i]:.2f},"
            f"{speed[i] * 3.6 / taller:.0f},{speed[i] * 80 / taller:.0f},{fuel[i]:.3f},15.0"
        )
    return "\n".join(rows) + "\n"


def vehicle(folder: Path, number: int, *, control: bool) -> None:
    g = np.random.default_rng([number, 77])
    logs = folder / "logs"
    logs.mkdir(parents=True)
    for day in range(2 * DAYS):
        after = day >= DAYS
        start = datetime(2026, 2, 2, 15, tzinfo=UTC) + timedelta(days=2 * day)
        factor = (SEASON if after else 1.0) * math.exp(0.004 * g.normal())
        new = after and not control
        text = log_text(g, start, factor * (TIRES if new else 1.0), 1.033 if new else 1.0)
        (logs / f"day_{day:02d}.csv").write_text(text)
    study = (
        f'name = "{folder.name}"\nlogs = ["logs/*.csv"]\n[vehicle]\nmass = "12000 kg"\n'
        'fuel = "diesel"\n[before]\ndrive_tire = "245/70R19.5"\n'
    )
    if not control:
        study += '[after]\ndrive_tire = "265/70R19.5"\nfrom = 2026-02-13\n'
    (folder / "study.toml").write_text(study)


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict, Path]:
    root = tmp_path_factory.mktemp("fleet")
    for number in range(3):
        vehicle(root / f"bus_{number}", number, control=False)
    for number in range(2):
        vehicle(root / f"van_{number}", 10 + number, control=True)
    (root / "fleet.toml").write_text(
        'name = "county fleet"\nstudies = ["bus_*/study.toml", '
        '{ study = "van_*/study.toml", role = "control", changed = 2026-02-13 }]\n'
        "[claim]\nconsumption_change_percent = -4\n"
    )
    found = run_fleet(root / "fleet.toml", Options(out=root / "out", jobs=1), Progress(quiet=True))
    return found.results, found.folder


def test_controls_take_the_season_out(outcome: tuple[dict, Path]) -> None:
    fuel = outcome[0]["fuel"]
    assert fuel["difference"]["low"] <= 100 * (TIRES - 1) <= fuel["difference"]["high"]
    assert fuel["difference"]["value"] == pytest.approx(100 * (TIRES - 1), abs=0.6)
    assert fuel["controls"]["value"] == pytest.approx(100 * (SEASON - 1), abs=0.6)
    assert fuel["pooled"]["value"] == pytest.approx(100 * (SEASON * TIRES - 1), abs=0.6)
    assert fuel["answer"] == fuel["difference"]
    assert fuel["difference"]["n"] == 5


def test_controls_show_no_change_of_tires(outcome: tuple[dict, Path]) -> None:
    for vehicle in outcome[0]["vehicles"]:
        expected = 0.0 if vehicle["role"] == "control" else 100 * (1 / 1.033 - 1)
        assert vehicle["final_drive_change_percent"]["value"] == pytest.approx(expected, abs=0.2)


def test_a_controls_own_page_calls_no_tires_new(outcome: tuple[dict, Path]) -> None:
    results, folder = outcome
    for study in results["studies"]:
        page = (folder / study["folder"] / "report.html").read_text()
        own = json.loads((folder / study["folder"] / "results.json").read_text())
        control = study["role"] == "control"
        assert own["declared"]["role"] == study["role"]
        assert ("a vehicle that kept its tires" in page) is control
        assert ("new\N{NO-BREAK SPACE}tires" in page or "new tires" in page) is not control
        # nothing changed, and that is no warning of a vehicle of which nothing should
        assert not {"no-tire-change-seen", "new-tires"} & {
            warning["code"] for warning in own["warnings"] if control
        }


def test_what_is_written(outcome: tuple[dict, Path]) -> None:
    results, folder = outcome
    written = json.loads((folder / "fleet.json").read_text())
    assert written["fuel"] == results["fuel"]
    assert [warning["code"] for warning in written["warnings"]] == ["few-controls"]
    assert "county fleet" in (folder / "fleet.html").read_text()
    for study in written["studies"]:
        assert (folder / study["folder"] / "results.json").is_file()
