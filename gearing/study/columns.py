"""The study's `[columns]`: what a heading means where the heading itself leaves doubt."""

from __future__ import annotations

from collections.abc import Iterator

from gearing.logs.column_rule import ColumnRule
from gearing.logs.headings import (
    COMPANION_UNITS,
    ROLES,
    channel_named,
    dimensions_of,
    short_name,
)
from gearing.quantities import QUANTITIES
from gearing.study.section import Section
from gearing.study.words import nearest, show
from gearing.units import find_unit

IGNORED = "ignore"  # what a rule says of a column to be left alone
_NAMES = [*map(short_name, QUANTITIES), *map(short_name, COMPANION_UNITS), *ROLES]


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
    channel = IGNORED if folded == IGNORED else channel_named(folded)
    if channel is not None:
        return channel
    close = nearest(text, _NAMES)
    known = ", ".join(sorted(map(short_name, QUANTITIES)))
    section.fault(
        "study-choice",
        key,
        f"= {show(text)} is not a channel.",
        f'Did you mean "{close}"?' if close else f"Channels are: {known}.",
    )
    return None


def _check_unit(entry: Section, channel: str, text: str) -> bool:
    if channel in ROLES:
        return True  # the clock's own words, such as "day first", are the reader's to judge
    dimensions = dimensions_of(channel)
    if find_unit(text, dimensions) is not None:
        return True
    quantity = QUANTITIES.get(channel)
    entry.fault(
        "study-unit",
        "unit",
        f"= {show(text)} is not a unit of {' or '.join(dimensions)}.",
        f'The program keeps {short_name(channel)} in "'
        f'{quantity.unit if quantity else COMPANION_UNITS[channel]}".',
    )
    return False
