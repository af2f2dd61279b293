"""One table of the study file, read key by key; every fault is noted, none stops the reading."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, timezone
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from gearing.messages import Items, Message, Problem, Quantity, Span, UserText, message, names
from gearing.messages.display import places_of
from gearing.units import BY_NAME, QuantityError, parse_quantity

if TYPE_CHECKING:
    from gearing.study.document import Key
from gearing.study.faults import Faults
from gearing.study.words import UNFILLED, kind, near_miss, nearest, show, shown


@dataclass(slots=True)
class Section:
    """One table: `where` is its path in the file, `label` how messages name it."""

    faults: Faults
    values: Mapping[str, object]
    where: tuple[Key, ...] = ()
    zone: ZoneInfo | timezone = UTC
    asked: list[str] = field(default_factory=list)
    faulty: set[str] = field(default_factory=set)
    missing: dict[str, Problem] = field(default_factory=dict)
    children: list[Section] = field(default_factory=list)

    @property
    def label(self) -> str:
        """`[vehicle]`, `[[load]] 2`, or nothing for the top of the file."""
        if not self.where:
            return ""
        names = [part for part in self.where if isinstance(part, str)]
        last = self.where[-1]
        return (
            f"[[{'.'.join(names)}]] {last + 1}" if isinstance(last, int) else f"[{'.'.join(names)}]"
        )

    def called(self, key: str) -> UserText:
        """The key as messages name it."""
        return UserText(f"{self.label} {key}".strip())

    def fault(self, key: str, told: Message) -> None:
        """Note a fault of a key."""
        self.faulty.add(key)
        self.faults.add((*self.where, key), told, self.values.get(key, ""))

    def get(self, key: str) -> object | None:
        """The raw value, marked as a key this table may hold."""
        if key not in self.asked:
            self.asked.append(key)
        return self.values.get(key)

    def wrong_kind(self, key: str, value: object, wanted: Message, example: str) -> None:
        """Note that the value of a key is of another kind than the one wanted, or a blank."""
        told = (
            message(
                "study-type/unfilled",
                key=self.called(key),
                wanted=wanted,
                name=UserText(key),
                example=UserText(example),
            )
            if value == UNFILLED
            else message(
                "study-type",
                key=self.called(key),
                shown=shown(value),
                kind=kind(value),
                wanted=wanted,
                name=UserText(key),
                example=UserText(example),
            )
        )
        self.fault(key, told)

    def text(self, key: str, example: str) -> str | None:
        """A text that is not blank."""
        value = self.get(key)
        if value is None:
            return None
        if not isinstance(value, str):
            self.wrong_kind(key, value, message("kind/quoted"), example)
            return None
        if not value.strip() or any(ord(character) < 32 for character in value.strip()):
            called, name, written = self.called(key), UserText(key), UserText(example)
            if value.strip():
                told = message(
                    "study-type/control",
                    key=called,
                    shown=shown(value),
                    name=name,
                    example=written,
                )
            else:
                told = message("study-type/blank", key=called, name=name, example=written)
            self.fault(key, told)
            return None
        return value.strip()

    def choice(self, key: str, choices: Sequence[str]) -> str | None:
        """One of a few words."""
        value = self.text(key, f'"{choices[0]}"')
        if value is None or value in choices:
            return value
        close = nearest(value, choices)
        if close is not None and close.lower() == value.lower().replace("_", " "):
            return close
        called, found = self.called(key), shown(value)
        listed = names([f'"{choice}"' for choice in choices], joint=",")
        told = message("study-choice", key=called, shown=found, choices=listed)
        if close:
            advice = near_miss(f'"{close}"')
            told = message(
                "study-choice/near", key=called, shown=found, choices=listed, advice=advice
            )
        self.fault(key, told)
        return None

    def flag(self, key: str) -> bool | None:
        """True or false; None where the key is missing or its value is neither (which is noted)."""
        value = self.get(key)
        if value is None or isinstance(value, bool):
            return value
        self.wrong_kind(key, value, message("kind/flag"), "true")
        return None

    def number(
        self, key: str, example: str, low: float = -math.inf, high: float = math.inf
    ) -> float | None:
        """A bare number in a range, both ends included."""
        value = self.get(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.wrong_kind(key, value, message("kind/bare-number"), example)
            return None
        return self._ranged(key, value, value, low, high, example)

    def whole(self, key: str, example: str, low: int, high: int) -> int | None:
        """A whole number from `low` to `high`, both ends included; None where it is missing or
        faulty (which is noted)."""
        value = self.get(key)
        if value is not None and (isinstance(value, bool) or not isinstance(value, int)):
            self.wrong_kind(key, value, message("kind/whole-number"), example)
            return None
        number = self.number(key, example, low, high)
        return None if number is None else int(number)

    def quantity(
        self, key: str, unit: str, example: str, low: float = -math.inf, high: float = math.inf
    ) -> float | None:
        """A text with number and unit, in `unit`; the range is in `unit`, ends included."""
        value = self.get(key)
        return None if value is None else self._quantity(key, value, unit, example, low, high)

    def _quantity(
        self, key: str, value: object, unit: str, example: str, low: float, high: float
    ) -> float | None:
        if isinstance(value, int | float) and not isinstance(value, bool):
            told = message(
                "study-unit",
                key=self.called(key),
                shown=shown(value),
                name=UserText(key),
                example=UserText(f'"{example}"'),
            )
            self.fault(key, told)
            return None
        if not isinstance(value, str):
            self.wrong_kind(key, value, message("kind/quantity"), f'"{example}"')
            return None
        try:
            number = parse_quantity(value, unit)
        except QuantityError as error:
            dimension = BY_NAME[unit].dimension
            units = [u.name for u in BY_NAME.values() if u.dimension == dimension]
            told = message(
                "study-unit/unread",
                key=self.called(key),
                why=_unread(error, dimension),
                units=names(units, joint=","),
                name=UserText(key),
                example=UserText(f'"{example}"'),
            )
            self.fault(key, told)
            return None
        return self._ranged(key, value, number, low, high, f'"{example}"', unit)

    def _ranged(
        self,
        key: str,
        value: object,
        number: float,
        low: float,
        high: float,
        example: str,
        unit: str = "-",
    ) -> float | None:
        if math.isfinite(number) and low <= number <= high:
            return float(number)
        called, name, written = self.called(key), UserText(key), UserText(example)
        if math.isfinite(high):
            told = message(
                "study-range",
                key=called,
                shown=shown(value),
                bounds=Span(low, high, unit, places_of(low, high, figures=6)),
                name=name,
                example=written,
            )
        else:
            told = message(
                "study-range/least",
                key=called,
                shown=shown(value),
                least=Quantity(low, unit, places_of(low, figures=6)),
                name=name,
                example=written,
            )
        self.fault(key, told)
        return None

    def list_of(self, key: str, example: str) -> list[object] | None:
        """A list that is not empty, its items not looked at; None where it is missing or faulty
        (which is noted)."""
        value = self.get(key)
        if value is None:
            return None
        if not isinstance(value, list):
            self.wrong_kind(key, value, message("kind/brackets"), example)
            return None
        if not value:
            told = message(
                "study-type/empty",
                key=self.called(key),
                name=UserText(key),
                example=UserText(example),
            )
            self.fault(key, told)
            return None
        return value

    def numbers(self, key: str, example: str, low: float, high: float) -> tuple[float, ...] | None:
        """A list of bare numbers, each in the range."""
        found: list[float] = []
        for value in self.list_of(key, example) or ():
            if isinstance(value, bool) or not isinstance(value, int | float):
                self.wrong_kind(key, value, message("kind/numbers"), example)
                return None
            number = self._ranged(key, value, value, low, high, example)
            if number is None:
                return None
            found.append(number)
        return tuple(found) or None

    def quantities(
        self, key: str, unit: str, example: str, low: float, high: float
    ) -> tuple[float, ...] | None:
        """A list of quantities, each in `unit` and the range."""
        found: list[float] = []
        for value in self.list_of(key, f'["{example}", "..."]') or ():
            number = self._quantity(key, value, unit, example, low, high)
            if number is None:
                return None
            found.append(number)
        return tuple(found) or None

    def texts(self, key: str, example: str) -> tuple[str, ...] | None:
        """A list of texts; a single text counts as a list of one."""
        if isinstance(self.get(key), str):
            single = self.text(key, example)
            return None if single is None else (single,)
        found: list[str] = []
        for value in self.list_of(key, example) or ():
            if not isinstance(value, str) or not value.strip() or "\0" in value:
                self.wrong_kind(key, value, message("kind/texts"), example)
                return None
            found.append(value.strip())
        return tuple(found) or None

    def inside(self, values: Mapping[str, object], *where: Key) -> Section:
        """A table inside this one, to be closed with it."""
        child = Section(self.faults, values, (*self.where, *where), self.zone)
        self.children.append(child)
        return child

    def part(self, key: str) -> Section | None:
        """A table inside this one."""
        value = self.get(key)
        if value is None:
            return None
        if not isinstance(value, dict):
            self.wrong_kind(key, value, message("kind/table"), "{ ... }")
            return None
        return self.inside(value, key)

    def parts(self, key: str) -> list[Section]:
        """The tables of a list of tables; a single table counts as a list of one."""
        value = self.get(key)
        if value is None:
            return []
        if isinstance(value, dict):
            return [self.inside(value, key)]
        if not isinstance(value, list) or not all(isinstance(entry, dict) for entry in value):
            told = message(
                "study-type/tables",
                key=self.called(key),
                shown=shown(value),
                kind=kind(value),
                name=UserText(key),
            )
            self.fault(key, told)
            return []
        return [self.inside(entry, key, number) for number, entry in enumerate(value)]

    def require(self, key: str, example: str, reason: Message | None = None) -> None:
        """Note that a key is missing, unless it is there; taken back if it proves misspelt."""
        if key in self.values or key in self.faulty:
            return
        self.faulty.add(key)
        told = self._missing(UserText(key), UserText(example), reason)
        self.missing[key] = self.faults.add(self.where, told)

    def _missing(self, name: UserText, example: UserText, reason: Message | None) -> Message:
        table = UserText(self.label)
        if reason is None and self.label:
            return message("study-missing", table=table, name=name, example=example)
        if reason is None:
            return message("study-missing/top", name=name, example=example)
        if self.label:
            return message(
                "study-missing/why", table=table, name=name, example=example, reason=reason
            )
        return message("study-missing/top-why", name=name, example=example, reason=reason)

    def all_known(self) -> bool:
        """Whether each key was asked for, here and in the tables inside."""
        return self.values.keys() <= {*self.asked} and all(one.all_known() for one in self.children)

    def close(self, tables: Mapping[str, Sequence[str]]) -> None:
        """Note each key nobody asked for, here and in the tables inside. `tables`: the keys that
        each table knows, by its label, so that a key in the wrong one can be sent home."""
        for child in self.children:
            child.close(tables)
        for key in self.values:
            if key in self.asked:
                continue
            homes = [home for home, keys in tables.items() if key in keys and home != self.label]
            told = message(
                "study-unknown-key",
                shown=shown(key),
                place=_place(self.label),
                advice=Items(tuple(self._hints(key, homes)), ""),
            )
            self.faults.add((*self.where, key), told)
            misspelt = self.missing.pop(nearest(key, self.asked) or "", None)
            if misspelt is not None:
                self.faults.found.remove(misspelt)

    def _hints(self, key: str, homes: Sequence[str]) -> list[Message]:
        """What may be done about a key that is not known here."""
        close = nearest(key, self.asked)
        hints = [near_miss(close)] if close is not None else []
        if homes:
            places = Items(tuple(map(_place, homes)), "or")
            hints.append(message("belongs-in", alone=not hints, places=places, above="" in homes))
        return hints or [message("keys-known", keys=names(self.asked, joint=","))]


def _place(label: str) -> Message | UserText:
    return UserText(label) if label else message("top-of-file")


def _unread(error: QuantityError, dimension: str) -> Message:
    """Why a text is no quantity."""
    found = UserText(show(error.found), "value")
    if error.fault == "no number":
        return message("quantity-unread/number", shown=found)
    if error.fault == "no unit":
        return message("quantity-unread/unit", shown=found)
    if error.fault == "comma":
        return message("quantity-unread/comma", shown=found)
    return message("quantity-unread", shown=found, dimension=UserText(dimension))
