"""`results.json`: the findings' frozen dataclasses written out, and read back.

Every figure is metric. The layout is a contract: keys are added, never renamed.
"""

from __future__ import annotations

import dataclasses
import json
import math
import os
from datetime import date, datetime
from enum import Enum
from pathlib import Path
from typing import Any

from gearing.messages.plain import from_plain, to_plain
from gearing.messages.problems import StudyWarning
from gearing.messages.render import Message, Remedy
from gearing.messages.told import Told
from gearing.statistics.estimate import Estimate

SCHEMA = 2


def with_messages(tree: dict[str, Any]) -> dict[str, Any]:
    """The results with `messages`: for each text that is a message's, by its JSON pointer (RFC
    6901), the code and fields it was made of; so a page in other units needs no text read again.
    """
    found: dict[str, Any] = {}

    def look(value: Any, at: str) -> None:
        """Note every message in a branch of the results; `at` is the branch's JSON pointer."""
        if isinstance(value, Told):
            of = value.told
            found[at] = (
                {**to_plain(of.of), "part": "remedy"} if isinstance(of, Remedy) else to_plain(of)
            )
        elif isinstance(value, dict):
            for key, item in value.items():
                look(item, f"{at}/{pointer_part(key)}")
        elif isinstance(value, list):
            for place, item in enumerate(value):
                look(item, f"{at}/{place}")

    look(tree, "")
    return tree | {"messages": found}


def pointer_part(key: str) -> str:
    """A key as a part of a JSON pointer."""
    return str(key).replace("~", "~0").replace("/", "~1")


def plain(value: Any) -> Any:
    """A dataclass tree as plain JSON values: dicts, lists, numbers, text, None.

    Fields whose name starts with an underscore and data frames are left out; `why` is written
    only where there is one. NaN and infinities become null: JSON has none.

    Raises
    ------
    TypeError
        a value that has no JSON form.
    """
    if isinstance(value, Message | Remedy):
        return Told(value)
    if isinstance(value, StudyWarning):
        return {
            "code": value.code,
            "text": plain(value.told),
            "trips": plain(value.trips),
            "keys": plain(value.keys),
        }
    if value is None or isinstance(value, (str, bool, int)):
        return value.value if isinstance(value, Enum) else value
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, Estimate):
        return _estimate(value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return _fields(value)
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple, set, frozenset)):
        return [plain(item) for item in value]
    if isinstance(value, (datetime, date)):
        return value.isoformat()
    if isinstance(value, Path):
        return os.fsencode(value.as_posix()).decode("utf-8", "backslashreplace")
    if hasattr(value, "item"):  # a numpy scalar
        return plain(value.item())
    raise TypeError(f"{type(value).__name__} has no JSON form")


def _estimate(value: Estimate) -> dict[str, Any]:
    out = {key: plain(getattr(value, key)) for key in ("value", "low", "high", "n", "method")}
    if value.why:
        out["why"] = plain(value.why)
    return out


def _fields(value: Any) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for field in dataclasses.fields(value):
        item = getattr(value, field.name)
        if field.name.startswith("_") or type(item).__module__.startswith("polars"):
            continue
        if (field.name == "why" or field.name.endswith("_why")) and not item:
            continue
        out[field.name] = plain(item)
    return out


def dumps(results: dict[str, Any]) -> str:
    """The results as JSON text, keys in the order given.

    Raises
    ------
    ValueError
        a NaN or infinity that slipped through.
    """
    return json.dumps(results, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def read(path: Path) -> dict[str, Any] | None:
    """The results in a file, or None where there is no whole one of this schema."""
    try:
        results = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    if not isinstance(results, dict) or results.get("schema") != SCHEMA:
        return None
    return _remembering(results)


def _remembering(results: dict[str, Any]) -> dict[str, Any]:
    """The results with each text that is a message's as it was before it was written."""
    given = results.get("messages", {})
    messages: dict[str, Any] = given if isinstance(given, dict) else {}

    def walk(value: Any, at: str) -> Any:
        """A branch whose JSON pointer is `at`, with its messages."""
        if isinstance(value, dict):
            return {key: walk(item, f"{at}/{pointer_part(key)}") for key, item in value.items()}
        if isinstance(value, list):
            return [walk(item, f"{at}/{place}") for place, item in enumerate(value)]
        if at not in messages:
            return value
        try:
            told = from_plain(messages[at])
            return Told(Remedy(told) if messages[at].get("part") == "remedy" else told)
        except KeyError:  # of another version's catalogue: its text stands for itself
            return value

    return {
        key: value if key == "messages" else walk(value, f"/{pointer_part(key)}")
        for key, value in results.items()
    }
