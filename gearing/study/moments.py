"""Dates and moments of the study file."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta

from gearing.logs.timestamps.dates import find_start
from gearing.messages import UserText, message
from gearing.study.section import Section
from gearing.study.words import shown


def read_moment(section: Section, key: str, *, end_of_day: bool = False) -> datetime | None:
    """A date, or a date with a time of day, as a moment in UTC.

    Without an offset it is local to the study's time zone. A date alone is the start of
    that day, or with `end_of_day` its end.
    """
    value = section.get(key)
    if value is None:
        return None
    if isinstance(value, str):
        text = value
        try:
            value = datetime.fromisoformat(text.strip())
        except ValueError:
            section.wrong_kind(key, text, message("kind/date"), _as_toml(text))
            return None
        if re.fullmatch(r"[-\dW]+", str(section.values[key]).strip()):
            value = value.date()
    try:
        if isinstance(value, datetime):
            return _in_utc(section, key, value)
        if isinstance(value, date):
            day = value + timedelta(days=1) if end_of_day else value
            return datetime.combine(day, time(), section.zone).astimezone(UTC)
    except OverflowError:
        section.fault(key, message("study-range/date", key=section.called(key), shown=shown(value)))
        return None
    section.wrong_kind(key, value, message("kind/date"), "2026-03-14 or 2026-03-14T09:30:00")
    return None


def _as_toml(text: str) -> str:
    """The moment a text tells as TOML has it, with its time of day; where it tells none for sure,
    an example of as much as the text gives."""
    moment, timed = find_start(text)
    if moment is None:
        return "2026-03-14T09:30:00" if ":" in text else "2026-03-14"
    return moment.isoformat() if timed else moment.date().isoformat()


def _in_utc(section: Section, key: str, value: datetime) -> datetime | None:
    if value.tzinfo is not None:
        return value.astimezone(UTC)
    first = value.replace(tzinfo=section.zone, fold=0).astimezone(UTC)
    second = value.replace(tzinfo=section.zone, fold=1).astimezone(UTC)
    if first == second:
        return first
    # the later of the two readings falls first where the clock was put forward
    told = message(
        "study-date",
        key=section.called(key),
        shown=shown(value),
        forward=first > second,
        zone=UserText(str(section.zone)),
        name=UserText(key),
        example=UserText(value.replace(tzinfo=section.zone).isoformat()),
    )
    section.fault(key, told)
    return None
