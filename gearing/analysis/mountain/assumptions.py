"""What the road model takes for granted about the vehicle, beside its figures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages import Measured, Message, Quantity, field_of, message, places_of
from gearing.messages.display import Display
from gearing.units import FOOT_M

if TYPE_CHECKING:
    from gearing.analysis.mountain.result import Parameter
    from gearing.study.model import Vehicle
    from gearing.vehicle.engine import Engine
    from gearing.vehicle.powertrain import Powertrain

DERATE_EVERY_M = 1000 * FOOT_M  # as makers give it


def assumed_figure(one: Parameter) -> Message:
    """An input that is neither declared nor measured, with its range."""
    figures = (one.value, one.low, one.high)
    turned = [Display("us").turned(figure, one.unit)[0] for figure in figures]
    places = max(places_of(*figures), places_of(*turned, figures=2))
    return message(
        "assumed/input",
        input=field_of(one.label),
        figure=Measured(*figures, one.unit, places),
    )


def assumptions(
    vehicle: Vehicle, powertrain: Powertrain, *, shifts_seen: bool
) -> tuple[Message, ...]:
    """What is assumed besides the inputs' figures; `powertrain` is the one taken."""
    return (
        *_of_engine(vehicle, powertrain.engine),
        *_of_transmission(vehicle, powertrain),
        message("assumed/same-rolling"),
        *_of_braking(vehicle, powertrain, shifts_seen=shifts_seen),
    )


def _of_engine(vehicle: Vehicle, engine: Engine) -> list[Message]:
    declared = vehicle.engine
    assert declared is not None
    said = []
    if declared.governed_rpm is None:
        said.append(message("assumed/governed-speed", speed=Quantity(engine.governed_rpm, "rpm")))
    if declared.idle_rpm is None:
        said.append(message("assumed/idle-speed", speed=Quantity(engine.idle_rpm, "rpm")))
    if declared.derate_above_m is None or declared.derate_percent_per_km is None:
        loss = engine.derate_percent_per_km * DERATE_EVERY_M / 1000
        said.append(
            message(
                "assumed/thin-air",
                above=Quantity(engine.derate_above_m, "m", -2),
                loss=Quantity(loss, "%", 1),
                every=Quantity(DERATE_EVERY_M, "m"),
            )
        )
    return said


def _of_transmission(vehicle: Vehicle, powertrain: Powertrain) -> list[Message]:
    said = []
    if powertrain.kind == "converter":
        said.append(message("assumed/converter"))
    elif vehicle.transmission is None:
        first = Quantity(vehicle.gear_ratios[0], "-", 2)
        said.append(message("assumed/automated", first=first))
    if powertrain.fan_w > 0:
        said.append(message("assumed/fan", power=Quantity(powertrain.fan_w, "W")))
    return said


def _of_braking(vehicle: Vehicle, powertrain: Powertrain, *, shifts_seen: bool) -> list[Message]:
    assert vehicle.engine is not None
    retarder = vehicle.engine.retarder
    if retarder is None:
        said = [message("assumed/no-retarder")]
    elif retarder.shaft == "engine":
        said = [message("assumed/engine-retarder")]
    else:
        said = [message("assumed/shaft-retarder")]
    if not shifts_seen:
        said.append(message("assumed/shift-points"))
    return [
        *said,
        message(
            "assumed/driver",
            retarder=retarder is not None,
            changes=powertrain.changes_down,
        ),
    ]
