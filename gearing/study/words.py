"""How the study file's faults name what was found: values, their kinds, near misses."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time
from difflib import get_close_matches


def show(value: object) -> str:
    """A value as it stands in the file, short and safe to print."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        text = "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in value)
        return f'"{text[:60]}..."' if len(text) > 60 else f'"{text}"'
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    text = str(value)
    return text if len(text) <= 60 else text[:60] + "..."


def kind(value: object) -> str:
    """What a value is, in words."""
    kinds: tuple[tuple[type, str], ...] = (
        (bool, "true or false"),
        (int, "a number"),
        (float, "a number"),
        (str, "text"),
        (datetime, "a moment"),
        (date, "a date"),
        (time, "a time of day"),
        (list, "a list"),
        (dict, "a table"),
    )
    return next((words for python, words in kinds if isinstance(value, python)), "something else")


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word most like another, or None where none is much like it."""
    by_folded = {name.lower().replace("_", " ").replace("-", " "): name for name in known}
    folded = word.lower().replace("_", " ").replace("-", " ")
    close = get_close_matches(folded, by_folded, n=1, cutoff=0.6)
    return by_folded[close[0]] if close else None
