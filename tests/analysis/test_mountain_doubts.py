"""What is wrong with a study's figures or a road's, told in words with what to do."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest
from mountain_coverage import declared
from mountain_studies import AFTER, BEFORE, ENGINE, pass_profile, study, turns
from mountain_truck import Driver, Simulated, simulate

from gearing.analysis.mountain import MountainFinding, find_mountain
from gearing.analysis.sides import BySide
from gearing.report.terminal import route_lines
from gearing.statistics.estimate import Estimate
from gearing.study.model import Load


def find(profile: pl.DataFrame | None = None, **vehicle: object) -> MountainFinding:
    return find_mountain(
        study(**vehicle),
        profiles={"pass": pass_profile() if profile is None else profile},
        revolutions_per_km=turns(),
        draws=5,
    )


def codes(finding: MountainFinding) -> list[str]:
    return [warning.code for warning in finding.warnings]


def words(finding: MountainFinding, units: str = "us") -> str:
    return "\n".join(route_lines(finding, units))  # type: ignore[arg-type]


def test_nothing_is_doubted_where_all_is_well() -> None:
    assert codes(find()) == []


def test_a_road_without_grades_is_told() -> None:
    # grades of 6 % written as fractions under a heading in percent: 100 times too flat
    flat = pass_profile().with_columns(altitude_m=900 + (pl.col("altitude_m") - 900) / 100)
    finding = find(flat)
    assert codes(finding) == ["profile-flat"]
    assert "has no climb or descent of 1.5 % and 82 ft or more" in words(finding)
    assert "check the units of the profile's columns" in words(finding)


def test_a_road_too_steep_is_told() -> None:
    # elevations in feet under a heading in meters
    feet = pass_profile().with_columns(altitude_m=pl.col("altitude_m") / 0.3048)
    finding = find(feet)
    assert codes(finding) == ["profile-steep"]
    # 6 % is 20 % then: sin(atan 0.06) / 0.3048 along the road
    assert "up to 20 % steep" in words(finding)
    steepest = pass_profile(up=0.14, down=0.14)
    assert codes(find(steepest)) == []


def test_a_slip_in_one_row_is_told_with_its_place() -> None:
    slip = pass_profile().with_columns(
        altitude_m=pl.when(pl.col("distance_m") == 6000).then(0.0).otherwise("altitude_m")
    )
    (route,) = find(slip).routes
    assert route.verdict == "cannot tell yet"
    assert "first from 5.90 to 6.00 km: check the row there" in str(route.verdict_why)
    assert "units" in str(route.verdict_why)


def test_governed_speed_and_torque_curve_that_do_not_meet() -> None:
    short = find(engine=replace(ENGINE, governed_rpm=5000))
    assert codes(short) == ["torque-curve-short"]
    assert "ends at 2,400 rpm and governed speed is 5,000 rpm" in words(short)
    long = find(engine=replace(ENGINE, governed_rpm=2000))
    assert "torque-curve-long" in codes(long)
    assert "goes on to 2,400 rpm, and governed speed is 2,000 rpm" in words(long)
    # the governor's own fall of 8 % is no doubt, and without governed speed the curve ends it
    assert codes(find(engine=replace(ENGINE, governed_rpm=2590))) == []
    assert codes(find(engine=replace(ENGINE, governed_rpm=None))) == []


def test_a_speed_out_of_reach_is_told() -> None:
    # gear ratios with the axle's in them; top gear: 2,500 / (60 x turns x 4.88 x 3.12) m/s
    ratios = tuple(4.88 * ratio for ratio in (3.51, 1.91, 1.43, 1.00, 0.74, 0.64))
    finding = find(gear_ratios=ratios)
    assert codes(finding) == ["speed-out-of-reach"]
    reached = {
        side: 2500 / 60 / (per_km / 1000 * 4.88 * 4.88 * 0.64) * 3.6
        for side, per_km in (("old", BEFORE), ("new", AFTER))
    }
    told = words(finding, "metric")
    assert "The 96 km/h wanted" in told
    for side, speed in reached.items():
        assert f"{speed:.0f} km/h on the {side} tires" in told
    assert "mph on the new tires" in words(finding)


@pytest.fixture(scope="module")
def logged() -> Simulated:
    (one,) = simulate(1, 6, 31, Driver())
    return one


@pytest.mark.parametrize(("factor", "doubted"), [(1.0, None), (1.356, "less"), (0.737, "more")])
def test_logs_that_deny_the_torque_curve_are_heard(
    logged: Simulated, factor: float, doubted: str | None
) -> None:
    # N*m written as lbf*ft are 1.356 times too much, lbf*ft written as N*m 0.737 times
    one = declared(logged, 0.0)
    engine = one.vehicle.engine
    assert engine is not None
    torque = tuple(factor * value for value in engine.torque_nm)
    one = replace(one, vehicle=replace(one.vehicle, engine=replace(engine, torque_nm=torque)))
    per_km = logged.truth.turns_per_km
    finding = find_mountain(
        one,
        profiles={},
        revolutions_per_km=BySide(
            *(Estimate(per_km[s], per_km[s], per_km[s], 6, "truth") for s in ("before", "after"))
        ),
        # each trip has hills of its own, though all are drawn on one meridian
        steps=logged.steps.drop("latitude_deg", "longitude_deg"),
        trips=logged.trips,
        draws=5,
    )
    told = [w.text for w in finding.warnings if w.code == "torque-off"]
    assert bool(told) == (doubted is not None)
    if doubted:
        assert f"% {doubted} torque at the wheels" in told[0]
        assert "1 lbf*ft is 1.36 N*m" in told[0]


def test_a_heavier_day_is_told() -> None:
    start = datetime(2026, 4, 2, tzinfo=UTC)
    load = Load(start=start, end=start + timedelta(days=3), mass_kg=13_154.0)

    def told(**changes: object) -> str:
        finding = find_mountain(
            replace(study(), loads=(replace(load, **changes),)),
            profiles={},
            revolutions_per_km=turns(),
            draws=5,
        )
        return words(finding)

    assert "calculated for 26,500 lb, and on some days the vehicle weighs 29,000 lb" in told()
    assert "on some days" not in told(mass_kg=12_100.0)
    assert "without what is towed" in told(towing=True, mass_kg=None)


def test_weight_and_power_are_shown_for_the_owner_to_check() -> None:
    # 12,020 kg; power at most: 690 N m at 2,400 rpm is 173 kW
    told = words(find(), "metric").splitlines()
    assert "Calculated for a weight of 12,020 kg" in told[-2]
    assert "gives 173 kW at most" in told[-2]
    assert "26,500 lb" in words(find())
    assert "233 hp" in words(find())
    assert "no speed is recommended" in told[-1]
    # what lies above governed speed is no power
    far = replace(ENGINE, rpm=(800, 1200, 1600, 2000, 4800), governed_rpm=2000)
    kw = 800 * 2000 * 2 * np.pi / 60e3
    assert find(engine=far).peak_power_kw == pytest.approx(kw, rel=1e-3)
