"""What is told of making trips of samples, of roads, and of the vehicle's usual parameters."""

from __future__ import annotations

from gearing.messages.fields import Quantity, Span, UserText
from gearing.messages.template import Severity, Template

_W, _N = Severity.WARNING, Severity.NOTE
_FILE = {"file": UserText("phone.gpx", "file")}
_CORRELATION = {"correlation": Quantity(0.97, "-", 2)}
_FAR = "the GPS speed is {off} from what the positions show"
_OFF = {"off": Quantity(4.2, "%", 1, sign=True)}

TRIPS = (
    Template(
        "clock-offset",
        "joined to {file}: its clock was moved by {offset} to lie on that file's (correlation "
        "{correlation})",
        severity=_N,
        example={**_FILE, "offset": Quantity(3.2, "s", 1, sign=True), **_CORRELATION},
    ),
    Template(
        "join-refused",
        "overlaps {file} in time but does not show the same drive (correlation {correlation} at "
        "any offset within {minutes} minutes); used by itself",
        remedy="Check the clock or the time zone of both recorders.",
        severity=_W,
        example={**_FILE, **_CORRELATION, "minutes": 10},
    ),
    Template(
        "lag-unknown",
        "the receiver's and the bus's speed have too little in common to tell how far one trails "
        "the other (correlation {correlation}); taken as no lag",
        severity=_N,
        example=_CORRELATION,
    ),
    Template(
        "fuel-none-while-pulling",
        "in {rows} rows the fuel rate is none although the vehicle climbs or gathers speed; it is "
        "taken as not logged there",
        remedy="Check the recorder: one that loses its place writes zeros.",
        severity=_W,
        example={"rows": 60},
    ),
    Template(
        "gps-speed-whole",
        "the receiver's speed comes in steps of {step}; it may be cut or rounded to them, and the "
        "intervals hold both",
        remedy="Log it with decimals.",
        severity=_N,
        example={"step": Quantity(1.0, "km/h", 1)},
    ),
    Template(
        "speed-copied/receiver",
        "the receiver's and the vehicle's speed are the same in every row: the vehicle's was "
        "written under both headings; how fast it truly went is known by positions alone, if any",
        remedy="Log the receiver's own speed, or positions each second.",
        severity=_W,
    ),
    Template(
        "speed-copied/bus",
        "the receiver's and the vehicle's speed are the same in every row: the receiver's was "
        "written under both headings; what the vehicle's computer counts is not known",
        remedy="Log the speed of the vehicle's own computer.",
        severity=_W,
    ),
    Template(
        "speed-stands-still/receiver",
        "in {rows} rows the receiver's speed falls to none while the bus drives; left out there",
        remedy="Check the receiver and its aerial.",
        severity=_W,
        example={"rows": 420},
    ),
    Template(
        "speed-stands-still/bus",
        "in {rows} rows the bus's speed stands still while the receiver's changes, or falls to "
        "none while it drives; left out there",
        remedy="Check the recorder, and whether its display ends below the speeds driven.",
        severity=_W,
        example={"rows": 420},
    ),
    Template(
        "drawn-between",
        "in {rows} rows the {channel} stands on a straight line between two others, {apart} apart: "
        "the recorder computed it; the rest alone was taken as measured",
        remedy="Let the recorder leave a value blank where it has none.",
        severity=_N,
        example={
            "rows": 2400,
            "channel": UserText("Indicated speed"),
            "apart": Quantity(7.0, "s", 1),
        },
    ),
    Template(
        "gps-speed-disagrees/unit",
        f"{_FAR}; positions were used",
        remedy="Check the unit of the GPS speed in [columns].",
        severity=_W,
        example=_OFF,
    ),
    Template(
        "gps-speed-disagrees/either",
        f"{_FAR}, and either may be wrong: all true distances carry that much",
        remedy="Log with another receiver beside it, or declare a [[measured]] stretch.",
        severity=_W,
        example=_OFF,
    ),
    Template(
        "positions-coarse",
        "the positions are written too coarsely to measure a distance by, and the log has no GPS "
        "speed; no true speed was taken from it",
        remedy="Record positions with five decimals of a degree or more, or the GPS speed.",
        severity=_W,
    ),
    Template(
        "short-drive",
        "drives of under {rows} rows between stops or gaps tell nothing and are no trips",
        severity=_N,
        example={"rows": 30},
    ),
    Template(
        "carried",
        "the receiver moved {distance} while the wheels stood, as on a ferry; it was counted as "
        "no driving",
        severity=_N,
        example={"distance": Quantity(12.3, "km", 1)},
    ),
)

VEHICLE = (
    Template("road-unusable/points", "a road needs at least two points whose distances ascend"),
    Template("road-unusable/numbers", "a road's distances and altitudes must be numbers"),
    Template(
        "road-unusable/altitude",
        "its altitude changes faster than a road's can, first from {at}: check the row there, "
        "which column is which, and their units",
        example={"at": Span(1.25, 1.3, "km", 2)},
    ),
    Template(
        "parameter/rolling",
        "rolling resistance at {at}",
        example={"at": Quantity(25.0, "degC")},
    ),
    Template("parameter/rolling-temperature", "change of rolling resistance with temperature"),
    Template("parameter/temperature", "air temperature at sea level"),
    Template("parameter/wind", "wind along the road"),
    Template("parameter/torque", "torque at the wheels against the declared curve"),
    Template("parameter/friction", "engine friction against the usual"),
    Template("parameter/retarder", "retarder power against the declared"),
    Template("parameter/losses", "losses of gearbox and axle against the standard ones"),
    Template("parameter/held-speed", "speed held against the speed wanted"),
    Template("parameter/standing-fuel", "fuel taken standing"),
    Template("parameter/pace", "how hard the driver speeds up and slows down"),
    Template("parameter/drag-area", "drag area"),
    Template("parameter/weight", "weight"),
    Template("parameter/energy", "fuel for a kWh more at the engine"),
    Template("parameter/turning", "fuel to turn the engine, per 1,000 rpm"),
)

TEMPLATES: tuple[Template, ...] = (*TRIPS, *VEHICLE)
