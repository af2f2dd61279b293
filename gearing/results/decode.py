"""`results.json` back to the frozen dataclasses it was written from."""

from __future__ import annotations

import dataclasses
import math
import types
import typing
from collections.abc import Mapping
from datetime import date, datetime
from enum import Enum
from typing import Any, TypeVar

from gearing.messages.plain import from_plain
from gearing.messages.problems import StudyWarning
from gearing.messages.render import Remedy, Text
from gearing.results.encode import pointer_part
from gearing.results.shape import fields_of, is_frame, is_record, is_text

Kind = TypeVar("Kind")
Messages = Mapping[str, Mapping[str, Any]]


def decoded(kind: type[Kind], tree: Any, messages: Messages, at: str = "") -> Kind:
    """A value of type `kind` from what `plain` wrote of one.

    `messages` are those of the file, `at` the JSON pointer to `tree` in it. Frames, which stand
    in files of their own, come back empty; keys of no field are passed over.

    Raises
    ------
    KeyError, TypeError, ValueError
        the tree is not that.
    """
    built: Kind = _built(kind, tree, messages, at)
    return built


def _built(kind: Any, tree: Any, messages: Messages, at: str) -> Any:
    if is_text(kind):
        return _text(tree, messages, at)
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if origin in (typing.Union, types.UnionType):
        if tree is None:
            return None
        return _built(_some(inner, tree), tree, messages, at)
    if kind is StudyWarning:
        return StudyWarning(
            tree["code"],
            _text(tree["text"], messages, f"{at}/text") or "",
            tuple(tree["trips"]),
            tuple(tree["keys"]),
        )
    if is_record(kind):
        return _record(kind, tree, messages, at)
    if origin in (tuple, list, frozenset):
        return _sequence(origin, inner, tree, messages, at)
    if origin in (dict, Mapping):
        key, item = inner
        return {
            key(name): _built(item, value, messages, f"{at}/{pointer_part(name)}")
            for name, value in tree.items()
        }
    if kind in (datetime, date):
        return kind.fromisoformat(tree)
    if isinstance(kind, type) and issubclass(kind, Enum):
        return kind(tree)
    return _plain(kind, tree, at)


def _plain(kind: Any, tree: Any, at: str) -> Any:
    """A number, a word or a choice; a figure that was not finite was written as null."""
    if kind is float and tree is None:
        return math.nan
    wanted: Any = (int, float) if kind is float else kind
    if kind in (float, int, str, bool) and not (
        isinstance(tree, wanted) and isinstance(tree, bool) == (kind is bool)
    ):
        raise TypeError(f"{at} holds {type(tree).__name__}")
    return float(tree) if kind is float else tree


def _record(kind: Any, tree: Mapping[str, Any], messages: Messages, at: str) -> Any:
    given: dict[str, Any] = {}
    for one, hint in fields_of(kind):
        if not one.init:
            continue
        if one.name in tree:
            given[one.name] = _built(
                hint, tree[one.name], messages, f"{at}/{pointer_part(one.name)}"
            )
        elif is_frame(hint):
            import polars as pl  # slow to load, and most results are read for their figures

            given[one.name] = pl.DataFrame()
        elif _has_default(one):
            continue
        elif one.name == "why" or one.name.endswith("_why"):  # written only where there is one
            given[one.name] = None
        else:
            raise KeyError(f"{at}/{one.name}")
    return (typing.get_origin(kind) or kind)(**given)


def _has_default(one: dataclasses.Field[Any]) -> bool:
    missing = dataclasses.MISSING
    return one.default is not missing or one.default_factory is not missing


def _sequence(origin: Any, inner: tuple[Any, ...], tree: Any, messages: Messages, at: str) -> Any:
    kinds = [inner[0]] * len(tree) if inner[-1] is Ellipsis or origin is not tuple else inner
    return origin(
        _built(kind, value, messages, f"{at}/{place}")
        for place, (kind, value) in enumerate(zip(kinds, tree, strict=True))
    )


def _some(inner: tuple[Any, ...], tree: Any) -> Any:
    """Which of a union's types a value is; records are told by their fields."""
    kinds = [kind for kind in inner if kind is not type(None)]
    if len(kinds) == 1:
        return kinds[0]
    if isinstance(tree, Mapping):
        for kind in kinds:
            if is_record(kind) and {one.name for one, _ in fields_of(kind)} >= set(tree):
                return kind
    return next((kind for kind in kinds if isinstance(kind, type) and isinstance(tree, kind)), Any)


def _text(tree: Any, messages: Messages, at: str) -> Text | None:
    told = messages.get(at)
    if told is None or not isinstance(tree, str):
        return None if tree is None else str(tree)
    made = from_plain(dict(told))
    return Remedy(made) if told.get("part") == "remedy" else made
