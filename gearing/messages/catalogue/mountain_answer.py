"""What the mountain answer says of itself: reasons, what to watch, inputs and assumptions."""

from __future__ import annotations

from gearing.messages.fields import Items, Measured, Quantity, Span, UserText
from gearing.messages.render import Message
from gearing.messages.template import Template

_FILE = {"file": UserText("pass.csv", "file")}
_ENGINE = Message("vehicle-lacks/engine")
_WATCH = Message("watch/gears-hunt")
_LOGGED = Message("logs/downshifts", (("logged", 9), ("model", 3), ("drives", 4)))

_REASONS = (
    Template("no-routes", "the study names no [[route]]"),
    Template("profile-unread", "its profile {file} could not be read", example=_FILE),
    Template("profile-without-places", "the profile has no two places with distance and altitude"),
    Template(
        "profile-impossible",
        "its grade is {grade} from {at}, steeper than such a length of road is: heights of the "
        "ground over a tunnel or under a bridge, or feet taken for meters? Check the altitude "
        "there and its unit",
        example={"grade": Quantity(31.0, "%"), "at": Span(1.2, 1.4, "km", 1)},
    ),
    Template("vehicle-lacks/engine", "a torque curve under [vehicle.engine]"),
    Template("vehicle-lacks/gears", "gear_ratios under [vehicle]"),
    Template("vehicle-lacks/axle", "axle_ratio under [vehicle]"),
    Template("vehicle-lacks/mass", "mass under [vehicle]"),
    Template(
        "vehicle-lacks",
        "the study does not give {lacks}",
        example={"lacks": Items((_ENGINE,))},
    ),
    Template(
        "gear-without-speed",
        "the torque curve and governed speed leave this gear no speed to run at",
    ),
    Template("turns-unknown", "the revolutions per distance of these tires are not known"),
    Template("new-turns-unknown", "the revolutions per distance {@on the new tires} are not known"),
    Template(
        "few-full-load-stretches",
        "the logs hold too few stretches of {length} at full load with engine load and altitude "
        "known",
        example={"length": Quantity(500.0, "m")},
    ),
    Template("other-way", "{route}, the other way", example={"route": UserText("Pass")}),
)

_WATCH_FOR = (
    Template(
        "watch/cannot-start",
        "it cannot set off on the steepest {length} with something in hand",
        example={"length": Quantity(50.0, "m")},
    ),
    Template("watch/lugs", "it falls below lugging speed in its lowest gear"),
    Template(
        "watch/not-held",
        "no gear holds a descent at the speed wanted there, and the service brakes take over "
        "{stops} full {stops:stop|stops}",
        example={"stops": 8},
    ),
    Template(
        "watch/steepest-not-held",
        "no gear holds the steepest descent at the speed wanted there",
    ),
    Template("watch/held-before", "no gear holds a descent that one held before"),
    Template(
        "watch",
        "in {drives} of 100 simulated drives {what}",
        example={"drives": 12, "what": Message("watch/lugs")},
    ),
    Template(
        "watch/between-points",
        "points of its profile lie up to {apart} apart, and what is steeper between them is not "
        "seen",
        example={"apart": Quantity(0.5, "km", 1)},
    ),
    Template("watch/gears-hunt", "the gears hunt on a climb"),
    Template(
        "watch/converter-open",
        "it climbs for {minutes} in a gear whose torque converter does not lock, which heats the "
        "oil",
        example={"minutes": Quantity(4.0, "min")},
    ),
    Template(
        "watch/brakes",
        "along the road the service brakes do the work of up to {stops} full stops (95 of 100 "
        "simulated drives)",
        example={"stops": Quantity(2.8, "-", 1)},
    ),
    Template(
        "watch/slower",
        "a climb's lowest speed falls by {falls}",
        example={"falls": Quantity(6.0, "km/h")},
    ),
    Template(
        "watch/more-braking",
        "the work left to the service brakes rises by {stops} full stops",
        example={"stops": Quantity(1.2, "-", 1)},
    ),
    Template(
        "watch/logs",
        "{climbs:up|down} from {at} the logs show {what}",
        example={
            "climbs": True,
            "at": Span(14.0, 20.0, "km", 1),
            "what": Items((_LOGGED,)),
        },
    ),
    Template(
        "logs/downshifts",
        "{logged} {logged:downshift|downshifts} a drive (median of {drives}) where the model has "
        "{model}",
        example={"logged": 9, "model": 3, "drives": 4},
    ),
    Template(
        "logs/speed",
        "a lowest speed of {logged} where the model has {model}",
        example={"logged": Quantity(47.0, "km/h"), "model": Quantity(55.0, "km/h")},
    ),
    Template(
        "logs/gear",
        "gear {logged} for most of it where the model has gear {model}",
        example={"logged": 6, "model": 4},
    ),
    Template(
        "logs/oil",
        "transmission oil of up to {highest}",
        example={"highest": Quantity(124.0, "degC")},
    ),
    Template(
        "logs/coolant",
        "coolant of up to {highest}",
        example={"highest": Quantity(107.0, "degC")},
    ),
    Template("watch-all", "{what}", example={"what": Items((_WATCH, _WATCH), ";")}),
)

_HANDLING = (
    Template("handling/given", "as given"),
    Template("handling/median", "median of {passes} passes", example={"passes": 8}),
    Template(
        "handling/smoothed",
        "smoothed over {reach} to either side twice",
        example={"reach": Quantity(200.0, "m")},
    ),
    Template(
        "handling/mended",
        "{heights} false {heights:height|heights} mended",
        example={"heights": 2},
    ),
    Template(
        "handling/crossings",
        "drawn straight over a bridge or through a tunnel in {places} {places:place|places}",
        example={"places": 1},
    ),
    Template(
        "handling/drift",
        "an altitude that may drift by {by} is in the ranges told",
        example={"by": Quantity(2.3, "m", 1)},
    ),
    Template("handling", "{steps}", example={"steps": Items((Message("handling/given"),), ",")}),
)

_SOURCES = (
    Template("source/assumed", "assumed"),
    Template("source/declared", "declared"),
    Template("source/logs", "from the logs"),
    Template("source/torque", "from torque, grade and acceleration"),
    Template("source/fitted", "fitted to the logs"),
    Template(
        "source/fitted-with-prior",
        "fitted to the logs, with the declared or usual figure as prior",
    ),
)

_ASSUMED = (
    Template(
        "assumed/input",
        "{input} {figure}",
        example={
            "input": UserText("wind along the road"),
            "figure": Measured(0.0, -3.5, 3.5, "m/s"),
        },
    ),
    Template(
        "assumed/governed-speed",
        "governed speed {speed}, the torque curve's last point",
        example={"speed": Quantity(2600.0, "rpm")},
    ),
    Template("assumed/idle-speed", "idle speed {speed}", example={"speed": Quantity(700.0, "rpm")}),
    Template(
        "assumed/thin-air",
        "above {above} of altitude the engine loses {loss} of its torque for every {every}",
        example={
            "above": Quantity(2000.0, "m", -2),
            "loss": Quantity(3.0, "%", 1),
            "every": Quantity(304.8, "m"),
        },
    ),
    Template(
        "assumed/converter",
        "a torque converter of stall ratio 1.9 that locks from third gear on",
    ),
    Template(
        "assumed/automated",
        "an automated gearbox without a torque converter, as the first gear is {first}",
        example={"first": Quantity(11.32, "-", 2)},
    ),
    Template(
        "assumed/kind-from-logs",
        "{kind}, as {shifts} {shifts:shift|shifts} up under load in the logs show",
        example={"kind": Message("transmission/automated"), "shifts": 40},
    ),
    Template(
        "assumed/fan",
        "a fan that takes {power} at governed speed once the engine has worked hard for a minute "
        "and a half",
        example={"power": Quantity(8000.0, "W")},
    ),
    Template(
        "assumed/same-rolling",
        "the same rolling resistance {@on both sets}, so that only gearing differs",
    ),
    Template("assumed/no-retarder", "no retarder: engine friction and the service brakes alone"),
    Template(
        "assumed/engine-retarder",
        "retarder power as declared, on top of the engine's own friction: where the maker's figure "
        "holds the friction too, less is to be declared",
    ),
    Template(
        "assumed/shaft-retarder",
        "a retarder on the output shaft, its power as declared however long the descent: one that "
        "grows hot gives less",
    ),
    Template("assumed/shift-points", "shift points from the torque curve"),
    Template(
        "assumed/driver",
        "downhill in half of the simulated drives a driver who changes down where the gear would "
        "leave over a full stop to the service brakes, and in half one who leaves the gear as on "
        "the level and brakes{retarder:; a retarder that is always on|}; the figures of one drive "
        "are of {changes:the first|the second}",
        example={"retarder": True, "changes": True},
    ),
    Template(
        "assumed/driven-speed",
        "a wanted speed of {speed}, as driven on open road",
        example={"speed": Quantity(88.0, "km/h")},
    ),
    Template(
        "assumed/posted-speed",
        "the posted limit as the wanted speed, else {speed}",
        example={"speed": Quantity(89.0, "km/h")},
    ),
)

TEMPLATES: tuple[Template, ...] = (
    *_REASONS,
    *_WATCH_FOR,
    *_HANDLING,
    *_SOURCES,
    *_ASSUMED,
)
