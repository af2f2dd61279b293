"""What receivers write while they have no fix: zeros, -1, or the last fix on and on.

Common practice of recorders, no source. Position and speed here come from one and the same drive
at 20 m/s, so that what is true in each row is known.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from gearing.logs.model import Reading
from gearing.logs.read import read_log

LENGTH = 300
BLIND = slice(100, 140)
STEP_DEG = 20 / 111_132


def _read(folder: Path, latitude: np.ndarray, speed: np.ndarray, hold: int = 1) -> Reading:
    rows = []
    for n in range(LENGTH):
        m = n - n % hold
        longitude = 0 if latitude[m] == 0 else -110.5
        time = f"2026-05-04T08:{n // 60:02d}:{n % 60:02d}Z"
        rows.append(f"{time},{latitude[m]:.7f},{longitude},{speed[m]:.2f},{71 + n % 3}")
    heads = "Time,Latitude,Longitude,GPS speed (km/h),Vehicle speed (km/h)"
    path = folder / "a.csv"
    path.write_text("\n".join([heads, *rows]) + "\n")
    return read_log(path)


def _drive() -> tuple[np.ndarray, np.ndarray]:
    n = np.arange(LENGTH)
    return 38.6 + n * STEP_DEG, 72 + np.sin(n / 9)


def _aside(reading: Reading) -> dict[tuple[str, str], int]:
    return {(p.code, p.column): p.count for p in reading.set_aside_values}


def test_zeros_without_a_fix_are_no_standing_vehicle(tmp_path: Path) -> None:
    latitude, speed = _drive()
    latitude[BLIND] = speed[BLIND] = 0
    reading = _read(tmp_path, latitude, speed)
    assert _aside(reading)["null-island", "GPS speed (km/h)"] == 40
    assert reading.samples["gps_speed_mps"].min() > 19
    assert reading.samples["indicated_speed_mps"].null_count() == 0


def test_standing_with_a_fix_stays(tmp_path: Path) -> None:
    latitude, speed = _drive()
    latitude[BLIND], speed[BLIND] = latitude[100], 0
    reading = _read(tmp_path, latitude, speed)
    assert _aside(reading) == {}
    assert int((reading.samples["gps_speed_mps"] == 0).sum()) == 40


def test_minus_one_is_a_code_and_noise_below_zero_is_not(tmp_path: Path) -> None:
    latitude, speed = _drive()
    speed[BLIND] = -1
    reading = _read(tmp_path, latitude, speed)
    assert _aside(reading) == {("not-available-code", "GPS speed (km/h)"): 40}
    assert reading.samples["gps_speed_mps"].min() > 19
    speed[BLIND] = np.where(np.arange(40) % 2, -1.0, -0.3)
    reading = _read(tmp_path, latitude, speed)
    assert _aside(reading) == {}
    assert {p.code for p in reading.repairs} == {"small-negative-speed"}


def test_the_last_fix_written_on_is_set_aside(tmp_path: Path) -> None:
    latitude, speed = _drive()
    latitude[BLIND], speed[BLIND] = latitude[99], speed[99]
    reading = _read(tmp_path, latitude, speed)
    names = ("Latitude", "Longitude", "GPS speed (km/h)")
    assert _aside(reading) == {("stuck", name): 40 for name in names}
    assert reading.samples["gps_speed_mps"].is_null().to_numpy()[BLIND].all()


@pytest.mark.parametrize("hold", [2, 10])
def test_a_recorder_that_holds_every_fix_is_left_alone(tmp_path: Path, hold: int) -> None:
    latitude, speed = _drive()
    assert _aside(_read(tmp_path, latitude, speed, hold)) == {}


def test_a_held_speed_over_a_place_that_moves_is_no_fault(tmp_path: Path) -> None:
    latitude, speed = _drive()
    speed[BLIND] = 72
    assert _aside(_read(tmp_path, latitude, speed)) == {}
