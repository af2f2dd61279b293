"""The study's `[columns]`: what a heading means where the heading itself leaves doubt."""

from __future__ import annotations

import re
from collections.abc import Iterator

from gearing.quantities import QUANTITIES
from gearing.study.model import ColumnRule
from gearing.study.section import Section, nearest, show
from gearing.units import find_unit

# Channels of companion files alone, with their unit.
COMPANION_CHANNELS = {
    "wind_speed_mps": "m/s",
    "wind_from_deg": "deg",
    "volume_l": "L",
    "full": "-",
    "missed": "-",
    "price": "-",
    "other_l": "L",
    "distance_m": "m",
    "speed_limit_mps": "m/s",
    "stop_s": "s",
}
IGNORED = "ignore"  # what a rule says of a column to be left alone
_UNIT_ENDING = re.compile(r"_(mps|m|deg|rpm|lph|l|gps|percent|nm|c|kpa|h|s)$")


def _names() -> dict[str, str]:
    """Every name a channel goes by in a study, with and without its unit, to its full name."""
    full = [*QUANTITIES, *COMPANION_CHANNELS]
    return {_UNIT_ENDING.sub("", name): name for name in full} | {name: name for name in full}


CHANNEL_NAMES = _names()


def read_columns(section: Section | None) -> tuple[ColumnRule, ...]:
    """The rules in the order of the file; an entry may be a table, several, or a bare channel."""
    return tuple(_rules(section)) if section is not None else ()


def _rules(section: Section) -> Iterator[ColumnRule]:
    for heading, value in section.values.items():
        if isinstance(value, str):
            section.get(heading)
            channel = _channel(section, heading, value)
            if channel is not None:
                yield ColumnRule(heading=heading, channel=None if channel == IGNORED else channel)
            continue
        if not isinstance(value, dict | list):
            section.get(heading)
            section.fault(
                "study-type",
                heading,
                f"= {show(value)} names no channel.",
                f'Write "{heading}" = {{ channel = "indicated_speed", unit = "mph" }}',
            )
            continue
        for entry in section.parts(heading):
            rule = _rule(entry, heading)
            if rule is not None:
                yield rule


def _rule(entry: Section, heading: str) -> ColumnRule | None:
    text = entry.text("channel", '"indicated_speed"')
    unit = entry.text("unit", '"mph"')
    files = entry.text("files", '"before/*.csv"')
    entry.require("channel", '"indicated_speed"')
    channel = None if text is None else _channel(entry, "channel", text)
    if channel is None:
        return None
    if channel == IGNORED:
        return ColumnRule(heading=heading, channel=None, files=files)
    if unit is not None and not _check_unit(entry, channel, unit):
        return None
    return ColumnRule(heading=heading, channel=channel, unit=unit, files=files)


def _channel(section: Section, key: str, text: str) -> str | None:
    folded = text.strip().lower().replace(" ", "_").replace("-", "_")
    if folded == IGNORED or folded in CHANNEL_NAMES:
        return CHANNEL_NAMES.get(folded, IGNORED)
    close = nearest(text, CHANNEL_NAMES)
    known = ", ".join(sorted({_UNIT_ENDING.sub("", name) for name in QUANTITIES}))
    section.fault(
        "study-choice",
        key,
        f"= {show(text)} is not a channel.",
        f'Did you mean "{_UNIT_ENDING.sub("", close)}"?' if close else f"Channels are: {known}.",
    )
    return None


def _check_unit(entry: Section, channel: str, text: str) -> bool:
    if channel == "time":
        return True  # the clock's own words, such as "day first", are the reader's to judge
    quantity = QUANTITIES.get(channel)
    own = find_unit(quantity.unit if quantity else COMPANION_CHANNELS[channel])
    dimensions = (quantity.dimensions if quantity else ()) or ((own.dimension,) if own else ())
    if find_unit(text, dimensions) is not None:
        return True
    entry.fault(
        "study-unit",
        "unit",
        f"= {show(text)} is not a unit of {' or '.join(dimensions)}.",
        f'The program keeps {channel} in "{own.name if own else "-"}".',
    )
    return False
