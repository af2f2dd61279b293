"""Declared stretches and needle readings that say nothing, or other than the logs, are told."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "simulation"))
from speed_study import declared, records
from speed_world import Drives, World, make_drives

from gearing.analysis.speed import find_speed
from gearing.analysis.trip_figures import trip_figures
from gearing.messages import StudyWarning, message
from gearing.study.model import DashReading, Load, Measured

WORLD = World(trip_minutes=(25.0, 30.0), one_speed_share=0.0)
DRIVES = make_drives(WORLD, np.random.default_rng(21), before=2, after=2)
STUDY = replace(declared(WORLD), time_zone="America/Denver")
FIRST, LAST = DRIVES.drives[0].samples, DRIVES.drives[3].samples
CODES = (
    "measured-left-out",
    "measured-disagrees",
    "measured-one-period",
    "dash-left-out",
    "load-left-out",
)


def start(of: str) -> datetime:
    found = (FIRST if of == "before" else LAST)["time"][0]
    assert isinstance(found, datetime)
    return found


BLIND = replace(
    DRIVES,
    drives=[
        replace(
            drive,
            samples=drive.samples.drop(
                "gps_speed_mps", "latitude_deg", "longitude_deg", "altitude_m", "hdop",
                strict=False,
            ),
        )
        for drive in DRIVES.drives
    ],
)  # fmt: skip


def told(
    *, measured: tuple[Measured, ...] = (), dash: tuple[DashReading, ...] = (),
    loads: tuple[Load, ...] = (), drives: Drives = DRIVES,
) -> list[StudyWarning]:  # fmt: skip
    study = replace(STUDY, measured=measured, dash=dash, loads=loads)
    made = records(drives, study)
    found = find_speed(study, made, trip_figures(study, made)).warnings
    return [one for one in found if one.code in CODES]


def stretch(first_s: int, last_s: int, share: float = 1.0, of: str = "before") -> Measured:
    """A stretch of a drive, declared `share` times as long as it is."""
    frame = FIRST if of == "before" else LAST
    way = float(frame["gps_speed_mps"].to_numpy()[first_s:last_s].sum())
    begin = start(of)
    return Measured(
        start=begin + timedelta(seconds=first_s),
        end=begin + timedelta(seconds=last_s),
        distance_m=share * way,
    )


def test_what_fits_the_logs_is_told_nothing_of() -> None:
    shown = DashReading(at=start("after") + timedelta(seconds=600), speed_mps=20.0)
    odometer = DashReading(at=start("before") - timedelta(days=40), odometer_m=8e7)
    assert told(measured=(stretch(200, 1100),), dash=(shown, odometer)) == []


def test_moments_with_no_log_are_named_in_the_studys_own_time() -> None:
    # the clocks of Denver are seven hours behind in winter, six in summer
    at = start("before").replace(month=1) + timedelta(days=365)
    # and too fast for the needle to be of that stretch, which would need no log
    lost = Measured(start=at, end=at + timedelta(minutes=10), distance_m=26_000.0)
    found = told(measured=(lost,), dash=(DashReading(at=at, speed_mps=26.8),))
    assert [one.code for one in found] == ["measured-left-out", "dash-left-out"]
    local = f"{at - timedelta(hours=7):%Y-%m-%d %H:%M:%S}"
    for one in found:
        assert local in one.text
        assert "Check the date, the time and its zone." in one.text
    assert "lies in no log" in found[0].text
    assert "no log was under way then" in found[1].text


def test_a_stretch_that_begins_before_the_log_is_told() -> None:
    early = replace(stretch(0, 900), start=start("before") - timedelta(minutes=5))
    (one,) = told(measured=(early,))
    assert "covered whole by no log" in one.text


def test_a_needle_read_while_standing_is_told() -> None:
    still = FIRST["gps_speed_mps"].to_numpy() < 0.5
    halts = [i for i in range(3, len(still) - 3) if still[i - 3 : i + 4].all()]
    assert halts, "the drive has no stop"
    at = start("before") + timedelta(seconds=halts[0])
    (one,) = told(dash=(DashReading(at=at, speed_mps=26.8),))
    assert one.code == "dash-left-out"
    assert "too slow" in one.text


def test_a_needle_without_a_receiver_meets_no_rule() -> None:
    """Held against the vehicle's own count, a needle that reads low by the tires seemed right."""
    dash = tuple(
        DashReading(at=start(of) + timedelta(seconds=600), speed_mps=20.0)
        for of in ("before", "after")
    )
    study = replace(STUDY, dash=dash)
    made = records(BLIND, study)
    found = find_speed(study, made, trip_figures(study, made))
    assert not found.speedometer_ratio.before.known
    assert not found.speedometer_ratio.after.known
    assert [rule.meets for rule in found.rules] == [None] * len(found.rules)
    assert all(row.after.true_kmh is None for row in found.speedometer)
    (one,) = told(dash=dash, drives=BLIND)
    assert "no true speed is logged then" in one.text


def test_a_needle_read_between_two_rows_of_a_slow_log_was_under_way() -> None:
    """Ten seconds from row to row: the reading has no speed beside it, but its date is right."""
    slow = replace(
        DRIVES,
        drives=[replace(d, samples=d.samples.gather_every(10)) for d in DRIVES.drives],
    )
    (one,) = told(
        dash=(DashReading(at=start("before") + timedelta(seconds=605), speed_mps=20.0),),
        drives=slow,
    )
    assert "no true speed is logged then" in one.text


@pytest.mark.parametrize(("share", "heard"), [(1.4, True), (0.7, True), (1.02, False)])
def test_a_length_the_receiver_speaks_against_is_told(share: float, heard: bool) -> None:
    declared_m = stretch(200, 1100, share)
    found = told(measured=(declared_m,))
    assert [one.code for one in found] == (["measured-disagrees"] if heard else [])
    if heard:
        assert declared_m.distance_m is not None
        assert f"to be {declared_m.distance_m / 1000:.1f} km long" in found[0].text
        assert f"{declared_m.distance_m / share / 1000:.1f} km by the receiver" in found[0].text
        too = "40 % too much" if share > 1 else "30 % too little"
        assert f"{too} is declared" in found[0].text


@pytest.mark.parametrize(("share", "heard"), [(1.4, True), (1.08, False)])
def test_without_a_receiver_the_computer_speaks(share: float, heard: bool) -> None:
    found = told(measured=(stretch(200, 1100, share),), drives=BLIND)
    assert [one.code for one in found] == (["measured-disagrees"] if heard else [])


def test_a_road_of_one_period_compares_nothing_and_says_so() -> None:
    once = replace(stretch(200, 1100), distance_m=None, road="valley")
    (one,) = told(measured=(once,))
    assert one.code == "measured-one-period"
    assert '"valley"' in one.text
    again = replace(stretch(200, 1100, of="after"), distance_m=None, road="valley")
    assert told(measured=(once, again)) == []


@pytest.mark.parametrize(("shown", "heard"), [(1.609344, True), (1 / 1.609344, True), (1.2, False)])
def test_a_needle_read_in_another_unit_meets_and_breaks_no_rule(shown: float, heard: bool) -> None:
    """60 mph written as 60 km/h would put any speedometer outside the law."""
    true = float(FIRST["gps_speed_mps"][600])
    assert true > 15
    dash = (DashReading(at=start("before") + timedelta(seconds=600), speed_mps=shown * true),)
    found = told(dash=dash)
    assert [one.code for one in found] == (["dash-left-out"] if heard else [])
    if heard:
        assert "no speedometer is so far from the true speed. Check its unit" in found[0].text
    study = replace(STUDY, dash=dash)
    made = records(DRIVES, study)
    rules = find_speed(study, made, trip_figures(study, made)).rules
    assert all(rule.meets is None for rule in rules) == heard


def test_a_load_on_days_without_a_log_is_told() -> None:
    begin = start("before")
    inside = Load(start=begin, end=begin + timedelta(hours=2), mass_kg=13_000.0)
    assert told(loads=(inside,)) == []
    year = timedelta(days=365)
    (one,) = told(loads=(inside, replace(inside, start=begin - year, end=begin - year * 0.9)))
    assert one.code == "load-left-out"


def test_many_moments_are_counted_not_listed() -> None:
    at = start("before") + timedelta(days=365)
    lost = tuple(DashReading(at=at + timedelta(hours=i), speed_mps=20.0) for i in range(9))
    (one,) = told(dash=lost)
    assert "and 4 more" in one.text


def test_for_tires_only_planned_the_computer_is_known_from_the_old_ones() -> None:
    """Nothing was driven on them, and what the computer works with was once told as not known."""
    old = replace(DRIVES, drives=[d for d in DRIVES.drives if d.side == "before"])
    made = records(old, STUDY)
    found = find_speed(STUDY, made, trip_figures(STUDY, made))
    assert found.odometer_factor.after.why == message("not-driven")
    now = found.programmed_revolutions_per_km.now
    assert now.value == pytest.approx(1000 / WORLD.programmed_m, rel=0.003)
    assert STUDY.after is not None
    assert found.programmed_revolutions_per_km.should_be.value == STUDY.after.revolutions_per_km
