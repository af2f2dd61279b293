"""How the study file's faults name what was found: values, their kinds, near misses."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time
from difflib import get_close_matches

from gearing.messages import Message, UserText, message

UNFILLED = "?"  # of a study file that is begun


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


_KINDS: tuple[tuple[type, Message], ...] = (
    (bool, message("kind/flag")),
    (int, message("kind/number")),
    (float, message("kind/number")),
    (str, message("kind/text")),
    (datetime, message("kind/moment")),
    (date, message("kind/date")),
    (time, message("kind/time")),
    (list, message("kind/list")),
    (dict, message("kind/table")),
)


def kind(value: object) -> Message:
    """What a value is, in words."""
    found = (told for python, told in _KINDS if isinstance(value, python))
    return next(found, message("kind/other"))


def shown(value: object) -> UserText:
    """A value as it stands in the file, as a field of a message."""
    return UserText(show(value), "value")


def near_miss(near: str) -> Message:
    """The hint at what may have been meant, as it is to be written."""
    return message("near-miss", near=UserText(near))


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word most like another, or None where none is much like it."""
    by_folded = {name.lower().replace("_", " ").replace("-", " "): name for name in known}
    folded = word.lower().replace("_", " ").replace("-", " ")
    close = get_close_matches(folded, by_folded, n=1, cutoff=0.6)
    return by_folded[close[0]] if close else None
