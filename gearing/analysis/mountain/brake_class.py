"""Whether a vehicle is of the class that the brake temperature model was fitted to."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages import Items, Message, Quantity, Span, message
from gearing.vehicle.brake_temperature import CLASS_AXLES, HEAVIEST_KG, LIGHTEST_KG

if TYPE_CHECKING:
    from gearing.study.model import Vehicle


def outside_brake_class(vehicle: Vehicle, mass_kg: float) -> Message | None:
    """Why no brake temperature is told of a vehicle of that mass [kg]; None where one may be."""
    lacks = []
    if not vehicle.combination:
        lacks.append(message("no-brake-temperature/combination"))
    if vehicle.axles is None:
        lacks.append(message("no-brake-temperature/axles-unknown"))
    elif vehicle.axles != CLASS_AXLES:
        lacks.append(message("no-brake-temperature/axles", axles=vehicle.axles))
    if vehicle.brakes is None:
        lacks.append(message("no-brake-temperature/brakes-unknown"))
    elif vehicle.brakes != "drum":
        lacks.append(message("no-brake-temperature/brakes"))
    if not LIGHTEST_KG <= mass_kg <= HEAVIEST_KG:
        lacks.append(
            message(
                "no-brake-temperature/weight",
                weight=Quantity(mass_kg, "kg"),
                fitted=Span(LIGHTEST_KG, HEAVIEST_KG, "kg"),
            )
        )
    return message("no-brake-temperature", lacks=Items(tuple(lacks))) if lacks else None
