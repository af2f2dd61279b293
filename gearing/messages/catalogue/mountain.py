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

_STRETCH = Message("profile-missing/stretch", (("at", Span(1.0, 3.0, "km", 1)),))
_HOLES = Message("profile-missing", (("stretches", Items((_STRETCH,))),))

TEMPLATES: tuple[Template, ...] = (
    _CHECK,
    Template(
        "profile-not-used",
        "{route}: {why:clause}.",
        severity=_W,
        example={"route": UserText("Pass"), "why": Message("spreadsheet")},
    ),
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
)
