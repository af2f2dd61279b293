"""What warns of the fuel comparison."""

from __future__ import annotations

from gearing.messages.fields import Items, Moment, Quantity, UserText
from gearing.messages.render import Message
from gearing.messages.template import Severity, Template

_W = Severity.WARNING
_DAYS = {"before": 9, "after": 3}
_PERCENT = Quantity(43.0, "%")

TEMPLATES: tuple[Template, ...] = (
    Template(
        "too-few-days",
        "There {before:is|are} {before} {before:day|days} to compare before the change and {after} "
        "after; under {fewest} a side nothing can be called a change.",
        severity=_W,
        example={**_DAYS, "fewest": 4},
    ),
    Template(
        "seasons-apart",
        "It was {before} on average before and {after} after, and the two hardly overlap: how much "
        "of the change is the season's rests on what is known of tires and air alone. The interval "
        "carries that doubt; driving at like temperatures would take it away.",
        severity=_W,
        example={"before": Quantity(-4.0, "degC"), "after": Quantity(17.0, "degC")},
    ),
    Template(
        "temperature-unknown",
        "No log and no weather file tells the outside temperature of {share} of the driving. The "
        "usual climate of the latitude and the dates stands in for it, by which the periods differ "
        "by {apart}, and the interval carries how far that may be off. A weather file "
        "{named:that covers them|(weather = ...)} with the temperature of those days would narrow "
        "it, as would logging it (PID 46, SPN 171).",
        severity=_W,
        example={"share": _PERCENT, "apart": Quantity(8.0, "K"), "named": False},
    ),
    Template(
        "sensors-disagree/stuck",
        "The logged outside temperature never moves in one of the periods: the sensor is taken as "
        "stuck there, and its readings are not used.",
        severity=_W,
    ),
    Template(
        "sensors-disagree/apart",
        "From one period to the other the logged outside temperature rose by {apart} "
        "{more:more|less} than the weather file's. One of them is wrong: the adjusted figure takes "
        "the middle, and its interval holds both.",
        severity=_W,
        example={"apart": Quantity(3.0, "K"), "more": True},
    ),
    Template(
        "speeds-differ",
        "True speed while moving was {change} {faster:higher|lower} after the change. An adjusted "
        "figure takes it out by way of air resistance; the figure by true distance does not.",
        severity=_W,
        example={"change": Quantity(3.2, "%", 1), "faster": True},
    ),
    Template(
        "acceleration-differs",
        "Speed was gained {change} {harder:harder|more gently} after the change. An adjusted "
        "figure takes out the work that makes, not what else an engine takes by it: part of the "
        "figure may be the driver's. That alone may move it by {doubt} points either way, which "
        "the interval carries; driving as before would take that away.",
        severity=_W,
        example={"change": Quantity(12.0, "%"), "harder": False, "doubt": Quantity(1.6, "-", 1)},
    ),
    Template(
        "fuel-missing-under-load",
        "The logs hold no fuel for {share} of the climbing and speeding up of one period, though "
        "they do on easier road: what is burnt there is not known, and days cannot be compared by "
        "the rest. A recorder that leaves out what is over its range does so; another channel for "
        "fuel (a running count, say) would not.",
        severity=_W,
        example={"share": Quantity(30.0, "%")},
    ),
    Template(
        "engine-otherwise/loaded",
        "At the same load and engine speed the engine took {change} {more:more|less} fuel after "
        "the change. No tires do that: the engine, the fuel or what measures it changed as well, "
        "and the fuel figures hold that too. Full tanks of both periods, with all driving between "
        "them logged, show whether the fuel rate still reads as before.",
        severity=_W,
        example={"change": Quantity(6.0, "%", 1), "more": True},
    ),
    Template(
        "engine-otherwise/standing",
        "Standing, the warm engine took {change} {more:more|less} fuel after the change. No tires "
        "do that: its idle speed or what it drives besides (air conditioning, a charger, a pump) "
        "changed as well, and the fuel figures hold that too.",
        severity=_W,
        example={"change": Quantity(55.0, "%"), "more": True},
    ),
    Template(
        "rows-seldom/alike",
        "The logs hold a row only each {taken}, and part of every speeding up lies between two "
        "rows: that may move the adjusted figure by {doubt} points either way, which the interval "
        "carries. Logs with a row a second would take that away.",
        severity=_W,
        example={"taken": Quantity(5.0, "s"), "doubt": Quantity(1.6, "-", 1)},
    ),
    Template(
        "rows-seldom/apart",
        "The logs hold a row each {before} before the change and each {after} after it. The fuel "
        "comparison takes all of them at a row each {taken}, for part of every speeding up lies "
        "between rows so far apart: what stays unseen may move the adjusted figure by {doubt} "
        "points either way, which the interval carries. Logs with a row a second in both periods "
        "would take that away.",
        severity=_W,
        example={
            "before": Quantity(1.0, "s"),
            "after": Quantity(5.0, "s"),
            "taken": Quantity(5.0, "s"),
            "doubt": Quantity(1.6, "-", 1),
        },
    ),
    Template(
        "weight-unknown",
        "The study gives no weight ([vehicle] mass); a usual one is taken, and its doubt widens "
        "the interval. A scale ticket would narrow it.",
        severity=_W,
    ),
    Template(
        "load-assumed",
        "No log holds the load. Where the study does not declare it by day ([[load]]), it is taken "
        "as alike in both periods, and 1 % more weight after the change passes for about half a "
        "percent more fuel."
        "{checked:| So does a fuel rate that reads otherwise since the change: full tanks in both "
        "periods would show it.}",
        severity=_W,
        example={"checked": False},
    ),
    Template(
        "weight-differs",
        "A declared other weight was on the road on {before} of the days before and {after} after. "
        "An adjusted figure takes it into account; the others do not.",
        severity=_W,
        example={"before": Quantity(0.0, "%"), "after": _PERCENT},
    ),
    Template(
        "towing-differs",
        "A trailer was towed on {before} of {before_days} days before and on {after} of "
        "{after_days} after. Its drag and rolling are unknown, so that the sides cannot be "
        "adjusted to each other. As much driving with it on the one side as on the other, or none "
        "with it, could be compared.",
        severity=_W,
        example={"before": 0, "before_days": 10, "after": 4, "after_days": 10},
    ),
    Template(
        "roads-not-shared",
        "Only {share} of the road after the change was also driven before it. Hills and surface "
        "rest on the model alone; driving the old roads again would narrow the interval most.",
        severity=_W,
        example={"share": _PERCENT},
    ),
    Template("several-changes/tread", "tread depth"),
    Template("several-changes/pressure", "pressure"),
    Template(
        "several-changes/fitment",
        "{before} to {after}",
        example={"before": UserText("dual"), "after": UserText("single")},
    ),
    Template(
        "several-changes",
        "Besides the size the tires changed in {also}: the figure is for the whole package. New "
        "tread against worn can cost 2 to 7 % alone; where the depths are known, what the size did "
        "by itself is told beside it.",
        severity=_W,
        example={"also": Items((Message("several-changes/tread"),), ",")},
    ),
    Template(
        "tread-unknown",
        "The study does not give the tread depth of both sets (tread = ... under [before] and "
        "[after]): new tread against worn costs 2 to 7 % of fuel by itself, as much as any claim. "
        "The figure is for the whole package; with the depths, what the size did could be told.",
        severity=_W,
    ),
    Template(
        "new-tires",
        "The {driven} after the change are the tires' first as far as the logs show. Over the "
        "first {usual} new tread rolls harder than later (common practice, no source): the saving "
        "may still grow.",
        severity=_W,
        example={"driven": Quantity(640.0, "km"), "usual": Quantity(1600.0, "km", -2)},
    ),
    Template(
        "winter-fuel",
        "It was freezing {before:before|after} the change and not on the other side: winter diesel "
        "holds up to 2.5 % less energy a liter. The adjusted figure takes half of that, and its "
        "interval the range; no other figure takes it out.",
        severity=_W,
        example={"before": True},
    ),
    Template(
        "regeneration",
        "The exhaust filter was burned clean during {share} of the time on one side; that driving "
        "is left out of every figure but the fill-ups'.",
        severity=_W,
        example={"share": Quantity(1.4, "%", 1)},
    ),
    Template(
        "other-use",
        "By the fill-up log {other} of fuel went to a generator or heater: taken off the fill-ups' "
        "figure.",
        severity=_W,
        example={"other": Quantity(12.0, "L", 1)},
    ),
    Template(
        "wind-unknown/no-file",
        "Days mostly led one way, so that wind does not cancel, and no weather file covers them. A "
        "file of hourly wind (weather = ...) would narrow the interval, as would driving the same "
        "road back.",
        severity=_W,
    ),
    Template(
        "wind-unknown/in-part",
        "Days mostly led one way, so that wind does not cancel, and the weather file has wind for "
        "{covered} of the driving on the side it covers less. Wind for the rest would narrow the "
        "interval, as would driving the same road back.",
        severity=_W,
        example={"covered": _PERCENT},
    ),
    Template(
        "change-implausible",
        "By the figures given, consumption changed by over {most}, which tires alone cannot do "
        "(common practice, no source): something of one side is wrong, such as a weight under "
        "[[load]] or the unit of the fuel rate.",
        severity=_W,
        example={"most": Quantity(20.0, "%")},
    ),
    Template(
        "change-implausible/tanks",
        "By the fill-ups, the new tires take {times} times the fuel, which tires alone cannot do "
        "(common practice, no source): look for a unit that changed with them, such as gallons "
        "for liters or miles for kilometers, or for the log of another vehicle.",
        severity=_W,
        example={"times": Quantity(1.61, "-", 2)},
    ),
    Template(
        "seasons",
        "What is not known of rolling resistance, air and wind alone moves the adjusted figure by "
        "{half_width} points either way, more than half of what is to be shown, and no further day "
        "of this kind makes that less. Driving at the temperatures and speeds of the other side "
        "would.",
        severity=_W,
        example={"half_width": Quantity(2.5, "-", 1)},
    ),
    Template(
        "altitudes-apart",
        "The altitude of {trips} gives the road other grades than other drives over it do: feet "
        "under metres, or a value that stood still. It is left out there, and the grades are the "
        "other drives'.",
        severity=_W,
        example={"trips": Items((UserText("2031-03-02", "trip"),))},
    ),
    Template(
        "altitudes-apart/all",
        "The logs' altitudes give the same road different grades (feet under metres in some of "
        "them, perhaps), and nothing tells which are right: no altitude is used. `gearing inspect` "
        "shows which column is read as altitude, in which unit.",
        severity=_W,
    ),
    Template(
        "fills-far-from-logs",
        "Period {after:after|before}: by the fill-ups the vehicle uses {fills}, by its logs "
        "{logs}, {times} times as much fuel by the one as by the other. Check the units of volume "
        "(gallons or liters) and of the odometer (miles or kilometers), and whose fill-ups "
        "they are.",
        severity=_W,
        example={
            "after": True,
            "fills": Quantity(121.0, "L/100 km", 1),
            "logs": Quantity(32.0, "L/100 km", 1),
            "times": Quantity(3.78, "-", 2),
        },
    ),
    Template("tanks-doubted/more", "{more} more", example={"more": 2}),
    Template(
        "tanks-doubted",
        "By the fill-up log the tanks filled up on {dates} used far more or less than the others: "
        "a fill is missing, entered twice, or a figure is wrong. They are left out of the "
        "fill-ups' figure.",
        severity=_W,
        example={
            "dates": Items((Moment("2031-03-02"), Message("tanks-doubted/more", (("more", 2),))))
        },
    ),
)
