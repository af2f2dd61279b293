"""Two invented roads over two invented passes, on a grid of 5 m along the slope."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from .chance import Floats, stream, wandering

STEP_M = 5.0
MPH = 0.44704
# An arbitrary spot in empty dry country. No road of the sample study exists.
ORIGIN_LATITUDE, ORIGIN_LONGITUDE = 38.61, -110.87
# WGS 84 (NIMA TR8350.2)
_A, _E2 = 6378137.0, 6.69437999014e-3


@dataclass(frozen=True)
class Section:
    """A stretch of road: length [km], mean grade [%], grade roughness [%], wind of the line
    [deg], posted speed [mph], curves a km and the speed through them [mph], wind shelter [-]."""

    km: float
    grade: float
    rough: float
    winding: float
    mph: float
    curves_per_km: float = 0.0
    curve_mph: float = 38.0
    shelter: float = 1.0


@dataclass(frozen=True)
class Road:
    """Arrays on the grid: distance along the slope, altitude, grade (rise over run), course,
    position, posted and comfortable speed, share of the open-country wind that reaches it."""

    name: str
    slug: str
    distance_m: Floats
    altitude_m: Floats
    grade: Floats
    course_deg: Floats
    latitude_deg: Floats
    longitude_deg: Floats
    posted_mps: Floats
    comfortable_mps: Floats
    exposure: Floats
    stops_m: tuple[float, ...]  # stop signs, then library stations
    stations_m: tuple[float, ...]

    @property
    def length_m(self) -> float:
        return float(self.distance_m[-1])

    def reversed(self) -> Road:
        end = self.length_m
        return replace(
            self,
            altitude_m=self.altitude_m[::-1].copy(),
            grade=-self.grade[::-1],
            course_deg=(self.course_deg[::-1] + 180.0) % 360.0,
            latitude_deg=self.latitude_deg[::-1].copy(),
            longitude_deg=self.longitude_deg[::-1].copy(),
            posted_mps=self.posted_mps[::-1].copy(),
            comfortable_mps=self.comfortable_mps[::-1].copy(),
            exposure=self.exposure[::-1].copy(),
            stops_m=tuple(sorted(end - s for s in self.stops_m)),
            stations_m=tuple(sorted(end - s for s in self.stations_m)),
        )


def _smooth(values: Floats, metres: float) -> Floats:
    n = max(1, round(metres / STEP_M))
    padded = np.pad(values, (n // 2, n - 1 - n // 2), mode="edge")
    return np.convolve(padded, np.ones(n) / n, mode="valid")


def _positions(course_deg: Floats, grade: Floats, altitude: Floats) -> tuple[Floats, Floats]:
    """Walk the ellipsoid with its local radii, at the road's own height."""
    latitude, longitude = np.empty(len(course_deg)), np.empty(len(course_deg))
    lat, lon = math.radians(ORIGIN_LATITUDE), math.radians(ORIGIN_LONGITUDE)
    for i, (course, slope, height) in enumerate(
        zip(np.radians(course_deg).tolist(), grade.tolist(), altitude.tolist(), strict=True)
    ):
        latitude[i], longitude[i] = math.degrees(lat), math.degrees(lon)
        run = STEP_M / math.sqrt(1 + slope * slope)
        w = 1 - _E2 * math.sin(lat) ** 2
        meridian, normal = _A * (1 - _E2) / w**1.5, _A / math.sqrt(w)
        lat += run * math.cos(course) / (meridian + height)
        lon += run * math.sin(course) / ((normal + height) * math.cos(lat))
    return latitude, longitude


def build(
    name: str,
    slug: str,
    base_course: float,
    start_altitude: float,
    sections: tuple[Section, ...],
    stop_signs_km: tuple[float, ...],
    stations_km: tuple[float, ...],
) -> Road:
    counts = [round(s.km * 1000 / STEP_M) for s in sections]

    def spread(values: list[float]) -> Floats:
        return np.repeat(np.array(values, dtype=float), counts)

    n = sum(counts)
    rng = stream("road", slug)
    rough = spread([s.rough for s in sections]) * wandering(rng, n, sd=1.0, length=500 / STEP_M)
    grade = _smooth(spread([s.grade for s in sections]), 400) / 100 + _smooth(rough, 200) / 100
    rise = grade / np.sqrt(1 + grade**2) * STEP_M
    altitude = start_altitude + np.concatenate([[0.0], np.cumsum(rise)[:-1]])
    winding = _smooth(spread([s.winding for s in sections]), 300)
    course = base_course + winding * _smooth(wandering(rng, n, sd=1.0, length=90), 120)
    latitude, longitude = _positions(course, grade, altitude)
    posted = spread([s.mph for s in sections]) * MPH
    comfortable = posted.copy()
    first = 0
    for section, count in zip(sections, counts, strict=True):
        for _ in range(round(section.km * section.curves_per_km)):
            at = first + int(rng.uniform(0, count))
            width = int(rng.uniform(80, 180) / STEP_M)
            slow = (section.curve_mph + rng.uniform(-4, 4)) * MPH
            comfortable[at : at + width] = np.minimum(comfortable[at : at + width], slow)
        first += count
    return Road(
        name=name,
        slug=slug,
        distance_m=np.arange(n, dtype=np.float64) * STEP_M,
        altitude_m=altitude,
        grade=grade,
        course_deg=course % 360.0,
        latitude_deg=latitude,
        longitude_deg=longitude,
        posted_mps=posted,
        comfortable_mps=comfortable,
        exposure=_smooth(spread([s.shelter for s in sections]), 300),
        stops_m=tuple(k * 1000 for k in stop_signs_km),
        stations_m=tuple(k * 1000 for k in stations_km),
    )


def ollerby() -> Road:
    """Merrow to Pellan over Ollerby Pass: a long even climb."""
    return build(
        "Ollerby Pass",
        "ollerby",
        35.0,
        1622.0,
        (
            Section(1.2, 0.3, 0.5, 15, 30, shelter=0.6),
            Section(12.0, 0.6, 1.1, 22, 60),
            Section(5.0, 2.6, 0.8, 30, 55, 0.4, 45),
            Section(9.0, 5.4, 0.8, 55, 50, 1.0, 38, 0.75),
            Section(1.2, 0.3, 0.5, 30, 45),
            Section(9.5, -5.8, 0.8, 55, 50, 1.0, 37, 0.75),
            Section(3.0, -2.2, 0.8, 30, 55, 0.4, 45),
            Section(5.5, -0.4, 1.0, 22, 60),
            Section(1.0, -0.2, 0.4, 15, 30, shelter=0.6),
        ),
        (1.15, 46.5),
        (11.6, 43.2),
    )


def quill() -> Road:
    """Merrow to Dunnick over Quill Gap: lower, with a short steep side."""
    return build(
        "Quill Gap",
        "quill",
        318.0,
        1622.0,
        (
            Section(1.0, -0.2, 0.5, 15, 30, shelter=0.6),
            Section(13.0, 0.4, 1.1, 22, 62),
            Section(2.5, 2.5, 0.8, 30, 50, 0.4, 42),
            Section(5.5, 6.8, 0.6, 55, 45, 1.2, 34, 0.75),
            Section(5.5, 0.2, 1.4, 35, 55, 0.3, 45),
            Section(7.5, -4.3, 0.8, 45, 55, 0.7, 42, 0.8),
            Section(8.5, -0.5, 1.0, 22, 62),
            Section(1.0, 0.2, 0.4, 15, 30, shelter=0.6),
        ),
        (0.95, 43.6),
        (13.1, 25.4),
    )
