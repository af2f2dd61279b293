"""Positions too coarse, or held too long, neither settle a unit nor contradict a named one.

The drive is made up and its true speed is known: 3.6 km/h make a meter a second, by definition.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from gearing.logs.read import read_log
from gearing.trips.motion import make_trip

ROWS = 3000
COARSE = [(2, 1), (3, 1), (2, 30), (5, 30)]  # decimals of a degree, rows a fix is held


def _drive(path: Path, decimals: int, held: int, headings: str, step_s: int = 1) -> float:
    """A drive of known mean speed [m/s], written to `path`."""
    latitude, longitude, total = 40.0, -105.0, 0.0
    start = datetime(2026, 3, 1, 8, tzinfo=UTC)
    shown, lines = "", [f"Time,Latitude,Longitude,{headings}"]
    for i in range(ROWS):
        speed, course = 18 + 6 * math.sin(i / 47), 0.6 * math.sin(i / 200)
        latitude += speed * step_s * math.cos(course) / 111_132
        longitude += speed * step_s * math.sin(course) / 85_400
        total += speed
        if i % held == 0:
            shown = f"{latitude:.{decimals}f},{longitude:.{decimals}f}"
        moment = start + timedelta(seconds=i * step_s)
        kmh = speed * 3.6
        lines.append(f"{moment:%Y-%m-%dT%H:%M:%SZ},{shown},{kmh:.1f},{kmh / 1.02:.0f}")
    path.write_text("\n".join(lines) + "\n")
    return total / ROWS


@pytest.mark.parametrize(("decimals", "held"), COARSE)
def test_a_speed_whose_heading_names_its_unit_stays_in_it(
    decimals: int, held: int, tmp_path: Path
) -> None:
    path = tmp_path / "log.csv"
    true_mps = _drive(path, decimals, held, "GPS speed [km/h],Vehicle speed [km/h]")
    samples = read_log(path).samples
    assert samples["gps_speed_mps"].mean() == pytest.approx(true_mps, rel=0.003)
    assert samples["indicated_speed_mps"].mean() == pytest.approx(true_mps / 1.02, rel=0.003)
    trip = make_trip(samples, name="coarse", files=("log.csv",))
    assert trip.speed_from == "doppler"
    assert trip.motion["true_speed_mps"].mean() == pytest.approx(true_mps, rel=0.003)
    assert "gps-speed-disagrees" not in {p.code for p in trip.problems}


@pytest.mark.parametrize(("decimals", "held"), [(2, 1), (2, 30)])
def test_a_speed_without_a_unit_is_asked_for(decimals: int, held: int, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    _drive(path, decimals, held, "GPS speed,Vehicle speed")
    reading = read_log(path)
    assert [q.code for q in reading.questions] == ["which-unit", "which-unit"]
    assert "indicated_speed_mps" not in reading.samples.columns


@pytest.mark.parametrize(("held", "step_s"), [(1, 1), (1, 5), (1, 10), (10, 1), (30, 1)])
def test_fine_positions_settle_it(held: int, step_s: int, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    _drive(path, 6, held, "GPS speed,Vehicle speed", step_s)
    reading = read_log(path)
    assert [c.unit for c in reading.columns if "speed" in c.heading] == ["km/h", "km/h"]
    assert not reading.questions


def test_coarse_positions_alone_measure_no_way(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    _drive(path, 2, 1, "x,Vehicle speed [km/h]")
    trip = make_trip(read_log(path).samples, name="coarse", files=("log.csv",))
    assert trip.speed_from is None
    assert "positions-coarse" in {p.code for p in trip.problems}
