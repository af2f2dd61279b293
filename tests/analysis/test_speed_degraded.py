"""What each poorer kind of log still answers, and that the rest says why."""

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
from speed_world import Drives, World, make_drives

from gearing.analysis.final_drive import FinalDriveFinding, find_final_drive
from gearing.analysis.speed import SpeedFinding, find_speed
from gearing.analysis.speed.turns import PUBLISHED
from gearing.analysis.trip_figures import TripFigures, road_steps_of, trip_figures
from gearing.messages import message
from gearing.results import dumps, plain
from gearing.study.model import DashReading, Measured, Study

WORLD = World(trip_minutes=(25.0, 40.0), one_speed_share=0.0)
DRIVES = make_drives(WORLD, np.random.default_rng(11), before=4, after=4)
POSITION = ["latitude_deg", "longitude_deg"]


def answer(
    drives: Drives, study: Study
) -> tuple[TripFigures, SpeedFinding, FinalDriveFinding, pl.DataFrame]:
    made = records(drives, study)
    figures = trip_figures(study, made)
    final = find_final_drive(study, figures)
    speed = find_speed(study, made, figures, final)
    dumps({"speed": plain(speed), "final_drive": plain(final)})  # has a JSON form, no NaN
    return figures, speed, final, road_steps_of(made, figures)


def without(*channels: str) -> Drives:
    return replace(
        DRIVES, drives=[replace(d, samples=d.samples.drop(channels)) for d in DRIVES.drives]
    )


def assert_factor(speed: SpeedFinding, side: str = "after", tolerance: float = 2e-3) -> None:
    value = speed.odometer_factor.of(side).value
    assert value == pytest.approx(DRIVES.factor[side], rel=tolerance)


def test_everything_there() -> None:
    figures, speed, final, steps = answer(DRIVES, declared(WORLD))
    assert_factor(speed, "before")
    assert_factor(speed, "after")
    assert final.change_percent.value == pytest.approx(DRIVES.change_percent, abs=0.2)
    assert speed.reconciled.agree
    fits = [e.cause.code for e in speed.reconciled.explanations if e.fits]
    assert fits == ["cause/tires", "cause/axle"]
    assert steps["distance_m"].sum() == pytest.approx(figures.trips["true_m"].sum(), rel=1e-6)
    # what to program: the circumference the computer should believe in
    assert speed.programmed_revolutions_per_km.now.value == pytest.approx(
        1000 / WORLD.programmed_m, rel=3e-3
    )


def test_no_engine_speed() -> None:
    _, speed, final, _ = answer(without("engine_speed_rpm"), declared(WORLD))
    assert_factor(speed)
    assert not final.change_percent.known
    assert final.change_percent.why == message("final-drive-unknown/no-engine")
    assert final.gears == ()
    assert speed.revolutions_per_km.after.basis == PUBLISHED
    assert speed.programmed_revolutions_per_km.now.known


def test_no_receiver_speed_but_positions() -> None:
    _, speed, final, _ = answer(without("gps_speed_mps"), declared(WORLD))
    assert_factor(speed, tolerance=4e-3)
    assert final.change_percent.value == pytest.approx(DRIVES.change_percent, abs=0.3)


def test_no_positions_and_no_altitude() -> None:
    _, speed, final, _ = answer(without(*POSITION, "altitude_m"), declared(WORLD))
    assert_factor(speed)
    assert final.change_percent.known


def test_no_vehicle_bus_at_all() -> None:
    figures, speed, final, _ = answer(
        without("indicated_speed_mps", "engine_speed_rpm"), declared(WORLD)
    )
    assert not speed.odometer_factor.after.known
    assert speed.odometer_factor.after.why
    assert not final.change_percent.known
    # true distance by month stands on the receiver alone
    total = sum(month.true_km for month in speed.distance_by_month)
    assert total == pytest.approx(sum(d.true_m for d in DRIVES.drives) / 1000, rel=2e-3)
    assert figures.trips["indicated_m"].null_count() == 8


def test_no_receiver_at_all() -> None:
    _, speed, final, _ = answer(
        without("gps_speed_mps", *POSITION, "altitude_m", "hdop"), declared(WORLD)
    )
    assert not speed.odometer_factor.after.known
    assert not final.change_percent.known
    assert all(month.indicated_km > 0 for month in speed.distance_by_month)  # type: ignore[operator]
    assert all(row.true_kmh.after is None for row in speed.table)


def test_one_trip_without_receiver_among_others_is_scaled_by_its_period() -> None:
    drives = list(DRIVES.drives)
    blind = drives[5]
    drives[5] = replace(
        blind, samples=blind.samples.drop("gps_speed_mps", *POSITION, "altitude_m", "hdop")
    )
    figures, _, _, steps = answer(replace(DRIVES, drives=drives), declared(WORLD))
    row = figures.trips.row(by_predicate=pl.col("trip") == blind.name, named=True)
    assert row["flags"] == ["no-receiver"]
    assert row["true_m"] == pytest.approx(blind.true_m, rel=5e-3)
    own = steps.filter(pl.col("trip") == blind.name)
    assert own["distance_m"].sum() == pytest.approx(blind.true_m, rel=8e-3)


def test_one_period_only() -> None:
    study = replace(declared(WORLD), after=None)
    drives = replace(DRIVES, drives=[d for d in DRIVES.drives if d.side == "before"])
    _, speed, final, _ = answer(drives, study)
    assert_factor(speed, "before")
    assert not speed.odometer_factor.after.known
    assert final.change_percent.why == message("no-period/to-compare", after=True)
    assert final.effective.before.value == pytest.approx(4.88)
    assert not speed.reconciled.explanations


def test_one_trip() -> None:
    study = replace(declared(WORLD), before=None)
    _, speed, _, _ = answer(replace(DRIVES, drives=DRIVES.drives[-1:]), study)
    estimate = speed.odometer_factor.after
    assert estimate.n == 1
    assert estimate.value == pytest.approx(DRIVES.drives[-1].true_factor, rel=3e-3)
    assert estimate.low is not None
    assert estimate.high is not None
    assert 0.002 < (estimate.high - estimate.low) / 2 < 0.012


def test_no_axle_ratio_and_no_gear_ratios() -> None:
    study = declared(WORLD)
    study = replace(study, vehicle=replace(study.vehicle, axle_ratio=None, gear_ratios=()))
    _, speed, final, _ = answer(DRIVES, study)
    assert final.change_percent.value == pytest.approx(DRIVES.change_percent, abs=0.2)
    assert not final.effective.after.known
    assert [row.gear for row in final.gears] == list(range(1, len(final.gears) + 1))
    assert not any(row.labelled for row in final.gears)
    # the highest gear found turns as gear 6 does
    top = final.gears[-1].before.rev_per_km
    assert top == pytest.approx(1000 * 4.88 * 0.64 / WORLD.circumference_before_m, rel=4e-3)
    assert speed.revolutions_per_km.before.basis == PUBLISHED


def test_gear_ratios_that_do_not_fit_are_laid_aside_and_told() -> None:
    study = declared(WORLD)
    wrong = replace(study.vehicle, gear_ratios=(4.9, 2.6, 1.75, 1.2, 0.9))
    _, _, final, _ = answer(DRIVES, replace(study, vehicle=wrong))
    assert [w.code for w in final.warnings] == ["gear-ratios-do-not-fit"]
    assert final.change_percent.value == pytest.approx(DRIVES.change_percent, abs=0.2)


def test_output_shaft_speed_is_the_best_channel() -> None:
    drives = []
    for d in DRIVES.drives:
        shaft = d.samples["indicated_speed_mps"] * 0
        engine = d.samples["engine_speed_rpm"]
        # in gear 4 the shaft turns as the engine does; made here from the true speed instead
        shaft = d.samples["gps_speed_mps"] * 4.88 * 60 / d.circumference_m
        drives.append(
            replace(d, samples=d.samples.with_columns(shaft.alias("output_shaft_rpm"), engine))
        )
    figures, _, final, _ = answer(replace(DRIVES, drives=drives), declared(WORLD))
    assert figures.identification.source == "shaft"
    assert final.revolutions_of == message("turns-of/output-shaft")
    assert final.change_percent.value == pytest.approx(DRIVES.change_percent, abs=0.2)


def test_no_records_at_all() -> None:
    study = declared(WORLD)
    figures = trip_figures(study, [])
    speed, final = find_speed(study, [], figures), find_final_drive(study, figures)
    assert not speed.odometer_factor.before.known
    assert not final.change_percent.known
    assert speed.distance_by_month == ()
    assert speed.revolutions_per_km.before.basis == PUBLISHED


def test_the_same_tires_on_both_sides_are_told_and_every_trip_is_kept() -> None:
    drives = make_drives(
        replace(WORLD, circumference_after_m=WORLD.circumference_before_m),
        np.random.default_rng(12),
        before=4,
        after=4,
    )
    figures, speed, final, _ = answer(drives, declared(WORLD))
    assert "no-tire-change-seen" in [w.code for w in speed.warnings]
    assert figures.trips["used"].all()
    low, high = final.change_percent.low, final.change_percent.high
    assert low is not None
    assert high is not None
    assert low < 0.05
    assert high > -0.05


def test_measured_distances_stand_without_a_receiver() -> None:
    """A declared length gives the factor, and one road in both periods the circumferences."""
    drives = without("gps_speed_mps", *POSITION, "altitude_m", "hdop")
    stretches = []
    for d in DRIVES.drives:
        first = d.samples["time"][0]
        speed = d.samples["gps_speed_mps"].to_numpy()
        way = float(speed[200:1101].sum())
        stretches.append(
            Measured(
                start=first + timedelta(seconds=200),
                end=first + timedelta(seconds=1100),
                distance_m=way,
            )
        )
    study = replace(declared(WORLD), measured=tuple(stretches))
    _, speed, _, _ = answer(drives, study)
    assert len(speed.measured.stretches) == 8
    for row in speed.measured.stretches:
        assert row.factor.low is not None
        assert row.factor.high is not None
        truth = DRIVES.factor[row.side]
        assert row.factor.low * 0.998 < truth < row.factor.high * 1.002
    for side in ("before", "after"):
        factor = speed.odometer_factor.of(side)
        assert factor.method == "measured-stretches"
        assert factor.low is not None
        assert factor.high is not None
        assert factor.low < DRIVES.factor[side] < factor.high
        assert factor.high - factor.low < 0.02


def test_the_same_road_in_both_periods_gives_the_ratio_of_circumferences() -> None:
    one, other = DRIVES.drives[0], DRIVES.drives[4]
    # the later trip on the earlier one's road: same speeds, fewer turns
    ratio = DRIVES.factor["after"] / DRIVES.factor["before"]
    same = one.samples.with_columns(
        pl.col("time") + (other.samples["time"][0] - one.samples["time"][0]),
        (((pl.col("indicated_speed_mps") * 3.6 + 0.5) / ratio).floor() / 3.6).alias(
            "indicated_speed_mps"
        ),
    )
    drives = replace(
        DRIVES, drives=[one, replace(other, samples=same), *DRIVES.drives[1:4], *DRIVES.drives[5:]]
    )
    stretches = tuple(
        Measured(
            start=start + timedelta(seconds=100), end=start + timedelta(seconds=1300), road="valley"
        )
        for start in (one.samples["time"][0], other.samples["time"][0])
    )
    _, speed, _, _ = answer(drives, replace(declared(WORLD), measured=stretches))
    (road,) = speed.measured.roads
    assert road.holds
    assert road.ratio.value == pytest.approx(ratio, rel=3e-3)
    assert road.ratio.low is not None
    assert road.ratio.high is not None
    assert road.ratio.low < ratio < road.ratio.high


def test_the_odometer_since_the_change() -> None:
    first, last = DRIVES.drives[4].samples["time"][0], DRIVES.drives[7].samples["time"][-1]
    dash = (
        DashReading(at=first, odometer_m=81_000_000.0),
        DashReading(at=last, odometer_m=82_000_000.0),
    )
    _, speed, _, _ = answer(DRIVES, replace(declared(WORLD), dash=dash))
    assert speed.odometer.shown_km == 1000.0
    assert speed.odometer.true_km.value == pytest.approx(1000 * DRIVES.factor["after"], rel=2e-3)
    assert speed.odometer.source == message("odometer-source/declared")
