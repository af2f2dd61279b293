"""What the road model is fed: declared, estimated from the logs, or usual; and its draws.

What is usual, its range and source stand in `gearing.vehicle.parameters`. A declared mass is
good to 2 %, a drag area to 7 %, a rolling resistance to 12 % (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.mountain.assumptions import assumptions
from gearing.analysis.mountain.brake_class import outside_brake_class
from gearing.analysis.mountain.result import Parameter
from gearing.messages import Items, Message, message
from gearing.statistics.estimate import NORMAL_95
from gearing.vehicle.atmosphere import LAPSE_K_PER_M
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
    from gearing.statistics.arrays import Array
    from gearing.study.model import Study, Vehicle
    from gearing.trips.shifts import Upshifts

DECLARED, FROM_LOGS = message("source/declared"), message("source/logs")
LABELS = {
    name: (prior.label, prior.unit)
    for name, prior in {
        **PRIORS,
        **willans_priors(1000.0),
        "mass_kg": mass_prior(1.0),
        "drag_area_m2": drag_area_prior(1.0),
    }.items()
} | {"idle_lph": (message("parameter/standing-fuel"), "L/h")}
FAN_SHARE = 0.04  # of peak power, at governed speed; common practice, no source
AUTOMATIC_FIRST_GEAR = 5.0
# Shifts up under load, and the shares of them, by which a kind of transmission is told.
MIN_UPSHIFTS, RARELY, OFTEN = 12, 0.2, 0.6
MIN_LOCKUP_S = 30.0


@dataclass(frozen=True, slots=True)
class Inputs:
    """A powertrain and what is not known for sure about its use, by parameter name."""

    powertrain: Powertrain
    parameters: dict[str, Parameter]
    tires: int
    other_assumptions: tuple[Message, ...]
    no_brake_temperature: Message | None = None  # why none is told of this vehicle

    @property
    def rotating_kg(self) -> float:
        """Mass [kg] that the rotating tires and wheels count as."""
        return rotating_mass_kg(self.tires)

    def central(self, name: str) -> float:
        """The most likely value of a parameter."""
        return self.parameters[name].value

    def draw(self, name: str, standard_normal: Array) -> Array:
        """A parameter's value at standard normal deviates, kept within 1.5 times its range."""
        one = self.parameters[name]
        spread = np.where(standard_normal > 0, one.high - one.value, one.value - one.low)
        deviate = np.clip(standard_normal, -1.5 * NORMAL_95, 1.5 * NORMAL_95)
        drawn: Array = one.value + spread * deviate / NORMAL_95
        return drawn


def missing(study: Study, *, mass_too: bool = True) -> Message | None:
    """What the study must still say before any route can be judged; None if nothing."""
    vehicle = study.vehicle
    wanted = [
        (vehicle.engine is None, message("vehicle-lacks/engine")),
        (not vehicle.gear_ratios, message("vehicle-lacks/gears")),
        (vehicle.axle_ratio is None, message("vehicle-lacks/axle")),
        (mass_too and vehicle.mass_kg is None, message("vehicle-lacks/mass")),
    ]
    parts = tuple(told for lacks, told in wanted if lacks)
    return message("vehicle-lacks", lacks=Items(parts)) if parts else None


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
        raise ValueError(str(reason))
    peak = max(vehicle.engine.torque_nm)
    parameters = _defaults(vehicle, vehicle.mass_kg, peak)
    if not weighed:
        mass = vehicle.mass_kg
        parameters["mass_kg"] = parameter(
            "mass_kg", mass, 0.90 * mass, 1.10 * mass, message("source/torque")
        )
    losses = standard_losses(transmission_of(vehicle), peak, vehicle.axle_ratio)
    usual_share = parameters["loss_factor"].value
    kept = {name: one for name, one in learned.items() if weighed or name != "mass_kg"}
    parameters.update(kept)
    if "torque_factor" in learned:  # found at the wheels: what is open of the losses is in it
        losses = losses.scaled(usual_share, parameters.pop("loss_factor").value)
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
        idle_lph=parameters["idle_lph"].value if "idle_lph" in parameters else None,
    )
    said = assumptions(vehicle, powertrain, shifts_seen=shifts is not None)
    outside = outside_brake_class(vehicle, parameters["mass_kg"].value)
    return Inputs(powertrain, parameters, _tires(study), said, outside)


def kind_of(kind: Transmission) -> Message:
    """What a kind of transmission is called."""
    if kind == "converter":
        return message("transmission/converter")
    return message("transmission/manual" if kind == "manual" else "transmission/automated")


def shown_kind(shifts: Upshifts, first_gear: float) -> Transmission | None:
    """The kind of transmission that shifts up under load show; None where they do not.

    A converter that is told locked and open, or that pulls through; else a clutch, whose driver
    lifts the foot or whose computer needs none to.
    """
    if min(shifts.open_s, shifts.locked_s) >= MIN_LOCKUP_S:
        return "converter"
    if shifts.count < MIN_UPSHIFTS or RARELY < shifts.breaks / shifts.count < OFTEN:
        return None
    if shifts.breaks / shifts.count <= RARELY:
        return "converter"
    if shifts.pedal_known >= MIN_UPSHIFTS / 2:
        share = shifts.lifted / shifts.pedal_known
        return "manual" if share >= OFTEN else "automated" if share <= RARELY else None
    return "automated" if first_gear >= AUTOMATIC_FIRST_GEAR else "manual"


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
            found[name] = replace(found[name], source=DECLARED, assumed=False)
    if vehicle.drag_area_m2 is not None:
        area = vehicle.drag_area_m2
        found["drag_area_m2"] = parameter("drag_area_m2", area, 0.93 * area, 1.07 * area, DECLARED)
    if vehicle.rolling_resistance is not None:
        rolling = vehicle.rolling_resistance
        found["rolling_at_25c"] = parameter(
            "rolling_at_25c", rolling, 0.88 * rolling, 1.12 * rolling, DECLARED
        )
    if vehicle.rolling_temperature_per_k is not None:
        per_k = vehicle.rolling_temperature_per_k
        low, high = min(0.002, per_k), max(0.009, per_k)
        found["rolling_per_k"] = parameter("rolling_per_k", per_k, low, high, DECLARED)
    return found


def _assumed(name: str, prior: Prior) -> Parameter:
    return parameter(name, prior.value, prior.low, prior.high, None)


def parameter(
    name: str, value: float, low: float, high: float, source: Message | None
) -> Parameter:
    """A parameter by its known name; no source means it is assumed."""
    label, unit = LABELS[name]
    return Parameter(
        name=name,
        label=label,
        unit=unit,
        value=value,
        low=low,
        high=high,
        source=source or message("source/assumed"),
        assumed=source is None,
    )


def with_temperature(inputs: Inputs, altitude_m: float, celsius: float, spread_k: float) -> Inputs:
    """The same inputs at the temperature the logs show near an altitude [m]."""
    at_sea = celsius + LAPSE_K_PER_M * altitude_m
    one = parameter("temperature_c", at_sea, at_sea - spread_k, at_sea + spread_k, FROM_LOGS)
    return replace(inputs, parameters={**inputs.parameters, "temperature_c": one})


def _tires(study: Study) -> int:
    """Tires on the road: six with duals on the drive axle, four with singles."""
    fitment = next((p.fitment for p in (study.after, study.before) if p and p.fitment), "dual")
    return 6 if fitment == "dual" else 4
