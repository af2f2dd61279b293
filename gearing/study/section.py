"""One table of the study file, read key by key; every fault is noted, none stops the reading."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta, timezone
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from gearing.messages import Problem, Severity
from gearing.units import BY_NAME, parse_quantity

if TYPE_CHECKING:
    from gearing.study.document import Document, Key
from gearing.study.words import kind, nearest, show


@dataclass(slots=True)
class Faults:
    """All that is wrong with one file, in the order of its lines."""

    document: Document
    found: list[Problem] = field(default_factory=list)

    def add(
        self, code: str, where: tuple[Key, ...], message: str, remedy: str = "", value: object = ""
    ) -> None:
        """Note a fault of the key or table at `where`: what was found, what to do, and the
        value."""
        self.found.append(
            Problem(
                code=code,
                severity=Severity.ERROR,
                told=message,
                fix=remedy,
                file=str(self.document.path),
                first_line=self.document.line(where),
                value=show(value) if value != "" else "",
            )
        )

    def in_order(self) -> tuple[Problem, ...]:
        """The faults in the order of their lines; those without a line come first."""
        return tuple(sorted(self.found, key=lambda problem: problem.first_line or 0))


@dataclass(slots=True)
class Section:
    """One table: `where` is its path in the file, `label` how messages name it."""

    faults: Faults
    values: Mapping[str, object]
    where: tuple[Key, ...] = ()
    zone: ZoneInfo | timezone = UTC
    asked: list[str] = field(default_factory=list)
    faulty: set[str] = field(default_factory=set)
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

    def called(self, key: str) -> str:
        """A key as messages name it: after its table's label."""
        return f"{self.label} {key}".strip()

    def fault(self, code: str, key: str, message: str, remedy: str = "") -> None:
        """Note a fault of a key; `message` goes on after the key's name."""
        self.faulty.add(key)
        self.faults.add(
            code,
            (*self.where, key),
            f"{self.called(key)}{'' if message[0] == ':' else ' '}{message}",
            remedy,
            self.values.get(key, ""),
        )

    def get(self, key: str) -> object | None:
        """The raw value, marked as a key this table may hold."""
        if key not in self.asked:
            self.asked.append(key)
        return self.values.get(key)

    def _wrong_kind(self, key: str, value: object, wanted: str, example: str) -> None:
        self.fault(
            "study-type",
            key,
            f"= {show(value)} is {kind(value)}; {wanted} is wanted.",
            f"Write {key} = {example}",
        )

    def text(self, key: str, example: str) -> str | None:
        """A text that is not blank."""
        value = self.get(key)
        if value is None:
            return None
        if not isinstance(value, str):
            self._wrong_kind(key, value, "text in quotes", example)
            return None
        if not value.strip() or any(ord(character) < 32 for character in value.strip()):
            words = (
                "is blank." if not value.strip() else f"= {show(value)} holds a control character."
            )
            self.fault("study-type", key, words, f"Write {key} = {example}")
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
        hint = f'Did you mean "{close}"?' if close else ""
        listed = ", ".join(f'"{choice}"' for choice in choices)
        self.fault("study-choice", key, f"= {show(value)} is not one of {listed}.", hint)
        return None

    def flag(self, key: str) -> bool | None:
        """True or false; None where the key is missing or its value is neither (which is noted)."""
        value = self.get(key)
        if value is None or isinstance(value, bool):
            return value
        self._wrong_kind(key, value, "true or false", "true")
        return None

    def number(
        self, key: str, example: str, low: float = -math.inf, high: float = math.inf
    ) -> float | None:
        """A bare number in a range, both ends included."""
        value = self.get(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float):
            self._wrong_kind(key, value, "a number without quotes", example)
            return None
        return self._ranged(key, key, value, value, low, high, example)

    def whole(self, key: str, example: str, low: int, high: int) -> int | None:
        """A whole number from `low` to `high`, both ends included; None where it is missing or
        faulty (which is noted)."""
        value = self.get(key)
        if value is not None and (isinstance(value, bool) or not isinstance(value, int)):
            self._wrong_kind(key, value, "a whole number without quotes", example)
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
            self.fault(
                "study-unit",
                key,
                f"= {show(value)} has no unit.",
                f'Write the number and its unit in quotes, as in {key} = "{example}"',
            )
            return None
        if not isinstance(value, str):
            self._wrong_kind(key, value, "a number with its unit", f'"{example}"')
            return None
        try:
            number = parse_quantity(value, unit)
        except (ValueError, OverflowError) as error:
            words = str(error).split("; ")[0]
            units = [u.name for u in BY_NAME.values() if u.dimension == BY_NAME[unit].dimension]
            self.fault(
                "study-unit",
                key,
                f": {words}.".replace("'", '"'),
                f'Write it in one of {", ".join(units)}, as in {key} = "{example}"',
            )
            return None
        return self._ranged(key, key, value, number, low, high, f'"{example}"', unit)

    def _ranged(
        self,
        key: str,
        name: str,
        value: object,
        number: float,
        low: float,
        high: float,
        example: str,
        unit: str = "",
    ) -> float | None:
        if math.isfinite(number) and low <= number <= high:
            return float(number)
        bounds = f"{low:g} to {high:g}" if math.isfinite(high) else f"{low:g} or more"
        self.fault(
            "study-range",
            key,
            f"= {show(value)} is not plausible; {bounds} {unit}".rstrip() + " is expected.",
            f"Check it; an example is {name} = {example}",
        )
        return None

    def list_of(self, key: str, example: str) -> list[object] | None:
        """A list that is not empty, its items not looked at; None where it is missing or faulty
        (which is noted)."""
        value = self.get(key)
        if value is None:
            return None
        if not isinstance(value, list):
            self._wrong_kind(key, value, "a list in brackets", example)
            return None
        if not value:
            self.fault("study-type", key, "is an empty list.", f"Write {key} = {example}")
            return None
        return value

    def numbers(self, key: str, example: str, low: float, high: float) -> tuple[float, ...] | None:
        """A list of bare numbers, each in the range."""
        found: list[float] = []
        for value in self.list_of(key, example) or ():
            if isinstance(value, bool) or not isinstance(value, int | float):
                self._wrong_kind(key, value, "a list of numbers without quotes", example)
                return None
            number = self._ranged(key, key, value, value, low, high, example)
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
                self._wrong_kind(key, value, "a list of texts in quotes", example)
                return None
            found.append(value.strip())
        return tuple(found) or None

    def moment(self, key: str, *, end_of_day: bool = False) -> datetime | None:
        """A date, or a date with a time of day, as a moment in UTC.

        Without an offset it is local to the study's time zone. A date alone is the start of
        that day, or with `end_of_day` its end.
        """
        value = self.get(key)
        if value is None:
            return None
        if isinstance(value, str):
            try:
                value = datetime.fromisoformat(value.strip())
            except ValueError:
                self._wrong_kind(key, value, "a date", "2026-03-14")
                return None
            if re.fullmatch(r"[-\dW]+", str(self.values[key]).strip()):
                value = value.date()
        try:
            if isinstance(value, datetime):
                return self._in_utc(key, value)
            if isinstance(value, date):
                day = value + timedelta(days=1) if end_of_day else value
                return datetime.combine(day, time(), self.zone).astimezone(UTC)
        except OverflowError:
            self.fault("study-range", key, f"= {show(value)} is no plausible date.")
            return None
        self._wrong_kind(key, value, "a date", "2026-03-14 or 2026-03-14T09:30:00")
        return None

    def _in_utc(self, key: str, value: datetime) -> datetime | None:
        if value.tzinfo is not None:
            return value.astimezone(UTC)
        first = value.replace(tzinfo=self.zone, fold=0).astimezone(UTC)
        second = value.replace(tzinfo=self.zone, fold=1).astimezone(UTC)
        if first == second:
            return first
        # the later of the two readings falls first where the clock was put forward
        words = "did not exist" if first > second else "came twice"
        offset = value.replace(tzinfo=self.zone).isoformat()
        self.fault(
            "study-date",
            key,
            f"= {show(value)} {words} in {self.zone}: the clocks changed.",
            f"Add the offset from UTC, as in {key} = {offset}",
        )
        return None

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
            self._wrong_kind(key, value, "a table", "{ ... }")
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
            self.fault(
                "study-type",
                key,
                f"= {show(value)} is {kind(value)}; a list of tables is wanted.",
                f"Start each with a line [[{key}]]",
            )
            return []
        return [self.inside(entry, key, number) for number, entry in enumerate(value)]

    def require(self, key: str, example: str, reason: str = "") -> None:
        """Note that a key is missing, unless it is there."""
        if key in self.values or key in self.faulty:
            return
        self.faulty.add(key)
        words = f"{self.label} has no {key}." if self.label else f"{key} is missing."
        self.faults.add(
            "study-missing", self.where, f"{words} {reason}".strip(), f"Add {key} = {example}"
        )

    def close(self, elsewhere: Mapping[str, Sequence[str]]) -> None:
        """Note each key nobody asked for, here and in the tables inside.

        `elsewhere` maps a key to the labels of the tables it belongs in.
        """
        for child in self.children:
            child.close(elsewhere)
        for key in self.values:
            if key in self.asked:
                continue
            homes = [home for home in elsewhere.get(key, ()) if home != self.label]
            close = nearest(key, self.asked)
            hints = [f"Did you mean {close}?"] if close is not None else []
            if homes:
                places = " or ".join(home or "the top of the file" for home in homes)
                above = ", above the first [table]" if "" in homes else ""
                hints.append(f"{'Else it' if hints else 'It'} belongs in {places}{above}.")
            remedy = " ".join(hints) or f"Known here: {', '.join(self.asked)}."
            place = self.label or "the top of the file"
            self.faults.add(
                "study-unknown-key",
                (*self.where, key),
                f"{show(key)} is not a key of {place}.",
                remedy,
            )
