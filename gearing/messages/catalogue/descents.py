"""What is told of long descents."""

from __future__ import annotations

from gearing.messages.fields import Items, Quantity, Span
from gearing.messages.render import Field, Message
from gearing.messages.template import Template

_AT = Span(28.3, 38.5, "km", 1)
_UNHELD: dict[str, Field] = {"wanted": Quantity(97.0, "km/h"), "at": _AT, "share": 12}
_HOLDS = Message("gear-holds", (("gear", 4), ("speed", Quantity(71.0, "km/h"))))

TEMPLATES: tuple[Template, ...] = (
    Template(
        "brake-model",
        "Grade Severity Rating System, FHWA 1981 and 1989, and a state's update of it, 2016 to "
        "2020",
    ),
    Template(
        "no-brake-temperature",
        "the published model of brake temperature was fitted to laden five-axle tractor-trailers "
        "with drum brakes, and nothing is said of others: {lacks}",
        example={"lacks": Items((Message("no-brake-temperature/brakes"),))},
    ),
    Template("no-brake-temperature/combination", "the study does not declare combination = true"),
    Template("no-brake-temperature/axles-unknown", "it does not declare axles"),
    Template("no-brake-temperature/axles", "this one has {axles} axles", example={"axles": 2}),
    Template("no-brake-temperature/brakes-unknown", "it does not declare brakes"),
    Template("no-brake-temperature/brakes", "this one has disc brakes on an axle"),
    Template(
        "no-brake-temperature/weight",
        "its weight of {weight} is not from {fitted}",
        example={"weight": Quantity(12000.0, "kg"), "fitted": Span(16000.0, 37000.0, "kg")},
    ),
    Template(
        "descent-unheld",
        "in {share} of 100 simulated drives no gear holds {wanted} down from {at} without the "
        "brakes",
        example=_UNHELD,
    ),
    Template(
        "descent-unheld/lower",
        "in {share} of 100 simulated drives no gear holds {wanted} down from {at} without the "
        "brakes: about {lower}",
        example=_UNHELD | {"lower": Items((_HOLDS,))},
    ),
    Template("gear-holds", "{speed} in gear {gear}", example=dict(_HOLDS.fields)),
    Template(
        "gear-holds/middle",
        "{speed} in gear {gear} in the middle case",
        example=dict(_HOLDS.fields),
    ),
    Template(
        "descent-braking",
        "down from {at} the service brakes do the work of up to {stops} full stops from {speed} "
        "(95 of 100 simulated drives)",
        example={
            "at": _AT,
            "stops": Quantity(2.8, "-", 1),
            "speed": Quantity(97.0, "km/h"),
        },
    ),
    Template(
        "descent-hot",
        "down from {at} the drum brakes may reach {highest} with one emergency stop by the "
        "published model, and its authors call {limit} the most",
        example={
            "at": _AT,
            "highest": Quantity(310.0, "degC"),
            "limit": Quantity(260.0, "degC"),
        },
    ),
)
