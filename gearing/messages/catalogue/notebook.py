"""What is told of a notebook of fill-ups, of needle readings and of odometers beside known road."""

from __future__ import annotations

from gearing.messages.fields import Items, Measured, Moment, Quantity, UserText
from gearing.messages.render import Field, Message
from gearing.messages.template import Severity, Template

_W = Severity.WARNING
_OUTSIDE: dict[str, Field] = {
    "after": True,
    "change": Moment("2031-03-02"),
    "first": Moment("2030-01-02"),
    "last": Moment("2030-12-20"),
}

TEMPLATES: tuple[Template, ...] = (
    Template(
        "verdict/too-few-tanks",
        "{@the set of tires} with fewer tanks has {tanks}, and under {fewest} nothing can be "
        "called a change",
        example={"tanks": 3, "fewest": 4},
    ),
    Template(
        "tanks-never",
        "a change of under {left} cannot show by tanks alone, however many there are, and {target} "
        "is wanted: what roads, loads and speeds did stays unknown. Logs of the drives with fuel "
        "in them would tell",
        example={"left": Quantity(3.1, "%", 1), "target": Quantity(2.0, "%", 1)},
    ),
    Template(
        "tanks-never/distance",
        "a change of under {left} cannot show by tanks alone, however many there are, and {target} "
        "is wanted: how far the new tires go for what the odometer counts is not known well "
        "enough. The published revolutions of both tires would tell more, or, on both sets, needle "
        "readings beside GPS speed, or the odometer at both ends of a long drive logged by GPS",
        example={"left": Quantity(3.1, "%", 1), "target": Quantity(2.0, "%", 1)},
    ),
    Template(
        "tanks-old-side",
        "{before} {before:tank|tanks} on the old tires {before:is|are} too few for a change of "
        "{target} to show, however many follow on the new ones",
        example={"before": 4, "target": Quantity(2.0, "%", 1)},
    ),
    Template(
        "tanks-more",
        "{more} more {more:tank|tanks} on the new tires, filled to the brim, and a change of "
        "{target} would show",
        example={"more": 12, "target": Quantity(2.0, "%", 1)},
    ),
    Template(
        "tanks-action/fill",
        "{tanks} more {tanks:tank|tanks}, filled to the brim",
        example={"tanks": 3},
    ),
    Template(
        "change-outside-fills",
        "All fill-ups are {after:before|after} the change of tires on {change}: they run from "
        "{first} to {last}. Where that day is not right, correct from under [after]",
        severity=Severity.WARNING,
        example=_OUTSIDE,
    ),
    Template(
        "change-outside-drives",
        "All drives are {after:before|after} the change of tires on {change}: they run from "
        "{first} to {last}. Where that day is not right, correct from under [after].",
        severity=Severity.WARNING,
        example=_OUTSIDE,
    ),
    Template(
        "tanks-action/other-side",
        "No whole tank {after:after|before} the change yet",
        example={"after": True},
    ),
    Template("tanks-action/tires", "Check size and published revolutions of both tires"),
    Template("tanks-action/distance", "Give the published revolutions of both tires"),
    Template("tanks-mend-units", "correct the fill-up log, or name its units, and run again"),
    Template("tanks-action/units", "Check the units of the fill-up log in both periods"),
    Template("tanks-action/fuel", "Log drives with fuel in the log"),
    Template(
        "tanks-enough",
        "a change of {target} would show by now; more tanks narrow the interval further",
        example={"target": Quantity(2.0, "%", 1)},
    ),
    Template(
        "tanks-to-judge",
        "at least {least} whole tanks on each set of tires; on the one with fewer {lacking} more "
        "{lacking:is|are} needed",
        example={"least": 4, "lacking": 1},
    ),
    Template(
        "needle-tells",
        "when the needle shows {shown} the true speed is {after} on the new tires, and was "
        "{before} on the old ones",
        example={
            "shown": Quantity(100.0, "km/h"),
            "after": Measured(102.1, 101.5, 102.7, "km/h"),
            "before": Measured(98.6, 98.1, 99.1, "km/h"),
        },
    ),
    Template(
        "needle-tells/one",
        "when the needle shows {shown} the true speed is {true}, on the {after:new|old} tires",
        example={
            "shown": Quantity(100.0, "km/h"),
            "true": Measured(102.1, 101.5, 102.7, "km/h"),
            "after": True,
        },
    ),
    Template(
        "goes-faster",
        "at the same shown speed the vehicle goes {percent} faster than before, by {by:clause}",
        example={
            "percent": Measured(3.5, 2.9, 4.0, "%"),
            "by": Message("odometer-by/published"),
        },
    ),
    Template(
        "engine-speed-by",
        "engine speed at the same true speed in the same gear changes by {percent}, by {by:clause}",
        example={
            "percent": Measured(-3.4, -4.0, -2.8, "%"),
            "by": Message("odometer-by/published"),
        },
    ),
    Template(
        "setting-to-show-as-before",
        "for a computer to show what it showed before the change, what it holds as revolutions a "
        "distance is multiplied by {factor}",
        example={"factor": Measured(0.9667, 0.9614, 0.972, "-", 4)},
    ),
    Template("beside", "Beside the logs"),
    Template(
        "notebook-read",
        "{file}: {rows} {rows:row|rows} used, {odometer} with the odometer, {needle} with the "
        "needle, {first} to {last}",
        example={
            "file": UserText("fillups.csv", "file"),
            "rows": 40,
            "odometer": 38,
            "needle": 0,
            "first": Moment("2026-02-02"),
            "last": Moment("2026-10-12"),
        },
    ),
    Template(
        "notebook-read/nothing",
        "{file}: no row can be read yet",
        example={"file": UserText("fillups.csv", "file")},
    ),
    Template("carries", "This can carry:"),
    Template(
        "helps-most",
        "What would help most: {what}",
        example={"what": Message("helps-most/weather")},
    ),
    Template(
        "carries-speed/measured", "speed and odometer, measured by the vehicle's own count and GPS"
    ),
    Template(
        "carries-speed/needle",
        "speed, by {readings} {readings:reading|readings} of the needle beside GPS",
        example={"readings": 8},
    ),
    Template(
        "carries-speed/bus",
        "speed, as far as roads driven on both sets of tires or measured stretches tell",
    ),
    Template(
        "carries-speed/declared",
        "how much speed and odometer changed, by the sizes or published figures of the tires alone",
    ),
    Template("carries-fuel/days", "fuel, day by day, at the same road, speed and weather"),
    Template(
        "carries-fuel/tanks",
        "fuel, tank by tank, from {fills} {fills:fill-up|fill-ups}: wide at first, and narrower "
        "with each tank and each year",
        example={"fills": 40},
    ),
    Template("carries-gearing/measured", "the effective axle ratio, measured by engine speed"),
    Template(
        "carries-gearing/declared",
        "the effective axle ratio, by the figures of tires and axle",
    ),
    Template(
        "carries-mountain",
        "mountain routes: {routes} {routes:profile|profiles}, with weight and torque curve "
        "declared",
        example={"routes": 2},
    ),
    Template(
        "helps-most/answers",
        "the lines under [columns] that answer each question about the headings",
    ),
    Template(
        "helps-most/fills",
        "a full tank before and after: fill-ups with date, odometer and volume in fillups.csv",
    ),
    Template("helps-most/receiver", "a phone's GPS track of the same drives, in the same folder"),
    Template(
        "helps-most/needle",
        "what the needle shows at three steady speeds while GPS is logged, on each set of tires "
        "still at hand, as time and speed in dash.csv (2026-07-04 10:12:30,60 under time,mph)",
    ),
    Template(
        "helps-most/odometer",
        "the odometer photographed at both ends of a long drive that GPS logs whole, as time and "
        "odometer in dash.csv (2026-07-04 10:12,41208.3 under time,odometer mi)",
    ),
    Template(
        "helps-most/tanks",
        "more tanks filled to the brim: at least {least} on each set of tires",
        example={"least": 5},
    ),
    Template(
        "helps-most/profile",
        "a profile of a mountain road (distance and elevation, or a recorded drive) in routes/",
    ),
    Template(
        "helps-most/weather",
        "a weather file with the temperature and wind of both periods, weather.csv",
    ),
    Template(
        "change-undated",
        "the date of the change is not known, and no log tells which fills are on which tires: "
        "write from = under [after]",
    ),
    Template(
        "fills-between",
        "{fills} fill-ups lie between the last drive on the old tires and the first on the new, "
        "and nothing tells which tires they are of: they are left out. Write the day of the change "
        "as from = under [after].",
        severity=_W,
        example={"fills": 8},
    ),
    Template(
        "drive-out-of-order",
        "{trips} lie in time among the drives on the other tires: filed under the wrong period, or "
        "with a wrong date. The fill-ups are divided as if they were not there.",
        severity=_W,
        example={"trips": Items((UserText("2031-04-09", "trip"),))},
    ),
    Template(
        "needs/evidence",
        'Without logs, a fill-up log is evidence too: fillups = "fillups.csv" above the first '
        "[table], with from = 2026-03-14 under [after].",
    ),
    Template(
        "drives-of-other-tires",
        "{drives} {drives:drive lies|drives lie} outside the periods as from and to bound them, on "
        "other tires, and {drives:is|are} not used.",
        severity=_W,
        example={"drives": 4},
    ),
    Template("odometer-by/measured", "measured beside true distance"),
    Template("odometer-by/needle", "readings of the needle"),
    Template("odometer-by/road", "a road driven on both sets of tires"),
    Template("odometer-by/engine", "engine speed and ratios"),
    Template("odometer-by/published", "the published figures of the tires"),
    Template("odometer-by/size", "the sizes of the tires"),
    Template("odometer-by/steer", "the steer tires, at which the computer counts"),
    Template(
        "ratio-by",
        "{sources}",
        example={"sources": Items((Message("odometer-by/needle"), Message("odometer-by/size")))},
    ),
    Template(
        "ratio-by/unknown",
        "{sources}, if the computer counts turns of the drive tires and its setting is as before",
        example={"sources": Items((Message("odometer-by/size"),))},
    ),
    Template(
        "ratio-by/declared",
        "{sources}, if the computer's setting is as before",
        example={"sources": Items((Message("odometer-by/needle"), Message("odometer-by/size")))},
    ),
    Template("one-set-of-tires", "the study has one set of tires alone"),
    Template(
        "no-ratio",
        "neither a measurement nor a figure of the tires tells what the change did to the odometer",
    ),
    Template(
        "no-known-road",
        "no two odometer readings lie at the ends of road that is known: note the odometer before "
        "and after a long drive that is logged whole, or at both ends of a measured stretch",
    ),
)
