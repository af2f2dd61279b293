"""Periods taken for each other, and a speed named in the wrong unit: told, never believed."""

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

from gearing.analysis.final_drive import find_final_drive
from gearing.analysis.sides import BySide
from gearing.analysis.speed import SpeedFinding, find_speed
from gearing.analysis.speed.needle import READ, TAKEN, needle_rows
from gearing.analysis.speed.odometer import distance_by_month
from gearing.analysis.speed.units import unit_doubts
from gearing.analysis.trip_figures import driven_speeds, trip_figures
from gearing.messages import Message, Quantity, UserText, message
from gearing.results import dumps, plain
from gearing.statistics.estimate import Estimate, unknown
from gearing.study.columns import channel_named
from gearing.study.model import ColumnRule, Study

WORLD = World(trip_minutes=(20.0, 30.0), one_speed_share=0.0, wear_per_10000_km=0.0)
DRIVES = make_drives(WORLD, np.random.default_rng(41), before=5, after=5)
OTHER = {"before": "after", "after": "before"}
FOR_EACH_OTHER = [replace(d, side=OTHER[d.side]) for d in DRIVES.drives]


def answer(drives: list[Drive], study: Study | None = None) -> SpeedFinding:
    study = study or declared(WORLD)
    made = records(replace(DRIVES, drives=drives), study)
    speed = find_speed(study, made, trip_figures(study, made))
    dumps({"speed": plain(speed)})
    return speed


def codes(speed: SpeedFinding) -> list[str]:
    return [warning.code for warning in speed.warnings]


def later(drives: list[Drive], side: str, days: int) -> list[Drive]:
    """The trips of one side so many days later."""
    return [
        replace(d, samples=d.samples.with_columns(pl.col("time") + timedelta(days=days)))
        if d.side == side
        else d
        for d in drives
    ]


def test_folders_named_for_each_other_are_told_first() -> None:
    speed = answer(FOR_EACH_OTHER)
    warning = speed.warnings[0]
    assert warning.code == "periods-swapped"
    assert "when those filed under after had ended" in warning.text
    # 245/70R19.5 to 265/70R19.5 by the published figures is 6.3 % larger here; seen: 4.3 % less
    assert "6.3 % larger around" in warning.text
    assert "4.3 % smaller" in warning.text


def test_the_sizes_alone_tell_where_the_dates_are_right() -> None:
    speed = answer(later(FOR_EACH_OTHER, "after", 400))
    (warning,) = [w for w in speed.warnings if w.code == "periods-swapped"]
    assert "had ended" not in warning.text


def test_the_dates_alone_tell_where_no_engine_does() -> None:
    blind = [replace(d, samples=d.samples.drop("engine_speed_rpm")) for d in FOR_EACH_OTHER]
    (warning,) = [w for w in answer(blind).warnings if w.code == "periods-swapped"]
    assert "around" not in warning.text


def test_old_tires_put_on_again_to_be_logged_are_no_swap() -> None:
    speed = answer(later(DRIVES.drives, "before", 400))
    assert "periods-swapped" not in codes(speed)
    assert "periods-out-of-order" in codes(speed)


def test_periods_in_order_draw_no_such_word() -> None:
    assert not [code for code in codes(answer(DRIVES.drives)) if code.startswith("periods-")]


def test_a_computer_set_anew_is_no_swap() -> None:
    """The factor falls although the tires are larger: the engine's turns know better."""
    reset = [
        replace(d, samples=d.samples.with_columns(pl.col("indicated_speed_mps") * 1.09))
        if d.side == "after"
        else d
        for d in DRIVES.drives
    ]
    assert "periods-swapped" not in codes(answer(reset))


MPH_AS_KMH, KMH_AS_MPH = 1 / 1.609344, 1.609344  # NIST SP 811: 1 mi/h is 1.609344 km/h


@pytest.mark.parametrize(
    ("wrong", "looks_like", "taken_for"),
    [(KMH_AS_MPH, "km/h", "mph"), (MPH_AS_KMH, "mph", "km/h"), (1 / 1.852, "kn", "km/h")],
)
def test_a_unit_named_wrongly_is_told_and_nothing_rests_on_it(
    wrong: float, looks_like: str, taken_for: str
) -> None:
    drives = [
        replace(d, samples=d.samples.with_columns(pl.col("indicated_speed_mps") * wrong))
        if d.side == "after"
        else d
        for d in DRIVES.drives
    ]
    base = declared(WORLD)
    assert base.after is not None
    study = replace(base, after=replace(base.after, logs=("after/*.csv",)))
    speed = answer(drives, study)
    (warning,) = [w for w in speed.warnings if w.code == "speed-unit-doubtful"]
    assert warning.text.startswith("Period after:")
    doubt = speed.unit_doubts.after
    assert doubt is not None
    assert (doubt.looks_like, doubt.taken_for) == (looks_like, taken_for)
    assert doubt.line is not None
    assert doubt.line in warning.text
    assert f'unit = "{looks_like}", files = "after/*.csv"' in doubt.line
    assert not speed.odometer_factor.after.known
    assert not speed.programmed_revolutions_per_km.now.known
    assert speed.programmed_revolutions_per_km.now.why == message(
        "unit-doubt/looks-like",
        factor=Quantity(doubt.factor, "-", 3),
        unit=UserText(looks_like),
        taken_for=UserText(taken_for),
    )
    assert all(row.true_kmh.after is None for row in speed.table)
    # the other period, and the tires themselves, are told all the same
    assert speed.unit_doubts.before is None
    assert speed.odometer_factor.before.value == pytest.approx(DRIVES.factor["before"], rel=2e-3)
    assert speed.programmed_revolutions_per_km.should_be.known


def exact(value: float) -> Estimate:
    return Estimate(value, value, value, 5, "test")


def sizes(before: float, after: float) -> Study:
    """Tires of so many revolutions a km."""
    study = declared(WORLD)
    assert study.before is not None
    assert study.after is not None
    return replace(
        study,
        before=replace(study.before, revolutions_per_km=before),
        after=replace(study.after, revolutions_per_km=after),
    )


@pytest.mark.parametrize("factor", [0.9, 0.95, 1.0, 1.05, 1.1, 1.13])
def test_what_tires_can_make_is_no_unit(factor: float) -> None:
    doubts = unit_doubts(declared(WORLD), BySide(exact(factor), exact(factor)))
    assert doubts == BySide(None, None)


@pytest.mark.parametrize(
    ("true", "named", "ratio"),
    [
        # exact, NIST SP 811 and the international nautical mile: 1 mi 1609.344 m, 1 nmi 1852 m
        ("km/h", "mph", 0.621371), ("mph", "km/h", 1.609344), ("m/s", "km/h", 3.6),
        ("km/h", "m/s", 0.277778), ("m/s", "mph", 2.236936), ("mph", "m/s", 0.44704),
        ("kn", "km/h", 1.852), ("km/h", "kn", 0.539957), ("kn", "mph", 1.150779),
        ("mph", "kn", 0.868976),
    ],
)  # fmt: skip
def test_units_are_distinguished_with_other_tires_on(true: str, named: str, ratio: float) -> None:
    # miles and knots are so near that, with other tires on, tires alone can make it
    near = {true, named} == {"kn", "mph"}
    for tires in (1.0,) if near else (0.97, 1.0, 1.045):
        doubts = unit_doubts(sizes(400, 400), BySide(unknown("none"), exact(ratio * tires)))
        doubt = doubts.after
        assert doubt is not None
        assert (doubt.looks_like, doubt.taken_for) == (true, named)


def test_a_factor_that_the_declared_tires_make_is_no_unit() -> None:
    # 30 in to 35 in tires: a step of 1.167, near to miles and knots
    factors = BySide(exact(1.0), exact(420 / 360))
    assert unit_doubts(sizes(420, 360), factors).after is None
    assert unit_doubts(sizes(420, 420), factors).after is not None


def test_a_factor_no_two_units_make_is_doubted_without_a_line() -> None:
    doubt = unit_doubts(declared(WORLD), BySide(exact(0.75), exact(1.0))).before
    assert doubt is not None
    assert doubt.looks_like is None
    assert doubt.line is None


def test_the_line_names_the_heading_a_rule_names_and_one_line_serves_both_periods() -> None:
    channel = channel_named("indicated_speed")
    rule = ColumnRule(heading="Vehicle speed [km/h]", channel=channel, unit="mph")
    doubts = unit_doubts(
        replace(declared(WORLD), columns=(rule,)), BySide(exact(0.62), exact(0.64))
    )
    line = '"Vehicle speed [km/h]" = { channel = "indicated_speed", unit = "km/h" }'
    assert [doubts.of(side).line for side in OTHER] == [line, line]  # type: ignore[union-attr]


def test_the_basis_of_the_needle_is_told_for_each_period() -> None:
    none, half = unknown("no needle"), exact(0.98)
    study = declared(WORLD)
    made = records(DRIVES, study)
    figures = trip_figures(study, made)
    final = find_final_drive(study, figures)
    nothing = driven_speeds([], frozenset(), figures.identification)
    driven = BySide(nothing, nothing)
    factor = BySide(exact(1.0), exact(1.045))

    def basis(needle: BySide[Estimate], factor: BySide[Estimate] = factor) -> Message:
        return needle_rows(study, driven, factor, needle, final)[0].basis

    assert basis(BySide(half, half)) == READ
    assert basis(BySide(none, none)) == TAKEN
    assert basis(BySide(none, half)) == message("needle-basis/each", before=TAKEN, after=READ)
    # a period that has neither rests on nothing
    assert basis(BySide(none, half), BySide(none, none)) == READ


def test_a_month_part_of_which_the_computer_never_counted_has_no_count() -> None:
    drives = [
        replace(d, samples=d.samples.drop("indicated_speed_mps")) if d.name == "before-02" else d
        for d in DRIVES.drives
    ]
    study = declared(WORLD)
    figures = trip_figures(study, records(replace(DRIVES, drives=drives), study))
    months = distance_by_month(figures)
    part = [m for m in months if m.side == "before"]
    assert sum(m.trips for m in part) == 5
    assert part[0].trips > 1
    assert part[0].indicated_km is None
    # where both are known they may be held against each other
    whole = next(m for m in months if m.side == "after" and m.trips > 1)
    assert whole.indicated_km is not None
    assert whole.true_km / whole.indicated_km == pytest.approx(DRIVES.factor["after"], rel=3e-3)


def test_turns_that_step_where_no_factor_is_known_say_nothing_of_the_factor() -> None:
    drives = [
        replace(
            d,
            samples=d.samples.with_columns(
                pl.col("engine_speed_rpm") * (1.03 if d.name >= "before-04" else 1.0)
            ).drop("indicated_speed_mps"),
        )
        if d.side == "before"
        else d
        for d in DRIVES.drives
    ]
    (point,) = answer(drives).change_points
    assert point.kind == "turns changed"
    assert point.text.code == "turns-changed/factor-unknown"


@pytest.mark.parametrize("by", [1.05, 0.93, 1.12])
def test_an_axle_changed_as_well_is_no_swap(by: float) -> None:
    """The same computer counts the new tires: what else moved is the axle."""
    other = [
        replace(d, samples=d.samples.with_columns(pl.col("engine_speed_rpm") * by))
        if d.side == "after"
        else d
        for d in DRIVES.drives
    ]
    speed = answer(other)
    assert "periods-swapped" not in codes(speed)
    (told,) = [w for w in speed.warnings if w.code == "declared-contradicts-logs"]
    assert "after.axle_ratio" in told.keys
