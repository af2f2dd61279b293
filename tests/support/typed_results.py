"""Typed results of a hand-made part of results.json: what a test does not speak of is unknown."""

from __future__ import annotations

import types
import typing
from collections.abc import Mapping
from datetime import date, datetime
from typing import Any, TypeVar

from gearing.messages.problems import StudyWarning
from gearing.results import decoded
from gearing.results.fleet import FleetResults
from gearing.results.record import Results
from gearing.results.shape import fields_of, is_frame, is_record, is_text
from gearing.statistics.estimate import Estimate

Kind = TypeVar("Kind")
NOT_WORKED_OUT = "this part was not worked out"


def typed(tree: Mapping[str, Any]) -> Results:
    """The results of a study, with what stands at the top of the file in its finding again."""
    return Results.from_tree(_completed(Results, tree) | {"messages": tree.get("messages", {})})


def typed_fleet(tree: Mapping[str, Any]) -> FleetResults:
    """The results of a fleet."""
    return record(FleetResults, tree)


def record(kind: type[Kind], tree: Mapping[str, Any]) -> Kind:
    """A record of any kind."""
    return decoded(kind, _completed(kind, tree), tree.get("messages", {}))


def _completed(kind: Any, tree: Any) -> Any:
    """A plain value of a type with what is missing in it filled in."""
    if is_text(kind):
        return tree
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if origin in (typing.Union, types.UnionType):
        if tree is None:
            return None
        kinds = [one for one in inner if one is not type(None)]
        return _completed(kinds[0], tree) if len(kinds) == 1 else tree
    if kind is Estimate:
        return _estimate(tree)
    if kind is StudyWarning:
        return {"trips": [], "keys": []} | dict(tree)
    if is_record(kind):
        given = tree or {}
        return dict(given) | {
            one.name: _completed(hint, given[one.name]) if one.name in given else _blank(hint)
            for one, hint in fields_of(kind)
            if not is_frame(hint) and one.init
        }
    if origin in (tuple, list, frozenset):
        each = [inner[0]] * len(tree) if inner[-1] is Ellipsis or origin is not tuple else inner
        return [_completed(one, value) for one, value in zip(each, tree, strict=True)]
    if origin in (dict, Mapping):
        return {key: _completed(inner[1], value) for key, value in tree.items()}
    return tree


def _estimate(tree: Any) -> Any:
    if isinstance(tree, int | float):
        return {"value": tree}
    if tree is None or (tree.get("value") is None and not tree.get("why")):
        return {"value": None, "why": NOT_WORKED_OUT}
    return tree


def _blank(kind: Any) -> Any:
    """The least there can be of a type."""
    if is_text(kind):
        return None
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if origin in (typing.Union, types.UnionType) and type(None) in inner:
        return None
    if origin is typing.Literal:
        return "cannot tell yet" if "cannot tell yet" in inner else inner[0]
    if kind is Estimate:
        return _estimate(None)
    if is_record(kind):
        return _completed(kind, {})
    if origin is tuple and inner[-1] is not Ellipsis:
        return [_blank(one) for one in inner]
    if origin in (tuple, list, frozenset):
        return []
    if origin in (dict, Mapping):
        return {}
    moment = "2026-01-05T07:12:00+00:00"
    return {str: "", bool: False, int: 0, float: 0.0, datetime: moment, date: moment[:10]}[kind]
