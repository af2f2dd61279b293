"""Settings, odometer, tables and explanations by worked cases.

The correction arithmetic (factor = old over new turns; true distance, shown speed, acting axle
ratio) is computed from these definitions and stands as such, not as an outside source. Engine
speed by road speed: rpm = mph x turns a mile x axle x gear / 60 (SAE J2188, from its abstract).
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from gearing.analysis.final_drive import FinalDriveFinding
from gearing.analysis.final_drive.gears import GearRow, GearUse
from gearing.analysis.identification import Identification, identify
from gearing.analysis.pooling import PooledLog
from gearing.analysis.sides import BySide
from gearing.analysis.speed.circumference import circumference_rows
from gearing.analysis.speed.explanations import Reconciled, reconcile
from gearing.analysis.speed.needle import needle_rows
from gearing.analysis.speed.programming import to_program
from gearing.analysis.speed.turns import MEASURED, Programmed, programmed, with_basis
from gearing.analysis.trip_figures import driven_speeds
from gearing.messages import message
from gearing.statistics.estimate import Estimate, unknown
from gearing.study.model import Period, Study, Vehicle
from gearing.units import MILE_M

MILE_KM = MILE_M / 1000


def study(source: str = "output shaft", **vehicle: object) -> Study:
    return Study(
        name="a",
        slug="a",
        path=Path("a.toml"),
        units="us",
        vehicle=Vehicle(speed_source=source, axle_ratio=4.88, **vehicle),  # type: ignore[arg-type]
        before=Period(side="before", drive_tire="245/70R19.5", revolutions_per_km=541 / MILE_KM),
        after=Period(side="after", drive_tire="265/70R19.5", revolutions_per_km=517 / MILE_KM),
    )


def sure(value: float) -> Estimate:
    return Estimate(value, value * 0.9995, value * 1.0005, 9, "test")


def log(factor: float, error: float = 2e-4) -> PooledLog:
    return PooledLog(float(np.log(factor)), error, 9.0, 0.0, 10, "random-effects", "days")


@pytest.mark.parametrize(
    ("old", "new", "factor", "shown_at_50", "acts_as"),
    [
        (541, 517, 1.04642, 47.78, 4.664),
        (541, 511, 1.05871, 47.23, 4.609),
        (550, 520, 1.05769, 47.27, 4.614),
        (550, 541, 1.01664, 49.18, 4.800),
        (502, 517, 0.97099, 51.49, 5.026),
    ],
)
def test_correction_arithmetic(
    old: float, new: float, factor: float, shown_at_50: float, acts_as: float
) -> None:
    assert old / new == pytest.approx(factor, abs=5e-6)
    assert 50 / factor == pytest.approx(shown_at_50, abs=0.006)
    assert 4.88 / factor == pytest.approx(acts_as, abs=5e-4)
    # and ours: what the computer is programmed with follows from factor and measured turns
    setting = programmed(
        study(),
        BySide(sure(1.0), sure(factor)),
        BySide(
            with_basis(sure(old / MILE_KM), "published"),
            with_basis(sure(new / MILE_KM), "published"),
        ),
    )
    assert setting.now.value == pytest.approx(old / MILE_KM, rel=1e-5)
    assert setting.should_be.value == pytest.approx(new / MILE_KM)


def test_every_form_of_a_setting() -> None:
    setting = Programmed(sure(541 / MILE_KM), sure(517 / MILE_KM), unknown("not asked"))
    answer = to_program(study(shaft_pulses=16), setting, sure(4.88))
    assert answer.now.tire_rev_per_mile.value == pytest.approx(517)
    assert answer.now.shaft_rev_per_mile.value == pytest.approx(517 * 4.88)
    assert answer.now.pulses_per_mile.value == pytest.approx(517 * 4.88 * 16)
    assert answer.now.pulses_per_km.value == pytest.approx(517 * 4.88 * 16 / 1.609344)
    assert answer.in_effect.whole_rev_per_mile == 541
    # one whole turn a mile is 0.2 %
    assert answer.one_revolution_percent == pytest.approx(0.193, abs=0.001)
    # half-way from 18/32 to 4/32 in: 5.56 mm of a radius of 495 mm is 1.1 %
    worn = answer.half_worn.tire_rev_per_mile.value
    assert worn is not None
    assert 100 * (worn / 517 - 1) == pytest.approx(100 * 5.556 / 495.4, abs=0.02)
    low, high = answer.now.tire_rev_per_mile.low, answer.now.tire_rev_per_mile.high
    assert low is not None
    assert high is not None
    assert low < 517 < high


def test_a_setting_without_teeth_or_axle_says_what_is_missing() -> None:
    setting = Programmed(sure(541 / MILE_KM), sure(517 / MILE_KM), unknown("not asked"))
    told = to_program(study(), setting, sure(4.88)).now
    assert told.pulses_per_km.why == message("no-shaft-pulses")
    assert told.shaft_rev_per_km.value == pytest.approx(517 / MILE_KM * 4.88)
    told = to_program(study(shaft_pulses=16), setting, unknown(message("no-axle-ratio"))).now
    assert told.shaft_rev_per_km.why == told.pulses_per_km.why == message("no-axle-ratio")
    assert told.tire_rev_per_mile.value == pytest.approx(517)


def test_front_wheel_sensing_leaves_the_setting_open() -> None:
    setting = programmed(
        study("front wheels"),
        BySide(sure(1.0), sure(1.0)),
        BySide(with_basis(sure(330.0), "size"), with_basis(sure(320.0), "size")),
    )
    assert not setting.now.known
    assert setting.now.why == message("programmed-unknown/front-wheels")


def test_size_published_and_measured_stand_side_by_side() -> None:
    turns = BySide(
        with_basis(sure(545 / MILE_KM), MEASURED),
        with_basis(sure(519 / MILE_KM), MEASURED),
    )
    rows = circumference_rows(study(), turns)
    assert [(r.period, r.basis) for r in rows] == [
        ("before", "size"), ("before", "published"), ("before", "measured"),
        ("after", "size"), ("after", "published"), ("after", "measured"),
    ]  # fmt: skip
    published = rows[4]
    # 519 turns measured against 517 published: the published circumference is 0.39 % larger
    assert published.difference_percent == pytest.approx(100 * (519 / 517 - 1), abs=1e-6)


def fitting(
    factor: float | None,
    turns: float | None,
    source: str = "output shaft",
    moves: dict[int, float] | None = None,
) -> tuple[Reconciled, list[str]]:
    offsets = moves or {1: 0.0, 2: 1e-4, 3: 0.0, 4: 0.0}
    identification = replace(UNSEEN, source="engine", ratio_offsets=offsets)
    found = reconcile(
        study(source),
        BySide(log(1.0), None if factor is None else log(factor)),
        BySide(log(2.0), None if turns is None else log(2.0 * turns)),
        identification,
    )
    return found, [e.cause.code for e in found.explanations if e.fits]


UNSEEN: Identification = identify(study(), [], {}, lambda _trips, _others: 0.0)
NOT_DRIVEN = BySide(driven_speeds([], frozenset(), UNSEEN), driven_speeds([], frozenset(), UNSEEN))
TIRES = "cause/tires"
AXLE = "cause/axle"
COMPUTER = "cause/computer"
BOTH = "cause/tires-and-computer"
FRONT = "cause/front-wheels"
GEAR = "cause/one-gear"
NOTHING = "cause/nothing"


@pytest.mark.parametrize(
    ("factor", "turns", "source", "fits"),
    [
        # tires 4.64 % taller, computer alone: an axle behind an output shaft looks the same
        (1.0464, 1 / 1.0464, "output shaft", [TIRES, AXLE]),
        # with speed taken at the wheels an axle would not move the factor
        (1.0464, 1 / 1.0464, "drive wheels", [TIRES]),
        # only the dash moved
        (1.03, 1.0, "output shaft", [COMPUTER]),
        # tires, and the computer set to match
        (1.0, 1 / 1.0464, "output shaft", [BOTH]),
        # the same seen with wheel sensors may be the axle
        (1.0, 1 / 1.0464, "drive wheels", [AXLE, BOTH]),
        # both, but not alike
        (1.02, 1 / 1.0464, "output shaft", [BOTH]),
        # size that no declared tire has: the axle alone behind a shaft
        (1.15, 1 / 1.15, "output shaft", [AXLE]),
        (1.0, 1.0, "output shaft", [NOTHING]),
    ],
)
def test_every_explanation_that_fits_is_named(
    factor: float, turns: float, source: str, fits: list[str]
) -> None:
    found, names = fitting(factor, turns, source)
    assert names == fits
    assert all(e.tell_apart for e in found.explanations)
    assert [e.fits for e in found.explanations] == sorted(
        (e.fits for e in found.explanations), reverse=True
    )


def test_where_the_sensor_is_unknown_the_front_wheels_stay_possible() -> None:
    _, names = fitting(1.0, 1 / 1.0464, "unknown")
    assert FRONT in names
    _, names = fitting(1.0464, 1 / 1.0464, "front wheels")
    assert FRONT in names
    assert TIRES not in names


def test_one_gear_that_moved_alone_is_told() -> None:
    found, names = fitting(1.0, 0.98, moves={1: 0.0, 2: 0.03, 3: 0.0005, 4: -0.0002})
    assert GEAR in names
    text = next(e.text for e in found.explanations if e.cause.code == GEAR)
    assert str(text) == "Gear 2 changed against the others by 3.0 %."


def test_one_witness_alone_names_what_it_cannot_exclude() -> None:
    _, names = fitting(1.0464, None)
    assert names == [TIRES, COMPUTER]
    _, names = fitting(None, 1 / 1.0464)
    assert names == [TIRES, AXLE]
    found, names = fitting(None, None)
    assert names == []
    assert found.agree is None
    assert not found.together_percent.known


def test_engine_speed_on_the_needle() -> None:
    """65 mph at 541 and 517 turns a mile, axle 4.88, gear 0.64: 1830.5 and 1749.3 rpm; on a
    needle that reads 65 mph the new tires do 68.02 mph and 1830.5 rpm again."""

    def use(turns_per_mile: float) -> GearUse:
        return GearUse(turns_per_mile / MILE_KM * 4.88 * 0.64, 0.5, 0.6)

    final = FinalDriveFinding(
        effective=BySide(sure(4.88), sure(4.66)),
        change_percent=sure(-4.4),
        restoring_axle_ratio=sure(5.1),
        revolutions_per_km=BySide(sure(1.0), sure(1.0)),
        revolutions_of=None,
        wheel_slip_percent_per_mps2=None,
        gears=(GearRow(6, 0.64, use(541), use(517), True),),
        no_gear_time_share=BySide(0.0, 0.0),
        cruise=(),
        warnings=(),
    )
    none = BySide(unknown("no needle"), unknown("no needle"))
    rows = needle_rows(study(), NOT_DRIVEN, BySide(sure(1.0), sure(541 / 517)), none, final)
    row = next(r for r in rows if r.shown == 65)
    assert row.unit == "mph"
    assert row.basis == message("needle-basis/taken")
    assert row.before.engine_rpm == pytest.approx(1830.5, abs=0.1)
    assert row.after.engine_rpm == pytest.approx(1830.5, abs=0.1)
    assert row.after.true_kmh == pytest.approx(65 * MILE_KM * 541 / 517)
    assert [r.shown for r in rows] == [55, 60, 65, 70]
    metric = needle_rows(
        replace(study(), units="metric"), NOT_DRIVEN, BySide(sure(1.0), sure(1.0)), none, final
    )
    assert next((r.shown, r.unit) for r in metric) == (80, "km/h")
    # at the same true speed: 1749.3
    same = needle_rows(study(), NOT_DRIVEN, BySide(sure(1.0), sure(1.0)), none, final)
    assert next(r for r in same if r.shown == 65).after.engine_rpm == pytest.approx(1749.3, abs=0.1)
