"""A message's text that remembers its message: what results hold in memory."""

from __future__ import annotations

from gearing.messages.fields import UserText
from gearing.messages.render import Message, Remedy, Text


class Told(str):
    """A message's text, metric unless another is given, which remembers what it was made of."""

    told: Message | Remedy

    def __new__(cls, told: Message | Remedy, text: str | None = None) -> Told:
        made = super().__new__(cls, str(told) if text is None else text)
        made.told = told
        return made


def told_of(text: Text) -> Text:
    """What a text of results was made of, where it remembers."""
    return text.told if isinstance(text, Told) else text


def field_of(text: Text | None) -> Message | UserText:
    """A text as a field of another message: its own message where it has one.

    Plain text may name files, so that a shared page must not show it.
    """
    told = told_of(text or "")
    return told if isinstance(told, Message) else UserText(str(told), "value")
