"""What a log is good for, and what is missing for the rest."""

from __future__ import annotations

# Each answer needs one channel (or set of channels) of every group
_TRUE_SPEED = (("gps_speed_mps",), ("latitude_deg", "longitude_deg"))
_NEEDS: dict[str, tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]] = {
    "speed": (
        ("GPS speed or positions", _TRUE_SPEED),
        (
            "indicated speed or distance",
            (("indicated_speed_mps",), ("indicated_distance_m",)),
        ),
    ),
    "final drive": (
        ("GPS speed or positions", _TRUE_SPEED),
        ("engine speed or output shaft speed", (("engine_speed_rpm",), ("output_shaft_rpm",))),
    ),
    "fuel": (
        (
            "GPS speed or positions",
            _TRUE_SPEED,
        ),
        (
            "fuel rate, fuel used or mass air flow",
            (
                ("fuel_rate_lph",),
                ("fuel_used_l",),
                ("fuel_mass_rate_gps",),
                ("mass_air_flow_gps",),
            ),
        ),
    ),
    "mountain": (
        ("positions", (("latitude_deg", "longitude_deg"),)),
        ("altitude", (("altitude_m",),)),
        ("engine speed or output shaft speed", (("engine_speed_rpm",), ("output_shaft_rpm",))),
    ),
}
ANSWERS = tuple(_NEEDS)


def usable_for(
    channels: tuple[str, ...],
) -> tuple[tuple[str, ...], dict[str, tuple[str, ...]]]:
    """The answers these channels serve, and for each other answer what is missing."""
    have = set(channels)
    missing: dict[str, tuple[str, ...]] = {}
    for answer, needs in _NEEDS.items():
        lacking = tuple(
            words for words, ways in needs if not any(have.issuperset(way) for way in ways)
        )
        if lacking:
            missing[answer] = lacking
    return tuple(a for a in ANSWERS if a not in missing), missing
