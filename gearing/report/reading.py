"""Reading results.json back: any key may be missing, null, or carry its reason beside it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from gearing.statistics.estimate import Estimate, unknown

Tree = Mapping[str, Any]

SIDES = ("before", "after")
NEWEST_FIRST = ("after", "before")  # of rows that are read one below another
NOT_ANSWERED = "this part was not worked out"


def dig(tree: object, *keys: str) -> Any:
    """What lies under `keys`, or None where any step of the way is missing."""
    for key in keys:
        if not isinstance(tree, Mapping):
            return None
        tree = tree.get(key)
    return tree


def branch(tree: object, *keys: str) -> Tree:
    """The mapping under `keys`; an empty one where there is none."""
    found = dig(tree, *keys)
    return found if isinstance(found, Mapping) else {}


def rows(tree: object, *keys: str) -> list[Tree]:
    """The list of mappings under `keys`; anything else in it is passed over."""
    found = dig(tree, *keys)
    if not isinstance(found, Sequence) or isinstance(found, str):
        return []
    return [row for row in found if isinstance(row, Mapping)]


def number(value: object) -> float | None:
    """A finite number, or None. An estimate counts with its value."""
    if isinstance(value, Mapping):
        value = value.get("value")
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if math.isfinite(value) else None


def text(value: object) -> str:
    """A value as the text it is, or the empty text."""
    return value.strip() if isinstance(value, str) else ""


def why(tree: object, *keys: str) -> str:
    """The reason given for an unknown: `why` inside it, else `K_why` beside it, else plain."""
    inside = text(dig(tree, *keys, "why"))
    if inside:
        return inside
    for length in range(len(keys), 0, -1):
        beside = text(dig(tree, *keys[: length - 1], f"{keys[length - 1]}_why"))
        if beside:
            return beside
    return text(dig(tree, "why")) or NOT_ANSWERED


def estimate(tree: object, *keys: str) -> Estimate:
    """The estimate under `keys`; an unknown one, with its reason, where there is none."""
    found = dig(tree, *keys)
    value = number(found)
    if value is None:
        return unknown(why(tree, *keys))
    if not isinstance(found, Mapping):
        return Estimate(value)
    count = number(found.get("n"))
    return Estimate(
        value,
        number(found.get("low")),
        number(found.get("high")),
        None if count is None else int(count),
        text(found.get("method")) or None,
    )


def inverse(ratio: Estimate) -> Estimate:
    """One over a ratio; unknown where that or an end of its interval is not above zero."""
    if ratio.value is None or ratio.value <= 0 or (ratio.low is not None and ratio.low <= 0):
        return unknown(ratio.why or "the ratio is not above zero")
    if ratio.low is None or ratio.high is None:
        return Estimate(1 / ratio.value, n=ratio.n, method=ratio.method)
    return ratio.map(lambda value: 1 / value)
