"""Descents: what holds the vehicle back, by hand, and what must never be called suited."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from mountain_studies import (
    AFTER,
    ENGINE,
    RETARDER_RPM,
    RETARDER_W,
    known,
    study,
    truck,
    turns,
)

from gearing.analysis.mountain import MountainFinding, find_mountain
from gearing.analysis.mountain.result import RouteWay
from gearing.analysis.mountain.verdict import Evidence, judge
from gearing.analysis.sides import BySide
from gearing.report.terminal import route_lines
from gearing.statistics.estimate import unknown

GRAVITY = 9.80665


def descent(grade: float, length_m: float = 8000.0) -> pl.DataFrame:
    """2 km level, down, 2 km level; grade as rise over run."""
    distance = np.arange(0.0, length_m + 4000.1, 50.0)
    down = np.clip(distance - 2000, 0, length_m) * np.sin(np.arctan(grade))
    return pl.DataFrame({"distance_m": distance, "altitude_m": 1500 - down})


def find(vehicle: dict[str, object], grade: float, **more: object) -> MountainFinding:
    return find_mountain(
        study(**vehicle),
        profiles={"pass": descent(grade)},
        revolutions_per_km=more.pop("revolutions", turns(319.0, 322.0)),
        draws=60,
        **more,
    )


def test_speed_held_down_by_hand() -> None:
    # Weight along the grade less rolling and air, times speed, is what engine and retarder
    # take, over what axle and gear lose; friction at 6.5 % of peak torque at idle and 10.6 %
    # at rated speed, from a published truck simulation (from memory).
    finding = find(truck(), 0.0625)
    held = finding.routes[0].after
    assert held is not None
    assert held.descent is not None
    value = {one.name: one.value for one in finding.parameters}
    for gear in (8, 9):
        kmh = held.descent.held_by_gear_kmh[str(gear)]
        assert kmh is not None
        speed, ratio = kmh / 3.6, truck()["gear_ratios"][gear - 1]  # type: ignore[index]
        rpm = speed * 0.322 * 3.55 * ratio * 60
        kelvin = 288.15 - 0.0065 * 1240
        rolling = value["rolling_at_25c"] / (1 + value["rolling_per_k"] * (kelvin - 298.15))
        angle = np.arctan(0.0625)
        pull = 36_287 * GRAVITY * (np.sin(angle) - rolling * np.cos(angle))
        density = 101_325 * (kelvin / 288.15) ** 5.25588 / (287.053 * kelvin)
        pull -= 0.5 * density * value["drag_area_m2"] * speed**2
        friction = 2240 * np.interp(rpm, (600, 2100), (0.065, 0.119)) * rpm * 2 * np.pi / 60
        torque = np.array(RETARDER_W) / RETARDER_RPM
        taken = friction + np.interp(rpm, RETARDER_RPM, torque) * rpm
        # three quarters of the standard losses (EU 2017/2400), of the drag but half counted on
        axle = 1 - 0.75 * 0.02
        lost = 0.75 * 0.005 * 2240 * (1 + rpm / 1000) * ratio * 3.55 + 0.75 * (70 + 20 * 3.55)
        given = taken / (axle * (1 - 0.75 * 0.04)) + 0.5 * axle * lost * speed * 0.322 * 2 * np.pi
        assert pull * speed == pytest.approx(given, rel=0.04)
    # no gear that runs at 60 mph holds it there: top gear's turns are 1,840 of 2,100
    assert held.descent.held_by_gear_kmh["10"] is None


def test_a_gear_said_to_hold_does_so_in_nearly_every_draw() -> None:
    told = find(truck(), 0.065).routes[0].after
    assert told is not None
    assert told.descent is not None
    one = told.descent
    # in the middle case gear 9 holds at 71 km/h, but not with friction and retarder as weak
    # as they may be
    assert one.held_by_gear_kmh["9"] is not None
    assert one.held_by_gear_kmh["9"] < 26.8 * 3.6
    assert one.gear == 8
    assert one.held_speed_kmh == one.held_by_gear_kmh["8"]
    assert one.held_spread_kmh is not None
    assert one.held_spread_kmh.low < one.held_speed_kmh < one.held_spread_kmh.high


@pytest.mark.parametrize("grade", [0.06, 0.07, 0.09, 0.12])
@pytest.mark.parametrize("retarder", [True, False])
def test_no_long_steep_descent_at_highway_speed_is_called_suited(
    grade: float, retarder: bool
) -> None:
    # The old tires did no better, and that makes no descent suited. 80,000 lb at 60 mph down
    # 6 % ask 420 kW of engine, retarder and brakes at the wheels (weight x grade x speed, less
    # rolling and air), more than the retarder's 325 kW at that speed.
    finding = find(truck(retarder), grade)
    (route,) = finding.routes
    # without a retarder, or down 9 % and more, the 8 km take over eight full stops (358 J/kg from
    # 60 mph): 8,000 m x 9.81 x (0.06 less some 0.02 that rolling, air and friction hold) / 358 = 9
    mild = retarder and grade < 0.08
    assert route.verdict == ("suits with care" if mild else "does not suit")
    (words,) = [str(told) for told in route.care if told.code == "descent-braking"]
    assert words.startswith("down from ")
    assert "full stops from 96 km/h" in words  # 26.8 m/s, the speed wanted
    assert "full stops from 60 mph" in "\n".join(route_lines(finding, "us"))
    # uphill nothing is asked of the brakes
    assert isinstance(route.reversed, RouteWay)
    assert not any("descent" in str(told) for told in route.reversed.care)


def test_full_stops_are_those_from_the_speed_of_most_of_the_descent() -> None:
    # posted: 30 m/s up to the brow, 15 m/s down the hill; a stop from 30 is four from 15
    road = descent(0.07).with_columns(
        speed_limit_mps=pl.when(pl.col("distance_m") > 2100).then(15.0).otherwise(30.0)
    )
    one = study(**truck(retarder=False))
    finding = find_mountain(
        replace(one, routes=(replace(one.routes[0], target_speed_mps=None),)),
        profiles={"pass": road},
        revolutions_per_km=turns(319.0, 322.0),
        draws=60,
    )
    (words,) = [str(told) for told in finding.routes[0].care if "full stops from" in str(told)]
    stops, speed = (float(one) for one in re.findall(r"([\d.]+) (?:full|km/h)", words))
    assert speed == pytest.approx(15 * 3.6, rel=0.03)
    side = finding.routes[0].after
    assert side is not None
    # the stops are those that 95 % of the draws do not pass, the range ends at 97.5 %
    kwh = side.spread["brake_kwh"].high
    assert kwh / stops == pytest.approx(36_287 * 15**2 / 2 / 3.6e6, rel=0.1)


def test_a_descent_no_gear_holds_is_told_though_none_did_before() -> None:
    bare = {"engine": replace(ENGINE, retarder=None), "mass_kg": 18_144.0}
    for grade in (0.09, 0.12):
        route = find(bare, grade, revolutions=turns()).routes[0]
        assert route.verdict == "does not suit"
        assert route.vehicle == "does not suit"
        assert route.change == "suits"
        assert any("no gear holds a descent" in str(told) for told in route.care)
    # of a before that is not known nothing is said
    alone = find(bare, 0.12, revolutions=BySide(unknown("not driven"), known(AFTER))).routes[0]
    assert alone.verdict == "does not suit"
    assert not any("before" in str(told) for told in alone.care)


def test_a_gentle_descent_asks_for_no_care() -> None:
    (route,) = find(truck(), 0.02).routes
    assert route.verdict == "suits"


def evidence(**changes: object) -> Evidence:
    none = np.zeros(200, dtype=bool)
    usual: dict[str, object] = {
        "cannot_start": none,
        "below_lugging": none,
        "unheld": none,
        "stops": np.zeros(200),
    }
    return Evidence(**(usual | changes))  # type: ignore[arg-type]


def test_care_on_descents_at_its_edges() -> None:
    # 1.0 stop on each of two descents is care along the road, and of neither by itself
    told = judge(evidence(stops=np.full(200, 1.01)))
    assert told.verdict == "suits with care"
    assert "along the road" in str(told.care[0])
    alone = judge(evidence(stops=np.full(200, 1.01), descents=("down from 1.0 to 3.0 km",)))
    assert alone.verdict == "suits with care"
    assert alone.care == ("down from 1.0 to 3.0 km",)
    assert judge(evidence(unheld=np.arange(200) < 10)).verdict == "suits"
    assert judge(evidence(unheld=np.arange(200) < 11)).verdict == "suits with care"
    # however many draws, while the brakes are hardly asked
    assert judge(evidence(unheld=np.ones(200, dtype=bool))).verdict == "suits with care"
    # and what a failing drive asks of the brakes is told too
    failing = judge(evidence(cannot_start=np.ones(200, dtype=bool), stops=np.full(200, 4.0)))
    assert failing.verdict == "does not suit"
    assert len(failing.care) == 2
