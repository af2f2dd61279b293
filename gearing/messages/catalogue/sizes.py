"""What is told of tire sizes, and of gearing as declared alone."""

from __future__ import annotations

from gearing.messages.fields import Items, Quantity, UserText
from gearing.messages.render import Message
from gearing.messages.template import Severity, Template

_E, _W = Severity.ERROR, Severity.WARNING
_SIZE = {"size": UserText("245/7OR19.5")}
_EXAMPLES = {"examples": Items((UserText('"245/70R19.5"'), UserText('"11R22.5"')), "or")}
_NONE = Message("no-size", tuple(_EXAMPLES.items()))
_RULE = Message("size-rule/rolling", (("factor", Quantity(3.05, "-", 2)), ("radial", True)))
_SIDEWALL = "write it as on the sidewall, such as {examples}"
_MAKER = "Add the maker's figures, as in "

TEMPLATES: tuple[Template, ...] = (
    Template("no-size", f"no tire size given; {_SIDEWALL}", example=_EXAMPLES),
    Template(
        "no-size/form",
        f'"{{size}}" is not a tire size; {_SIDEWALL}',
        example={**_SIZE, **_EXAMPLES},
    ),
    Template(
        "no-size/measures",
        '"{size}" has the form of a tire size but no road tire is that size: section width '
        "{width_mm} mm, aspect ratio {aspect} %, rim {rim} in",
        example={
            **_SIZE,
            "width_mm": UserText("999"),
            "aspect": UserText("70"),
            "rim": UserText("19.5"),
        },
    ),
    Template(
        "no-size/not-in-table",
        '"{size}" is an inch size whose diameter is not in the table ({known}); give '
        "revolutions_per_mile for it, or a metric size",
        example={**_SIZE, "known": Items((UserText("11R22.5"),), ",")},
    ),
    Template(
        "no-size/flotation",
        '"{size}" has the form of a tire size but no road tire is that size: diameter {diameter} '
        "in, section width {width} in, rim {rim} in",
        example={
            "size": UserText("35x12.50R40"),
            "diameter": UserText("35"),
            "width": UserText("12.50"),
            "rim": UserText("40"),
        },
    ),
    Template(
        "no-size/published",
        '"{size}": the figure behind the @ is to be the revolutions published for the tire, near '
        "{per_mile} a mile or {per_km} a km by its size",
        example={"size": UserText("275/70R22.5@60"), "per_mile": 552, "per_km": 343},
    ),
    Template("study-size", "{why}.", severity=_E, example={"why": _NONE}),
    Template(
        "study-size/near",
        "{why}.",
        remedy="Did you mean {size}?",
        severity=_E,
        example={"why": _NONE, "size": UserText("245/70R19.5")},
    ),
    Template("diameter-source/metric", "metric designation, UN Regulation 54"),
    Template("diameter-source/inch", "inch series table, UN Regulation 54 Annex V (from memory)"),
    Template("diameter-source/flotation", "flotation designation, diameter in inches"),
    Template(
        "size-rule/with-published",
        "Diameter: {sources}. Rolling circumference: {rules}; at worst the change lies between "
        "{low} and {high}.",
        example={
            "sources": Items((Message("diameter-source/metric"),), ";"),
            "rules": Items((Message("size-rule/published", (("tolerance", Quantity(1.0, "%")),)),)),
            "low": Quantity(-1.6, "%", 1, sign=True),
            "high": Quantity(8.5, "%", 1, sign=True),
        },
    ),
    Template(
        "size-rule/published",
        "as published, good to {tolerance} for one tire",
        example={"tolerance": Quantity(1.0, "%")},
    ),
    Template(
        "size-rule/by-size",
        "{rule} at rated load, good to {tolerance} for one tire",
        example={"rule": _RULE, "tolerance": Quantity(2.5, "%", 1)},
    ),
    Template(
        "size-rule",
        "Diameter: {sources}. Rolling circumference: {rules} at rated load, good to {tolerance} "
        "for one tire; at worst the change lies between {low} and {high}.",
        example={
            "sources": Items((Message("diameter-source/metric"),), ";"),
            "rules": Items((_RULE,)),
            "tolerance": Quantity(2.5, "%", 1),
            "low": Quantity(-1.6, "%", 1, sign=True),
            "high": Quantity(8.5, "%", 1, sign=True),
        },
    ),
    Template(
        "size-rule/rolling",
        "{factor} x diameter ({radial:radial|bias})",
        example=dict(_RULE.fields),
    ),
    Template(
        "size-caution/spread",
        "Tires of one size differ by over 2 % with make, tread and wear. The maker's published "
        "revolutions per mile or km is better than any arithmetic from the size, and a drive with "
        "GPS better still.",
    ),
    Template(
        "size-caution/bias",
        "{size} is read as a bias-ply tire; write {radial} for a radial one.",
        example={"size": UserText("11-22.5"), "radial": UserText("11R22.5")},
    ),
    Template(
        "size-caution/rim",
        "{size} has a rim of {rim} in; wheels of heavy vehicles are {rim}.5 in.",
        example={"size": UserText("245/70R19"), "rim": 19},
    ),
    Template(
        "size-caution/load",
        "Size says nothing of load: check the load index and pressure of the new tires against "
        "each axle's weight, single and dual, and the tire and vehicle makers' approvals.",
    ),
    Template("size-caution/wheels", "The rim diameters differ: the new size needs other wheels."),
    Template(
        "size-caution/wider",
        "The new size is wider: check rim width, the gap between duals, and clearance at full "
        "steering lock and full travel.",
    ),
    Template(
        "study-missing/axle-ratio",
        "the gearing table needs axle_ratio in [vehicle].",
        remedy=f"{_MAKER}axle_ratio = 4.88",
        severity=_E,
    ),
    Template(
        "study-missing/gear-ratios",
        "the gearing table needs gear_ratios in [vehicle].",
        remedy=f"{_MAKER}gear_ratios = [3.51, 1.91, 1.43, 1.00, 0.74, 0.64]",
        severity=_E,
    ),
    Template(
        "highest-speed/governed",
        "the governed {speed}.",
        example={"speed": Quantity(2500.0, "rpm")},
    ),
    Template(
        "highest-speed/torque-curve",
        "{speed}, where the torque curve ends. If the engine turns faster, declare governed_rpm in "
        "[vehicle.engine].",
        example={"speed": Quantity(2400.0, "rpm")},
    ),
    Template(
        "highest-speed/any-engine",
        "{speed}, faster than any such {diesel:diesel engine|engine} turns. For this engine's own "
        "end declare torque_curve and governed_rpm in [vehicle.engine].",
        example={"speed": Quantity(5000.0, "rpm"), "diesel": True},
    ),
    Template(
        "mixed-basis",
        "Revolutions are a published figure {after:after|before} and follow from the size "
        "{after:before|after}: the two may differ by 2.5 % on one and the same tire, and so may "
        "the change. Give revolutions_per_mile in [{after:before|after}] too.",
        severity=_W,
        example={"after": True},
    ),
)
