"""How hard a driver speeds up and slows down, against the European procedure's own trips.

Its law for trucks (declaration data of Commission Regulation (EU) 2017/2400): acceleration and
deceleration by speed at five speeds. Three simulated trips that follow it are in
`../shared/logs/long_haul`; there every braking under 45 km/h is at 1 m/s2.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest
from demo_powertrain import constant_power, vehicles

from gearing.vehicle.longitudinal import drive
from gearing.vehicle.pace import acceleration_mps2, deceleration_mps2
from gearing.vehicle.road import Road, make_road

FOLDER = Path(__file__).resolve().parents[3] / "shared" / "logs" / "long_haul"
LAW_KMH = (0.0, 25.0, 50.0, 60.0, 120.0)
GAINS = (1.0, 1.0, 0.642857143, 0.5, 0.5)
LOSES = (1.0, 1.0, 1.0, 0.5, 0.5)


def test_the_procedure_s_own_speeds() -> None:
    speeds = np.array(LAW_KMH) / 3.6
    assert acceleration_mps2(speeds) == pytest.approx(GAINS, abs=1e-8)
    assert [deceleration_mps2(float(v)) for v in speeds] == pytest.approx(LOSES)


@pytest.mark.skipif(not FOLDER.is_dir(), reason="../shared/logs is not beside this checkout")
@pytest.mark.parametrize("name", ["empty", "ref", "full"])
def test_trips_simulated_by_the_procedure_keep_to_it(name: str) -> None:
    file = FOLDER / f"sim_40t_longhaul_{name}.vmod.csv"
    table = pl.read_csv(file, infer_schema_length=20_000)
    trip = table.rename({c: c.split(" [")[0].lstrip("\ufeff") for c in table.columns})
    speed, gained = trip["v_act"].to_numpy() / 3.6, trip["acc"].to_numpy()
    before = np.roll(speed, 1)  # a row's speed is its mean; the law is of where it began or ends
    most = np.maximum(acceleration_mps2(speed), acceleration_mps2(before))
    assert np.mean(gained <= most + 0.03) > 0.999
    slowed = [max(deceleration_mps2(float(a)), deceleration_mps2(float(b)))
              for a, b in zip(speed, before, strict=True)]  # fmt: skip
    assert np.mean(-gained <= np.array(slowed) + 0.03) > 0.999
    braking = (trip["Pbrake"].to_numpy() < -1) & (speed > 12 / 3.6) & (speed < 45 / 3.6)
    braking &= gained < -0.05  # others hold their speed downhill
    assert braking.sum() > 30
    assert float(np.median(-gained[braking])) == pytest.approx(1.0, abs=0.01)


def town(speed_kmh: float) -> Road:
    """A level kilometer with a halt in its middle."""
    return make_road(
        np.array([0.0, 500.0, 1000.0]),
        np.zeros(3),
        speed_kmh / 3.6,
        stop_s=np.array([1.0, 10.0, 0.0]),
    )


@pytest.mark.parametrize("pace", [0.5, 0.7, 1.0, 1.2])
def test_a_halt_in_town_by_hand(pace: float) -> None:
    """From 40 km/h at 1 m/s2 times the pace: 61.7 m and 11.1 s, both over the pace."""
    speed = 40 / 3.6
    road = town(40.0)
    strong = vehicles(rolling_at_25c=0.0, drag_area_m2=0.0, pace=pace)
    run = drive(constant_power(900e3), strong, [road])
    edge = road.edge_m[1:]
    braked = (run.speed_mps[:, 0] < 0.999 * speed) & (edge < 500.0) & (edge > 300.0)
    begins = 500.0 - float(edge[braked].min())
    assert begins == pytest.approx(speed**2 / 2 / pace, abs=12.5)  # a piece
    seconds = run.seconds[0] - 11.0
    # the model sets off at 0.3 m/s, which saves it a second each time
    # up twice (from 25 km/h on by a smaller gain), down once, the rest at 40 km/h
    knee = 25 / 3.6
    fall = 0.5 / ((60 - 25) / 3.6)
    up_s = knee + np.log(1 / (1 - fall * (speed - knee))) / fall
    v = np.linspace(knee, speed, 2001)
    up_m = knee**2 / 2 + np.trapezoid(v / (1 - fall * (v - knee)), v)
    down_s, down_m = speed, speed**2 / 2
    rest = 1000.0 - (2 * up_m + down_m) / pace
    assert seconds == pytest.approx((2 * up_s + down_s) / pace + rest / speed, rel=0.025)


def test_a_gentle_driver_comes_to_the_same_speeds_later() -> None:
    """On the law's own terms: half the pace takes twice the way to speed up and to slow down."""
    road = town(60.0)
    gentle, usual = (
        drive(constant_power(900e3), vehicles(pace=pace), [road]).speed_mps[:, 0]
        for pace in (0.5, 1.0)
    )
    assert gentle.max() == pytest.approx(60 / 3.6, rel=0.02)
    assert np.all(gentle <= usual + 0.05)
    assert np.mean(gentle < usual - 0.5) > 0.5
