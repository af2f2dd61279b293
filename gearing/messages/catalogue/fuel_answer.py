"""What the fuel answer says of itself: reasons, verdicts, methods, parts."""

from __future__ import annotations

from gearing.messages.fields import Items, Quantity
from gearing.messages.render import Message
from gearing.messages.template import Template

_DAYS = {"before": 1, "after": 3}
_MARGIN = {"margin": Quantity(-1.0, "% consumption", 0, sign=True)}
_CLAIM = {"claim": Quantity(-4.0, "% consumption", 1, sign=True)}
_PERIODS = {"periods": Items((Message("period/before"), Message("period/after")))}

_REASONS = (
    Template(
        "no-fuel-logged",
        "no log carries fuel: a fuel rate (PID 5E, SPN 183), a count of fuel used (SPN 250) or, on "
        "a gasoline engine, air flow (PID 10) is needed. Air flow cannot give a diesel's fuel: a "
        "diesel runs at whatever air it gets",
    ),
    Template(
        "fuel-is-nothing",
        "the fuel logged is nothing throughout: what the logs call fuel was not measured",
    ),
    Template(
        "fuel-without-distance",
        "fuel is logged on {days} {days:day|days}, but how far was driven is not",
        example={"days": 2},
    ),
    Template(
        "fuel-on-short-days",
        "fuel is logged on {days} {days:day|days}, with no more than {longest} of road a day: "
        "{least} are the least that can be compared. Log whole drives",
        example={
            "days": 2,
            "longest": Quantity(2.6, "km", 1),
            "least": Quantity(3.0, "km", 1),
        },
    ),
    Template("period/before", "the before period"),
    Template("period/after", "the after period"),
    Template(
        "indicated-not-logged",
        "the logs of {periods} do not carry the indicated speed with fuel",
        example=_PERIODS,
    ),
    Template(
        "distance-not-known",
        "how far was truly driven in {periods} is not known: log position, or the indicated speed "
        "where the other logs carry both",
        example=_PERIODS,
    ),
    Template(
        "days-to-compare",
        "there {before:is|are} {before} {before:day|days} with fuel before the change and {after} "
        "after; two a side are the least that can be compared, four the least that can be judged",
        example=_DAYS,
    ),
    Template("no-step-to-compare", "no step of road is fit to compare"),
    Template("under-two-days", "there are under two days a side"),
    Template("under-two-long-days", "fewer than two days a side can be compared"),
    Template(
        "too-little-shared-road",
        "the two periods share too little road: the same road in the same direction must be driven "
        "on two days in each",
    ),
    Template("no-road-joins", "no stretch of road joins two days of each period"),
    Template("needs-adjusted", "needs the adjusted comparison"),
    Template(
        "too-few-old-days",
        "{days} {days:day|days} {@on the old tires} are too few for a change of {target} to show, "
        "however far is driven {@on the new tires}; {@more days on the old tires} would help",
        example={"days": 5, "target": Quantity(2.0, "%")},
    ),
    Template(
        "physics-stays",
        "what is not known of rolling resistance, air and wind stays however far is driven under "
        "these conditions: driving at the temperatures and speeds of the other side would settle "
        "it",
    ),
    Template(
        "needs-engine-speed",
        "needs engine speed on both sides, from which the change of the final drive is found",
    ),
    Template("no-fillups", "the study names no fill-up log (fillups = ...)"),
    Template(
        "too-few-tanks",
        "the fill-up log needs three fills to the brim in each period, with the odometer: whole "
        "tanks so far: {before} before, {after} after",
        example=_DAYS,
    ),
    Template(
        "too-few-logged-tanks",
        "needs two whole tanks, brim to brim, with all driving between in the logs; there "
        "{tanks:is|are} {tanks}",
        example={"tanks": 0},
    ),
    Template("same-tires", "the study declares the same tires in both periods"),
    Template(
        "no-yearly-distance", "the study gives no yearly distance ([money] distance_per_year)"
    ),
    Template("consumption-before-unknown", "the consumption before the change is not known"),
    Template("no-fuel-price", "the study gives no fuel price ([money] fuel_price)"),
    Template("no-fuel-kind", "the study does not say which fuel is burnt ([vehicle] fuel)"),
    Template("no-cost", "the study gives no cost ([money] cost)"),
    Template("saving-unknown", "the saving is not known"),
    Template("never-pays", "at the change found it never pays"),
)

_VERDICTS = (
    Template("no-interval", "there is no interval"),
    Template(
        "verdict/too-few-days",
        "{@the set of tires} with fewer days has {days}, and under {fewest} nothing can be called "
        "a change",
        example={"days": 3, "fewest": 4},
    ),
    Template(
        "verdict/worse",
        "the whole interval shows more fuel used, and the figure lies beyond {margin}",
        example={"margin": Quantity(1.0, "% consumption", 0, sign=True)},
    ),
    Template(
        "verdict/no-change",
        "the whole interval lies within {margin} of no change",
        example={"margin": Quantity(1.0, "%")},
    ),
    Template(
        "verdict/less-fuel",
        "the whole interval shows a saving, and lies beyond {margin}",
        example=_MARGIN,
    ),
    Template(
        "verdict/open",
        "the interval holds both a saving and none worth the name",
    ),
    Template(
        "verdict/short-of-claim",
        "the whole interval falls short of the claim of {claim}{saves:|, and no saving is shown}",
        example={**_CLAIM, "saves": False},
    ),
    Template(
        "verdict/reaches-claim",
        "the whole interval is at or beyond the claim of {claim}",
        example=_CLAIM,
    ),
    Template(
        "verdict/holds-claim",
        "the interval holds the claim of {claim} and nothing less than half of it",
        example=_CLAIM,
    ),
    Template(
        "verdict/some-saving",
        "the whole interval shows a saving beyond {margin}, but holds both the claim of {claim} "
        "and less than half of it",
        example=_MARGIN | _CLAIM,
    ),
    Template(
        "verdict/claim-open",
        "the interval holds both the claim and no saving worth the name",
    ),
)

_WIND = {
    "off": Quantity(0.6, "m/s", 1),
    "before": Quantity(-0.1, "m/s", 1, sign=True),
    "after": Quantity(0.3, "m/s", 1, sign=True),
}

_REMARKS = (
    Template("plan-goal/claim", "half the claim"),
    Template("plan-goal/usual", "2 %"),
    Template(
        "plan/none-enough",
        "Days scatter by {scatter}; no amount of driving like this shows a change of {goal}. Drive "
        "one road out and back, in like weather.",
        example={"scatter": Quantity(3.1, "%", 1), "goal": Message("plan-goal/usual")},
    ),
    Template(
        "plan/days",
        "For a change of {goal} to show four times out of five, {days} days before the change and "
        "as many after are needed, as driven so far; {driven} {driven:is|are} driven. Drive the "
        "same roads both ways, in like weather, on both sides.",
        example={"goal": Message("plan-goal/claim"), "days": 12, "driven": 5},
    ),
    Template("no-wind-file", "no weather file covers the driving"),
    Template("wind-used/none", "not used"),
    Template(
        "wind-used/by-contrast",
        "{why:clause}; each day's contrast between courses tells part of the wind; the rest is in "
        "the interval",
        example={"why": Message("no-wind-file")},
    ),
    Template(
        "wind-used/file",
        "each day's wind begins from the weather file's, brought down to the vehicle's height, and "
        "the contrast between courses corrects it: the days' winds are about {off} from the file's "
        "each way; by the file the mean headwind was {before} before and {after} after; what is "
        "not known is in the interval",
        example=_WIND,
    ),
    Template(
        "estimates-apart",
        "{differences}",
        example={"differences": Items((Message("estimates-apart/distance"),), "")},
    ),
    Template(
        "estimates-apart/distance",
        "The dash alone and true distance differ by the odometer's error: indicated distance is "
        "not road.",
    ),
    Template(
        "estimates-apart/conditions",
        "True distance and like for like differ by speed, weather, hills and stops that were not "
        "the same in the periods: by true distance they are in the figure, adjusted they are not.",
    ),
    Template(
        "estimates-apart/same-roads",
        "The same roads and like for like differ by speed, weather and load: matched keeps them "
        "in, adjusted takes them out by physics.",
    ),
    Template(
        "estimates-apart/counter",
        "The fill-ups and like for like differ by the engine computer's fuel count against fuel "
        "bought, and by driving that no log holds.",
    ),
)

_PARTS = (
    Template("part/distance", "the odometer counts less or more distance than is driven"),
    Template("part/stops", "fuel burnt standing"),
    Template("part/temperature", "tires roll harder in the cold"),
    Template("part/air", "denser air, wind"),
    Template("part/load", "the vehicle's weight"),
    Template("part/grade", "hills of the roads driven"),
    Template("part/speed-from-dash", "the dash reads another speed, and the driver follows it"),
    Template("part/speed", "speed, stopping and starting chosen otherwise"),
    Template("part/rest", "roads and days themselves, and what was not compared"),
)

TEMPLATES: tuple[Template, ...] = (*_REASONS, *_VERDICTS, *_REMARKS, *_PARTS)
