"""What to watch when the tires of a heavy vehicle change size; the same on every page."""

from __future__ import annotations

from dataclasses import dataclass

from gearing.messages.display import Display


@dataclass(frozen=True, slots=True)
class Caution:
    title: str
    text: str
    source: str


_PRACTICE = "common practice, no source"

CAUTIONS = (
    Caution(
        "Wheel nuts",
        "Have wheel-nut torque checked again after 50 to 100 miles (80 to 160 km) on newly fitted "
        "wheels, to the wheel maker's figure and pattern.",
        "TMC RP 237, Retorquing Guidelines for Disc Wheels",
    ),
    Caution(
        "Load and pressure",
        "Weigh each axle end laden, and set cold pressure by the tire maker's load and inflation "
        "table for that size. A tire in a dual pair carries less than the same tire alone. Never "
        "go over the marking on the sidewall or the rating of the wheel.",
        "49 CFR 393.75",
    ),
    Caution(
        "Duals",
        "Tires of a dual pair must match: within 1/4 in of diameter or 3/4 in of circumference "
        "for sizes above 8.25-20.",
        _PRACTICE,
    ),
    Caution(
        "Clearance and fit",
        "Check room to the body, the suspension and between duals at full steering lock and full "
        "bump, the rim width, the spare, and on all-wheel drive that front and rear still match.",
        _PRACTICE,
    ),
    Caution(
        "Computers",
        "Speedometer, cruise control, anti-lock brakes, retarder, transmission shift points and "
        "road-speed limiter may each use the tire's revolutions. Have all of them set together, "
        "by someone licensed for the maker's tools.",
        _PRACTICE,
    ),
    Caution(
        "Wide-base singles",
        "One tire carries what two did: a blow-out leaves none beside it, the wheel's offset "
        "changes the load on the bearings, and some states limit load by tire width.",
        _PRACTICE,
    ),
    Caution(
        "Downhill",
        "Posted limits, grade signs and the vehicle maker's data come before anything on this "
        "page. Brake temperatures and grip are not worked out here, and no speed is recommended.",
        _PRACTICE,
    ),
    Caution(
        "Who decides",
        "Tire, wheel and vehicle makers' data and the code where the vehicle is registered decide "
        "what may be fitted; this page decides nothing of the kind.",
        _PRACTICE,
    ),
)


def before_driving(display: Display) -> tuple[Caution, ...]:
    """The first of them in short, for the first screen; wheel nuts where wheels were changed."""
    far = "50 to 100 miles" if display.us else "80 to 160 km"
    nuts = f"check torque again after {far} on newly fitted wheels."
    return (
        *((Caution("Wheel nuts", nuts, ""),) if display.role == "changed" else ()),
        Caution("Load", "weigh each axle end laden; a dual carries less than a single.", ""),
        Caution("Pressure", "set it cold, by the tire maker's table for that size and load.", ""),
    )
