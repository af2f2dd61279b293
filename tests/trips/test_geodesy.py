"""Steps on the ellipsoid against published lines and against independent libraries.

Published: GeographicLib's documentation and test set; the GDA technical manual's baseline
Flinders Peak to Buninyong (its own ellipsoid, GRS 80, differs from WGS 84 by 0.1 mm in the
semi-minor axis); lengths of one degree, which any geodesy handbook prints.
"""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from pyproj import Geod

from gearing.trips.geodesy import steps_m

WGS84 = Geod(ellps="WGS84")


def _length_m(latitude: np.ndarray, longitude: np.ndarray) -> float:
    return float(np.hypot(*steps_m(latitude, longitude)).sum())


@pytest.mark.parametrize(
    ("start", "end", "published_m"),
    [
        # one degree of latitude at the equator, around 45 degrees and to the pole
        ((0.0, 10.0), (1.0, 10.0), 110_574.389),
        ((44.5, 10.0), (45.5, 10.0), 111_131.778),
        ((89.0, 10.0), (90.0, 10.0), 111_693.865),
        # quarter meridian
        ((0.0, 0.0), (90.0, 0.0), 10_001_965.729),
        # one degree of longitude on the equator, and on the parallel of 45 degrees
        ((0.0, 10.0), (0.0, 11.0), 111_319.491),
        ((45.0, 10.0), (45.0, 11.0), 78_846.835),
    ],
)
def test_published_degrees(
    start: tuple[float, float], end: tuple[float, float], published_m: float
) -> None:
    parts = 20_000
    latitude = np.linspace(start[0], end[0], parts + 1)
    longitude = np.linspace(start[1], end[1], parts + 1)
    assert _length_m(latitude, longitude) == pytest.approx(published_m, abs=0.002)


def test_a_published_baseline_walked_in_short_steps() -> None:
    # GDA technical manual: Flinders Peak to Buninyong, 54 972.271 m
    start = (-(37 + 57 / 60 + 3.72030 / 3600), 144 + 25 / 60 + 29.52440 / 3600)
    end = (-(37 + 39 / 60 + 10.15610 / 3600), 143 + 55 / 60 + 35.38390 / 3600)
    line = Geodesic.WGS84.InverseLine(*start, *end)
    points = [line.Position(s) for s in np.linspace(0, line.s13, 2001)]
    latitude = np.array([p["lat2"] for p in points])
    longitude = np.array([p["lon2"] for p in points])
    assert _length_m(latitude, longitude) == pytest.approx(54_972.271, abs=0.002)


@pytest.mark.parametrize(
    ("start", "end", "published_m"),
    [
        # GeographicLib documentation, and the first row of its test set
        ((-41.32, 174.81), (40.96, -5.50), 19_959_679.267),
        ((40.6, -73.8), (51.6, -0.5), 5_551_759.400),
        ((35.60777, -139.44815), (-11.17491, -69.95921), 8_935_244.560),
    ],
)
def test_published_geodesics_walked_in_short_steps(
    start: tuple[float, float], end: tuple[float, float], published_m: float
) -> None:
    line = Geodesic.WGS84.InverseLine(*start, *end)
    points = [line.Position(s) for s in np.linspace(0, line.s13, 20_001)]
    latitude = np.array([p["lat2"] for p in points])
    longitude = np.array([p["lon2"] for p in points])
    # steps of up to 1 km, some near the pole: one part in ten million
    assert _length_m(latitude, longitude) == pytest.approx(published_m, rel=1e-7)


def test_short_steps_agree_with_a_reference_library_anywhere() -> None:
    rng = np.random.default_rng(5)
    latitude, longitude = rng.uniform(-75, 75, 3000), rng.uniform(-179.9, 179.9, 3000)
    azimuth, length = rng.uniform(0, 360, 3000), rng.uniform(1, 300, 3000)
    end_longitude, end_latitude, _ = WGS84.fwd(longitude, latitude, azimuth, length)
    ours = np.array(
        [
            np.hypot(*(part[0] for part in steps_m(np.array([a, c]), np.array([b, d]))))
            for a, b, c, d in zip(latitude, longitude, end_latitude, end_longitude, strict=True)
        ]
    )
    assert np.abs(ours / length - 1).max() < 2e-8


def test_a_sphere_would_be_wrong_by_a_tenth_of_a_tire_change() -> None:
    """Why the ellipsoid: at 39 N a sphere is 0.162 % long north-south, 0.244 % short east-west."""
    radius = 6_371_008.8
    north, _ = steps_m(np.array([39.0, 39.001]), np.array([0.0, 0.0]))
    _, east = steps_m(np.array([39.0, 39.0]), np.array([0.0, 0.001]))
    sphere = np.deg2rad(0.001) * radius
    assert 100 * (sphere / north[0] - 1) == pytest.approx(0.162, abs=0.002)
    assert 100 * (sphere * np.cos(np.deg2rad(39)) / east[0] - 1) == pytest.approx(-0.244, abs=0.002)


def test_the_date_line_is_no_detour() -> None:
    _, east = steps_m(np.array([0.0, 0.0]), np.array([179.9995, -179.9995]))
    assert east[0] == pytest.approx(111.319491, rel=1e-6)
