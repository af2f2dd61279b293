"""Where a message becomes text: the only place that knows units, sharing and audience."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from gearing.messages.audience import Role, word
from gearing.messages.display import Display, digits
from gearing.messages.fields import (
    Items,
    Joint,
    Measured,
    Moment,
    NameKind,
    Position,
    Quantity,
    Span,
    UserText,
)
from gearing.messages.template import CATALOGUE, PLACEHOLDER, Template

# what stands for a user's text where a page is shared; names of vehicles and roads stay
_HIDDEN = {
    "file": "a file",
    "value": "a value",
    "line": "a line",
    "trip": "a trip",
    "system": "not shown here",
}


@dataclass(frozen=True, slots=True)
class Message:
    """One thing to tell: the code of the catalogue's template and the fields that fill it.

    A code may have variants behind a slash (`sensors-disagree/stuck`): `topic` is what stands
    before it, the stable name that scripts rest on.
    """

    code: str
    fields: tuple[tuple[str, Field], ...] = ()

    @property
    def topic(self) -> str:
        """The stable code: what stands before the slash."""
        return self.code.partition("/")[0]

    def __str__(self) -> str:
        """The text in metric units, as `results.json` has it."""
        return METRIC.text(self)


@dataclass(frozen=True, slots=True)
class Remedy:
    """What to do about a message: the same fields in the template's `remedy`."""

    of: Message

    def __str__(self) -> str:
        return METRIC.remedy(self.of)


# int is a count, bool a choice between two wordings
Field = int | bool | Quantity | Span | Measured | UserText | Moment | Position | Items | Message


@dataclass(frozen=True, slots=True)
class Renderer:
    """How messages are shown.

    `trips` gives the name that stands for each trip's on a shared page; None: nothing is hidden.
    `minus` is the sign of negative figures: a hyphen in `results.json`, where scripts look.
    """

    display: Display = field(default_factory=Display)
    role: Role = "changed"
    trips: Mapping[str, str] | None = None
    minus: str = "-"

    def text(self, told: Message) -> str:
        """The message's text, or that of a part of one.

        Raises
        ------
        KeyError
            a code that the catalogue has not, or a field that the message lacks.
        """
        template = CATALOGUE[told.code]
        return self._for(template)._filled(template.text, dict(told.fields))

    def remedy(self, told: Message) -> str:
        """What to do about it; empty where nothing is to be done."""
        template = CATALOGUE[told.code]
        return self._for(template)._filled(template.remedy, dict(told.fields))

    def _for(self, template: Template) -> Renderer:
        """This, or the same for the vehicle that the template always speaks of."""
        role = template.audience or self.role
        return self if role == self.role else replace(self, role=role)

    def title(self, told: Message) -> str:
        """What was found in a few words, where several cases are told as one."""
        return CATALOGUE[told.code].title or clause(self.text(told))

    def field(self, value: Field) -> str:
        """One field as text."""
        match value:
            case bool():
                raise TypeError("a choice has no text of its own: give it two wordings")
            case int():
                return f"{value:,}"
            case Quantity(figure, unit, places, sign):
                shown, name = self._quantity(figure, unit, places, sign=sign)
                return f"{shown}{name}" if name.startswith("/") else f"{shown} {name}".rstrip()
            case Span(low, high, unit, places, joint):
                first, _ = self._quantity(low, unit, places)
                second, name = self._quantity(high, unit, places)
                return f"{first} {joint} {second} {name}".rstrip()
            case Measured(middle, low, high, unit, places):
                ends = sorted((low, high), key=lambda one: self._turned(one, unit)[0])
                shown, name = self._quantity(middle, unit, places)
                first, second = (self._quantity(one, unit, places)[0] for one in ends)
                return f"{shown} ({first} to {second}) {name}".rstrip()
            case UserText(text, kind):
                return self._users(text, kind)
            case Moment(iso):
                return iso.replace("T", " ") if self.trips is None else iso[:10]
            case Position(latitude, longitude):
                hidden = self.trips is not None
                return "a position" if hidden else f"{latitude:.5f}, {longitude:.5f}"
            case Items(items, joint):
                return _joined([self.field(one) for one in items], joint)
            case Message():
                return self.text(value)
        raise TypeError(f"{value!r} is no field")

    def _filled(self, template: str, fields: dict[str, Field]) -> str:
        def shown(match: re.Match[str]) -> str:
            """What stands for one placeholder."""
            of_audience, name, form = match.groups()
            if of_audience:
                return word(name, self.role)
            value = fields[name]
            if form is None:
                return self.field(value)
            if form in {"clause", "sentence"}:
                return (clause if form == "clause" else sentence)(self.field(value))
            if form in {"title", "remedy"} and isinstance(value, Message):
                return (self.title if form == "title" else self.remedy)(value)
            first, _, second = form.partition("|")
            return first if _is_one(value) else second

        return PLACEHOLDER.sub(shown, template)

    def _quantity(
        self, figure: float, unit: str, places: int, *, sign: bool = False
    ) -> tuple[str, str]:
        value, name = self._turned(figure, unit)
        shown = digits(value, 0 if name.startswith("/") else places)  # 4/32 in: whole 32nds
        if sign and value > 0 and float(shown.replace(",", "")) != 0:
            shown = "+" + shown
        return shown.replace("-", self.minus), name

    def _turned(self, figure: float, unit: str) -> tuple[float, str]:
        return self.display.turned(figure, unit)

    def _users(self, text: str, kind: str) -> str:
        if self.trips is None:
            return text
        if kind == "trip":
            return self.trips.get(text, _HIDDEN[kind])
        return _HIDDEN.get(kind, text)


def _is_one(value: Field) -> bool:
    """True, a count of one, or a row of one."""
    if isinstance(value, Items):
        return len(value.items) == 1
    return value is True or (value == 1 and value is not False)


def _joined(parts: list[str], joint: str) -> str:
    if joint in {",", ";", ", and"}:
        return f"{joint} ".join(parts)
    if joint in {"", "\n"}:
        return (joint or " ").join(parts)
    return " ".join([", ".join(parts[:-1]), joint, parts[-1]]) if len(parts) > 1 else "".join(parts)


def clause(sentence: str) -> str:
    """A sentence as the middle of another: no full stop, no capital."""
    plain = sentence.strip().rstrip(".")
    return plain if plain[1:2].isupper() else plain[:1].lower() + plain[1:]


def sentence(part: str) -> str:
    """What stands in the middle of a sentence as one of its own."""
    return f"{part[:1].upper()}{part[1:].rstrip('.')}."


METRIC = Renderer()


# what is told: a message, or plain text where no message has been made of it yet
Text = str | Message | Remedy


def message(code: str, **fields: Field) -> Message:
    """A message by its code; a test holds every call against the catalogue's placeholders."""
    return Message(code, tuple(fields.items()))


def names(
    texts: Sequence[str],
    kind: NameKind = "name",
    joint: Joint = "and",
) -> Items:
    """Users' names in a row."""
    return Items(tuple(UserText(one, kind) for one in texts), joint)
