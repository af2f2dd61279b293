"""What is told of gears, axle and tires judged together, and of trips that do not belong."""

from __future__ import annotations

from gearing.messages.fields import Items, Moment, Quantity, Span, UserText
from gearing.messages.render import Field, Message
from gearing.messages.template import Severity, Template

_W = Severity.WARNING
_LARGER = Message("change/larger", (("by", Quantity(3.6, "%", 1)),))
_STEP: dict[str, Field] = {"trip": UserText("a-12", "trip"), "date": Moment("2026-04-02")}
_FACTOR = {"factor": Quantity(3.61, "%", 2, sign=True)}
_TURNS = {"turns": Quantity(-3.48, "%", 2, sign=True)}
_SINCE = "What is given as in effect holds since then."
_UNSURE = "If the computer was reprogrammed just before it, leave it: the next trip tells."

IDENTIFICATION = (
    Template(
        "no-gear-held",
        "engine speed keeps no fixed ratio to road speed on a tenth of the road: a belt drive, a "
        "converter that hardly locks, or too few rows a minute; log output-shaft speed",
    ),
    Template(
        "declared-contradicts-logs",
        "What the study declares does not fit the logs: {keys}. What would fit: {fits}. Until it "
        "is corrected, figures that rest on it are left out or carry the whole range; the "
        "correction from today's setting rests on none of it.",
        severity=_W,
        example={
            "keys": Items((UserText("before.drive_tire"), UserText("vehicle.axle_ratio")), "or"),
            "fits": Items((Message("fit/swapped"),), "or"),
        },
    ),
    Template(
        "declared-contradicts-logs/gear-ratio",
        "The engine was driven at a ratio of {ratios}, which is none of the declared gear ratios "
        "(vehicle.gear_ratios): one of them looks mistyped. The change does not rest on it.",
        severity=_W,
        example={"ratios": Items((Quantity(1.21, "-", 2), Quantity(1.61, "-", 2)))},
    ),
    Template(
        "declared-contradicts-logs/front-wheels",
        "The study says that speed is taken at the front wheels (vehicle.speed_source), but the "
        "logged speed follows the drive tires while the steer tires are declared the same: it "
        "looks like the output shaft or the drive wheels.",
        severity=_W,
    ),
    Template(
        "declared-contradicts-logs/one-size",
        "The study declares one tire size for both periods, but by engine and true speed the tires "
        "after the change are {by} around: wear and another make do about 2.5 % at the most "
        "(common practice, no source). Check drive_tire under [before] and [after], and whether "
        "the axle was changed too.",
        severity=_W,
        example={"by": _LARGER},
    ),
    Template("fit/swapped", "the periods [before] and [after] exchanged"),
    Template("fit/axle", "an axle ratio of {ratio}", example={"ratio": Quantity(4.56, "-", 2)}),
    Template(
        "fit/axle-change",
        "another axle ratio after the change, {ratio}",
        example={"ratio": Quantity(4.56, "-", 2)},
    ),
    Template(
        "fit/size",
        "a tire {by} around than the size {after:after|before} says",
        example={"by": _LARGER, "after": True},
    ),
    Template(
        "fit/published",
        "a tire {by} around than the published figure {after:after|before} says",
        example={"by": _LARGER, "after": True},
    ),
    Template("fit/size-both", "tires {by} around than both sizes say", example={"by": _LARGER}),
    Template(
        "fit/published-both",
        "tires {by} around than both published figures say",
        example={"by": _LARGER},
    ),
    Template("fit/none", "no single correction stands out"),
)

FINAL_DRIVE = (
    Template(
        "final-drive-unknown/no-engine",
        "no trip shows engine or output-shaft speed beside a receiver's true speed: log engine "
        "speed (parameter 0C) together with position",
    ),
    Template(
        "final-drive-unknown/one-period",
        "no trip of the {after:after|before} period shows engine and true speed together",
        example={"after": True},
    ),
    Template(
        "final-drive-unknown/gears",
        "the gears of the two periods can be matched in more than one way ({changes}): log "
        "output-shaft speed or indicated speed beside engine speed, or drive the same gears "
        "{@on both sets}",
        example={
            "changes": Items(
                (Quantity(-3.5, "%", 1, sign=True), Quantity(20.0, "%", 1, sign=True)), "or"
            )
        },
    ),
    Template(
        "axle-unknown/contradicted",
        "the declared axle ratio, {ratio}, does not fit the logs, see the warnings",
        example={"ratio": Quantity(4.88, "-", 2)},
    ),
    Template(
        "axle-unknown/gears",
        "the declared axle ratio, {ratio}, and gear ratios do not fit the logs together, see the "
        "warnings",
        example={"ratio": Quantity(4.88, "-", 2)},
    ),
    Template(
        "axle-unknown/open",
        "tires and gears would bear other axle ratios than the declared {ratio} as well, from "
        "{range}: give the published figure of the tires",
        example={"ratio": Quantity(4.88, "-", 2), "range": Span(4.7, 5.1, "-", 2)},
    ),
    Template("turns-of/output-shaft", "output shaft"),
    Template("turns-of/engine", "engine in the highest gear seen"),
    Template(
        "gear-ratios-do-not-fit",
        "The engine revolutions per distance do not fall on the gear ratios the study gives; the "
        "ratios were set aside and the gears numbered as found, lowest first. The change does not "
        "rest on the ratios.",
        severity=_W,
    ),
)

TRIPS = (
    Template(
        "turns-changed/with-factor",
        "From trip {trip} of {date} on both the odometer factor ({factor}) and the engine "
        f"revolutions per distance ({{turns}}) differ: other tires or another axle ratio. {_SINCE}",
        severity=_W,
        example={**_STEP, **_FACTOR, **_TURNS},
    ),
    Template(
        "turns-changed/factor-same",
        "From trip {trip} of {date} on the engine revolutions per distance differ by {turns} while "
        "the odometer factor does not: another axle ratio or tire with the computer set to match. "
        + _SINCE,
        severity=_W,
        example={**_STEP, **_TURNS},
    ),
    Template(
        "turns-changed/factor-unknown",
        "From trip {trip} of {date} on the engine revolutions per distance differ by {turns}: "
        f"other tires or another axle ratio. The odometer factor is not known. {_SINCE}",
        severity=_W,
        example={**_STEP, **_TURNS},
    ),
    Template(
        "computer-reprogrammed/revolutions-same",
        "From trip {trip} of {date} on the odometer factor differs by {factor} while the engine "
        f"revolutions per distance do not: that is what a reprogrammed computer does. {_SINCE}",
        severity=_W,
        example={**_STEP, **_FACTOR},
    ),
    Template(
        "computer-reprogrammed/revolutions-unknown",
        "From trip {trip} of {date} on the odometer factor differs by {factor}, which a "
        "reprogrammed computer does, and other tires or logs of the other period do as well: the "
        f"engine revolutions per distance, which would tell, are not known. {_SINCE}",
        severity=_W,
        example={**_STEP, **_FACTOR},
    ),
    Template(
        "tires-swapped-later",
        "The tires seem to have been changed later than declared: {trips} trips next to the change "
        "carry the other period's figures; the change lies before trip {trip} of {date}.",
        severity=_W,
        example={"trips": 3, **_STEP},
    ),
    Template(
        "tires-swapped-earlier",
        "The tires seem to have been changed earlier than declared: {trips} trips next to the "
        "change carry the other period's figures; the change lies before trip {trip} of {date}.",
        severity=_W,
        example={"trips": 3, **_STEP},
    ),
    Template(
        "misfiled",
        "Trip {trip} is filed under {after:after|before}, but its figures are those of the "
        "{after:before|after} period. It is kept out. If you agree, move its log to those of "
        "{after:before|after} and run again.",
        severity=_W,
        example={"trip": UserText("a-12", "trip"), "after": True},
    ),
    Template(
        "misfiled/several",
        "{trips} trips are filed under {after:after|before}, but their figures are those of the "
        "{after:before|after} period. They are kept out. If you agree, move their logs to those of "
        "{after:before|after} and run again.",
        severity=_W,
        example={"trips": 3, "after": True},
    ),
    Template(
        "misfiled/unsure",
        "Trip {trip} is filed under {after:after|before}, but its figures are those of the "
        "{after:before|after} period. It is kept out. If you agree, move its log to those of "
        f"{{after:before|after}} and run again. {_UNSURE}",
        severity=_W,
        example={"trip": UserText("a-12", "trip"), "after": True},
    ),
    Template(
        "trip-apart",
        "{trips} {trips:trip shows|trips show} figures that fit neither period; "
        "{trips:it is|they are} kept out of all figures, the fuel's too: a log of another vehicle "
        "looks like that.",
        severity=_W,
        example={"trips": 2},
    ),
    Template(
        "no-tire-change-seen",
        "Neither the odometer factor nor the engine revolutions per distance differ between the "
        "periods: either the tires turn the same or the logs are not what the study says. Every "
        "trip is kept.",
        severity=_W,
    ),
)

TEMPLATES: tuple[Template, ...] = (*IDENTIFICATION, *FINAL_DRIVE, *TRIPS)
