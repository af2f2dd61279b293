"""The study's `[columns]`: what a heading means where the heading itself leaves doubt."""

from __future__ import annotations

from collections.abc import Iterator

from gearing.logs.column_rule import ColumnRule, rule_line
from gearing.logs.headings import (
    BESIDE,
    ROLES,
    channel_named,
    dimensions_of,
    quantity_of,
    short_name,
)
from gearing.messages import UserText, message, names
from gearing.quantities import QUANTITIES
from gearing.study.section import Section
from gearing.study.words import near_miss, nearest, shown
from gearing.units import find_unit

IGNORED = "ignore"  # what a rule says of a column to be left alone
_NAMES = [*map(short_name, QUANTITIES), *map(short_name, BESIDE), *ROLES]


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
            told = message(
                "study-type/no-channel",
                key=section.called(heading),
                shown=shown(value),
                line=UserText(rule_line(heading, "indicated_speed_mps", "mph"), "line"),
            )
            section.fault(heading, told)
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
    known = names(sorted(map(short_name, QUANTITIES)), joint=",")
    advice = near_miss(f'"{close}"') if close else message("channels-known", channels=known)
    told = message(
        "study-choice/channel", key=section.called(key), shown=shown(text), advice=advice
    )
    section.fault(key, told)
    return None


def _check_unit(entry: Section, channel: str, text: str) -> bool:
    if channel in ROLES:
        return True  # the clock's own words, such as "day first", are the reader's to judge
    dimensions = dimensions_of(channel)
    if find_unit(text, dimensions) is not None:
        return True
    told = message(
        "study-unit/of-channel",
        key=entry.called("unit"),
        shown=shown(text),
        dimensions=names(dimensions, joint="or"),
        channel=UserText(short_name(channel)),
        unit=UserText(quantity_of(channel).unit),
    )
    entry.fault("unit", told)
    return False
