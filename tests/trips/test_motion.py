"""Samples to motion: distance, bridging, standing, slope, clocks of every kind."""

from __future__ import annotations

from datetime import date

import numpy as np
import polars as pl
import pytest
from drive_frames import at_times, positions, speeds

from gearing.trips.fuel import from_counter
from gearing.trips.motion import Trip, make_trip
from gearing.trips.split import split_rows
from gearing.trips.sums import counted

SPEED = speeds()
T = np.arange(len(SPEED), dtype=float)
WAY_M = float(np.sum(0.5 * (SPEED[1:] + SPEED[:-1])))


def trip(samples: pl.DataFrame, **more: object) -> Trip:
    return make_trip(samples, name="a", files=("a.csv",), **more)  # type: ignore[arg-type]


def driven_m(made: Trip) -> float:
    return float(made.motion["true_step_m"].sum())


def test_doppler_speed_gives_the_distance() -> None:
    made = trip(at_times(T, gps_speed_mps=SPEED))
    assert made.speed_from == "doppler"
    assert driven_m(made) == pytest.approx(WAY_M, rel=3e-4)


def test_positions_alone_give_the_distance() -> None:
    made = trip(at_times(T, **positions(SPEED)))
    assert made.speed_from == "positions"
    assert driven_m(made) == pytest.approx(WAY_M, rel=5e-4)


def test_positions_every_five_seconds_on_a_winding_road() -> None:
    """Chords of 100 m on bends of 300 m are 0.46 % short; the arcs they stand for are restored."""
    fine = np.arange(0, 1500, 0.01)
    heading = np.interp(fine % 200, [0, 100, 200], [0, 100 * 20 / 300, 0])
    east, north = (np.cumsum(0.2 * part) for part in (np.sin(heading), np.cos(heading)))
    chords = np.hypot(np.diff(east[::500]), np.diff(north[::500])).sum()
    assert 100 * (1 - chords / (20 * 1495)) == pytest.approx(0.46, abs=0.06)
    # radii of curvature at 40 N, from any geodesy handbook
    frame = at_times(
        fine[::500],
        latitude_deg=40 + np.rad2deg(north[::500] / 6_361_816),
        longitude_deg=-105 + np.rad2deg(east[::500] / (6_386_976 * np.cos(np.deg2rad(40)))),
    )
    made = trip(frame)
    assert made.interval_s == 5.0
    assert made.motion["true_speed_mps"].mean() == pytest.approx(20, rel=1e-3)


def test_doppler_is_preferred_to_positions() -> None:
    rng = np.random.default_rng(1)
    where = positions(SPEED)
    where["latitude_deg"] = where["latitude_deg"] + rng.normal(0, 3e-5, len(T))
    made = trip(at_times(T, gps_speed_mps=SPEED, **where))
    assert made.speed_from == "doppler"
    assert driven_m(made) == pytest.approx(WAY_M, rel=3e-4)


def test_a_speed_column_in_the_wrong_unit_is_seen_and_not_used() -> None:
    long = np.tile(SPEED, 2)
    frame = at_times(
        np.arange(len(long), dtype=float), gps_speed_mps=long / 1.15, **positions(long)
    )
    made = trip(frame)
    assert made.speed_from == "positions"
    assert [p.code for p in made.problems] == ["gps-speed-disagrees"]
    assert driven_m(made) == pytest.approx(2 * WAY_M, rel=2e-3)


def test_jitter_of_a_standing_receiver_is_worth_nothing() -> None:
    rng = np.random.default_rng(2)
    standing = np.zeros(900)
    where = positions(standing)
    where["latitude_deg"] = where["latitude_deg"] + np.cumsum(rng.normal(0, 3e-7, 900))
    by_speed = trip(at_times(T[:900], gps_speed_mps=np.abs(rng.normal(0, 0.12, 900))))
    by_place = trip(at_times(T[:900], **where))
    assert driven_m(by_speed) < 1.0
    assert driven_m(by_place) < 1.0


def test_standing_by_the_bus_overrules_a_drifting_receiver() -> None:
    drift = np.where(SPEED == 0, 0.9, SPEED)
    made = trip(at_times(T, gps_speed_mps=drift, indicated_speed_mps=SPEED))
    rows = made.motion.filter(pl.col("indicated_speed_mps") == 0)
    assert rows["true_speed_mps"].sum() == 0


def test_a_tunnel_is_bridged_by_indicated_speed_and_counted() -> None:
    gps = SPEED.copy()
    gps[1200:1320] = np.nan
    made = trip(at_times(T, gps_speed_mps=gps, indicated_speed_mps=SPEED / 1.045))
    bridged = made.motion.filter(pl.col("bridged"))
    assert 115 <= bridged.height <= 122
    assert driven_m(made) == pytest.approx(WAY_M, rel=5e-4)
    assert made.factor == pytest.approx(1.045, rel=1e-3)


def test_a_dropout_without_bus_is_no_distance() -> None:
    gps = SPEED.copy()
    gps[1200:1320] = np.nan
    made = trip(at_times(T, gps_speed_mps=gps))
    lost = float(SPEED[1200:1320].sum())
    assert driven_m(made) == pytest.approx(WAY_M - lost, rel=3e-3)


@pytest.mark.parametrize("step_m", [1.0, 160.9344])
def test_an_odometer_alone_is_held_against_the_road_the_receiver_saw(step_m: float) -> None:
    """The count runs on where the receiver is blind, the true way does not."""
    gps = SPEED.copy()
    gps[600:900] = gps[1200:1320] = np.nan
    odometer = 84e6 + np.floor(np.cumsum(SPEED) / 1.045 / step_m) * step_m
    rows = {"gps_speed_mps": gps, "indicated_distance_m": odometer}
    for engine in ({}, {"engine_speed_rpm": 60 * SPEED}):  # rows without any speed stand or fall
        count = counted(trip(at_times(T, **rows, **engine)).ticks)
        assert count is not None
        assert count.true_m / count.counted_m == pytest.approx(1.045, abs=2e-3)
        assert count.last_m - count.first_m == pytest.approx(WAY_M / 1.045, abs=2 * step_m)


@pytest.mark.parametrize(("grade", "percent"), [(0.06, 0.18), (0.10, 0.499)])
def test_distance_is_along_the_slope(grade: float, percent: float) -> None:
    """sqrt(1 + G^2): 6 % adds 0.18 %, 10 % adds 0.499 %."""
    flat = np.full(1200, 20.0)
    made = trip(at_times(np.arange(1200.0), gps_speed_mps=flat, altitude_m=grade * np.cumsum(flat)))
    assert 100 * (driven_m(made) / 24_000 - 1) == pytest.approx(percent, abs=0.01)
    assert made.motion["grade"].median() == pytest.approx(grade, rel=1e-3)


def test_noise_of_altitude_makes_no_distance() -> None:
    rng = np.random.default_rng(3)
    altitude = 1500 + rng.normal(0, 4, len(T))
    made = trip(at_times(T, gps_speed_mps=SPEED, altitude_m=altitude))
    assert driven_m(made) == pytest.approx(WAY_M, rel=5e-4)
    assert made.motion["grade"].abs().quantile(0.95) < 0.02


def test_lag_is_removed_from_every_bus_channel() -> None:
    shifted = np.interp(T + 1.6, T, SPEED)
    frame = at_times(
        T, gps_speed_mps=SPEED, indicated_speed_mps=shifted, engine_speed_rpm=60 * shifted
    )
    made = trip(frame)
    assert made.lag_s == pytest.approx(1.6, abs=0.1)
    off = made.motion["indicated_speed_mps"] - made.motion["true_speed_mps"]
    assert off.slice(60, 1600).abs().quantile(0.99) < 0.1
    turns = made.motion["engine_speed_rpm"] / 60 - made.motion["true_speed_mps"]
    assert turns.slice(60, 1600).abs().quantile(0.99) < 0.1


def test_a_polled_log_of_one_value_a_row() -> None:
    """Receiver and bus answer in turn, each every third row."""
    rows = np.arange(0, len(T), 1 / 3)
    fine = np.interp(rows, T, SPEED)
    gps, bus, turns = (np.full(len(rows), np.nan) for _ in range(3))
    gps[0::3], bus[1::3], turns[2::3] = fine[0::3], fine[1::3] / 1.03, 60 * fine[2::3]
    made = trip(at_times(rows, gps_speed_mps=gps, indicated_speed_mps=bus, engine_speed_rpm=turns))
    assert made.interval_s == 1.0
    assert made.factor == pytest.approx(1.03, rel=1e-3)
    assert driven_m(made) == pytest.approx(WAY_M, rel=1e-3)


def test_ten_rows_a_second_are_averaged() -> None:
    fine = np.arange(0, len(T) - 1, 0.1)
    rng = np.random.default_rng(4)
    speed = np.abs(np.interp(fine, T, SPEED) + rng.normal(0, 0.3, len(fine)))
    made = trip(at_times(fine, gps_speed_mps=speed))
    assert made.interval_s == 1.0
    assert driven_m(made) == pytest.approx(WAY_M, rel=2e-3)


def test_a_log_every_five_seconds_keeps_its_own_clock() -> None:
    made = trip(at_times(T[::5], gps_speed_mps=SPEED[::5], indicated_speed_mps=SPEED[::5]))
    assert made.interval_s == 5.0
    assert driven_m(made) == pytest.approx(WAY_M, rel=3e-3)


def test_fixes_held_for_ten_seconds_are_taken_when_they_come() -> None:
    held = np.repeat(SPEED[::10], 10)[: len(SPEED)]
    made = trip(at_times(T, gps_speed_mps=held, indicated_speed_mps=SPEED / 1.02))
    assert made.factor == pytest.approx(1.02, rel=5e-3)
    assert driven_m(made) == pytest.approx(WAY_M, rel=0.01)


def test_spikes_of_speed_are_not_driven() -> None:
    spiked = SPEED.copy()
    spiked[[200, 555, 1100]] = 65.0
    assert driven_m(trip(at_times(T, gps_speed_mps=spiked))) == pytest.approx(WAY_M, rel=5e-4)


def test_rows_are_split_where_nothing_was_recorded_for_half_an_hour() -> None:
    late = T + np.where(len(T) // 2 <= T, 1801.0, 0.0)
    assert [p.height for p in split_rows(at_times(late, gps_speed_mps=SPEED)).parts] == [900, 900]
    shorter = T + np.where(len(T) // 2 <= T, 1790.0, 0.0)
    assert len(split_rows(at_times(shorter, gps_speed_mps=SPEED)).parts) == 1


def test_a_trip_belongs_to_the_local_day_it_began_on() -> None:
    frame = at_times(T + 3 * 3600, gps_speed_mps=SPEED)  # 05:40 UTC
    assert trip(frame).local_day == date(2026, 2, 2)
    assert trip(frame, time_zone="America/Denver").local_day == date(2026, 2, 1)


def test_bus_alone_still_makes_a_trip() -> None:
    made = trip(at_times(T, indicated_speed_mps=SPEED, engine_speed_rpm=60 * SPEED))
    assert made.speed_from is None
    assert made.factor is None
    assert made.motion.filter(pl.col("indicated_speed_mps") > 0)["bridged"].all()
    assert driven_m(made) == pytest.approx(WAY_M, rel=1e-3)


def test_fuel_from_rate_mass_counter_and_air_flow() -> None:
    rate = at_times(T, gps_speed_mps=SPEED, fuel_rate_lph=np.full(len(T), 18.0))
    assert trip(rate).motion["fuel_step_l"].sum() == pytest.approx(9.0, rel=1e-3)
    mass = at_times(T, gps_speed_mps=SPEED, fuel_mass_rate_gps=np.full(len(T), 18.0 / 3.6 * 0.8325))
    assert trip(mass).motion["fuel_step_l"].sum() == pytest.approx(9.0, rel=1e-3)
    gasoline = at_times(
        T, gps_speed_mps=SPEED, fuel_mass_rate_gps=np.full(len(T), 18.0 / 3.6 * 0.745)
    )
    assert trip(gasoline, gasoline=True).motion["fuel_step_l"].sum() == pytest.approx(9.0, rel=1e-3)
    counter = at_times(T, gps_speed_mps=SPEED, fuel_used_l=np.floor(T * 18 / 3600 * 2) / 2 + 40)
    burnt = float(trip(counter).motion["fuel_step_l"].sum())
    assert burnt == pytest.approx(8.5, abs=0.6)  # the count's steps are half a liter
    air = at_times(T, gps_speed_mps=SPEED, mass_air_flow_gps=np.full(len(T), 14.7 * 0.745))
    assert trip(air, gasoline=True).motion["fuel_step_l"].sum() == pytest.approx(
        len(T) / 1000, rel=1e-3
    )
    assert "fuel_step_l" not in trip(air).motion.columns  # a diesel's air tells no fuel


def test_a_fuel_count_that_was_reset_gives_nothing_there() -> None:
    used = np.where(T < 900, 100 + T / 100, (T - 900) / 100)
    burnt = from_counter(T, used, T, 1.0)
    assert np.nansum(burnt) == pytest.approx(17.97, abs=0.05)
    assert np.isnan(burnt[899:901]).any()


def test_bursts_of_rows_make_no_endless_clock() -> None:
    """A minute's rows every 25 minutes for three months: cut apart, not drawn out."""
    bursts = (np.arange(5000)[:, None] * 1500.0 + np.arange(10)[None, :]).ravel()
    parts = split_rows(at_times(bursts, gps_speed_mps=np.full(len(bursts), 20.0))).parts
    assert len(parts) == 5000
    slow = at_times(np.arange(0, 90_000, 600.0), gps_speed_mps=np.full(150, 20.0))
    assert len(split_rows(slow).parts) == 1  # a log every ten minutes keeps its own clock
