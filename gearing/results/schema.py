"""The JSON Schema (draft 2020-12) of frozen results, made of their types."""

from __future__ import annotations

import dataclasses
import types
import typing
from collections.abc import Mapping
from datetime import date, datetime
from enum import Enum
from typing import Any

from gearing.messages.problems import StudyWarning
from gearing.results.shape import fields_of, is_frame, is_record, is_text

DIALECT = "https://json-schema.org/draft/2020-12/schema"
Schema = dict[str, Any]


def schema_of(kind: Any, *, title: str) -> Schema:
    """The schema of a dataclass as `plain` writes it; records stand under `$defs` by class."""
    records: dict[str, Schema] = {}
    top = _schema(kind, records)
    return {"$schema": DIALECT, "title": title, **top, "$defs": dict(sorted(records.items()))}


def _schema(kind: Any, records: dict[str, Schema]) -> Schema:
    if is_text(kind):
        return {"type": ["string", "null"], "description": "metric text of a message"}
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if origin in (typing.Union, types.UnionType):
        return _union(inner, records)
    if kind is StudyWarning:
        return _named("StudyWarning", _warning, records)
    if is_record(kind):
        return _named(definition_name(kind), lambda: _record(kind, records), records)
    if origin is tuple and inner[-1] is not Ellipsis:
        return {
            "type": "array",
            "prefixItems": [_schema(one, records) for one in inner],
            "minItems": len(inner),
            "maxItems": len(inner),
        }
    if origin in (tuple, list, frozenset):
        return {"type": "array", "items": _schema(inner[0], records)}
    if origin in (dict, Mapping):
        return {"type": "object", "additionalProperties": _schema(inner[1], records)}
    if origin is typing.Literal:
        return {"enum": list(inner)}
    return _plain(kind)


def _plain(kind: Any) -> Schema:
    if kind is datetime:
        return {"type": "string", "format": "date-time"}
    if kind is date:
        return {"type": "string", "format": "date"}
    if isinstance(kind, type) and issubclass(kind, Enum):
        return {"enum": [one.value for one in kind]}
    names = {str: "string", bool: "boolean", int: "integer", float: "number"}
    # what is not finite is written as null: JSON has neither NaN nor infinity
    return (
        {"type": [names[kind], "null"] if kind is float else names[kind]} if kind in names else {}
    )


def _union(inner: tuple[Any, ...], records: dict[str, Schema]) -> Schema:
    each = [_schema(one, records) for one in inner if one is not type(None)]
    if type(None) in inner:
        each.append({"type": "null"})
    return each[0] if len(each) == 1 else {"anyOf": each}


def _named(name: str, make: Any, records: dict[str, Schema]) -> Schema:
    if name not in records:
        records[name] = {}  # a place is kept: records may hold themselves
        records[name] = make()
    return {"$ref": f"#/$defs/{name}"}


def definition_name(kind: Any) -> str:
    """A name for a type, by module, that tells generic ones apart: `sides.BySide-float`."""
    origin = typing.get_origin(kind) or kind
    own = "None" if origin is type(None) else getattr(origin, "__name__", "any")
    if dataclasses.is_dataclass(origin):
        own = f"{origin.__module__.removeprefix('gearing.')}.{own}"
    inner = [definition_name(one) for one in typing.get_args(kind) if one is not Ellipsis]
    return "-".join([own, *inner])


def _record(kind: Any, records: dict[str, Schema]) -> Schema:
    shown = [
        (one, hint)
        for one, hint in fields_of(kind)
        if not one.name.startswith("_") and not is_frame(hint)
    ]
    optional = {one.name for one, _ in shown if one.name == "why" or one.name.endswith("_why")}
    out: Schema = {
        "type": "object",
        "properties": {one.name: _schema(hint, records) for one, hint in shown},
        "required": [one.name for one, _ in shown if one.name not in optional],
    }
    said = (typing.get_origin(kind) or kind).__doc__ or ""
    if said and not said.startswith(f"{(typing.get_origin(kind) or kind).__name__}("):
        out["description"] = " ".join(said.split())
    return out


def _warning() -> Schema:
    texts = {"type": "array", "items": {"type": "string"}}
    return {
        "type": "object",
        "properties": {
            "code": {"type": "string"},
            "text": {"type": "string"},
            "trips": texts,
            "keys": texts,
        },
        "required": [
            one.name if one.name != "told" else "text" for one in dataclasses.fields(StudyWarning)
        ],
    }
