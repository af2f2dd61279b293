"""What is told of the mountain routes."""

from __future__ import annotations

from gearing.messages.fields import Items, Quantity, Span, UserText
from gearing.messages.render import Message
from gearing.messages.template import Severity, Template

_W = Severity.WARNING
_ROAD = {"route": UserText("Pass"), "file": UserText("pass.csv", "file")}

_CHECK = Template(
    "check-engine",
    "Check the torque curve and its unit (1 lbf*ft is 1.36 N*m), the weight, the axle ratio and "
    "the gear ratios.",
)

_CURVE = {"end": Quantity(2200.0, "rpm"), "governed": Quantity(2600.0, "rpm")}
_SPEED = {"speed": Quantity(91.0, "km/h")}
_STRETCH = Message("profile-missing/stretch", (("at", Span(1.0, 3.0, "km", 1)),))
_HOLES = Message("profile-missing", (("stretches", Items((_STRETCH,))),))

TEMPLATES: tuple[Template, ...] = (
    _CHECK,
    Template("profile-missing", "no points {stretches}", example={"stretches": Items((_STRETCH,))}),
    Template("profile-missing/stretch", "from {at}", example={"at": Span(1.0, 3.0, "km", 1)}),
    Template(
        "profile-missing/more", "in {places} more {places:place|places}", example={"places": 2}
    ),
    Template("profile-has-holes", "the profile has {holes}", example={"holes": _HOLES}),
    Template(
        "smoothed-profile",
        "The elevation of {routes} is a recording with false grades in it; it was smoothed, and "
        "short steep stretches are steeper than shown here.",
        severity=_W,
        example={"routes": Items((UserText("Pass"), UserText("Gap")), ",")},
    ),
    Template(
        "mountain-model-off",
        "At full load the road model is off by {off} of the logged speed in the middle case "
        "({bias} on average): take the figures for the routes as a comparison of the tires, not "
        "as speeds to expect. {check}",
        severity=_W,
        example={
            "off": Quantity(9.0, "%"),
            "bias": Quantity(6.5, "km/h", 1, sign=True),
            "check": Message("check-engine"),
        },
    ),
    Template(
        "mountain-towing",
        "The routes are calculated for the vehicle's own weight, without what is towed on some "
        "days: with a trailer it climbs slower and brakes more. Declare the whole weight as the "
        "vehicle's mass to see how.",
        severity=_W,
    ),
    Template(
        "mountain-heavier",
        "The routes are calculated for {weight}, and on some days the vehicle weighs {heaviest}: "
        "then it climbs slower and brakes more. Declare that weight as the vehicle's mass to see "
        "how.",
        severity=_W,
        example={"weight": Quantity(12000.0, "kg"), "heaviest": Quantity(14000.0, "kg")},
    ),
    Template(
        "profile-hole",
        "The profile of {route} ({file}) has {holes}: what the road does there is not known, so "
        "the route is not judged. Add points there, at most {spacing} apart.",
        severity=_W,
        example={
            **_ROAD,
            "holes": _HOLES,
            "spacing": Quantity(0.5, "km", 1),
        },
    ),
    Template(
        "profile-not-used",
        "{route}: {why:clause}.",
        severity=_W,
        example={"route": UserText("Pass"), "why": _HOLES},
    ),
    Template(
        "coarse-profile",
        "Points of the profile of {route} ({file}) lie up to {widest} apart: the grade is taken as "
        "even between them, and a steeper stretch there is not seen.",
        severity=_W,
        example={**_ROAD, "widest": Quantity(1.4, "km", 1)},
    ),
    Template(
        "profile-flat",
        "The profile of {route} ({file}) has no climb or descent of {grade} and {rise} or more, so "
        "nothing of a mountain is judged on it. If the road is not so flat, check the units of the "
        "profile's columns.",
        severity=_W,
        example={**_ROAD, "grade": Quantity(1.5, "%", 1), "rise": Quantity(25.0, "m")},
    ),
    Template(
        "profile-steep",
        "The profile of {route} ({file}) is up to {steepest} steep, as hardly a road for heavy "
        "vehicles is. Check the units of its columns: elevations in feet told as meters are 3.3 "
        "times too steep.",
        severity=_W,
        example={**_ROAD, "steepest": Quantity(19.0, "%")},
    ),
    Template(
        "torque-curve-short",
        "The torque curve ends at {end} and governed speed is {governed}: between the two the "
        "torque is taken as at the curve's end, which makes climbs look better than they are. "
        "Check governed_rpm, or add points up to it.",
        severity=_W,
        example=_CURVE,
    ),
    Template(
        "torque-curve-long",
        "The torque curve goes on to {end}, and governed speed is {governed}: no gear is run "
        "faster than that. Check governed_rpm.",
        severity=_W,
        example=_CURVE,
    ),
    Template(
        "torque-off",
        "The logs show {off} {less:less|more} torque at the wheels than the torque curve gives for "
        "this weight, and the routes are calculated with what they show. {check}",
        severity=_W,
        example={"off": Quantity(14.0, "%"), "less": True, "check": Message("check-engine")},
    ),
    Template("transmission/converter", "a torque converter"),
    Template("transmission/manual", "a clutch and a driver who shifts"),
    Template("transmission/automated", "an automated gearbox with a clutch"),
    Template(
        "transmission-off",
        "The study declares {declared}, and {shifts} shifts up under load in the logs look like "
        "{shown}: check vehicle.transmission. The routes are calculated as declared.",
        severity=_W,
        example={
            "declared": Message("transmission/manual"),
            "shown": Message("transmission/converter"),
            "shifts": 40,
        },
    ),
    Template("speed-out-of-reach/old", "{speed} {@on the old tires}", example=_SPEED),
    Template("speed-out-of-reach/new", "{speed} {@on the new tires}", example=_SPEED),
    Template(
        "speed-out-of-reach",
        "The {wanted} wanted are more than the top gear gives at governed speed: {reached}. If the "
        "vehicle does go faster, check axle_ratio, gear_ratios (without the axle in them), "
        "governed_rpm and the tires' revolutions.",
        severity=_W,
        example={
            "wanted": Quantity(96.0, "km/h"),
            "reached": Items((Message("speed-out-of-reach/new", tuple(_SPEED.items())),)),
        },
    ),
)
