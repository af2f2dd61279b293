"""What is told of candidates: sizes and axles not bought yet."""

from __future__ import annotations

from gearing.messages.fields import Quantity, UserText
from gearing.messages.template import Severity, Template

TEMPLATES: tuple[Template, ...] = (
    Template(
        "no-candidates",
        "The study names no [[candidate]].",
        severity=Severity.ERROR,
        remedy=(
            'Add one for each choice: [[candidate]], then name = "275 with the tall axle" and '
            'drive_tire = "275/70R19.5", axle_ratio = 4.56 or both. What is left out stays as it '
            "is."
        ),
    ),
    Template(
        "candidates-computer-right",
        "No log says what the computer shows: it is taken to be right on the tires compared with.",
    ),
    Template(
        "candidate-source-unknown",
        "what the computer shows with another axle depends on where it takes the speed: declare "
        "speed_source in [vehicle]",
    ),
    Template("candidate-axle-unknown", "the study does not give the present axle_ratio"),
    Template(
        "candidate-same/before",
        "The same tires and axle as [before]: it changes nothing.",
    ),
    Template("candidate-same/after", "The same tires and axle as [after]."),
    Template(
        "candidate-same",
        "The same tires and axle as {other}.",
        example={"other": UserText("275 with the tall axle")},
    ),
    Template(
        "candidate-far/larger",
        "It rolls {by} farther a turn than the present tires. No tire that much larger goes on a "
        "vehicle as it stands: check the size.",
        example={"by": Quantity(40.0, "%")},
    ),
    Template(
        "candidate-far/smaller",
        "It rolls {by} less far a turn than the present tires. No tire that much smaller carries "
        "such a vehicle: check the size.",
        example={"by": Quantity(25.0, "%")},
    ),
    Template(
        "candidate-far/gearing",
        "It changes the engine speed by {by} at the same speed in the same gear: check axle_ratio.",
        example={"by": Quantity(-35.0, "%", sign=True)},
    ),
    Template(
        "candidate-by-size",
        "Its revolutions follow from the size, good to 2.5 %: the maker's published figure narrows "
        "every interval here.",
    ),
    Template(
        "candidate-out-of-reach",
        "At {speed} the engine would turn faster than its governed {governed}.",
        example={"speed": Quantity(96.6, "km/h"), "governed": Quantity(2500.0, "rpm")},
    ),
    Template(
        "candidate-other-wheels",
        "It needs other wheels, of {rim}.",
        example={"rim": Quantity(22.5, "in", 1)},
    ),
    Template(
        "candidate-wider",
        "It is wider: check rim width, the gap between duals, and clearance at full steering lock "
        "and full travel.",
    ),
)
