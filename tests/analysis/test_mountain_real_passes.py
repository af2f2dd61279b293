"""Altitude of one real road from many passes: the halves agree better than single passes do.

`../shared/logs/open_tracks` (ODbL; enviroCar contributors): 35 trips of one car, most on one
road, position and altitude every 5 s. No position leaves this test.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from gearing.analysis.mountain.passes import with_other_passes
from gearing.analysis.mountain.profile import read_passes
from gearing.logs.read import read_log
from gearing.run.profiles import read_route
from gearing.study.model import Study
from gearing.trips.declared import Declared
from gearing.trips.record import records_of

FOLDER = Path(__file__).resolve().parents[3] / "shared" / "logs" / "open_tracks" / "car_57f7fd"
pytestmark = pytest.mark.skipif(
    not FOLDER.is_dir(), reason="../shared/logs/open_tracks is not beside this checkout"
)
WINDOW_M = 300.0


def steps_of(path: Path) -> pl.DataFrame:
    study = Study(name="car", slug="car", path=Path("study.toml"))
    reading = read_log(path)
    records = records_of([reading], Declared.of(study), side="before")
    return pl.concat([record.steps for record in records])


def grades(passes: list[pl.DataFrame], places: np.ndarray) -> np.ndarray:
    profile = read_passes(passes)
    high = np.interp(places + WINDOW_M / 2, profile.distance_m, profile.altitude_m)
    low = np.interp(places - WINDOW_M / 2, profile.distance_m, profile.altitude_m)
    return (high - low) / WINDOW_M


def test_many_passes_agree_better_than_single_ones() -> None:
    files = sorted(FOLDER.glob("*.csv"))[2:22]
    steps = {path: steps_of(path) for path in files}
    found: list[pl.DataFrame] = []
    for path in files[:6]:  # of these, the road driven most often
        candidate = read_route(path, "UTC").frame
        others = pl.concat([one for other, one in steps.items() if other != path])
        passes = with_other_passes(candidate, others)[1:]
        if len(passes) > len(found):
            profile, found = candidate, passes
    assert len(found) >= 6
    length = float(profile["distance_m"].max())
    places = np.arange(WINDOW_M, length - WINDOW_M, 100.0)
    single = [grades([one], places) for one in found]
    apart = np.mean([np.sqrt(np.mean((a - b) ** 2)) for a, b in pairwise(single)])
    halves = grades(found[::2], places), grades(found[1::2], places)
    together = np.sqrt(np.mean((halves[0] - halves[1]) ** 2))
    assert together < 0.75 * apart
    assert np.abs(np.concatenate(halves)).max() < 0.12
