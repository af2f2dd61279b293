"""What the road model is fed: declared, estimated from the logs, or usual; and its draws.

What is usual, its range and source stand in `gearing.vehicle.parameters`. A declared mass is
good to 2 %, a drag area to 7 %, a rolling resistance to 12 % (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.mountain.brake_class import outside_brake_class
from gearing.analysis.mountain.result import Parameter
from gearing.statistics.estimate import NORMAL_95
from gearing.units import convert
from gearing.vehicle.engine import (
    ASPIRATED_DERATE_ABOVE_M,
    PERCENT_PER_KM_PER_3_PERCENT_PER_1000_FT,
    TURBO_DERATE_ABOVE_M,
    Engine,
    Retarder,
    WillansLine,
    default_idle_rpm,
    default_inertia_kgm2,
)
from gearing.vehicle.parameters import (
    PRIORS,
    Losses,
    Prior,
    drag_area_prior,
    mass_prior,
    standard_losses,
    willans_priors,
)
from gearing.vehicle.powertrain import (
    HABITS,
    Converter,
    Powertrain,
    ShiftPoints,
    Transmission,
    default_shift_points,
)
from gearing.vehicle.road_load import rotating_mass_kg

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.messages import Text
    from gearing.study.model import Study, Vehicle

    Array = NDArray[np.float64]

FAN_SHARE = 0.04  # of peak power, at governed speed; common practice, no source
AUTOMATIC_FIRST_GEAR = 5.0


@dataclass(frozen=True, slots=True)
class Inputs:
    """A powertrain and what is not known for sure about its use, by parameter name."""

    powertrain: Powertrain
    parameters: dict[str, Parameter]
    tires: int
    other_assumptions: tuple[str, ...]
    no_brake_temperature: Text | None = None  # why none is told of this vehicle

    @property
    def rotating_kg(self) -> float:
        return rotating_mass_kg(self.tires)

    def central(self, name: str) -> float:
        return self.parameters[name].value

    def draw(self, name: str, standard_normal: Array) -> Array:
        """A parameter's value at standard normal deviates, kept within 1.5 times its range."""
        one = self.parameters[name]
        spread = np.where(standard_normal > 0, one.high - one.value, one.value - one.low)
        deviate = np.clip(standard_normal, -1.5 * NORMAL_95, 1.5 * NORMAL_95)
        drawn: Array = one.value + spread * deviate / NORMAL_95
        return drawn


def missing(study: Study, *, mass_too: bool = True) -> str | None:
    """What the study must still say before any route can be judged, in words; None if nothing."""
    vehicle = study.vehicle
    wanted = [
        (vehicle.engine is None, "a torque curve under [vehicle.engine]"),
        (not vehicle.gear_ratios, "gear_ratios under [vehicle]"),
        (vehicle.axle_ratio is None, "axle_ratio under [vehicle]"),
        (mass_too and vehicle.mass_kg is None, "mass under [vehicle]"),
    ]
    parts = [words for lacks, words in wanted if lacks]
    if not parts:
        return None
    listed = parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1]
    return f"the study does not give {listed}"


def make_inputs(
    study: Study,
    learned: dict[str, Parameter],
    shifts: ShiftPoints | None,
    *,
    weighed: bool = True,
) -> Inputs:
    """Inputs from the study, from what the logs showed (`learned`), else from the defaults.

    Not `weighed`: the study's mass is one found from torque, known to 10 % only.

    Raises
    ------
    ValueError
        the study lacks something `missing` names.
    """
    reason = missing(study)
    vehicle = study.vehicle
    if reason or vehicle.engine is None or vehicle.axle_ratio is None or vehicle.mass_kg is None:
        raise ValueError(reason)
    peak = max(vehicle.engine.torque_nm)
    parameters = _defaults(vehicle, vehicle.mass_kg, peak)
    if not weighed:
        mass = vehicle.mass_kg
        parameters["mass_kg"] = parameter(
            "mass_kg", mass, 0.90 * mass, 1.10 * mass, "from torque, grade and acceleration"
        )
    losses = standard_losses(transmission_of(vehicle), peak, vehicle.axle_ratio)
    if "torque_factor" in learned:  # found at the wheels, with losses of a constant share
        parameters.pop("loss_factor")
        losses = Losses()
    kept = {name: one for name, one in learned.items() if weighed or name != "mass_kg"}
    parameters.update(kept)
    willans = WillansLine(parameters["l_per_kwh"].value, parameters["l_per_h_per_krpm"].value)
    engine = _engine(vehicle, willans)
    kind = transmission_of(vehicle)
    points = shifts or default_shift_points(engine, vehicle.gear_ratios, kind)
    powertrain = Powertrain(
        engine=engine,
        gear_ratios=vehicle.gear_ratios,
        axle_ratio=vehicle.axle_ratio,
        shift_points=points,
        kind=kind,
        losses=losses,
        converter=Converter() if kind == "converter" else None,
        # torque found from the logs is what is left after the fan
        fan_w=0.0 if "torque_factor" in learned else FAN_SHARE * engine.peak_power_w,
        shift_interruption_s=HABITS[kind].interruption_s,
    )
    said = _assumptions(vehicle, engine, powertrain.fan_w, shifts)
    outside = outside_brake_class(vehicle, parameters["mass_kg"].value)
    return Inputs(powertrain, parameters, _tires(study), said, outside)


def transmission_of(vehicle: Vehicle) -> Transmission:
    """As declared; else by its first gear, which is under 5 where a converter multiplies torque
    and over 6 in heavy gearboxes without one (common practice, no source)."""
    if vehicle.transmission is not None:
        return vehicle.transmission
    automatic = bool(vehicle.gear_ratios) and vehicle.gear_ratios[0] < AUTOMATIC_FIRST_GEAR
    return "converter" if automatic else "automated"


def _engine(vehicle: Vehicle, willans: WillansLine) -> Engine:
    declared = vehicle.engine
    assert declared is not None
    peak = max(declared.torque_nm)
    aspirated = vehicle.fuel == "gasoline"
    above = ASPIRATED_DERATE_ABOVE_M if aspirated else TURBO_DERATE_ABOVE_M
    retarder = declared.retarder
    governed = declared.governed_rpm or declared.rpm[-1]
    idle = declared.idle_rpm
    if idle is None or idle >= governed:  # the curve may end below the idle declared
        idle = default_idle_rpm(declared.rpm[0], governed)
    return Engine(
        rpm=declared.rpm,
        torque_nm=declared.torque_nm,
        governed_rpm=governed,
        idle_rpm=idle,
        willans=willans,
        derate_above_m=above if declared.derate_above_m is None else declared.derate_above_m,
        derate_percent_per_km=(
            PERCENT_PER_KM_PER_3_PERCENT_PER_1000_FT
            if declared.derate_percent_per_km is None
            else declared.derate_percent_per_km
        ),
        inertia_kgm2=default_inertia_kgm2(peak),
        retarder=None
        if retarder is None
        else Retarder(retarder.rpm, retarder.power_w, retarder.shaft == "output shaft"),
    )


def _defaults(vehicle: Vehicle, mass_kg: float, peak_nm: float) -> dict[str, Parameter]:
    usual = {
        "mass_kg": mass_prior(mass_kg),
        "drag_area_m2": drag_area_prior(mass_kg),
        **PRIORS,
        **willans_priors(peak_nm),
    }
    if vehicle.engine is None or vehicle.engine.retarder is None:
        usual.pop("retarder_factor")
    found = {name: _assumed(name, prior) for name, prior in usual.items()}
    for name in ("mass_kg", "torque_factor", "retarder_factor"):
        if name in found:
            found[name] = replace(found[name], source="declared", assumed=False)
    if vehicle.drag_area_m2 is not None:
        area = vehicle.drag_area_m2
        found["drag_area_m2"] = parameter(
            "drag_area_m2", area, 0.93 * area, 1.07 * area, "declared"
        )
    if vehicle.rolling_resistance is not None:
        rolling = vehicle.rolling_resistance
        found["rolling_at_25c"] = parameter(
            "rolling_at_25c", rolling, 0.88 * rolling, 1.12 * rolling, "declared"
        )
    if vehicle.rolling_temperature_per_k is not None:
        per_k = vehicle.rolling_temperature_per_k
        low, high = min(0.002, per_k), max(0.009, per_k)
        found["rolling_per_k"] = parameter("rolling_per_k", per_k, low, high, "declared")
    return found


LABELS = {
    name: (prior.label, prior.unit)
    for name, prior in {
        **PRIORS,
        **willans_priors(1000.0),
        "mass_kg": mass_prior(1.0),
        "drag_area_m2": drag_area_prior(1.0),
    }.items()
}


def _assumed(name: str, prior: Prior) -> Parameter:
    return parameter(name, prior.value, prior.low, prior.high, "")


def parameter(name: str, value: float, low: float, high: float, source: str) -> Parameter:
    """A parameter by its known name; no source means it is assumed."""
    label, unit = LABELS[name]
    return Parameter(
        name=name,
        label=label,
        unit=unit,
        value=value,
        low=low,
        high=high,
        source=source or "assumed",
        assumed=not source,
    )


def with_temperature(inputs: Inputs, altitude_m: float, celsius: float, spread_k: float) -> Inputs:
    """The same inputs at the temperature the logs show near an altitude [m]."""
    at_sea = celsius + 0.0065 * altitude_m
    one = parameter("temperature_c", at_sea, at_sea - spread_k, at_sea + spread_k, "from the logs")
    return replace(inputs, parameters={**inputs.parameters, "temperature_c": one})


def _tires(study: Study) -> int:
    """Tires on the road: six with duals on the drive axle, four with singles."""
    fitment = next((p.fitment for p in (study.after, study.before) if p and p.fitment), "dual")
    return 6 if fitment == "dual" else 4


def _assumptions(
    vehicle: Vehicle, engine: Engine, fan_w: float, shifts: ShiftPoints | None
) -> tuple[str, ...]:
    declared = vehicle.engine
    assert declared is not None
    said = []
    if declared.governed_rpm is None:
        said.append(f"governed speed {engine.governed_rpm:.0f} rpm, the torque curve's last point")
    if declared.idle_rpm is None:
        said.append(f"idle speed {engine.idle_rpm:.0f} rpm")
    if declared.derate_above_m is None or declared.derate_percent_per_km is None:
        above_ft = round(convert(engine.derate_above_m, "m", "ft"), -2)
        said.append(
            f"above {above_ft:,.0f} ft ({engine.derate_above_m:,.0f} m) of altitude the engine "
            f"loses {engine.derate_percent_per_km * 0.3048:.1f} % of its torque for every 1,000 ft "
            "(305 m)"
        )
    kind = transmission_of(vehicle)
    if kind == "converter":
        said.append("a torque converter of stall ratio 1.9 that locks from third gear on")
    elif vehicle.transmission is None:
        said.append(
            "an automated gearbox without a torque converter, as the first gear is "
            f"{vehicle.gear_ratios[0]:.2f}"
        )
    if fan_w > 0:
        said.append(
            f"a fan that takes {fan_w / 1000:.0f} kW at governed speed once the engine has worked "
            "hard for a minute and a half"
        )
    said.append("the same rolling resistance on both sets of tires, so that only gearing differs")
    if declared.retarder is None:
        said.append("no retarder: engine friction and the service brakes alone")
    elif declared.retarder.shaft == "engine":
        said.append(
            "retarder power as declared, on top of the engine's own friction: where the maker's "
            "figure holds the friction too, less is to be declared"
        )
    else:
        said.append(
            "a retarder on the output shaft, its power as declared however long the descent: one "
            "that grows hot gives less"
        )
    if shifts is None:
        said.append("shift points from the torque curve")
    always = "" if declared.retarder is None else "; a retarder that is always on"
    said.append(
        "downhill a driver who changes down where the gear would leave over a full stop to the "
        "service brakes, and in half of the draws one who leaves the gear as on the level and "
        f"brakes{always}"
    )
    return tuple(said)
