"""The long way down: what gears hold, what is left to the brakes, and when their heat is told."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import polars as pl
import pytest
from mountain_studies import pass_profile, study, truck, turns

from gearing.analysis.mountain import find_mountain
from gearing.analysis.mountain.brake_class import outside_brake_class
from gearing.analysis.mountain.descent_figures import DescentSide, LongDescent
from gearing.analysis.mountain.result import MountainFinding
from gearing.messages import Items
from gearing.study.model import Vehicle
from gearing.units import convert

CLASS: dict[str, Any] = {"combination": True, "axles": 5, "brakes": "drum"}
DRAWS = 8


def find(down: float = 0.06, **vehicle: Any) -> MountainFinding:
    return find_mountain(
        study(**vehicle),
        profiles={"pass": pass_profile(down=down)},
        revolutions_per_km=turns(310.0, 300.0) if "combination" in vehicle else turns(),
        draws=DRAWS,
    )


def descent(finding: MountainFinding) -> LongDescent:
    (one,) = finding.routes[0].descents
    return one


def side(finding: MountainFinding) -> DescentSide:
    found = descent(finding).after
    assert found is not None
    return found


@pytest.fixture(scope="module")
def bus() -> MountainFinding:
    return find()


def test_a_descent_is_where_the_road_falls(bus: MountainFinding) -> None:
    one = descent(bus)
    # 9 km at 6 % from km 15 on; its fall is 9,000 x sin(atan 0.06) m (arithmetic)
    assert one.from_km == pytest.approx(15, abs=0.3)
    assert one.to_km == pytest.approx(24, abs=0.3)
    assert one.drop_m == pytest.approx(9000 * np.sin(np.arctan(0.06)), rel=0.02)
    assert one.mean_grade_percent == pytest.approx(6, abs=0.2)
    assert one.steepest_percent == pytest.approx(6, abs=1e-3)
    assert one.wanted_kmh == pytest.approx(26.8 * 3.6)
    back = bus.routes[0].reversed
    assert back is not None
    (other,) = back.descents
    assert other.steepest_percent == pytest.approx(5.5, abs=1e-3)


def test_a_retarder_that_is_off_holds_less(bus: MountainFinding) -> None:
    on, off = side(bus).retarder_on, side(bus).retarder_off
    assert off is not None
    for gear, held in on.held_by_gear_kmh.items():
        without = off.held_by_gear_kmh[gear]
        assert held is None or without is None or without >= held
    assert any(v is None for v in off.held_by_gear_kmh.values())
    assert off.unheld_share >= on.unheld_share
    bare = find(engine=replace(study().vehicle.engine, retarder=None))  # type: ignore[type-var]
    assert side(bare).retarder_off is None
    assert side(bare).retarder_on.held_by_gear_kmh == off.held_by_gear_kmh


def test_work_power_and_stops_agree(bus: MountainFinding) -> None:
    """Work is power times time; a full stop from the speed wanted is m v^2 / 2 (definitions)."""
    for one in (descent(bus).before, descent(bus).after):
        assert one is not None
        assert one.brake_kwh == pytest.approx(one.brake_kw * one.minutes / 60, rel=1e-6)
        assert one.brake_kw_highest >= one.brake_kw
        assert one.brake_kwh_spread.low <= one.brake_kwh <= one.brake_kwh_spread.high
        stop_kwh = 12_020 * 26.8**2 / 2 / 3.6e6
        assert one.brake_stops <= 1.05 * one.brake_kwh_spread.high / stop_kwh
        assert one.brake_stops >= 0.5 * one.brake_kwh / stop_kwh
    route = bus.routes[0].after
    assert route is not None
    assert route.descent is not None
    # the road falls nowhere else
    assert side(bus).brake_kwh == pytest.approx(route.descent.brake_kwh, rel=0.02)


def test_without_engine_braking_the_brakes_take_what_the_grade_gives() -> None:
    """In the draws whose driver leaves the top gear, by the balance of forces at steady speed."""
    bare = replace(study().vehicle.engine, retarder=None)  # type: ignore[type-var]
    gentle, steep = (side(find(down=down, engine=bare)) for down in (0.05, 0.07))
    seconds = 9000 / 26.8
    # 2 % of grade more is m g d(sin) x length of work more, whoever brakes it (arithmetic)
    more = 12_020 * 9.80665 * 9000 * (np.sin(np.arctan(0.07)) - np.sin(np.arctan(0.05))) / 3.6e6
    assert steep.brake_kwh_spread.high - gentle.brake_kwh_spread.high == pytest.approx(
        more, rel=0.15
    )
    assert steep.minutes * 60 == pytest.approx(seconds, rel=0.1)


def test_care_is_asked_for_where_no_gear_holds() -> None:
    care = " ".join(str(one) for one in side(find(down=0.10)).care)
    assert "no gear holds 96 km/h down from" in care
    assert "full stops" in care
    assert side(find(down=0.02)).care == ()


def test_a_gear_said_to_hold_less_is_the_one_that_does_so_in_nearly_all_draws() -> None:
    """One that does so in the middle case alone is told as that, and is a higher one."""
    found = {}
    for down in (0.07, 0.08, 0.10):
        on = side(find(down=down)).retarder_on
        told = [one for one in side(find(down=down)).care if "unheld" in one.code]  # type: ignore[union-attr]
        for lower in dict(told[0].fields).get("lower", Items(())).items if told else ():  # type: ignore[union-attr]
            found[down, lower.code] = gear = dict(lower.fields)["gear"]
            assert on.held_by_gear_kmh[str(gear)] is not None
            sure = lower.code == "gear-holds"
            assert gear == on.gear if sure else on.gear is None or gear > on.gear
    assert found


def test_outside_the_class_nothing_is_said(bus: MountainFinding) -> None:
    for one in (descent(bus).before, descent(bus).after):
        assert one is not None
        assert one.brake_temperature_c is None
        assert "tractor-trailers with drum brakes" in str(one.brake_temperature_c_why)


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"combination": False}, "combination = true"),
        ({"axles": None}, "does not declare axles"),
        ({"axles": 2}, "2 axles"),
        ({"axles": 6}, "6 axles"),
        ({"brakes": None}, "does not declare brakes"),
        ({"brakes": "disc"}, "disc brakes"),
        ({"brakes": "mixed"}, "disc brakes"),
    ],
)
def test_each_thing_that_takes_a_vehicle_out_of_the_class(
    change: dict[str, Any], named: str
) -> None:
    inside = Vehicle(**CLASS)
    assert outside_brake_class(inside, 36_000.0) is None
    told = outside_brake_class(replace(inside, **change), 36_000.0)
    assert told is not None
    assert named in str(told)


def test_the_class_ends_at_the_weights_fitted() -> None:
    # laden from 35,000 lb on (ASCE J. Transp. Eng. 115(4), 1989); 80,000 lb gross, give or take
    for pounds, inside in ((34_900, False), (35_100, True), (80_000, True), (82_000, False)):
        told = outside_brake_class(Vehicle(**CLASS), convert(pounds, "lb", "kg"))
        assert (told is None) == inside


@pytest.fixture(scope="module")
def tractor() -> MountainFinding:
    return find(**truck(retarder=False), **CLASS)


def test_in_the_class_a_range_over_both_sets_is_told(tractor: MountainFinding) -> None:
    one = side(tractor)
    heat = one.brake_temperature_c
    assert heat is not None
    assert one.brake_temperature_c_why is None
    assert heat.low < heat.high
    assert heat.with_stop_low > heat.low
    assert heat.with_stop_high > heat.high
    assert heat.limit == pytest.approx(260)  # 500 degF
    # the sets differ up to threefold in what they warm by: the range is not a narrow one
    assert (heat.high - 32.2) / (heat.low - 32.2) > 1.3
    assert "FHWA" in str(heat.source)
    assert any("drum brakes may reach" in str(care) for care in one.care)


def test_heat_rises_with_weight_grade_and_falls_with_a_retarder(tractor: MountainFinding) -> None:
    def high(down: float = 0.06, retarder: bool = False, **changes: Any) -> float:
        found = side(find(down, **(truck(retarder) | CLASS | changes))).brake_temperature_c
        assert found is not None
        return found.high

    laden = high()
    assert laden == pytest.approx(side(tractor).brake_temperature_c.high)  # type: ignore[union-attr]
    assert high(mass_kg=25_000.0) < laden
    assert high(down=0.05) < laden < high(down=0.07)
    assert high(retarder=True) <= laden


def test_the_gear_is_that_of_the_route_on_its_only_descent(bus: MountainFinding) -> None:
    for name in ("before", "after"):
        route, own = getattr(bus.routes[0], name).descent, getattr(descent(bus), name).retarder_on
        assert own.gear == (None if route.held_speed_kmh is None else route.gear)
        for gear, speed in own.held_by_gear_kmh.items():
            assert speed == pytest.approx(route.held_by_gear_kmh[gear], rel=1e-6)


def test_a_level_road_has_no_descent() -> None:
    profile = pass_profile(up=0.0, down=0.0)
    finding = find_mountain(
        study(), profiles={"pass": profile}, revolutions_per_km=turns(), draws=2
    )
    assert finding.routes[0].descents == ()


def test_brake_power_along_the_road_is_the_descents_work() -> None:
    """Force is power over speed, work force times way (definitions)."""
    finding = find(down=0.08)
    frame = finding.frame.filter(pl.col("direction") == "forward")
    for name in ("before", "after"):
        way = frame["distance_m"].diff().fill_null(0.0)
        force = frame[f"{name}_service_brake_w"] / frame[f"{name}_speed_mps"]
        told = getattr(descent(finding), name)
        assert told.brake_kwh > 0.5
        assert (force * way).sum() / 3.6e6 == pytest.approx(told.brake_kwh, rel=0.05)
