"""What is told of fleets."""

from __future__ import annotations

from gearing.messages.fields import Quantity, UserText
from gearing.messages.render import Message
from gearing.messages.template import Severity, Template

_W = Severity.WARNING
_BUS = UserText("bus 9")
_VEHICLE = {"vehicle": _BUS}
_WHY: dict[str, UserText | Message] = {"vehicle": _BUS, "why": Message("fleet-no-fuel")}
_TOLD: dict[str, UserText | Message] = {"vehicle": _BUS, "told": Message("no-fillups")}
_LEFT_OUT = "{vehicle} is not in the fleet's figure: {why:clause}."

_REASONS = (
    Template("fleet-no-fuel", "no fuel data"),
    Template("fleet-not-found", "not found"),
    Template("fleet-not-run", "it was not run"),
    Template("fleet-unread/one-log", "its only log could not be used"),
    Template("fleet-unread/all-logs", "none of its logs could be used"),
    Template(
        "fleet-none/changed",
        "there are no vehicles with new tires whose fuel could be compared",
    ),
    Template("fleet-none/control", "there are no controls whose fuel could be compared"),
    Template(
        "fleet-silent-control",
        "no control's fuel could be compared; of {vehicle}: {why:clause}",
        audience="control",
        example=_WHY,
    ),
    Template(
        "fleet-without-controls",
        'there are no controls; add studies of unchanged vehicles, role = "control"',
    ),
    Template("fleet-none-changed", "no changed vehicle's fuel could be compared"),
    Template("fleet-too-small", "a comparison takes three vehicles at least"),
    Template("fleet-of-one", "one vehicle is no fleet; its own report has its answer"),
    Template(
        "fleet-season-unknown",
        "what is not known of tires, air and wind may be much of the change, and no control shows "
        "what they did",
    ),
)

_WARNINGS = (
    Template("of-vehicle", "{vehicle}: {told}", example=_TOLD),
    Template("of-vehicle/control", "{vehicle}: {told}", audience="control", example=_TOLD),
    Template("left-out", _LEFT_OUT, severity=_W, example=_WHY),
    Template("left-out/control", _LEFT_OUT, severity=_W, audience="control", example=_WHY),
    Template(
        "no-controls",
        "{named:No control tells anything|No vehicle was left as it was}. What all share, such as "
        "the season, the fuel or new routes, stays in the pooled figure; its interval knows of the "
        "weather alone.",
        severity=_W,
        example={"named": True},
    ),
    Template(
        "few-controls",
        "Unchanged vehicles whose fuel could be compared: {controls}, and {wanted} or more are "
        "wanted. What the season did rests on hardly anything, and the interval is wide for it.",
        severity=_W,
        example={"controls": 1, "wanted": 3},
    ),
    Template(
        "no-change-seen",
        "{vehicle} stands among the vehicles with new tires, but its logs show no other size after "
        "than before: its tires seem to have been kept, or its logs are not what its study says. "
        "It stays in the fleet's figure; if it kept its tires, make it a control.",
        severity=_W,
        example=_VEHICLE,
    ),
    Template(
        "vehicles-differ",
        "The vehicles differ by more than their own errors explain (standard deviation {between} "
        "points): the average stands for none of them. Look at each one's roads, load and tires.",
        severity=_W,
        example={"between": Quantity(3.9, "-", 1)},
    ),
    Template(
        "same-figures",
        "{vehicle} and {other} have the same figures to the last digit: their studies seem to name "
        "the same logs, and count twice.",
        severity=_W,
        example=_VEHICLE | {"other": UserText("bus 3")},
    ),
    Template(
        "same-figures/logs",
        "The studies of {vehicle} and {other} name {logs} {logs:log|logs} in common, as {file}: "
        "what one vehicle drove counts for both. Take it out of one.",
        severity=_W,
        example=_VEHICLE
        | {"other": UserText("bus 3"), "logs": 12, "file": UserText("a.csv", "file")},
    ),
    Template(
        "hardly-known",
        "{vehicle} is known far less well than the others: its own interval is {times} times as "
        "wide as is usual here. It moves the fleet's figure all the same and widens its interval; "
        "more days of it would mend that.",
        severity=_W,
        example=_VEHICLE | {"times": Quantity(8.0, "-")},
    ),
    Template(
        "controls-other-season",
        "The air changed by {changed} for the vehicles with new tires and by {controls} for the "
        "controls: these stand for another season. Split them at the dates the others changed.",
        severity=_W,
        example={
            "changed": Quantity(12.0, "K", sign=True),
            "controls": Quantity(-3.0, "K", sign=True),
        },
    ),
    Template(
        "control-changed",
        "{vehicle} stands as a control, but its effective axle ratio changed by {change}: its "
        "tires seem to have changed as well. It is kept out of the fleet's figure; if you agree, "
        "make it one of the changed vehicles.",
        severity=_W,
        example=_VEHICLE | {"change": Quantity(-3.5, "%", 1, sign=True)},
    ),
)

TEMPLATES: tuple[Template, ...] = (*_REASONS, *_WARNINGS)
