"""Recorders that write a value only when it changes, and those that only look like it.

Common practice of recorders, no source. The same drive is written whole and with its unchanged
values left out: both must be read alike.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from gearing.logs.model import Reading
from gearing.logs.read import read_log

LENGTH = 1500
HEADS = {
    "GPS speed (km/h)": "gps_speed_mps",
    "Vehicle speed (km/h)": "indicated_speed_mps",
    "Engine RPM (rpm)": "engine_speed_rpm",
    "Fuel rate (L/h)": "fuel_rate_lph",
    "Ambient temperature (degC)": "ambient_temperature_c",
}


def _drive() -> dict[str, list[str]]:
    t = np.arange(LENGTH)
    kmh = np.clip(60 + 45 * np.sin(t / 90) + 5 * np.sin(t / 11), 0, None)
    coasting = np.cos(t / 90) < -0.2  # overrun burns nothing for a minute and more
    return {
        "GPS speed (km/h)": [f"{v:.2f}" for v in kmh],
        "Vehicle speed (km/h)": [f"{np.floor(v):.0f}" for v in kmh],
        "Engine RPM (rpm)": [f"{700 + 25 * v:.0f}" for v in kmh],
        "Fuel rate (L/h)": [f"{x:.1f}" for x in np.where(coasting, 0, 2 + kmh / 4)],
        "Ambient temperature (degC)": [f"{x:.0f}" for x in 8 + t / 300],
    }


def _blank_unchanged(cells: list[str]) -> list[str]:
    return [c if n == 0 or c != cells[n - 1] else "" for n, c in enumerate(cells)]


def _read(folder: Path, columns: dict[str, list[str]], long: bool = False) -> Reading:
    times = [f"2026-05-04T08:{n // 60:02d}:{n % 60:02d}Z" for n in range(LENGTH)]
    if long:
        lines = ["Time,Parameter,Value,Unit"]
        for n, time in enumerate(times):
            for head, cells in columns.items():
                name, unit = head.removesuffix(")").split(" (")
                lines += [f"{time},{name},{cells[n]},{unit}"] * bool(cells[n])
    else:
        lines = [",".join(["Time", *columns])]
        lines += [",".join(row) for row in zip(times, *columns.values(), strict=True)]
    path = folder / "a.csv"
    path.write_text("\n".join(lines) + "\n")
    return read_log(path)


@pytest.mark.parametrize("long", [False, True])
def test_unchanged_values_stand(tmp_path: Path, long: bool) -> None:
    whole = _read(tmp_path, _drive())
    assert whole.repairs == ()
    brief = _read(tmp_path, {h: _blank_unchanged(c) for h, c in _drive().items()}, long)
    assert {p.code for p in brief.repairs} == {"held-values"}
    assert brief.rows_read == brief.rows_used + sum(p.count for p in brief.set_aside_rows)
    both = brief.samples.join(whole.samples, on="time", suffix="_true")
    assert both.height > 0.99 * LENGTH
    for name in HEADS.values():
        assert both[name].equals(both[f"{name}_true"].alias(name)), name


def test_polled_values_are_left_as_they_are(tmp_path: Path) -> None:
    polled = {
        head: [c if n % len(HEADS) == turn else "" for n, c in enumerate(cells)]
        for turn, (head, cells) in enumerate(_drive().items())
    }
    reading = _read(tmp_path, polled)
    assert reading.repairs == ()
    for name in HEADS.values():
        assert reading.samples[name].count() == LENGTH / len(HEADS)


def test_one_channel_that_repeats_speaks_for_the_whole_log(tmp_path: Path) -> None:
    columns = {h: _blank_unchanged(c) for h, c in _drive().items()}
    every_second = _drive()["Vehicle speed (km/h)"]
    columns["Vehicle speed (km/h)"] = [c if n % 2 else "" for n, c in enumerate(every_second)]
    reading = _read(tmp_path, columns)
    assert reading.repairs == ()
    assert reading.samples["fuel_rate_lph"].null_count() > 0
