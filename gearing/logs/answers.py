"""What a log is good for, and what is missing for the rest."""

from __future__ import annotations

from gearing.messages import Message, message

# Each answer needs one channel (or set of channels) of every group
_TRUE_SPEED = (("gps_speed_mps",), ("latitude_deg", "longitude_deg"))
_NEEDS: dict[str, tuple[tuple[Message, tuple[tuple[str, ...], ...]], ...]] = {
    "speed": (
        (message("lacks-true-speed"), _TRUE_SPEED),
        (
            message("lacks-indicated"),
            (("indicated_speed_mps",), ("indicated_distance_m",)),
        ),
    ),
    "final drive": (
        (message("lacks-true-speed"), _TRUE_SPEED),
        (message("lacks-turns"), (("engine_speed_rpm",), ("output_shaft_rpm",))),
    ),
    "fuel": (
        (
            message("lacks-true-speed"),
            _TRUE_SPEED,
        ),
        (
            message("lacks-fuel"),
            (
                ("fuel_rate_lph",),
                ("fuel_used_l",),
                ("fuel_mass_rate_gps",),
                ("mass_air_flow_gps",),
            ),
        ),
    ),
    "mountain": (
        (message("lacks-positions"), (("latitude_deg", "longitude_deg"),)),
        (message("lacks-altitude"), (("altitude_m",),)),
        (message("lacks-turns"), (("engine_speed_rpm",), ("output_shaft_rpm",))),
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
