"""The odometer photographed at the ends of drives: which road between two readings is known.

Drives are made here, each so long and from so far along one road; the odometer counts so much of
it. What comes back is held against that.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import numpy as np
import polars as pl
import pytest

from gearing.analysis.speed.odometer_readings import KnownRoad, known_roads
from gearing.study.model import DashReading, Period, Study, Vehicle
from gearing.trips.record import TripRecord

NOON = datetime(2027, 5, 3, 12, 0, 20, tzinfo=UTC)
KMH = 80.0


def drive(start_h: float, from_km: float, km: float) -> TripRecord:
    """From a place on the road, at 80 km/h."""
    at = NOON + timedelta(hours=start_h)
    count = int(km * 10)
    lasts = km / KMH * 3600 / count
    degrees = 45 + (from_km + np.linspace(0, km, count + 1)) / 111.195
    steps = pl.DataFrame(
        {
            "start_s": at.timestamp() + lasts * np.arange(count),
            "duration_s": lasts,
            "distance_m": 100.0,
            "latitude_deg": degrees[:-1],
            "longitude_deg": 7.0,
            "end_latitude_deg": degrees[1:],
            "end_longitude_deg": 7.0,
        }
    )
    end = at + timedelta(hours=km / KMH)
    made = SimpleNamespace(
        side="before", start=at, end=end, has_receiver=True, true_m=1000 * km, steps=steps
    )
    return cast("TripRecord", made)


def roads(drives: list[TripRecord], *readings: tuple[timedelta, float]) -> tuple[KnownRoad, ...]:
    """Known roads between readings, each so long after noon, in km."""
    study = Study(
        name="odometer",
        slug="odometer",
        path=Path("study.toml"),
        vehicle=Vehicle(),
        before=Period(side="before", drive_tire="245/70R19.5"),
        dash=tuple(DashReading(at=NOON + at, odometer_m=1000 * km) for at, km in readings),
    )
    return known_roads(study, drives, None)


MINUTE, HOUR = timedelta(minutes=1), timedelta(hours=1)


def test_a_photo_at_both_ends_of_one_drive_is_enough() -> None:
    """Whatever else was driven before and after, logged or not."""
    elsewhere = [drive(-30, 500, 40), drive(0, 0, 100), drive(40, -200, 60)]
    for drives in (elsewhere, elsewhere[1:2]):
        (road,) = roads(drives, (-MINUTE, 50_000.0), (1.25 * HOUR + MINUTE, 50_096.6))
        assert road.true_m == 100_000
        assert road.shown_m == pytest.approx(96_600)


def test_readings_hours_away_need_the_drives_around_them() -> None:
    early, late = (-5 * HOUR, 50_000.0), (9 * HOUR, 50_096.6)
    joined = [drive(-30, -40, 40), drive(0, 0, 100), drive(40, 100, 60)]
    assert len(roads(joined, early, late)) == 1
    # the drive before ended elsewhere: between it and this one something was driven unlogged
    assert roads([drive(-30, 500, 40), *joined[1:]], early, late) == ()
    assert roads(joined[1:], early, late) == ()
    assert roads(joined[:2], early, late) == ()


def test_a_reading_by_the_minute_on_the_way_is_worth_less() -> None:
    """At 80 km/h a minute is 1.3 km: uniform in it, 0.38 km either way, of 50 km."""
    drives = [drive(0, 0, 100)]
    at = timedelta(hours=0.625, seconds=40)  # 12:38:30
    whole = timedelta(hours=0.625, seconds=10)  # 12:38:00
    end = (1.25 * HOUR + MINUTE, 50_096.6)
    (exact,) = roads(drives, (at, 50_049.0), end)
    (noted,) = roads(drives, (whole, 50_049.0), end)
    assert noted.true_m == pytest.approx(exact.true_m, rel=2e-3)
    added = np.sqrt(noted.error**2 - exact.error**2)
    assert added == pytest.approx(KMH / 60 / np.sqrt(12) / 50, rel=0.15)
