"""Frozen dataclasses with data frames in them to bytes and back, by their own type hints.

No pickle: what lies in a cache folder may come from anywhere, and must at worst be refused.
"""

from __future__ import annotations

import dataclasses
import functools
import io
import json
import types
import typing
from collections.abc import Callable
from datetime import date, datetime
from enum import Enum
from typing import Any, TypeVar

import polars as pl

from gearing.messages.plain import from_plain, to_plain
from gearing.messages.render import Message, Remedy, Text

Kind = TypeVar("Kind")
_PLAIN = frozenset((str, bool, int, float))  # as JSON has them


def pack(value: Any) -> bytes:
    """A dataclass, or a list of dataclasses, as bytes.

    Raises
    ------
    TypeError
        a value inside that has no plain form.
    """
    frames: list[bytes] = []
    text = json.dumps(_flat(value, frames)).encode()
    sizes = [len(text), *(len(frame) for frame in frames)]
    head = json.dumps(sizes).encode() + b"\n"
    return b"".join([head, text, *frames])


def unpack(kind: type[Kind], content: bytes) -> Kind:
    """What `pack` made of a value of type `kind`.

    Raises
    ------
    ValueError
        the bytes are not that.
    """
    try:
        at = content.index(b"\n") + 1
        view = memoryview(content)  # slices of it are no copies
        parts = []
        for size in json.loads(content[:at]):
            parts.append(view[at : at + size])
            at += size
        build: Builder = _builder(kind)  # type: ignore[arg-type]  # types are hashable
        built: Kind = build(json.loads(bytes(parts[0])), parts[1:])
    except (ValueError, TypeError, LookupError, OSError, pl.exceptions.PolarsError) as error:
        raise ValueError(f"not a {kind}: {error}") from error
    return built


def _flat(value: Any, frames: list[bytes]) -> Any:
    if value is None or type(value) in _PLAIN:
        return value
    if isinstance(value, pl.DataFrame):
        buffer = io.BytesIO()  # packing takes longer than twice as much on the disk saves
        value.write_ipc_stream(buffer, compression="uncompressed")
        frames.append(buffer.getvalue())
        return len(frames) - 1
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, (str, int, float)):  # of a kind of their own, as numpy's
        return value
    if isinstance(value, Message | Remedy):
        of, part = (value.of, "remedy") if isinstance(value, Remedy) else (value, "text")
        return {**to_plain(of), "part": part}
    if isinstance(value, (datetime, date)):
        return value.isoformat()
    if dataclasses.is_dataclass(value):
        return [_flat(getattr(value, f.name), frames) for f in dataclasses.fields(value)]
    if isinstance(value, dict):
        return [[_flat(key, frames), _flat(item, frames)] for key, item in value.items()]
    if isinstance(value, frozenset):
        return [_flat(item, frames) for item in sorted(value)]
    if isinstance(value, (list, tuple)):
        if _PLAIN.issuperset(map(type, value)):
            return value
        return [_flat(item, frames) for item in value]
    raise TypeError(f"{type(value).__name__} cannot be packed")


Builder = Callable[[Any, list[memoryview]], Any]  # of a plain value, and the frames beside it


@functools.cache
def _builder(kind: Any) -> Builder:
    """What makes a value of a type of its plain form; the type is looked at once."""
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if kind in (Text, Text | None):
        return lambda value, _: None if value is None else _text(value)
    if origin in (typing.Union, types.UnionType):
        build = _builder(_but_none(inner))
        return lambda value, frames: None if value is None else build(value, frames)
    if kind is pl.DataFrame:
        return lambda value, frames: pl.read_ipc_stream(io.BytesIO(frames[value]))
    if origin in (tuple, list, frozenset, dict):
        return _of_many(origin, inner)
    if kind in (datetime, date):
        return lambda value, _: kind.fromisoformat(value)
    if dataclasses.is_dataclass(kind):
        return _of_fields(kind)
    if kind in _PLAIN or (isinstance(kind, type) and issubclass(kind, Enum)):
        return lambda value, _: kind(value)
    return lambda value, _: value


def _of_many(origin: Any, inner: tuple[Any, ...]) -> Builder:
    """What makes a tuple, list, set or dict of its elements' types."""
    if origin is dict:
        key, item = map(_builder, inner)
        return lambda value, frames: {key(k, frames): item(v, frames) for k, v in value}
    if origin is tuple and inner[-1] is not Ellipsis:
        each = [_builder(one) for one in inner]
        return lambda value, frames: tuple(
            build(one, frames) for build, one in zip(each, value, strict=True)
        )
    if inner[0] in _PLAIN:
        return lambda value, _: origin(value)
    build = _builder(inner[0])
    return lambda value, frames: origin(build(one, frames) for one in value)


def _of_fields(kind: Any) -> Builder:
    """What makes a dataclass of its fields' values, in their order."""
    hints = typing.get_type_hints(kind)
    fields = [(field.name, _builder(hints[field.name])) for field in dataclasses.fields(kind)]
    return lambda value, frames: kind(
        **{name: build(one, frames) for (name, build), one in zip(fields, value, strict=True)}
    )


def _text(value: Any) -> Text:
    if isinstance(value, str):
        return value
    told = from_plain(value)
    return Remedy(told) if value["part"] == "remedy" else told


def _but_none(inner: tuple[Any, ...]) -> Any:
    kinds = [kind for kind in inner if kind is not type(None)]
    if len(kinds) != 1:
        raise TypeError(f"a union of {kinds} cannot be unpacked")
    return kinds[0]
