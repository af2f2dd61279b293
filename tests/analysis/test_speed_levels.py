"""A computer reprogrammed within a period: the setting in effect answers for now.

Truth is the simulated world's; factors after a reprogramming follow from the definition
(true over indicated distance), not from an outside source.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "simulation"))
from speed_study import declared, records
from speed_world import Drive, World, make_drives

from gearing.analysis.fuel.fillups import full_to_full
from gearing.analysis.fuel.periods import all_of
from gearing.analysis.outlier_messages import warnings_of
from gearing.analysis.sides import BySide
from gearing.analysis.speed import SpeedFinding, find_speed
from gearing.analysis.speed.factor import FactorLevel
from gearing.analysis.speed.odometer import odometer
from gearing.analysis.trip_figures import TripFigures, trip_figures
from gearing.messages import message
from gearing.statistics.estimate import Estimate
from gearing.study.model import DashReading, Study

WORLD = World(trip_minutes=(20.0, 30.0), one_speed_share=0.0, wear_per_10000_km=0.0)
DRIVES = make_drives(WORLD, np.random.default_rng(31), before=6, after=7)
PUT_RIGHT = DRIVES.factor["after"]  # what the computer's count is multiplied by when put right


def answer(drives: list[Drive], study: Study | None = None) -> tuple[TripFigures, SpeedFinding]:
    study = study or declared(WORLD)
    made = records(replace(DRIVES, drives=drives), study)
    figures = trip_figures(study, made)
    return figures, find_speed(study, made, figures)


def reprogrammed(
    first: str, *, side: str = "after", by: float = PUT_RIGHT, drop: tuple[str, ...] = ()
) -> list[Drive]:
    """The computer set anew from trip `first` of a side on."""
    return [
        replace(
            d,
            samples=d.samples.with_columns(
                pl.col("indicated_speed_mps") * (by if d.side == side and d.name >= first else 1.0)
            ).drop(drop),
        )
        for d in DRIVES.drives
    ]


@pytest.mark.parametrize("first", ["after-03", "after-06"])
def test_the_setting_in_effect_answers_for_now(first: str) -> None:
    """However little was driven since: the two last trips of seven, or the five last."""
    _, speed = answer(reprogrammed(first))
    after = speed.odometer_factor.after
    assert after.value == pytest.approx(1.0, abs=2e-3)
    assert after.high is not None
    assert after.high < DRIVES.factor["after"] - 0.02  # what it was holds no more
    now, should_be = (
        speed.programmed_revolutions_per_km.now.value,
        speed.programmed_revolutions_per_km.should_be.value,
    )
    assert now is not None
    assert now == pytest.approx(should_be, rel=2e-3)  # nothing left to set
    row = next(r for r in speed.table if r.indicated_kmh > 90)
    assert row.true_kmh.after == pytest.approx(row.indicated_kmh, rel=4e-3)
    assert speed.odometer.service_true_km.value == pytest.approx(10_000, rel=2e-3)


def test_the_earlier_level_is_told_with_when_it_ended() -> None:
    _, speed = answer(reprogrammed("after-06"))
    old, new = speed.regimes.after
    assert old.odometer_factor.value == pytest.approx(DRIVES.factor["after"], rel=2e-3)
    assert (old.since, old.trips) == ("after-01", 5)
    assert (new.since, new.trips) == ("after-06", 2)
    assert new.odometer_factor == speed.odometer_factor.after
    assert len(speed.regimes.before) == 1
    warning = next(w for w in speed.warnings if w.code == "computer-reprogrammed")
    assert "From trip after-06" in warning.text


def test_what_the_tires_did_is_told_from_the_levels_next_to_the_change() -> None:
    _, speed = answer(reprogrammed("after-06"))
    change = 100 * (DRIVES.factor["after"] / DRIVES.factor["before"] - 1)
    assert speed.reconciled.factor_change_percent.value == pytest.approx(change, abs=0.2)
    assert speed.reconciled.agree
    fits = [e.cause.code for e in speed.reconciled.explanations if e.fits]
    assert fits[0] == "cause/tires"


def test_before_the_change_too_the_last_setting_is_the_one_that_was_replaced() -> None:
    _, speed = answer(reprogrammed("before-05", side="before", by=0.97))
    old, new = speed.regimes.before
    assert old.odometer_factor.value == pytest.approx(DRIVES.factor["before"], rel=2e-3)
    assert speed.odometer_factor.before == new.odometer_factor
    assert new.odometer_factor.value == pytest.approx(DRIVES.factor["before"] / 0.97, rel=2e-3)


def test_trips_at_the_end_with_the_old_factor_are_a_setting_where_no_engine_tells() -> None:
    """A computer put right makes the factor of the old tires again: no reason to call the trips
    misfiled where nothing but the factor speaks."""
    figures, speed = answer(reprogrammed("after-06", drop=("engine_speed_rpm",)))
    assert speed.misfiled == ()
    assert figures.trips["used"].all()
    assert speed.odometer_factor.after.value == pytest.approx(1.0, abs=3e-3)
    (point,) = speed.change_points
    assert point.text.code == "computer-reprogrammed/revolutions-unknown"
    # with engine turns on the new tires all along, the same
    _, told = answer(reprogrammed("after-06"))
    assert told.misfiled == ()


def test_one_such_trip_alone_may_be_either_and_that_is_said() -> None:
    _, speed = answer(reprogrammed("after-07", drop=("engine_speed_rpm",)))
    (warning,) = [w for w in speed.warnings if w.code == "misfiled"]
    assert "If the computer was reprogrammed just before it, leave it" in warning.text


def test_trips_filed_wrong_alike_are_told_in_one_breath() -> None:
    wrong = [("t1", "before"), ("t2", "before"), ("t3", "after"), ("t4", "before")]
    found = warnings_of(wrong, "t4", (), {}, seen=True)
    assert [one.trips for one in found] == [("t1", "t2"), ("t3",), ("t4",)]
    assert found[0].text.startswith("2 trips are filed under before")
    assert found[1].text.startswith("Trip t3 is filed under after")
    assert "the next trip tells" in found[2].text


def test_a_trip_without_a_receiver_goes_by_the_factor_of_its_time() -> None:
    blind = ("after-02", "after-07")
    drives = [
        replace(d, samples=d.samples.drop("latitude_deg", "longitude_deg", "gps_speed_mps"))
        if d.name in blind
        else d
        for d in reprogrammed("after-05")
    ]
    figures, _ = answer(drives)
    true = {d.name: d.true_m for d in DRIVES.drives}
    for name, metres in figures.trips.select("trip", "true_m").iter_rows():
        if name in blind:
            assert metres == pytest.approx(true[name], rel=5e-3)


def test_readings_of_the_needle_from_before_the_setting_say_nothing_of_now() -> None:
    drives = reprogrammed("after-05")

    def at(name: str) -> DashReading:
        drive = next(d for d in drives if d.name == name)
        rows = drive.samples.filter(pl.col("indicated_speed_mps") > 20)
        row = rows.row(rows.height // 2, named=True)
        return DashReading(at=row["time"], speed_mps=row["indicated_speed_mps"])

    study = replace(declared(WORLD), dash=(at("after-02"),))
    assert not answer(drives, study)[1].speedometer_ratio.after.known
    study = replace(declared(WORLD), dash=(at("after-02"), at("after-06")))
    ratio = answer(drives, study)[1].speedometer_ratio.after
    assert ratio.n == 1


def test_the_odometer_advances_by_the_factor_of_its_time() -> None:
    made = records(DRIVES, declared(WORLD))
    after = [record for record in made if record.side == "after"]
    turn = after[4].start

    def level(since: int, factor: float) -> FactorLevel:
        exact = Estimate(factor, factor - 0.001, factor + 0.001, 3, "test")
        return FactorLevel(after[since].name, after[since].start, 3, exact)

    levels = (level(0, 1.05), level(4, 1.0))
    dash = tuple(
        DashReading(at=at, odometer_m=shown)
        for at, shown in (
            (after[0].start, 100_000.0),
            (turn - timedelta(minutes=1), 200_000.0),
            (turn, 200_000.0),
            (after[6].start, 260_000.0),
        )
    )
    study = replace(declared(WORLD), dash=dash)
    factor = BySide(levels[0].odometer_factor, levels[1].odometer_factor)
    shown = odometer(study, made, factor, levels)
    assert shown.shown_km == pytest.approx(160)
    assert shown.true_km.value == pytest.approx(100 * 1.05 + 60 * 1.0)
    assert shown.overshoot_km.value == pytest.approx(5.0)
    # read only at the ends, either level may have counted any of it
    wide = odometer(replace(study, dash=(dash[0], dash[-1])), made, factor, levels).true_km
    assert wide.low == pytest.approx(160 * 0.999)
    assert wide.high == pytest.approx(160 * 1.051)


@pytest.mark.parametrize(
    ("readings", "shown_km"), [((100.0, 260.0), 160.0), ((260.0, 100.0), None)]
)
def test_an_odometer_noted_before_setting_out_counts_and_one_that_falls_does_not(
    readings: tuple[float, float], shown_km: float | None
) -> None:
    made = records(DRIVES, declared(WORLD))
    after = [record for record in made if record.side == "after"]
    moments = (after[0].start - timedelta(minutes=30), after[6].start)
    dash = tuple(
        DashReading(at=at, odometer_m=1000 * km) for at, km in zip(moments, readings, strict=True)
    )
    exact = Estimate(1.05, 1.049, 1.051, 3, "test")
    found = odometer(replace(declared(WORLD), dash=dash), made, BySide(exact, exact))
    assert found.shown_km == pytest.approx(shown_km)
    assert found.true_km.known == (shown_km is not None)
    assert shown_km is not None or found.why == message("odometer-unknown/falling")


def test_a_tank_goes_by_the_factor_of_its_own_trips() -> None:
    figures, speed = answer(reprogrammed("after-05"))
    after = figures.trips.filter(pl.col("side") == "after")
    starts = after["start"].to_list()
    hour = timedelta(hours=1)
    times = [starts[0] - hour, starts[4] - hour, starts[6] + 5 * hour]
    fills = pl.DataFrame(
        {
            "time": times,
            "indicated_distance_m": [0.0, 100_000.0, 200_000.0],
            "volume_l": [30.0, 30.0, 30.0],
        }
    )
    tanks = full_to_full(fills, speed.odometer_factor, all_of(after=True), figures.trips)
    assert tanks.distance_m == pytest.approx([100_000 * PUT_RIGHT, 100_000.0], rel=2e-3)
    # a tank no trip of which was logged goes by the nearest
    far = fills.with_columns(pl.col("time") + timedelta(days=100))
    tanks = full_to_full(far, speed.odometer_factor, all_of(after=True), figures.trips)
    assert tanks.distance_m == pytest.approx([100_000.0, 100_000.0], rel=3e-3)


def test_nothing_steps_where_nothing_was_set() -> None:
    figures, speed = answer(DRIVES.drives)
    assert [len(speed.regimes.of(side)) for side in ("before", "after")] == [1, 1]
    assert speed.regimes.after[0].odometer_factor == speed.odometer_factor.after
    assert figures.verdicts.change_points == ()
