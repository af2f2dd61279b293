"""What is told of long descents."""

from __future__ import annotations

from gearing.messages.fields import Items, Quantity, Span
from gearing.messages.render import Message
from gearing.messages.template import Template

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
        "in {share} of 100 simulated drives no gear holds the steepest stretch at the speed "
        "wanted there",
        example={"share": 12},
    ),
    Template(
        "descent-braking",
        "the service brakes take up to {work} (in 95 of 100 simulated drives), as much as {stops} "
        "full stops from the speed wanted there",
        example={"work": Quantity(2.4, "kWh", 1), "stops": Quantity(2.8, "-", 1)},
    ),
    Template(
        "descent-hot",
        "by the published model the drum brakes may reach {highest} with one emergency stop, and "
        "its authors call {limit} the most",
        example={"highest": Quantity(310.0, "degC"), "limit": Quantity(260.0, "degC")},
    ),
)
