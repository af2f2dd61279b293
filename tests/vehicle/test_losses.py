"""Standard losses of axles and gearboxes against worked figures of the published forms."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from demo_powertrain import GEARS, bus, vehicles

from gearing.vehicle.ensemble_gears import EnsembleGears
from gearing.vehicle.parameters import standard_losses
from gearing.vehicle.powertrain import Powertrain


def at_wheels_nm(powertrain: Powertrain, gear: int, rpm: float) -> float:
    """Torque at the wheels at full load, from the force and the turns a metre."""
    gears = EnsembleGears(powertrain, vehicles())
    speed = np.array([rpm / (0.391 * powertrain.axle_ratio * powertrain.gear_ratios[gear] * 60)])
    has = gears.in_gear(np.array([gear]))
    found = gears.forces(has, speed, np.ones(1), None, slice(None))
    return float(found.full_n[0] / (2 * pi * 0.391))


@pytest.mark.parametrize(("out_nm", "loss_nm"), [(4000.0, 55.26), (1000.0, None)])
def test_axle_of_regulation_2017_2400(out_nm: float, loss_nm: float | None) -> None:
    # Annex VII Appendix 3, single reduction, ratio 4.30: loss at the input 55.26 N m at 4,000 N m
    # out (efficiency 0.9439); efficiency 0.8500 at 1,000 N m.
    axle = standard_losses("manual", 1500.0, 4.30)
    into = out_nm / 4.30 + ((axle.axle_drag_nm + out_nm / axle.axle_efficiency - out_nm) / 4.30)
    assert out_nm / 4.30 / into == pytest.approx(0.9439 if loss_nm else 0.8500, abs=5e-5)
    if loss_nm:
        assert into - out_nm / 4.30 == pytest.approx(loss_nm, abs=0.005)


@pytest.mark.parametrize(
    ("kind", "gear", "loss_nm"),
    [("manual", 3, 28.75), ("manual", 4, 58.75), ("converter", 3, 66.25), ("converter", 4, 96.25)],
)
def test_gearbox_of_regulation_2017_2400(kind: str, gear: int, loss_nm: float) -> None:
    # Annex VI Appendix 8: most torque 1,500 N m, 1,500 rpm, 1,000 N m in; direct and indirect.
    losses = standard_losses(kind, 1500.0, 4.30)  # type: ignore[arg-type]
    through = losses.direct_efficiency if GEARS[gear] == 1 else losses.indirect_efficiency
    found = 1000.0 * (1 - through) + losses.gearbox_drag_nm * (1 + 1.5)
    assert found == pytest.approx(loss_nm, abs=0.005)


def test_the_road_model_takes_both_from_the_engine() -> None:
    losses = standard_losses("manual", 900.0, 4.88)
    powertrain = bus(losses=losses, kind="manual")
    for gear, share in ((3, 0.01), (4, 0.04)):
        rpm = 1600.0
        box = 880.0 * (1 - share) - 0.005 * 900 * (1 + rpm / 1000)
        out = 0.98 * (box * powertrain.gear_ratios[gear] * 4.88 - 70 - 20 * 4.88)
        assert at_wheels_nm(powertrain, gear, rpm) == pytest.approx(out, rel=2e-3)
