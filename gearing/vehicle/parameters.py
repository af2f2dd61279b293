"""Physical parameters of a heavy vehicle and its day: what is usual where nobody says.

One table for the road model: value, 95 % range, unit and source by name. The fuel comparison has
ranges of its own (`analysis/fuel/ranges.py`), for it asks of other things. What
depends on the vehicle (drag area, Willans line, driveline drag) is a function of it.

Sources
-------
[1] "Heavy Vehicle Tire Rolling Resistance Information" (NREL ADVISOR, 2002): 0.0042 to 0.0074
    for truck tires; 40 CFR part 1037 takes 0.0077 for vocational vehicles; an engine maker's
    guide for motorhomes comes to 0.008.
[2] ISO 28580 and UN R117: 0.006 a kelvin for the tires of heavy vehicles, 0.010 for lighter
    commercial ones, measured between 20 and 30 degC; outside it the spread is carried.
[3] Drag areas of the generic vehicles of 40 CFR part 1037 (from memory): 3.4, 5.4 and 6.86 m2
    at 7,257, 11,408 and 19,051 kg; below them a van's drag coefficient of 0.35 to 0.5 over 5 m2.
[4] Commission Regulation (EU) 2017/2400, Annex VI Appendix 8 and Annex VII Appendix 3: standard
    losses of gearboxes and axles. They are the unfavorable end by design; measured ones lie at
    about half to three quarters of them, warm and in thin oil lower.
[5] Fuel as a Willans line: the slope of a direct-injection diesel is an indicated efficiency of
    0.43 to 0.50 (textbooks) of 9.97 kWh/L, the rest turns the engine over: about 1 L/h a
    1,000 rpm for each 1,000 N m of peak torque at working loads (common practice, no source).
[6] Common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from gearing.messages import Message, Quantity, message
from gearing.units import STANDARD_GRAVITY_MPS2

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gearing.units import Array
    from gearing.vehicle.powertrain import Transmission

DRAG_AREA_MASS_KG = (3500.0, 7257.0, 11_408.0, 19_051.0)  # [3]
DRAG_AREA_M2 = (2.1, 3.4, 5.4, 6.86)
DRAG_AREA_SPREAD = 0.25
WILLANS_L_PER_KWH = 0.215  # [5]
WILLANS_L_PER_H_PER_KRPM_PER_KNM = 1.0  # [5]
# Driving axles carry six tenths of a rigid vehicle's weight and no more than 11.5 t: Council
# Directive 96/53/EC, Annex I; the share is common practice.
DRIVE_AXLE_SHARE = 0.6
MAX_DRIVE_AXLE_KG = 11_500.0
DRY_ROAD_GRIP = 0.7  # [6]
# Of the drag of gears and axle, what is counted on to hold a vehicle back: warm it is less. [6]
BRAKING_DRAG_SHARE = 0.5
# Of the speed wanted, 3 km/h at 85, by which a dip is run out before one brakes. [6]
DIP_OVERSPEED_SHARE = 0.035


@dataclass(frozen=True, slots=True)
class Prior:
    """A parameter's usual value with its 95 % range, in `unit`, and where these are from."""

    label: Message
    unit: str
    value: float
    low: float
    high: float
    source: str


PRIORS: dict[str, Prior] = {
    "rolling_at_25c": Prior(
        message("parameter/rolling", at=Quantity(25.0, "degC")), "-", 0.0065, 0.005, 0.0085, "[1]"
    ),
    "rolling_per_k": Prior(
        message("parameter/rolling-temperature"), "1/K", 0.005, 0.002, 0.009, "[2]"
    ),
    "temperature_c": Prior(message("parameter/temperature"), "degC", 15.0, 3.0, 27.0, "[6]"),
    "headwind_mps": Prior(message("parameter/wind"), "m/s", 0.0, -3.5, 3.5, "[6]"),
    "torque_factor": Prior(message("parameter/torque"), "-", 1.0, 0.96, 1.04, "[6]"),
    "friction_factor": Prior(message("parameter/friction"), "-", 1.0, 0.67, 1.4, "[6]"),
    "retarder_factor": Prior(message("parameter/retarder"), "-", 1.0, 0.85, 1.05, "[6]"),
    "loss_factor": Prior(message("parameter/losses"), "-", 0.75, 0.1, 1.0, "[4]"),
    "speed_factor": Prior(message("parameter/held-speed"), "-", 1.0, 0.95, 1.05, "[6]"),
    "pace": Prior(message("parameter/pace"), "-", 1.0, 0.5, 1.2, "[6]"),
}


def drag_area_prior(mass_kg: float) -> Prior:
    """Drag area [m2] of a vehicle of that mass [kg]. Source [3]."""
    area = float(np.interp(mass_kg, DRAG_AREA_MASS_KG, DRAG_AREA_M2))
    low, high = (1 - DRAG_AREA_SPREAD) * area, (1 + DRAG_AREA_SPREAD) * area
    return Prior(message("parameter/drag-area"), "m^2", area, low, high, "[3]")


def mass_prior(mass_kg: float) -> Prior:
    """A declared mass [kg], give or take 2 %."""
    low, high = 0.98 * mass_kg, 1.02 * mass_kg
    return Prior(message("parameter/weight"), "kg", mass_kg, low, high, "[6]")


def willans_priors(peak_torque_nm: float) -> dict[str, Prior]:
    """Both coefficients of the Willans line of an engine by its peak torque [N m]. Source [5]."""
    slope = WILLANS_L_PER_KWH
    turning = WILLANS_L_PER_H_PER_KRPM_PER_KNM * peak_torque_nm / 1000
    return {
        "l_per_kwh": Prior(
            message("parameter/energy"), "L/kWh", slope, 0.93 * slope, 1.1 * slope, "[5]"
        ),
        "l_per_h_per_krpm": Prior(
            message("parameter/turning"), "L/h", turning, 0.4 * turning, 2.2 * turning,
            "[5]",
        ),
    }  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Losses:
    """What gearbox and axle take: a share of the torque passed on, and a drag besides.

    Gearbox, at its input: torque x (1 - efficiency) + `gearbox_drag_nm` x (1 + rpm/1000). Axle:
    out = efficiency x (ratio x in - `axle_drag_nm`). The figures here are a simple driveline
    without drag: 40 CFR 1036.545(f)(4) has an axle of 0.955; gears are common practice.
    """

    axle_efficiency: float = 0.955
    direct_efficiency: float = 0.98
    indirect_efficiency: float = 0.96
    gearbox_drag_nm: float = 0.0
    axle_drag_nm: float = 0.0
    axle_ratio: float = 1.0

    def scaled(self, share: float, drag_share: float) -> Losses:
        """A share of what these take of the torque, and of their drag."""
        return replace(
            self,
            axle_efficiency=1 - share * (1 - self.axle_efficiency),
            direct_efficiency=1 - share * (1 - self.direct_efficiency),
            indirect_efficiency=1 - share * (1 - self.indirect_efficiency),
            gearbox_drag_nm=drag_share * self.gearbox_drag_nm,
            axle_drag_nm=drag_share * self.axle_drag_nm,
        )

    def axle_share(self, share: Array | float = 1.0) -> Array | float:
        """What the axle passes on of the torque, drag apart, at a share of these losses."""
        return 1 - share * (1 - self.axle_efficiency)

    def efficiencies(self, ratios: Sequence[float], share: Array | float = 1.0) -> Array:
        """What is passed on of the torque by gear, drag apart, at a share of these losses.

        Shape (gears,), or (n, gears) for shares of shape (n, 1). A gear of ratio 1 is direct.
        """
        direct = np.abs(np.asarray(ratios) - 1) < 1e-3
        through = np.where(direct, self.direct_efficiency, self.indirect_efficiency)
        passed: Array = self.axle_share(share) * (1 - share * (1 - through))
        return passed


def standard_losses(kind: Transmission, peak_torque_nm: float, axle_ratio: float) -> Losses:
    """The standard losses of source [4]: single-reduction axle; gears by kind."""
    drag_share = 0.015 if kind == "converter" else 0.005
    return Losses(
        axle_efficiency=0.98,
        direct_efficiency=0.99,
        indirect_efficiency=0.96,
        gearbox_drag_nm=drag_share * peak_torque_nm,
        axle_drag_nm=70.0 + 20.0 * axle_ratio,
        axle_ratio=axle_ratio,
    )


def driveline_drag_n(
    losses: Losses, share: Array, axle_turns_per_m: Array, ratio: Array, rpm: Array
) -> Array:
    """Drag of gears and axle at the wheels [N], the share of torque they take apart.

    `share` is that of the losses taken, `axle_turns_per_m` the axle input's turns (tires' turns a
    metre times the axle ratio), `ratio` the gear's, `rpm` the gearbox input's.
    """
    radians_per_m = 2 * np.pi * axle_turns_per_m
    gearbox = losses.gearbox_drag_nm * (1 + rpm / 1000) * ratio
    through = gearbox + losses.axle_drag_nm / losses.axle_ratio
    drag: Array = losses.axle_share(share) * share * radians_per_m * through
    return drag


def grip_limit_n(mass_kg: Array) -> Array:
    """Most force [N] the driving tires of a vehicle of that mass [kg] pass to a dry road."""
    on_axle = np.minimum(DRIVE_AXLE_SHARE * mass_kg, MAX_DRIVE_AXLE_KG)
    limit: Array = DRY_ROAD_GRIP * on_axle * STANDARD_GRAVITY_MPS2
    return limit
