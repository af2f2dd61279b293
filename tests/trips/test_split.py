"""Trips, days, distance and fuel of recorders that write on while nobody drives.

Every case is held against the same drives written by a recorder that stops with the engine: what
is parked, carried or not written must change nothing. The drives are made up, their way and fuel
known by construction.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
import pytest
from drive_frames import at_times, reading, speeds
from pyproj import Geod

from gearing.study.model import Period, Study
from gearing.trips.declared import Declared
from gearing.trips.record import TripRecord, records_of

LITERS_AN_HOUR, IDLE_LPH, IDLE_RPM = 18.0, 2.4, 650.0
WGS84 = Geod(ellps="WGS84")
Channels = dict[str, np.ndarray]


@dataclass
class Recorder:
    """Rows piece by piece, with the place carried on from one to the next."""

    clock_s: float = 0.0
    way_m: float = 0.0
    rows: list[Channels] = field(default_factory=list)
    rng: np.random.Generator = field(default_factory=lambda: np.random.default_rng(4))

    def drive(self, seconds: int = 1800) -> Recorder:
        speed = speeds(seconds)
        return self._rows(
            np.arange(seconds, dtype=float),
            true=speed,
            wheels=speed / 1.03,
            rpm=np.where(speed > 0, 500 + 60 * speed, IDLE_RPM),
            fuel=np.where(speed > 0, LITERS_AN_HOUR, IDLE_LPH),
        )

    def stand(
        self, seconds: int, every: int = 1, engine: bool = False, jitter: float = 0.0
    ) -> Recorder:
        t, ends_s = np.arange(every, seconds, every, dtype=float), self.clock_s + seconds
        self._rows(
            t,
            true=np.abs(self.rng.normal(0, jitter, len(t))) if jitter else np.zeros(len(t)),
            wheels=np.zeros(len(t)),
            rpm=np.full(len(t), IDLE_RPM if engine else 0.0),
            fuel=np.full(len(t), IDLE_LPH if engine else 0.0),
            moves=False,
        )
        self.clock_s = ends_s
        return self

    def carried(self, seconds: int, speed: float) -> Recorder:
        """Aboard: standing, under way and standing again, the engine off."""
        t = np.arange(seconds, dtype=float)
        true = speed * np.clip(np.minimum(t - 120, seconds - 120 - t) / 60, 0, 1)
        none = np.zeros(seconds)
        return self._rows(t, true=true, wheels=none, rpm=none, fuel=none)

    def silent(self, seconds: float, moved_m: float = 0.0) -> Recorder:
        """No rows."""
        self.clock_s += seconds
        self.way_m += moved_m
        return self

    def _rows(
        self,
        t: np.ndarray,
        *,
        true: np.ndarray,
        wheels: np.ndarray,
        rpm: np.ndarray,
        fuel: np.ndarray,
        moves: bool = True,
    ) -> Recorder:
        began = self.clock_s
        step = np.diff(t, prepend=t[0] if len(t) else 0.0)
        way = self.way_m + (np.cumsum(true * step) if moves else np.zeros(len(t)))
        self.rows.append(
            {
                "t": began + t,
                "way": way,
                "gps_speed_mps": true,
                "indicated_speed_mps": wheels,
                "engine_speed_rpm": rpm,
                "fuel_rate_lph": fuel,
            }
        )
        if len(t):
            self.way_m, self.clock_s = float(way[-1]), began + float(t[-1]) + 1
        return self

    def samples(self, *names: str) -> pl.DataFrame:
        names = names or (
            "latitude_deg",
            "longitude_deg",
            "gps_speed_mps",
            "indicated_speed_mps",
            "engine_speed_rpm",
            "fuel_rate_lph",
        )
        joined = {n: np.concatenate([r[n] for r in self.rows]) for n in self.rows[0]}
        count = len(joined["t"])
        longitude, latitude, _ = WGS84.fwd(
            np.full(count, -105.0), np.full(count, 40.0), np.full(count, 30.0), joined["way"]
        )
        joined |= {"latitude_deg": np.asarray(latitude), "longitude_deg": np.asarray(longitude)}
        return at_times(joined["t"], **{name: joined[name] for name in names})


def records(samples: pl.DataFrame, zone: str = "UTC") -> list[TripRecord]:
    study = Study(
        name="x",
        slug="x",
        path=Path("x.toml"),
        time_zone=zone,
        before=Period(side="before", drive_tire="245/70R19.5"),
    )
    return records_of([reading(samples)], Declared.of(study), side="before")


def same_as(found: list[TripRecord], clean: list[TripRecord], rel: float = 2e-3) -> None:
    """As many trips on the same days, of the same way and fuel."""
    assert [r.local_day for r in found] == [r.local_day for r in clean]
    for one, other in zip(found, clean, strict=True):
        assert one.true_m == pytest.approx(other.true_m, rel=rel)
        assert one.liters == pytest.approx(other.liters, rel=5e-3)
        assert abs((one.start - other.start).total_seconds()) <= 60
        assert abs((one.end - other.end).total_seconds()) <= 60


ALL = (
    "latitude_deg", "longitude_deg", "gps_speed_mps",
    "indicated_speed_mps", "engine_speed_rpm", "fuel_rate_lph",
)  # fmt: skip
Names = tuple[str, ...]
DAY = 86_400


@pytest.mark.parametrize("every", [1, 10, 600])
@pytest.mark.parametrize(
    "names",
    [ALL, ("gps_speed_mps", "fuel_rate_lph"), (*ALL[:3], "fuel_rate_lph"), ALL[2:]],
    ids=["all", "receiver's speed", "no engine speed", "no positions"],
)
def test_parked_rows_part_the_days(every: int, names: Names) -> None:
    parked, clean = Recorder(), Recorder()
    for day in range(4 if every == 1 else 10):
        for one in (parked, clean):
            one.clock_s = day * DAY + 8 * 3600.0
            one.drive()
        if every < 600:
            parked.stand(3 * 3600, every, jitter=0.2)
        else:
            parked.stand(DAY - 2400, every, jitter=0.2)
    found = records(parked.samples(*names))
    same_as(found, records(clean.samples(*names)))
    assert len({r.local_day for r in found}) == len(found)


def test_a_jam_stays_with_its_drive() -> None:
    jam = Recorder().drive().stand(25 * 60, engine=True).drive()
    (found,) = records(jam.samples())
    two = records(Recorder().drive().samples())[0]
    assert found.true_m == pytest.approx(2 * two.true_m, rel=2e-3)
    assert found.liters == pytest.approx(2 * two.liters + IDLE_LPH * 25 / 60, rel=2e-3)


def test_without_the_engine_ten_minutes_standstill_end_a_drive() -> None:
    names = ALL[:3]
    for minutes, trips in ((8, 1), (14, 2)):
        frame = Recorder().drive().stand(minutes * 60).drive().samples(*names)
        found = records(frame)
        assert len(found) == trips
        assert len({r.local_day for r in found}) == 1


def test_an_engine_that_idles_all_night_ends_the_drive() -> None:
    night = Recorder().drive().stand(9 * 3600, 10, engine=True).drive()
    found = records(night.samples())
    assert len(found) == 2
    burnt = sum(r.liters or 0 for r in found)
    two = sum(r.liters or 0 for r in records(Recorder().drive().silent(4000).drive().samples()))
    assert burnt == pytest.approx(two + IDLE_LPH * 9, rel=0.01)


def test_a_fuel_stop_parts_and_a_light_does_not() -> None:
    stop = Recorder().drive().stand(6 * 60).drive()
    clean = Recorder().drive()
    clean.clock_s += 6 * 60
    clean.drive()
    found = records(stop.samples())
    whole = records(Recorder().drive().samples())[0]
    assert len(found) == 2
    assert sum(r.true_m for r in found) == pytest.approx(2 * whole.true_m, rel=2e-3)
    assert sum(r.liters or 0 for r in found) == pytest.approx(2 * whole.liters, rel=3e-3)
    assert len(records(Recorder().drive().stand(100).drive().samples())) == 1


def _all(frame: pl.DataFrame) -> pl.DataFrame:
    return frame


def _silent_bus(frame: pl.DataFrame) -> pl.DataFrame:
    """The bus falls silent a while after the engine, and wakes a little before it."""
    off = pl.col("engine_speed_rpm") == 0
    asleep = off & off.shift(60, fill_value=False) & off.shift(-10, fill_value=False)
    names = ("indicated_speed_mps", "engine_speed_rpm", "fuel_rate_lph")
    return frame.with_columns(pl.when(~asleep).then(pl.col(n)).alias(n) for n in names)


def _lagging(frame: pl.DataFrame) -> pl.DataFrame:
    return frame.with_columns(pl.col("gps_speed_mps").shift(6, fill_value=0.0))


@pytest.mark.parametrize("written", [_all, _silent_bus, _lagging], ids=lambda f: f.__name__)
def test_a_ferry_is_no_driving(written: Callable[[pl.DataFrame], pl.DataFrame]) -> None:
    ferry = Recorder().drive().stand(300, engine=True).carried(2400, 6.0).drive()
    found = records(written(ferry.samples()))
    whole = records(Recorder().drive().samples())[0]
    assert len(found) == 2
    assert sum(r.true_m for r in found) == pytest.approx(2 * whole.true_m, rel=3e-3)
    liters = 2 * (whole.liters or 0) + IDLE_LPH * 300 / 3600
    assert sum(r.liters or 0 for r in found) == pytest.approx(liters, rel=0.01)
    (note,) = {p.message for r in found for p in r.problems if p.code == "carried"}
    assert "12." in note or "13." in note  # 6 m/s for 2,160 s and a little: 12.6 km


def test_rows_of_a_drive_too_short_are_told() -> None:
    frame = Recorder().drive().samples()
    start = pl.col("time").max() + pl.duration(minutes=40)
    late = frame.head(20).with_columns(time=start + (pl.col("time") - pl.col("time").min()))
    found = records(pl.concat([frame, late]))
    assert len(found) == 1
    (note,) = (p for p in found[0].problems if p.code == "short-drive")
    assert note.count == 20


def test_a_wheel_sensor_that_fails_in_mid_drive_is_no_ferry() -> None:
    frame = Recorder().drive().samples()
    speed = frame["indicated_speed_mps"].to_numpy().copy()
    speed[300:700] = 0.0
    found = records(frame.with_columns(pl.Series("indicated_speed_mps", speed)))
    whole = records(frame)[0]
    assert len(found) == 1
    assert found[0].true_m == pytest.approx(whole.true_m, rel=2e-3)
    assert not [p for p in found[0].problems if p.code == "carried"]


def test_a_gap_through_which_the_vehicle_moved_is_no_drive() -> None:
    # fifteen minutes, less than a pause that ends a drive by itself
    gap = Recorder().drive().silent(900, moved_m=9000).drive()
    found = records(gap.samples())
    whole = records(Recorder().drive().samples())[0]
    assert len(found) == 2
    assert [r.true_m for r in found] == pytest.approx([whole.true_m] * 2, rel=2e-3)
    still = Recorder().drive().silent(900).drive()
    assert len(records(still.samples())) == 1


@pytest.mark.parametrize("every", [10, 600])
def test_a_drive_through_midnight_and_a_day_behind_it(every: int) -> None:
    parked, clean = Recorder(), Recorder()
    for one in (parked, clean):
        one.clock_s = 20.5 * 3600  # `EPOCH_S` is 02:40 UTC: the drive runs from 23:10 to 00:10
        one.drive(3600)
    parked.stand(9 * 3600, every)
    clean.clock_s += 9 * 3600
    for one in (parked, clean):
        one.clock_s = 31 * 3600.0
        one.drive()
    found = records(parked.samples())
    same_as(found, records(clean.samples()))
    assert [r.local_day for r in found] == [date(2026, 2, 2), date(2026, 2, 3)]


def test_the_day_a_zone_changes_its_clocks() -> None:
    """2026-03-08 in Denver, when 02:00 became 03:00: three drives on three local days."""
    zone = ZoneInfo("America/Denver")
    parked, clean = Recorder(), Recorder()
    first = 33 * DAY + 4 * 3600.0  # 2026-03-07 06:40 UTC, 23:40 on the 6th there
    for one in (parked, clean):
        one.clock_s = first
    for _ in range(3):
        for one in (parked, clean):
            one.drive()
        parked.stand(DAY - 1800, 600)
        clean.clock_s = parked.clock_s
    found = records(parked.samples(), zone.key)
    same_as(found, records(clean.samples(), zone.key))
    assert [r.local_day.day for r in found] == [6, 7, 9]


@pytest.mark.drill
def test_a_log_of_a_year_has_all_its_days() -> None:
    """347 drives in one file, a row each ten minutes between them."""
    year = Recorder()
    for day in range(347):
        year.clock_s = day * DAY + 8 * 3600.0
        year.drive(700).stand(DAY - 1800, 600, jitter=0.2)
    found = records(year.samples())
    assert len({r.local_day for r in found}) == len(found) == 347
