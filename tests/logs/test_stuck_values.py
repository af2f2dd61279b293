"""A frozen channel is set aside; a speed that a driver holds is not, whatever gear it is held in.

Common practice, no source: a cruise control holds a heavy vehicle to a tenth of a m/s, which
whole units show as one value for minutes, over changes of gear.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from gearing.logs.read import read_log

LENGTH = 900
HELD = slice(300, 600)  # five minutes at one speed, a change of gear in their middle
MPS = {"mph": 0.44704, "km/h": 1 / 3.6}
Columns = dict[str, np.ndarray]


def drive(unit: str, seed: int = 1) -> Columns:
    """True speed swings, holds at 24.6 m/s to 0.1 m/s, swings again."""
    rng = np.random.default_rng(seed)
    t = np.arange(LENGTH)
    speed = 22 + 6 * np.sin(t / 25)
    speed[HELD] = 24.7 + 0.02 * np.sin(t[HELD] / 9)
    gear = np.where(t < 450, 1.35, 1.0)
    north = np.cumsum(speed)
    return {
        "Latitude": 44 + (north + rng.normal(0, 0.5, LENGTH)) / 111_132,
        "Longitude": np.full(LENGTH, 17.0),
        f"GPS speed ({unit})": np.round((speed + rng.normal(0, 0.05, LENGTH)) / MPS[unit], 2),
        f"Vehicle speed ({unit})": np.floor(speed / MPS[unit]),
        "Engine speed (rpm)": np.round(62 * speed * gear + rng.normal(0, 4, LENGTH)),
    }


def read(columns: Columns, folder: Path) -> tuple[pl.DataFrame, dict[str, int]]:
    start = datetime(2026, 3, 2, 15, 0, tzinfo=UTC).timestamp()
    times = [
        datetime.fromtimestamp(start + i, UTC).strftime("%Y-%m-%dT%H:%M:%SZ") for i in range(LENGTH)
    ]
    path = folder / "log.csv"
    pl.DataFrame({"time": times, **columns}).write_csv(path)
    reading = read_log(path)
    assert not reading.questions
    aside = {p.column or "": p.count for p in reading.set_aside_values if p.code == "stuck"}
    return reading.samples, aside


def frozen(columns: Columns, name: str) -> Columns:
    held = columns[name].copy()
    held[100:200] = held[100]
    held[[99, 200]] += 1.0  # so that the run is known
    return columns | {name: held}


def without(columns: Columns, *words: str) -> Columns:
    return {n: v for n, v in columns.items() if not any(w in n for w in words)}


@pytest.mark.parametrize("unit", ["mph", "km/h"])
@pytest.mark.parametrize("seed", range(3))
def test_a_speed_that_is_held_over_a_change_of_gear_is_kept(
    unit: str, seed: int, tmp_path: Path
) -> None:
    columns = drive(unit, seed)
    rpm = columns["Engine speed (rpm)"]
    assert np.ptp(rpm[HELD]) > 400
    assert np.ptp(columns[f"Vehicle speed ({unit})"][HELD]) == 0
    samples, aside = read(columns, tmp_path)
    assert aside == {}
    assert samples["indicated_speed_mps"].null_count() == 0


def test_positions_stand_up_for_it_where_the_receivers_speed_is_not_logged(tmp_path: Path) -> None:
    _, aside = read(without(drive("mph"), "GPS"), tmp_path)
    assert aside == {}


def test_a_receiver_in_whole_units_that_holds_as_well_needs_the_positions(tmp_path: Path) -> None:
    columns = drive("mph")
    columns["GPS speed (mph)"] = columns["Vehicle speed (mph)"]
    assert np.ptp(columns["GPS speed (mph)"][HELD]) == 0
    _, aside = read(columns, tmp_path)
    assert aside == {}


@pytest.mark.parametrize("name", ["GPS speed (mph)", "Vehicle speed (mph)"])
@pytest.mark.parametrize("gone", [(), ("Lat", "Lon")])
def test_a_frozen_speed_is_set_aside_but_for_its_first_row(
    name: str, gone: tuple[str, ...], tmp_path: Path
) -> None:
    _, aside = read(frozen(without(drive("mph"), *gone), name), tmp_path)
    assert aside == {name: 99}


def test_engine_speed_or_positions_tell_a_frozen_speed_alone(tmp_path: Path) -> None:
    for gone in (("GPS",), ("GPS", "Lat", "Lon")):
        columns = frozen(without(drive("mph"), *gone), "Vehicle speed (mph)")
        _, aside = read(columns, tmp_path)
        assert aside["Vehicle speed (mph)"] >= 99


def test_two_speeds_frozen_at_once_do_not_stand_up_for_each_other(tmp_path: Path) -> None:
    columns = drive("mph")
    for name in ("GPS speed (mph)", "Vehicle speed (mph)"):
        columns = frozen(columns, name)
    columns["Vehicle speed (mph)"][[99, 200]] = columns["Vehicle speed (mph)"][100]
    _, aside = read(columns, tmp_path)
    assert aside.pop("Vehicle speed (mph)") >= 101
    assert aside == {"GPS speed (mph)": 99}
    _, aside = read(without(columns, "Lat", "Lon"), tmp_path)
    assert aside["GPS speed (mph)"] == 99


def test_a_speed_frozen_far_from_the_receivers_is_no_speed_held(tmp_path: Path) -> None:
    columns = drive("mph")
    speed = columns["Vehicle speed (mph)"]
    speed[HELD] = 30.0  # the road goes by at 55
    _, aside = read(columns, tmp_path)
    assert aside == {"Vehicle speed (mph)": 299}


def test_engine_speed_frozen_over_a_change_of_speed_is_set_aside(tmp_path: Path) -> None:
    _, aside = read(frozen(drive("mph"), "Engine speed (rpm)"), tmp_path)
    assert aside == {"Engine speed (rpm)": 99}


@pytest.mark.parametrize(("rpm", "kept"), [(0, True), (1500, False)])
def test_wheels_that_stand_with_the_engine_off_are_not_frozen(
    rpm: int, kept: bool, tmp_path: Path
) -> None:
    """On a ferry the receiver moves and the wheels do not; with the engine on it is a fault."""
    path = tmp_path / "log.csv"
    lines = ["Time,GPS speed [km/h],Vehicle speed [km/h],Engine speed [rpm]"]
    for s in range(900):
        aboard = 200 <= s < 700
        ship = min(s - 200, 700 - s, 60) / 60 * 36 if aboard else 50 + s % 7
        engine = rpm + (s % 9) * (100 if rpm else 0) if aboard else 1400 + s % 50
        wheels = 0 if aboard else round(ship)
        clock = f"2026-03-01T08:{s // 60:02d}:{s % 60:02d}Z"
        lines.append(f"{clock},{ship:.1f},{wheels},{engine}")
    path.write_text("\n".join(lines) + "\n")
    speed = read_log(path).samples["indicated_speed_mps"]
    assert (speed[300:600].null_count() == 0) is kept
