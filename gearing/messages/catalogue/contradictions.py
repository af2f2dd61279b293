"""What is told where the study declares what the logs rule out."""

from __future__ import annotations

from gearing.messages.fields import Items, Quantity, Span, UserText
from gearing.messages.render import Message
from gearing.messages.template import Severity, Template

_W = Severity.WARNING

TEMPLATES: tuple[Template, ...] = (
    Template(
        "declared-contradicts-logs/efficiency",
        "With {weight} the engine would turn {share} of the fuel's energy into work at the "
        "crankshaft; in {diesel:diesel|gasoline} engines it is {possible}. Weight or fuel is not "
        "as declared, and what rests on the weight is not answered. "
        "Check the weight and its unit, and the fuel.",
        severity=_W,
        example={
            "weight": Quantity(26500.0, "kg"),
            "share": Quantity(64.0, "%"),
            "possible": Span(28.0, 55.0, "%"),
            "diesel": True,
        },
    ),
    Template(
        "declared-contradicts-logs/torque",
        "The logs show {off} {more:more|less} torque at the wheels than the torque curve gives "
        "for the weight declared: one of the two is not as declared, and the routes are not "
        "judged. {check}",
        severity=_W,
        example={"off": Quantity(49.0, "%"), "more": True, "check": Message("check-engine")},
    ),
    Template(
        "not-as-declared",
        "{keys} as declared {one:does|do} not fit the logs",
        example={"keys": Items((UserText("vehicle.mass"),)), "one": True},
    ),
    Template("not-as-declared/swapped", "the two periods look swapped, see the warnings"),
)
