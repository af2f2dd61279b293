"""Single rows in which a channel leaps away and back, as adapters and receivers write them.

What moves a heavy vehicle: brakes give 0.6 g at most (5 m/s2, UN Regulation 13, annex 4, from
memory), so that no speed falls by 10 m/s and is back a second later. What burns nothing in a gear
change is no leap: the fuel is cut there.
"""

from pathlib import Path

import numpy as np
import polars as pl
import pytest

from gearing.logs.model import Reading
from gearing.logs.read import read_log

ROWS = 400
SECONDS = np.arange(ROWS)
SPEED = 60 + 20 * np.sin(SECONDS / 40)  # km/h
HEIGHT = 700 + 60 * np.sin(SECONDS / 90)
RATE = 20 + 8 * np.sin(SECONDS / 25)
RPM = 1400 + 300 * np.sin(SECONDS / 40)


def reading(folder: Path, **changed: np.ndarray) -> Reading:
    columns = {"speed": SPEED, "height": HEIGHT, "rate": RATE, "rpm": RPM} | changed
    path = folder / "log.csv"
    pl.DataFrame(
        {
            "time": [f"2031-05-02T10:{s // 60:02}:{s % 60:02}Z" for s in SECONDS],
            "vehicle speed (km/h)": columns["speed"].round(1),
            "altitude (m)": columns["height"].round(1),
            "engine fuel rate (L/h)": columns["rate"].round(2),
            "engine speed (rpm)": columns["rpm"].round(0),
        }
    ).write_csv(path)
    return read_log(path)


def with_rows(values: np.ndarray, rows: list[int], value: float) -> np.ndarray:
    out = values.copy()
    out[rows] = value
    return out


def missing(found: Reading, channel: str) -> list[int]:
    return found.samples[channel].is_null().arg_true().to_list()


@pytest.mark.parametrize(
    ("name", "channel", "values", "leapt"),
    [
        ("speed", "indicated_speed_mps", with_rows(SPEED, [50, 200], 0.0), [50, 200]),
        ("speed", "indicated_speed_mps", with_rows(SPEED, [90, 91], 0.0), [90, 91]),
        ("speed", "indicated_speed_mps", with_rows(SPEED, [120], 220.0), [120]),
        ("height", "altitude_m", with_rows(HEIGHT, [33, 250], 1500.0), [33, 250]),
        ("height", "altitude_m", with_rows(HEIGHT, [60], 0.0), [60]),
        ("height", "altitude_m", with_rows(HEIGHT, [*range(40, 70)], 0.0), [*range(40, 70)]),
        ("height", "altitude_m", with_rows(HEIGHT, [*range(25)], 0.0), [*range(25)]),
        ("height", "altitude_m", with_rows(HEIGHT, [*range(380, 400)], 0.0), [*range(380, 400)]),
        ("rate", "fuel_rate_lph", with_rows(RATE, [77, 300], 200.0), [77, 300]),
        ("rate", "fuel_rate_lph", with_rows(RATE, [78, 180], 0.0), [78, 180]),
    ],
)
def test_a_value_that_leaps_away_and_back_is_set_aside_and_counted(
    tmp_path: Path, name: str, channel: str, values: np.ndarray, leapt: list[int]
) -> None:
    found = reading(tmp_path, **{name: values})
    assert missing(found, channel) == leapt
    assert {one.code for one in found.set_aside_values} == {"leap"}
    assert sum(one.count for one in found.set_aside_values) == len(leapt)


def braked() -> np.ndarray:
    """Down to a stop at 5 m/s2, two seconds there, and away again at 2.5."""
    out = SPEED.copy()
    out[100:104] = [50.0, 32.0, 14.0, 0.0]
    out[104:112] = [0.0, 9.0, 18.0, 27.0, 36.0, 45.0, 54.0, 60.0]
    return out


def shifted() -> dict[str, np.ndarray]:
    """Nothing burnt for a row, the engine slower by a quarter behind it."""
    return {"rate": with_rows(RATE, [150], 0.0), "rpm": RPM * np.where(SECONDS < 150, 1.0, 0.75)}


@pytest.mark.parametrize(
    "changed",
    [{}, {"speed": braked()}, shifted()],
    ids=["as is", "stop", "shift"],
)
def test_what_vehicles_do_is_no_leap(tmp_path: Path, changed: dict[str, np.ndarray]) -> None:
    found = reading(tmp_path, **changed)
    assert not found.set_aside_values
    for channel in ("indicated_speed_mps", "altitude_m", "fuel_rate_lph"):
        assert missing(found, channel) == []
