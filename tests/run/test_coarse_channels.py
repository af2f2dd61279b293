"""A recorder of one period that cuts engine or road speed to a coarse unit: the sample so changed.

What is cut stands half a unit low on the mean, and what is rounded does not; which it is, a
comparison with the other period must find out or leave open.
"""

import math
from collections.abc import Callable
from pathlib import Path

import polars as pl
import pytest
from sample_study import TRUTH, sample_copy

import gearing
from gearing.logs.read import read_log

pytestmark = pytest.mark.drill

HEADINGS = {
    "latitude_deg": "latitude (deg)",
    "longitude_deg": "longitude (deg)",
    "altitude_m": "altitude (m)",
    "gps_speed_mps": "GPS speed (m/s)",
    "indicated_speed_mps": "vehicle speed (m/s)",
    "engine_speed_rpm": "engine speed (rpm)",
    "fuel_rate_lph": "fuel rate (L/h)",
    "engine_load_percent": "engine load (%)",
}


def rewritten(folder: Path, change: Callable[[pl.DataFrame], pl.DataFrame]) -> Path:
    """The sample with the after period's logs written anew, changed."""
    study = sample_copy(folder, routes=False)
    for path in (folder / "after").iterdir():
        samples = read_log(path, time_zone="America/Denver").samples
        known = [name for name in HEADINGS if name in samples.columns]
        stamp = pl.col("time").dt.strftime("%Y-%m-%dT%H:%M:%S%.3fZ")
        change(samples).select(stamp, *known).rename(
            {name: HEADINGS[name] for name in known}
        ).write_csv(folder / "after" / f"{path.name.split('.')[0]}.log.csv")
        path.unlink()
    study.write_text(study.read_text(encoding="utf-8").replace("after/*.csv", "after/*.log.csv"))
    return study


def cut(channel: str, unit: float) -> Callable[[pl.DataFrame], pl.DataFrame]:
    return lambda samples: samples.with_columns((pl.col(channel) / unit).floor() * unit)


@pytest.mark.parametrize(
    ("channel", "unit"), [("engine_speed_rpm", 50.0), ("indicated_speed_mps", 5 / 3.6)]
)
def test_what_a_coarse_unit_hides_lies_in_the_intervals(
    tmp_path: Path, channel: str, unit: float
) -> None:
    results = gearing.analyze(rewritten(tmp_path / "study", cut(channel, unit)))
    change = results.final_drive.change_percent
    assert change.low is not None
    assert change.high is not None
    assert change.low <= TRUTH["final_drive"]["change_percent"] <= change.high
    assert change.high - change.low < 4.0
    for side in ("before", "after"):
        factor = results.speed.odometer_factor.of(side)
        assert factor.low <= TRUTH["odometer_factor"][side] <= factor.high
        assert math.log(factor.high / factor.low) < 0.012
