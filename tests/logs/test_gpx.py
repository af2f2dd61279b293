"""GPX tracks: read as a general-purpose library reads them, and point by point where damaged."""

from __future__ import annotations

from pathlib import Path

import gpxpy
import pytest

from gearing.logs.gpx import read_points
from gearing.logs.read import read_log

LOGS = Path(__file__).resolve().parents[3] / "shared" / "logs"
TRACKS = sorted(LOGS.rglob("*.gpx")) if LOGS.is_dir() else []
N = 60


def _point(i: int, lat: str | None = None) -> str:
    lat = lat or f"{40 + i * 1e-4:.5f}"
    return (
        f'<trkpt lat="{lat}" lon="-105.0"><ele>{1600 + i}</ele>'
        f"<time>2026-03-01T08:00:{i:02d}Z</time><hdop>1.5</hdop><extensions><x:Point>"
        f"<x:speed>{i / 4}</x:speed><x:time>12</x:time></x:Point></extensions></trkpt>"
    )


def _track(points: list[str]) -> str:
    rows = "\n".join(points)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="none" '
        'xmlns="http://www.topografix.com/GPX/1/1" xmlns:x="http://example.org/x">\n'
        f"<trk><trkseg>\n{rows}\n</trkseg></trk></gpx>\n"
    )


@pytest.mark.parametrize("path", [None, *TRACKS], ids=lambda p: "made" if p is None else p.stem)
def test_points_as_gpxpy_reads_them(path: Path | None) -> None:
    text = path.read_text("utf-8") if path else _track([_point(i) for i in range(N)])
    points, damaged = read_points(text.encode(), "trkpt")
    wanted = [p for t in gpxpy.parse(text).tracks for s in t.segments for p in s.points]
    assert damaged is None
    assert points.height == len(wanted) > 0
    for name, attribute in (("lat", "latitude"), ("lon", "longitude"), ("ele", "elevation")):
        given = [None if v is None else float(v) for v in points[name].to_list()]
        assert given == [getattr(p, attribute) for p in wanted]
    if path is None:
        assert points["speed"].cast(float).to_list() == [i / 4 for i in range(N)]
        assert points["time"].to_list() == [f"2026-03-01T08:00:{i:02d}Z" for i in range(N)]


@pytest.mark.parametrize("broken", ["", "x", "40°", "nan"])
def test_a_place_that_is_no_number_costs_its_point_alone(broken: str, tmp_path: Path) -> None:
    points = [_point(i) for i in range(N)]
    points[20] = _point(20).replace('lat="40.00200"', f'lat="{broken}"')
    path = tmp_path / "track.gpx"
    path.write_text(_track(["<!-- a <trkpt> in words -->", *points]), encoding="utf-8")
    reading = read_log(path)
    assert reading.rows_read == reading.rows_used == N
    assert reading.samples["latitude_deg"].null_count() == 1
    told = {p.code for p in reading.set_aside_values}
    assert told == ({"half-position"} if broken == "" else {"unreadable-value", "half-position"})


@pytest.mark.parametrize("damage", ["<ele>16", "<", "</trkseg>", "&", '<trkpt lat="4', "\x01"])
def test_damage_in_the_middle_costs_the_points_it_is_in(damage: str, tmp_path: Path) -> None:
    points = [_point(i) for i in range(N)]
    points[20] = points[20][:60] + damage + points[20][75:]
    points[40] = ""
    path = tmp_path / "track.gpx"
    path.write_text(_track(points), encoding="utf-8")
    reading = read_log(path)
    assert reading.rows_used >= N - 3
    assert reading.rows_read == reading.rows_used + sum(p.count for p in reading.set_aside_rows)
    assert {p.code for p in reading.set_aside_rows} == {"cut-record"}
    assert {p.first_line for p in reading.set_aside_rows} <= {24, 25}
    assert "salvaged-xml" in {p.code for p in reading.repairs}
    assert reading.samples["altitude_m"].max() == 1600 + N - 1


def test_a_track_without_times_is_told_row_by_row(tmp_path: Path) -> None:
    path = tmp_path / "track.gpx"
    path.write_text(_track([_point(i).replace("<time>2026", "<x>2026").replace("Z</time>", "Z</x>")
                            for i in range(N)]))  # fmt: skip
    reading = read_log(path)
    assert (reading.rows_read, reading.rows_used) == (N, 0)
    assert [(p.code, p.count) for p in reading.set_aside_rows] == [("no-time", N)]
