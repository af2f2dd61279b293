"""What is told of indicated and true speed, the odometer, the computer's setting and the rules."""

from __future__ import annotations

from gearing.messages.fields import Items, Moment, Quantity, Span, UserText
from gearing.messages.render import Message
from gearing.messages.template import Severity, Template

_W = Severity.WARNING
_AFTER = {"after": True}
_MOMENTS = Items((Moment("2026-03-02T09:15:00"), Moment("2026-03-03T09:15:00")), ",")
_NO_LOG = Message("measured-why/no-log")
_DASH_NO_LOG = Message("dash-why/no-log")
_LOOK = "Check the date, the time and its zone."
_DOUBT = Message("unit-doubt", (("factor", Quantity(0.621, "-", 3)),))
_UNIT_KEPT = (
    "Until then the odometer factor of this period, and what follows from it, are withheld."
)

PERIODS = (
    Template("not-known", "not known"),
    Template("no-period", "the study has no [{after:after|before}] period", example=_AFTER),
    Template(
        "no-period/to-compare",
        "the study has no [{after:after|before}] period to compare with",
        example=_AFTER,
    ),
    Template("not-driven", "no log shows driving on them yet"),
    Template("change/larger", "{by} larger", example={"by": Quantity(3.6, "%", 1)}),
    Template("change/smaller", "{by} smaller", example={"by": Quantity(3.6, "%", 1)}),
    Template("change/higher", "{by} higher", example={"by": Quantity(3.6, "%", 1)}),
    Template("change/lower", "{by} lower", example={"by": Quantity(3.6, "%", 1)}),
    Template("change/more", "{by} more", example={"by": Quantity(3.6, "%", 1)}),
    Template("change/less", "{by} less", example={"by": Quantity(3.6, "%", 1)}),
    Template("change/unknown", "of unknown size"),
    Template(
        "periods-order/dates",
        "The trips filed under before begin on {first}, when those filed under after had ended, "
        "on {last}.",
        example={"first": Moment("2026-03-02"), "last": Moment("2026-02-02")},
    ),
    Template(
        "periods-order/tires",
        "The declared tires would be {declared} around after the change, and the engine "
        "revolutions per distance show {measured}.",
        example={
            "declared": Message("change/larger", (("by", Quantity(3.3, "%", 1)),)),
            "measured": Message("change/smaller", (("by", Quantity(3.1, "%", 1)),)),
        },
    ),
    Template(
        "periods-swapped",
        "{seen} The two periods look swapped: check which logs are listed under [before] and "
        "which under [after]. If they are swapped, every change is told the wrong way round.",
        severity=_W,
        example={
            "seen": Message(
                "periods-order/dates",
                (("first", Moment("2026-03-02")), ("last", Moment("2026-02-02"))),
            )
        },
    ),
    Template(
        "periods-out-of-order",
        "The trips filed under before begin on {first}, when those filed under after had ended, "
        "on {last}. What was measured fits the tires as declared, so all is well if the old tires "
        "were put on again to be logged.",
        severity=_W,
        example={"first": Moment("2026-03-02"), "last": Moment("2026-02-02")},
    ),
)

FACTOR = (
    Template(
        "factor-unknown/no-receiver",
        "no trip on these tires has a receiver's speed or position beside the indicated speed: "
        "log both, or declare a measured distance",
    ),
    Template(
        "rounding-unsettled",
        "Period {after:after|before}: whether the logged speed is truncated or rounded to whole "
        "units cannot be told, and the two differ by half a unit: the interval covers both. Ten "
        "minutes at three speeds {apart} apart settle it.",
        severity=_W,
        example={**_AFTER, "apart": Quantity(20.0, "km/h")},
    ),
    Template(
        "positions-far-apart",
        "Period {after:after|before}: true distance comes from positions seconds apart, without "
        "the receiver's own speed. They cut corners, and may be off by {off} the same way on every "
        "trip, however many there are. Log the receiver's speed as well, or a position each "
        "second.",
        severity=_W,
        example={**_AFTER, "off": Quantity(0.4, "%", 1)},
    ),
    Template(
        "receiver-speed-open",
        "Period {after:after|before}: the receiver's speed leaves true distance open by {off}, the "
        "same way on every trip, however many there are: it comes in whole units, differs from "
        "its positions, or lacks the altitude (the notes on the files say which). Log it with "
        "decimals, with altitude and a position each second.",
        severity=_W,
        example={**_AFTER, "off": Quantity(0.7, "%", 1)},
    ),
    Template(
        "slope-unknown/quantization",
        "cannot be separated from the rounding of the logged speed while that is unsettled",
    ),
    Template(
        "slope-unknown/few-trips",
        "needs {needed} trips each with speeds {apart} apart, there are {trips}",
        example={"needed": 4, "apart": Quantity(25.0, "km/h"), "trips": 1},
    ),
    Template(
        "unit-doubt",
        "true speed is {factor} times the speed logged, which no change of tires makes: the unit "
        "or the column of the speed must be wrong",
        example={"factor": Quantity(0.4, "-", 3)},
    ),
    Template(
        "unit-doubt/looks-like",
        "true speed is {factor} times the speed logged, which no change of tires makes: the "
        "values look like {unit}, and were read as {taken_for}",
        example={
            "factor": Quantity(0.621, "-", 3),
            "unit": UserText("km/h"),
            "taken_for": UserText("mph"),
        },
    ),
    Template(
        "speed-unit-doubtful",
        "Period {after:after|before}: {doubt}. `gearing inspect` shows which column is read as "
        f"indicated speed, in which unit. {_UNIT_KEPT}",
        severity=_W,
        example={**_AFTER, "doubt": _DOUBT},
    ),
    Template(
        "speed-unit-misread",
        "The logged speed of {trips} stands to true speed as if values in {unit} had been read as "
        "{taken_for}, unlike that of the period's other trips. It is left out there. If so, write "
        "under [columns], for these files alone: {line}",
        severity=_W,
        example={
            "trips": Items((UserText("2031-03-02", "trip"), UserText("2031-03-03", "trip"))),
            "unit": UserText("mph"),
            "taken_for": UserText("km/h"),
            "line": UserText('"V" = "mph"', "line"),
        },
    ),
    Template(
        "speed-unit-doubtful/line",
        "Period {after:after|before}: {doubt}. If so, write under [columns]{named: in the place "
        f"of the line that names it now|}}: {{line}}. {_UNIT_KEPT}",
        severity=_W,
        example={**_AFTER, "doubt": _DOUBT, "named": True, "line": UserText('"V" = "km/h"')},
    ),
)

DECLARED = (
    Template(
        "moments-and-more",
        "{moments} and {more} more",
        example={"moments": _MOMENTS, "more": 2},
    ),
    Template(
        "measured-left-out",
        "What [[measured]] declares from {moments} {why}",
        severity=_W,
        example={"moments": _MOMENTS, "why": _NO_LOG},
    ),
    Template("measured-why/no-log", f"lies in no log, and is left out. {_LOOK}"),
    Template("measured-why/not-whole", "is covered whole by no log, and is left out."),
    Template("measured-why/not-indicated", "has no indicated speed logged on it, and is left out."),
    Template(
        "measured-disagrees",
        "What [[measured]] declares from {moment} to be {declared} long is {found} by "
        "{receiver:the receiver|the vehicle's computer}: {off} too {much:much|little} is declared. "
        "Check the length and the two moments.",
        severity=_W,
        example={
            "moment": _MOMENTS,
            "declared": Quantity(10.0, "km", 1),
            "found": Quantity(9.0, "km", 1),
            "receiver": True,
            "off": Quantity(11.0, "%"),
            "much": True,
        },
    ),
    Template(
        "measured-one-period",
        'The road "{road}" under [[measured]] is covered whole, with indicated speed, by no two '
        "logs of which one is from before the change and one from after: it compares nothing.",
        severity=_W,
        example={"road": UserText("Mile 12 to 18")},
    ),
    Template(
        "dash-left-out",
        "The speedometer reading of [[dash]] at {moments} is left out: {why}",
        severity=_W,
        example={"moments": _MOMENTS, "why": _DASH_NO_LOG},
    ),
    Template("dash-why/no-log", f"no log was under way then. {_LOOK}"),
    Template("dash-why/no-true-speed", "no true speed is logged then."),
    Template("dash-why/slow", f"the vehicle stood or was too slow then. {_LOOK}"),
    Template(
        "dash-why/far-off",
        "no speedometer is so far from the true speed. Check its unit, the date, the time and its "
        "zone.",
    ),
    Template(
        "load-left-out",
        "What [[load]] declares from {moments} lies in no log, and changes no figure of the logs. "
        + _LOOK,
        severity=_W,
        example={"moments": _MOMENTS},
    ),
    Template("stretch-unknown/no-length", "the stretch has no declared length"),
    Template("stretch-unknown/not-whole", "the log does not cover the whole stretch"),
    Template("stretch-unknown/not-indicated", "no indicated speed is logged on the stretch"),
    Template(
        "same-road-note/driveline",
        "fewer revolutions on the same road: larger tires, if the computer's setting is unchanged",
    ),
    Template(
        "same-road-note/unknown",
        "it tells of the tires at which speed is taken, if the computer's setting is unchanged",
    ),
)

READINGS = (
    Template("needle-basis/read", "speedometer readings"),
    Template("needle-basis/taken", "bus speed taken as shown"),
    Template(
        "needle-basis/each",
        "{before} (before) and {after} (after)",
        example={
            "before": Message("needle-basis/read"),
            "after": Message("needle-basis/taken"),
        },
    ),
    Template("rule-basis/read", "speedometer readings"),
    Template("rule-basis/bus", "bus speed"),
    Template(
        "rule-limit/either-way",
        "within {off} at {at}",
        example={"off": Quantity(8.0, "km/h"), "at": Quantity(80.0, "km/h")},
    ),
    Template(
        "rule-limit/never-low",
        "{range} high at {at}",
        example={"range": Span(0.0, 12.0, "km/h"), "at": Quantity(80.0, "km/h")},
    ),
    Template(
        "rule-open/no-reading",
        "no reading of the speedometer is declared, and bus speed is not what it shows: note what "
        "the speedometer shows at a moment of a logged trip, as [[dash]] with at and speed",
    ),
    Template(
        "rule-open/across-limit",
        "the interval lies across the limit: more readings of the speedometer would settle it",
    ),
    Template("odometer-source/declared", "declared readings"),
    Template("odometer-source/logged", "logged count"),
    Template(
        "odometer-unknown/no-readings",
        "the odometer is not known at two moments after the change: log the distance count "
        "(parameter A6, SPN 245 or 917) or declare two [[dash]] readings with odometer",
    ),
    Template(
        "odometer-unknown/falling",
        "the odometer readings declared after the change fall: check the odometer of each "
        "[[dash]], its unit and its moment",
    ),
    Template(
        "odometer-unknown/some-levels",
        "the odometer factor is not known for all the time since the change",
    ),
)

SETTING = (
    Template("no-axle-ratio", "the study gives no axle_ratio"),
    Template("no-shaft-pulses", "the study gives no shaft_pulses: pulses per output-shaft turn"),
    Template(
        "tread-note/declared",
        "half-way from the declared tread to {worn}",
        example={"worn": Quantity(3.175, "mm tread", 1)},
    ),
    Template(
        "tread-note/assumed",
        "half-way from a new tread of {new} to {worn}, for no tread depth is declared",
        example={
            "new": Quantity(14.2875, "mm tread", 1),
            "worn": Quantity(3.175, "mm tread", 1),
        },
    ),
    Template("turns-basis/measured", "engine speed and ratios"),
    Template("turns-basis/published", "published"),
    Template("turns-basis/size", "size"),
    Template("turns-unknown/no-figure", "neither a size nor a published figure tells the tire"),
    Template(
        "turns-unknown/contradicted",
        "what is declared does not fit the logs, see the warnings: {keys}",
        example={"keys": Items((UserText("vehicle.axle_ratio"),), ",")},
    ),
    Template(
        "turns-unknown/apart",
        "size and published figure of the tires {after:after|before} lie {apart} apart, and "
        "nothing tells which is wrong: check both on the sidewall and in the maker's table",
        example={"after": True, "apart": Quantity(4.3, "%", 1)},
    ),
    Template(
        "turns-unknown/open",
        "tire, axle and gear ratios leave too much open: give a published figure for the tire",
    ),
    Template(
        "programmed-unknown/front-wheels",
        "speed is taken at the front wheels: the computer counts the steer tires, whose "
        "revolutions engine speed does not measure",
    ),
    Template(
        "circumference-note/size",
        "a rule of thumb on the nominal diameter: tires of one size differ by over 2 % with tread "
        "alone",
    ),
    Template(
        "circumference-note/published",
        "of a new tire at rated load and pressure on a test drum or road, to the whole revolution "
        "per mile",
    ),
    Template(
        "circumference-note/measured",
        "as it rolls here: loaded radius, wear, pressure and warmth are in it, and the slip of "
        "driven wheels",
    ),
)

TEMPLATES: tuple[Template, ...] = (*PERIODS, *FACTOR, *DECLARED, *READINGS, *SETTING)
