"""Hills of the logs: found again in every drive, and the road model set beside them."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from mountain_studies import AFTER, pass_profile, study, turns
from scipy.optimize import brentq

from gearing.analysis.mountain import MountainFinding, find_mountain
from gearing.analysis.mountain.climbs import find_hills
from gearing.report.terminal import route_lines
from gearing.results import dumps, plain

PLACES = np.arange(0, 28_900, 100.0)
ROAD = pass_profile(down=0.04)


def steady_mps() -> float:
    """What the bus of `mountain_studies` holds up 5.5 % at 1,150 m in fourth gear, by hand.

    Full load less the fan (4 % of 173 kW at 2,500 rpm, falling with the cube) and three quarters of
    the standard losses (EU 2017/2400) against weight and air.
    """

    def over(v: float) -> float:
        rpm = v * AFTER / 1000 * 4.88 * 60
        torque = np.interp(rpm, (800, 1200, 1600, 2000, 2400), (700, 900, 880, 800, 690))
        torque -= 0.04 * 173_400 / 261.8 * (rpm / 2500) ** 2
        box = torque * (1 - 0.75 * 0.01) - 0.75 * 0.015 * 900 * (1 + rpm / 1000)
        axle = (1 - 0.75 * 0.02) * (box * 4.88 - 0.75 * (70 + 20 * 4.88))
        weight = 12_020 * 9.80665 * (np.sin(np.arctan(0.055)) + 0.0068)
        return float(axle * 2 * np.pi * AFTER / 1000 - weight - 0.5 * 1.1 * 5.5 * v * v)

    return float(brentq(over, 10, 30))


def drive(
    name: str,
    *,
    day: int,
    climbing_mps: float,
    gears: list[float],
    oil_c: float = 95.0,
    down_gear: float = 6.0,
    raised_m: float = 0.0,
) -> pl.DataFrame:
    """Road steps over the pass of `pass_profile`; `gears` are driven in turn on the climb."""
    count = PLACES.size
    altitude = np.interp(PLACES, ROAD["distance_m"], ROAD["altitude_m"]) + raised_m
    up, down = (PLACES >= 5000) & (PLACES < 14_000), (PLACES >= 15_000) & (PLACES < 24_000)
    # four hundred meters of the climb to slow down on
    slowing = np.interp(PLACES, [5000, 6200], [26.0, climbing_mps])
    speed = np.where(up, slowing, np.where(down, 22.0, 26.0))
    clock = 86_400.0 * day + np.concatenate([[0.0], np.cumsum(100 / speed)])[:-1]
    return pl.DataFrame(
        {
            "trip": [name] * count,
            "step": np.arange(count, dtype=np.uint32),
            "start_s": clock,
            "duration_s": 100 / speed,
            "stopped_s": np.zeros(count),
            "distance_m": np.full(count, 100.0),
            "altitude_m": altitude,
            "end_altitude_m": np.append(altitude[1:], altitude[-1]),
            "start_speed_mps": speed,
            "end_speed_mps": np.append(speed[1:], speed[-1]),
            "speed_mps": speed,
            "latitude_deg": 40 + PLACES / 111_195,
            "longitude_deg": np.full(count, -100.0),
            "engine_load_percent": np.where(up, 100.0, np.where(down, 0.0, 40.0)),
            "gear": np.where(up, np.resize(gears, count), np.where(down, down_gear, 6.0)),
            "coolant_temperature_c": np.where(up, 92.0, 85.0),
            "transmission_oil_temperature_c": np.where(up, oil_c, 85.0),
        }
    )


def find(**drives: object) -> MountainFinding:
    usual: dict[str, object] = {"climbing_mps": steady_mps(), "gears": [4.0]}
    logs = [drive(f"{day}", day=day, **(usual | drives)) for day in range(4)]  # type: ignore[arg-type]
    return find_mountain(
        study(drag_area_m2=5.5),
        profiles={"pass": ROAD},
        revolutions_per_km=turns(),
        steps=pl.concat(logs),
        trips=pl.DataFrame({"trip": ["0", "1", "2", "3"], "side": ["before"] + ["after"] * 3}),
        draws=60,
    )


def test_the_same_hill_is_found_in_every_pass() -> None:
    logs = [
        drive("a", day=0, climbing_mps=16.0, gears=[4.0]),
        drive("b", day=1, climbing_mps=17.0, gears=[4.0, 4.0, 3.0], oil_c=99.0),
        drive("c", day=2, climbing_mps=18.0, gears=[4.0]),
    ]
    sides = pl.DataFrame({"trip": ["a", "b", "c"], "side": ["before", "before", "after"]})
    climb, descent = find_hills(pl.concat(logs), sides)
    assert climb.climbs
    assert not descent.climbs
    assert [one.side for one in climb.passes] == ["before", "before", "after"]
    assert climb.rise_m == pytest.approx(9000 * np.sin(np.arctan(0.055)), abs=15)
    assert descent.rise_m == pytest.approx(-9000 * np.sin(np.arctan(0.04)), abs=15)
    a, b, _ = climb.passes
    # every third step of some ninety is in third gear
    assert (a.downshifts, b.downshifts) == (0, pytest.approx(30, abs=2))
    assert (a.usual_gear, b.usual_gear) == (4, 4)
    assert (a.oil_c, b.oil_c, a.coolant_c) == (95, 99, 92)
    assert a.full_load_share == pytest.approx(1.0, abs=0.05)
    assert np.nanmin(a.speed_mps) == 16.0


def test_logs_that_the_model_is_right_about_change_nothing() -> None:
    finding = find()
    (climb,) = finding.climbs
    assert climb.after is not None
    assert climb.after.model is not None
    assert (climb.after.traversals, climb.after.gear) == (3, 4)
    assert climb.after.model.lowest_speed_kmh == pytest.approx(steady_mps() * 3.6, abs=1.5)
    assert climb.after.model.gear == 4
    assert climb.disagrees == ()
    assert (climb.route, climb.from_km) == ("pass", pytest.approx(5.0, abs=0.2))
    (descent,) = finding.logged_descents
    assert descent.disagrees == ()
    assert finding.routes[0].verdict == "suits"
    dumps(plain(finding))


@pytest.mark.parametrize(
    ("drives", "words"),
    [
        ({"gears": [4.0, 4.0, 3.0]}, "29 downshifts a drive (median of 3) where the model has"),
        ({"climbing_mps": steady_mps() - 4}, "a lowest speed of"),
        ({"oil_c": 124.0}, "transmission oil of up to 124 °C"),
    ],
)
def test_where_the_logs_show_worse_than_the_model_the_verdict_says_so(
    drives: dict[str, object], words: str
) -> None:
    (route,) = find(**drives).routes
    (told,) = [one for one in route.care if one.code == "watch/logs"]  # type: ignore[union-attr]
    assert words in str(told)
    assert "the logs show" in str(told)
    assert "up from 5." in str(told)
    assert route.verdict == route.vehicle == "suits with care"
    assert str(told) in str(route.verdict_why)
    assert str(told)[1:] in "\n".join(route_lines(find(**drives), "metric"))  # Up, not up
    # the other way nothing was driven
    assert route.reversed is not None
    assert not any("the logs show" in str(one) for one in route.reversed.care)


@pytest.mark.parametrize(
    ("drives", "words"),
    [
        ({"climbing_mps": steady_mps() + 4}, "a lowest speed of"),
        ({"down_gear": 3.0}, "gear 3 for most of it where the model has gear"),
    ],
)
def test_where_the_logs_show_better_it_is_told_and_no_care_asked_for(
    drives: dict[str, object], words: str
) -> None:
    (route,) = find(**drives).routes
    assert route.verdict == "suits"
    assert route.care == ()
    assert words in str(route.verdict_why)


def test_a_hill_of_the_logs_at_another_level_is_not_the_routes() -> None:
    finding = find(gears=[4.0, 4.0, 3.0], raised_m=200.0)
    assert finding.climbs[0].disagrees
    assert finding.climbs[0].route is None
    assert finding.routes[0].verdict == "suits"
