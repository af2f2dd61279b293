"""What a table is, a log or one of the files beside logs, by what its headings name."""

from __future__ import annotations

from collections.abc import Iterable

from gearing.logs.assign import TIME_ROLES, candidates
from gearing.logs.notebook_columns import FILLUPS, named_by_unit
from gearing.messages import Message, UserText, message

LOG, FILLUP_LOG, WEATHER, DASH, PROFILE = (
    "log", "fill-ups", "weather", "dash readings", "road profile",
)  # fmt: skip
_CALLED = {
    LOG: message("kind-of-file/log"),
    FILLUP_LOG: message("kind-of-file/fill-ups"),
    WEATHER: message("kind-of-file/weather"),
    DASH: message("kind-of-file/dash"),
    PROFILE: message("kind-of-file/profile"),
}
_NAMED_AS = {
    LOG: message("named-as/log"),
    FILLUP_LOG: message("named-as/fill-ups"),
    WEATHER: message("named-as/weather"),
    PROFILE: message("named-as/profile"),
}
LARGEST_NOTEBOOK = 65_536  # bytes: twenty years of fill-ups; logs are larger
_OF_AN_ENGINE = {
    "engine_speed_rpm", "output_shaft_rpm", "engine_load_percent", "accelerator_percent",
    "fuel_rate_lph", "mass_air_flow_gps", "coolant_temperature_c",
}  # fmt: skip
_SPEEDS = {"indicated_speed_mps", "gps_speed_mps"}
_WAY = {"distance", "distance_m", "indicated_distance_m"}


def named_by(headings: tuple[str, ...], units: tuple[str, ...] = ()) -> frozenset[str]:
    """The quantities and roles that headings name in a file beside logs."""
    found = candidates(headings, units, (), companion=True)
    return frozenset(c.target for c in named_by_unit(found, FILLUPS) if c.target)


def kind_of(named: Iterable[str]) -> str:
    """What a table with columns of these names is; empty where they do not tell. Readings of the
    dash look like a log's, and are never told."""
    names = set(named)
    if not names & set(TIME_ROLES):
        high = names & {"altitude_m", "grade_percent"} and not names & (_OF_AN_ENGINE | _SPEEDS)
        return PROFILE if high and names & _WAY else ""
    if names & _OF_AN_ENGINE:
        return LOG
    if names >= {"volume_l", "indicated_distance_m"}:
        return FILLUP_LOG
    if "wind_speed_mps" in names:
        return WEATHER
    return LOG if "latitude_deg" in names else ""


def other_kind(found: str, wanted: str, file: str) -> Message:
    """That a file is of another kind than the study, or `gearing inspect`, takes it for."""
    return message(
        "other-kind",
        what=_CALLED[found],
        wanted=_CALLED[wanted],
        place=_NAMED_AS[found],
        file=UserText(file, "file"),
    )
