"""The world not as the study file says: swaps at other dates, other axles, slow drift."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "simulation"))
from speed_study import declared, records
from speed_world import Drive, Drives, World, make_drives

from gearing.analysis.final_drive import find_final_drive
from gearing.analysis.speed import SpeedFinding, find_speed
from gearing.analysis.trip_figures import TripFigures, trip_figures

WORLD = World(trip_minutes=(20.0, 35.0), one_speed_share=0.0, wear_per_10000_km=0.0)
DRIVES = make_drives(WORLD, np.random.default_rng(21), before=7, after=7)


def answer(drives: list[Drive], world: World = WORLD) -> tuple[TripFigures, SpeedFinding]:
    study = declared(world)
    made = records(replace(DRIVES, drives=drives), study)
    figures = trip_figures(study, made)
    return figures, find_speed(study, made, figures)


def refiled(wrong: set[str], side: str) -> list[Drive]:
    return [replace(d, side=side) if d.name in wrong else d for d in DRIVES.drives]


def times(drive: Drive, factor: float, *channels: str) -> Drive:
    return replace(drive, samples=drive.samples.with_columns(pl.col(c) * factor for c in channels))


def test_tires_swapped_later_than_declared() -> None:
    wrong = {"before-06", "before-07"}
    figures, speed = answer(refiled(wrong, "after"))
    (point,) = speed.change_points
    assert point.kind == "swapped later"
    assert set(point.trips) == wrong
    assert point.trip == "after-01"
    assert "tires-swapped-later" in [w.code for w in speed.warnings]
    out = set(figures.trips.filter(~pl.col("used"))["trip"])
    assert out == wrong
    assert speed.odometer_factor.after.value == pytest.approx(DRIVES.factor["after"], rel=2e-3)


def test_tires_swapped_earlier_than_declared() -> None:
    wrong = {"after-01", "after-02", "after-03"}
    figures, speed = answer(refiled(wrong, "before"))
    (point,) = speed.change_points
    assert point.kind == "swapped earlier"
    assert set(point.trips) == wrong
    assert point.trip == "after-01"
    assert set(figures.trips.filter(~pl.col("used"))["trip"]) == wrong


def test_another_axle_within_a_period() -> None:
    """Behind an output shaft both figures step: told as turns, and the last level in effect."""
    ratio = 1.06
    changed = [
        times(d, ratio, "indicated_speed_mps", "engine_speed_rpm")
        if d.name in ("after-06", "after-07")
        else d
        for d in DRIVES.drives
    ]
    figures, speed = answer(changed)
    (point,) = speed.change_points
    assert point.kind == "turns changed"
    assert point.trip == "after-06"
    assert point.revolutions_percent == pytest.approx(6.0, abs=0.3)
    assert point.factor_percent == pytest.approx(100 / ratio - 100, abs=0.3)
    final = find_final_drive(declared(WORLD), figures)
    now = 100 * ((1 + DRIVES.change_percent / 100) * ratio - 1)
    assert final.change_percent.value == pytest.approx(now, abs=0.3)
    assert speed.odometer_factor.after.value == pytest.approx(
        DRIVES.factor["after"] / ratio, rel=2e-3
    )
    flags = dict(figures.trips.select("trip", "flags").iter_rows())
    assert "engine-turns-other-level" in flags["after-05"]
    assert "engine-turns-other-level" not in flags["after-06"]
    # the tires themselves: what stood before the axle was changed
    assert speed.reconciled.revolutions_change_percent.value == pytest.approx(
        DRIVES.change_percent, abs=0.2
    )


def test_a_reprogrammed_computer_leaves_the_final_drive_alone() -> None:
    changed = [
        times(d, 1.045, "indicated_speed_mps") if d.side == "after" and d.name >= "after-05" else d
        for d in DRIVES.drives
    ]
    figures, speed = answer(changed)
    (point,) = speed.change_points
    assert (point.kind, point.trip) == ("computer reprogrammed", "after-05")
    rows = figures.trips.filter(pl.col("side") == "after")
    assert rows["used"].all()
    assert rows["final_drive_used"].all()
    earlier = {"after-01", "after-02", "after-03", "after-04"}
    assert set(rows.filter(~pl.col("factor_used"))["trip"]) == earlier


@pytest.mark.parametrize("wear", [0.03, -0.03])
def test_a_slow_drift_is_told_as_one(wear: float) -> None:
    """Tires that lose (or with growing warmth gain) 1 % over a period's trips, no step."""
    world = replace(WORLD, wear_per_10000_km=wear, trip_spread=3e-4)
    drives = make_drives(world, np.random.default_rng(5), before=11, after=4)
    study = declared(world)
    figures = trip_figures(study, records(drives, study))
    assert figures.verdicts.change_points == ()
    told = {(d.side, d.figure): d.percent_per_month for d in figures.verdicts.drifts}
    assert np.sign(told[("before", "factor")]) == -np.sign(wear)
    assert np.sign(told[("before", "log_axle_turns")]) == np.sign(wear)
    speed = find_speed(study, records(drives, study), figures)
    assert speed.odometer_factor.before.value == pytest.approx(drives.factor["before"], rel=1e-3)


def test_a_trip_that_fits_neither_period_is_kept_out_and_told() -> None:
    odd = [
        times(d, 0.9, "indicated_speed_mps", "engine_speed_rpm") if d.name == "before-03" else d
        for d in DRIVES.drives
    ]
    figures, speed = answer(odd)
    assert speed.misfiled == ()
    assert "trip-apart" in [w.code for w in speed.warnings]
    row = figures.trips.row(by_predicate=pl.col("trip") == "before-03", named=True)
    assert not row["used"]
    assert speed.odometer_factor.before.value == pytest.approx(DRIVES.factor["before"], rel=2e-3)


def test_the_order_of_records_does_not_matter() -> None:
    study = declared(WORLD)
    made = records(Drives(WORLD, DRIVES.drives, {}, 0.0), study)
    one, other = trip_figures(study, made), trip_figures(study, made[::-1])
    assert one.trips.equals(other.trips)
    assert find_speed(study, made, one) == find_speed(study, made[::-1], other)
