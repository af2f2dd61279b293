"""How a type is written in `results.json`: what reading it back and its JSON Schema both ask."""

from __future__ import annotations

import dataclasses
import functools
import typing
from collections.abc import Iterator
from typing import Any

from gearing.messages.render import Message, Text

_TEXTS = (Text, Text | None, Message, Message | None)
_hints = functools.cache(typing.get_type_hints)


def is_text(kind: Any) -> bool:
    """Whether a type is a message's, written as its text."""
    return kind in _TEXTS


def is_frame(kind: Any) -> bool:
    """Whether a type is a data frame: those are tables beside `results.json`."""
    return getattr(kind, "__module__", "").startswith("polars")


def fields_of(kind: Any) -> Iterator[tuple[dataclasses.Field[Any], Any]]:
    """The fields of a dataclass, plain or generic, with their types filled in."""
    origin = typing.get_origin(kind) or kind
    given = dict(zip(getattr(origin, "__parameters__", ()), typing.get_args(kind), strict=False))
    hints = _hints(origin)
    for one in dataclasses.fields(origin):
        yield one, _filled(hints[one.name], given)


def is_record(kind: Any) -> bool:
    """Whether a type is a dataclass, plain or generic."""
    return dataclasses.is_dataclass(typing.get_origin(kind) or kind)


def _filled(kind: Any, given: dict[Any, Any]) -> Any:
    """A type with its type variables replaced."""
    if isinstance(kind, typing.TypeVar):
        return given.get(kind, Any)
    if not given or not getattr(kind, "__parameters__", ()):
        return kind
    return kind[tuple(given.get(one, Any) for one in kind.__parameters__)]
