"""Route profiles from tracks and recorded trips: what was not measured is not drawn."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from mountain_studies import pass_profile, study, turns

from gearing.analysis.mountain import find_mountain
from gearing.analysis.mountain.profile import missing_stretches
from gearing.run.profiles import read_route

REAL = Path(__file__).resolve().parents[3] / "shared" / "logs" / "gpx" / "no-times.gpx"
DEGREE_M = 111_132.95  # of latitude at 45 degrees on WGS 84: NGA.STND.0036, from memory
EAST_M = 78_846.8  # of longitude there: the same source, from memory
SPEED_MPS = 20.0


def drive(low_m: float, high_m: float, *, whole_rows: bool) -> pl.DataFrame:
    """20 km north at 20 m/s over a hill of 300 m, 1 Hz; altitude or all of it lost for a while."""
    along = np.arange(0.0, 20_000.1, SPEED_MPS)
    lost = (along > low_m) & (along < high_m)
    start = datetime(2026, 3, 2, 8, tzinfo=UTC)
    frame = pl.DataFrame(
        {
            "Time": [
                f"{start + timedelta(seconds=s):%Y-%m-%dT%H:%M:%SZ}" for s in range(along.size)
            ],
            "Latitude (deg)": 45 + (along - 10_000) / DEGREE_M,
            "Longitude (deg)": np.full(along.size, -100.0),
            "GPS speed (km/h)": np.full(along.size, SPEED_MPS * 3.6),
            "Altitude (m)": np.round(500 + 300 * np.exp(-(((along - 10_000) / 3000) ** 2)), 1),
        }
    )
    if whole_rows:
        return frame.filter(~pl.Series(lost))
    blank = pl.when(~pl.Series(lost)).then("Altitude (m)")
    return frame.with_columns(blank.alias("Altitude (m)"))


@pytest.mark.parametrize("whole_rows", [False, True])
def test_a_recorded_trip_keeps_its_hole(tmp_path: Path, whole_rows: bool) -> None:
    path = tmp_path / "trip.csv"
    drive(0, 0, whole_rows=whole_rows).write_csv(path)
    whole = read_route(path, "UTC").frame
    assert whole["distance_m"].max() == pytest.approx(20_000, rel=1e-3)
    assert missing_stretches(whole["distance_m"].to_numpy()) == ()
    drive(7000, 13_000, whole_rows=whole_rows).write_csv(path)
    holed = read_route(path, "UTC").frame
    ((low, high),) = missing_stretches(holed["distance_m"].to_numpy())
    assert low == pytest.approx(7000, abs=30)
    assert high == pytest.approx(13_000, abs=30)
    assert holed["distance_m"].max() == pytest.approx(20_000, rel=1e-3)


def track(points: list[tuple[float, float | None]]) -> str:
    """A road north, with a kilometre and a half to the east from 5.5 km on."""
    rows = ""
    for along, height in points:
        east = min(max(along - 5500, 0), 1500)
        place = f'lat="{45 + (along - east) / DEGREE_M:.7f}" lon="{-100 + east / EAST_M:.7f}"'
        rows += f"<trkpt {place}>{'' if height is None else f'<ele>{height}</ele>'}</trkpt>"
    return (
        '<?xml version="1.0"?><gpx version="1.1" creator="t" '
        f'xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{rows}</trkseg></trk></gpx>'
    )


def test_points_without_elevation_are_way_but_no_profile(tmp_path: Path) -> None:
    path = tmp_path / "road.gpx"
    along = np.arange(0.0, 10_000.1, 50.0).tolist()
    path.write_text(
        track([(a, None if 4000 < a < 7000 else 500.0) for a in along]), encoding="utf-8"
    )
    distance = read_route(path, "UTC").frame["distance_m"].to_numpy()
    assert distance[-1] == pytest.approx(10_000, rel=1e-3)
    ((low, high),) = missing_stretches(distance)
    assert (low, high) == (pytest.approx(4000, rel=1e-3), pytest.approx(7000, rel=1e-3))


@pytest.mark.skipif(not REAL.is_file(), reason="../shared/logs/gpx is not beside this checkout")
def test_a_real_track_whose_points_jump() -> None:
    distance = read_route(REAL, "UTC").frame["distance_m"].to_numpy()
    holes = missing_stretches(distance)
    assert holes
    assert all(high - low > 1000 for low, high in holes)
    assert sum(high - low for low, high in holes) > 0.5 * distance[-1]


@pytest.mark.parametrize(("step_m", "verdict"), [(250.0, "suits"), (500.0, "suits with care")])
def test_far_apart_points_may_hide_what_asks_for_care(step_m: float, verdict: str) -> None:
    found = find_mountain(
        study(),
        profiles={"pass": pass_profile(0.01, 0.01, step_m)},
        revolutions_per_km=turns(),
        draws=40,
    )
    (route,) = found.routes
    assert route.verdict == verdict
    told = [str(one) for one in route.care]
    assert bool(told) == (verdict != "suits")
