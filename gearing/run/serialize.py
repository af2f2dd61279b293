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
from datetime import date, datetime
from enum import Enum
from typing import Any, TypeVar

import polars as pl

from gearing.messages.plain import from_plain, to_plain
from gearing.messages.render import Message, Remedy, Text

Kind = TypeVar("Kind")
_PLAIN = (str, bool, int, float)  # as JSON has them


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
        built: Kind = _built(kind, json.loads(bytes(parts[0])), parts[1:])
    except (ValueError, TypeError, LookupError, OSError, pl.exceptions.PolarsError) as error:
        raise ValueError(f"not a {kind}: {error}") from error
    return built


def _flat(value: Any, frames: list[bytes]) -> Any:
    if isinstance(value, pl.DataFrame):
        buffer = io.BytesIO()
        value.write_ipc_stream(buffer, compression="lz4")
        frames.append(buffer.getvalue())
        return len(frames) - 1
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Message | Remedy):
        of, part = (value.of, "remedy") if isinstance(value, Remedy) else (value, "text")
        return {**to_plain(of), "part": part}
    if value is None or isinstance(value, (str, bool, int, float)):
        return value
    if isinstance(value, (datetime, date)):
        return value.isoformat()
    if dataclasses.is_dataclass(value):
        return [_flat(getattr(value, f.name), frames) for f in dataclasses.fields(value)]
    if isinstance(value, dict):
        return [[_flat(key, frames), _flat(item, frames)] for key, item in value.items()]
    if isinstance(value, frozenset):
        return [_flat(item, frames) for item in sorted(value)]
    if isinstance(value, (list, tuple)):
        if all(type(item) in _PLAIN for item in value):
            return value
        return [_flat(item, frames) for item in value]
    raise TypeError(f"{type(value).__name__} cannot be packed")


def _built(kind: Any, value: Any, frames: list[memoryview]) -> Any:
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if kind in (Text, Text | None):
        return None if value is None else _text(value)
    if origin in (typing.Union, types.UnionType):
        return None if value is None else _built(_but_none(inner), value, frames)
    if origin is typing.Literal:
        return value
    if kind is pl.DataFrame:
        return pl.read_ipc_stream(io.BytesIO(frames[value]))
    if origin is tuple and inner[-1:] != (Ellipsis,):
        return tuple(_built(k, v, frames) for k, v in zip(inner, value, strict=True))
    if origin in (tuple, list, frozenset) and inner[0] in _PLAIN:
        return origin(value)
    if origin in (tuple, list, frozenset):
        return origin(_built(inner[0], item, frames) for item in value)
    if origin is dict:
        return {_built(inner[0], k, frames): _built(inner[1], v, frames) for k, v in value}
    if kind in (datetime, date):
        return kind.fromisoformat(value)
    if isinstance(kind, type) and issubclass(kind, Enum):
        return kind(value)
    if dataclasses.is_dataclass(kind):
        return _dataclass(kind, value, frames)
    return kind(value) if kind in _PLAIN else value


def _text(value: Any) -> Text:
    if isinstance(value, str):
        return value
    told = from_plain(value)
    return Remedy(told) if value["part"] == "remedy" else told


def _dataclass(kind: Any, value: Any, frames: list[memoryview]) -> Any:
    hints = _hints(kind)
    fields = dataclasses.fields(kind)
    return kind(
        **{
            field.name: _built(hints[field.name], item, frames)
            for field, item in zip(fields, value, strict=True)
        }
    )


_hints = functools.cache(typing.get_type_hints)


def _but_none(inner: tuple[Any, ...]) -> Any:
    kinds = [kind for kind in inner if kind is not type(None)]
    if len(kinds) != 1:
        raise TypeError(f"a union of {kinds} cannot be unpacked")
    return kinds[0]
