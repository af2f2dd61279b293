"""What a log is good for, and what is missing for the rest."""

from __future__ import annotations

from gearing.messages import Message, message

Need = tuple[Message, tuple[tuple[str, ...], ...]]  # what is lacking, and the ways to have it

_POSITIONS = ("latitude_deg", "longitude_deg")
_TRUE_SPEED: Need = (message("lacks-true-speed"), (("gps_speed_mps",), _POSITIONS))
_TURNS: Need = (message("lacks-turns"), (("engine_speed_rpm",), ("output_shaft_rpm",)))
_INDICATED: Need = (
    message("lacks-indicated"),
    (("indicated_speed_mps",), ("indicated_distance_m",)),
)
_FUEL: Need = (
    message("lacks-fuel"),
    (("fuel_rate_lph",), ("fuel_used_l",), ("fuel_mass_rate_gps",), ("mass_air_flow_gps",)),
)
# Each answer needs one channel (or set of channels) of every group
_NEEDS: dict[str, tuple[Need, ...]] = {
    "speed": (_TRUE_SPEED, _INDICATED),
    "final drive": (_TRUE_SPEED, _TURNS),
    "fuel": (_TRUE_SPEED, _FUEL),
    "mountain": (
        (message("lacks-positions"), (_POSITIONS,)),
        (message("lacks-altitude"), (("altitude_m",),)),
        _TURNS,
    ),
}
ANSWERS = tuple(_NEEDS)


def usable_for(
    channels: tuple[str, ...],
) -> tuple[tuple[str, ...], dict[str, tuple[Message, ...]]]:
    """The answers these channels serve, and for each other answer what is missing."""
    have = set(channels)
    missing: dict[str, tuple[Message, ...]] = {}
    for answer, needs in _NEEDS.items():
        lacking = tuple(
            what for what, ways in needs if not any(have.issuperset(way) for way in ways)
        )
        if lacking:
            missing[answer] = lacking
    return tuple(a for a in ANSWERS if a not in missing), missing
