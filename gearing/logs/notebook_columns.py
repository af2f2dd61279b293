"""Columns of a notebook as people head them: by a unit alone, or with none at all.

What a fill-up log or a list of dash readings holds is few and of different dimensions, so that a
heading which is a unit says what it heads. An odometer and a needle of one dash count alike, and
where fuel is sold by the gallon odometers count miles (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace

from gearing.logs.assign import Candidate
from gearing.logs.headings import fold
from gearing.messages import Message, UserText, message
from gearing.units import BY_NAME, Unit, find_unit

FILLUPS = ("indicated_distance_m", "volume_l", "full", "partial", "missed", "price", "other_l")
DASH = ("indicated_speed_mps", "indicated_distance_m")
_OF = {"volume": "volume_l", "length": "indicated_distance_m", "speed": "indicated_speed_mps"}
# a price by the gallon is no volume, a mean of a day no reading
_OTHER = re.compile(
    r"[$€£%]|\b(per|pro|por|par|je|avg|average|mean|mittel|price|cost|preis|prix|precio|costo)\b"
)
_ALIKE = {"km": "km/h", "mi": "mph"}  # odometer and needle of one dash


def named_by_unit(columns: list[Candidate], names: tuple[str, ...]) -> list[Candidate]:
    """Columns of a notebook with the one whose heading says a fitting unit, or an open word as
    "mileage", named as what no other heading names. Where several do, none is."""
    if names not in (FILLUPS, DASH):
        return columns
    lacking = set(names) & set(_OF.values()) - {c.target for c in columns}
    meant = [(*said, c) for c in columns if (said := _said(c)) and said[1] in lacking]
    named = {}
    for target in lacking:
        ranks = [rank for rank, told, _, _ in meant if told == target]
        first = [one for one in meant if one[1] == target and one[0] == min(ranks)]
        if len(first) == 1:
            _, _, unit, c = first[0]
            how = (message("named-by", what=UserText("unit" if unit else "words")),)
            named[c.index] = replace(c, target=target, is_open=False, how=how, unit=unit)
    return [named.get(c.index, c) for c in columns]


def _said(c: Candidate) -> tuple[int, str, str | None] | None:
    """How surely a heading that is not known says what it heads (0 the surest), what, and in
    which unit."""
    if c.rule is not None or _OTHER.search(c.heading.lower()):
        return None
    if c.target == "distance":
        return 0, "indicated_distance_m", c.unit
    if c.target is not None or not c.heading.strip():
        return None
    last = c.heading.split()[-1]
    ways = (
        find_unit(c.heading) or find_unit(fold(c.heading)),
        BY_NAME.get(c.unit or "") or find_unit(last),
        _within(c.heading),
    )
    for rank, unit in enumerate(ways):
        if unit is not None and unit.dimension in _OF:
            return rank, _OF[unit.dimension], unit.name
    return None


def _within(heading: str) -> Unit | None:
    """The unit that one of the words is, or that the word for an odometer begins with."""
    words = [] if "/" in heading else [one for one in fold(heading).split() if len(one) > 1]
    found = {unit.name: unit for word in words if (unit := find_unit(word))}
    if not found and "kilom" in fold(heading):
        return BY_NAME["km"]
    return next(iter(found.values())) if len(found) == 1 else None


def unit_by_others(name: str, units: Mapping[str, str], heading: str) -> tuple[str, Message] | None:
    """The unit of a column that names none, by a word of its heading (km-Stand, kilometraje) or
    by the units of others, and what is told of that; None where nothing tells."""
    odometer, needle = (units.get(one) for one in ("indicated_distance_m", "indicated_speed_mps"))
    own = _within(heading) if name == "indicated_distance_m" else None
    if own is not None and own.dimension == "length":
        unit, by = own.name, heading
    elif name == "indicated_speed_mps" and odometer in _ALIKE:
        unit, by = _ALIKE[odometer], odometer
    elif name == "indicated_distance_m" and needle in _ALIKE.values():
        unit, by = next((mine, theirs) for mine, theirs in _ALIKE.items() if theirs == needle)
    elif name == "indicated_distance_m" and "gal" in units.get("volume_l", ""):
        unit, by = "mi", "gal"
    else:
        return None
    return unit, message("unit-by-others", unit=UserText(unit), other=UserText(by))


def tellers_first(names: Iterable[str]) -> list[str]:
    """Names in an order in which one's unit may tell the next one's."""
    last = ("indicated_speed_mps", "indicated_distance_m")
    return sorted(names, key=lambda name: last.index(name) + 1 if name in last else 0)
