"""Messages as plain JSON values and back: for `results.json` and for what is kept between runs."""

from __future__ import annotations

import dataclasses
from typing import Any

from gearing.messages.catalogue import CATALOGUE
from gearing.messages.fields import Items, Measured, Moment, Position, Quantity, Span, UserText
from gearing.messages.render import Field, Message

_KINDS = {
    "quantity": Quantity,
    "span": Span,
    "measured": Measured,
    "user_text": UserText,
    "moment": Moment,
    "position": Position,
}
_NAMES = {kind: name for name, kind in _KINDS.items()}


def to_plain(told: Message) -> dict[str, Any]:
    """The message as a JSON object: `code` and `fields`."""
    return {"code": told.code, "fields": {name: _field(value) for name, value in told.fields}}


def from_plain(tree: dict[str, Any]) -> Message:
    """What `to_plain` made of a message.

    Raises
    ------
    KeyError, TypeError, ValueError
        the tree is not that, or its code is not in the catalogue.
    """
    CATALOGUE[tree["code"]]
    return Message(
        tree["code"], tuple((name, _built(value)) for name, value in tree["fields"].items())
    )


def _field(value: Field) -> Any:
    if isinstance(value, int):  # counts and choices
        return value
    if isinstance(value, Message):
        return to_plain(value)
    if isinstance(value, Items):
        return {"items": [_field(one) for one in value.items], "joint": value.joint}
    return {"type": _NAMES[type(value)], **dataclasses.asdict(value)}


def _built(tree: Any) -> Field:
    if isinstance(tree, int):
        return tree
    if "code" in tree:
        return from_plain(tree)
    if "items" in tree:
        return Items(tuple(_built(one) for one in tree["items"]), tree["joint"])
    kind: Any = _KINDS[tree["type"]]
    built: Field = kind(**{name: value for name, value in tree.items() if name != "type"})
    return built
