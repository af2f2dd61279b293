"""What may be behind a change of the odometer factor and of engine speed, and what would tell."""

from __future__ import annotations

from gearing.messages.fields import Quantity
from gearing.messages.render import Field, Message
from gearing.messages.template import Template

_LARGER = Message("change/larger", (("by", Quantity(3.6, "%", 1)),))
_SAID: dict[str, Field] = {"by": _LARGER, "expected": Quantity(3.3, "%", 1, sign=True)}

TEMPLATES: tuple[Template, ...] = (
    Template("change-unknown/factor", "the odometer factor is not known in both periods"),
    Template(
        "change-unknown/revolutions",
        "engine or shaft speed is not known with true speed in both periods",
    ),
    Template("change-unknown/engine", "engine speed is not known in both periods"),
    Template("change-unknown/one-of-two", "one of the two is not known"),
    Template(
        "change-unknown/declared",
        "the size or published revolutions of both periods' drive tires are needed",
    ),
    Template("change-unknown/not-seen", "not seen"),
    Template("change-unknown/nothing", "nothing to measure"),
    Template("cause/tires", "other tires, computer left as it was"),
    Template("cause/axle", "another axle ratio"),
    Template("cause/computer", "the computer reprogrammed, the same tires"),
    Template("cause/tires-and-computer", "other tires, and the computer reprogrammed"),
    Template("cause/front-wheels", "speed taken at the front wheels"),
    Template("cause/one-gear", "another ratio in one gear"),
    Template("cause/nothing", "nothing changed"),
    Template(
        "cause-told/tires",
        "Drive tires {by} around, the computer unchanged.",
        example={"by": _LARGER},
    ),
    Template(
        "cause-told/tires-as-declared",
        "Drive tires {by} around, the computer unchanged. Sizes or published figures say "
        "{expected}.",
        example=_SAID,
    ),
    Template(
        "cause-told/tires-not-as-declared",
        "Drive tires {by} around, the computer unchanged. But sizes or published figures say "
        "{expected}, too far from it for the declared tires alone.",
        example=_SAID,
    ),
    Template(
        "cause-told/axle-behind-shaft",
        "An axle ratio {by}: behind an output-shaft sensor it looks exactly like other tires.",
        example={"by": Message("change/lower", (("by", Quantity(3.5, "%", 1)),))},
    ),
    Template(
        "cause-told/axle-before-wheels",
        "An axle ratio {by}: with speed taken at the wheels it changes the engine revolutions "
        "alone.",
        example={"by": Message("change/lower", (("by", Quantity(3.5, "%", 1)),))},
    ),
    Template(
        "cause-told/computer",
        "A setting of the computer {by}, nothing on the vehicle changed.",
        example={"by": Message("change/higher", (("by", Quantity(3.6, "%", 1)),))},
    ),
    Template(
        "cause-told/tires-and-computer",
        "Drive tires {by} around, and the computer's setting changed so that it counts {counts}.",
        example={
            "by": _LARGER,
            "counts": Message("change/less", (("by", Quantity(0.5, "%", 1)),)),
        },
    ),
    Template(
        "cause-told/front-wheels",
        "Indicated speed follows the steer tires, engine speed the drive tires: each changes with "
        "its own tires only.",
    ),
    Template(
        "cause-told/one-gear",
        "Gear {gear} changed against the others by {by}.",
        example={"gear": 4, "by": Quantity(2.1, "%", 1)},
    ),
    Template(
        "cause-told/every-gear",
        "Every gear changed by the same within {within}, which no single gear pair does.",
        example={"within": Quantity(0.04, "%", 2)},
    ),
    Template(
        "cause-told/nothing",
        "Neither figure changed: the tires turn the same, or the logs of one period are not from "
        "the tires the study says.",
    ),
    Template(
        "what-tells/roll-out",
        "mark a drive tire and the road, roll ten turns under load, measure: that is the "
        "circumference itself; and count turns of the propeller shaft for one turn of the wheels: "
        "that is the axle",
    ),
    Template(
        "what-tells/setting",
        "read the tire or pulse setting out of the computer before and after",
    ),
    Template(
        "what-tells/axle-plate",
        "read the axle's plate or count propeller-shaft turns for one turn of the wheels",
    ),
    Template(
        "what-tells/sensor",
        "find the sensor: at a front wheel or at the transmission's tail; compare bus speed with "
        "output-shaft speed while one drive wheel spins on a jack",
    ),
    Template("what-tells/gear-by-gear", "compare engine speed gear by gear"),
    Template("what-tells/sidewalls", "look at the sidewalls, and at the dates of the logs"),
)
