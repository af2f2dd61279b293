"""The study file as a JSON Schema (2020-12), made by reading one and noting what is asked for.

    study_schema() -> dict

Reading is the one place where keys, units and ranges stand; the schema follows from it. A study
without a table has nothing to ask of what would be inside, so one is read again and again, each
time with the tables that the last reading asked for, until there is nothing new.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from gearing.messages import Message
from gearing.study.document import Document, Key
from gearing.study.faults import Faults
from gearing.study.section import Section
from gearing.study.sections import read_sections
from gearing.units import BY_NAME

Schema = dict[str, Any]
DIALECT = "https://json-schema.org/draft/2020-12/schema"
# a date, or a date with a time of day: TOML's own, or a text
DATE: Schema = {"type": "string", "examples": ["2026-03-14", "2026-03-14T09:30:00"]}
# a table, and several, before what is in them is known
TABLE: Schema = {"type": "object"}
TABLES: Schema = {"type": "array", "items": TABLE, "minItems": 1}
# what a heading of a log means: a channel, or a table
RULES: tuple[Schema, Schema] = (
    {"type": "string"},
    {
        "type": "object",
        "properties": {name: {"type": "string"} for name in ("channel", "unit", "files")},
        "required": ["channel"],
        "additionalProperties": False,
    },
)
MAX_TURNS = 8  # tables do not lie deeper


@dataclass(slots=True)
class _Noting(Section):
    """A table that notes what each of its keys may hold, and which must be there."""

    properties: dict[str, list[Schema]] = field(default_factory=dict)
    required: set[str] = field(default_factory=set)

    def get(self, key: str) -> object | None:
        """As `Section.get`; what is asked of in no other way is a date."""
        self.properties.setdefault(key, [])
        return Section.get(self, key)

    def _note(self, key: str, schema: Schema) -> None:
        known = self.properties.setdefault(key, [])
        if schema not in known:
            known.append(schema)

    def text(self, key: str, example: str) -> str | None:
        """As `Section.text`, noted."""
        self._note(key, {"type": "string", "examples": [example.strip('"')]})
        return Section.text(self, key, example)

    def choice(self, key: str, choices: Sequence[str]) -> str | None:
        """As `Section.choice`, noted."""
        found = Section.choice(self, key, choices)
        self.properties[key] = [{"enum": list(choices)}]
        return found

    def flag(self, key: str) -> bool | None:
        """As `Section.flag`, noted."""
        self._note(key, {"type": "boolean"})
        return Section.flag(self, key)

    def number(
        self, key: str, example: str, low: float = float("-inf"), high: float = float("inf")
    ) -> float | None:
        """As `Section.number`, noted."""
        if not any(one.get("type") == "integer" for one in self.properties.get(key, ())):
            self._note(key, {"type": "number", **_range(low, high)})
        return Section.number(self, key, example, low, high)

    def whole(self, key: str, example: str, low: int, high: int) -> int | None:
        """As `Section.whole`, noted."""
        self._note(key, {"type": "integer", **_range(low, high)})
        return Section.whole(self, key, example, low, high)

    def quantity(
        self,
        key: str,
        unit: str,
        example: str,
        low: float = float("-inf"),
        high: float = float("inf"),
    ) -> float | None:
        """As `Section.quantity`, noted."""
        self._note(key, _quantity(unit, example))
        return Section.quantity(self, key, unit, example, low, high)

    def numbers(self, key: str, example: str, low: float, high: float) -> tuple[float, ...] | None:
        """As `Section.numbers`, noted."""
        self._note(key, _several({"type": "number", **_range(low, high)}))
        return Section.numbers(self, key, example, low, high)

    def quantities(
        self, key: str, unit: str, example: str, low: float, high: float
    ) -> tuple[float, ...] | None:
        """As `Section.quantities`, noted."""
        self._note(key, _several(_quantity(unit, example)))
        return Section.quantities(self, key, unit, example, low, high)

    def texts(self, key: str, example: str) -> tuple[str, ...] | None:
        """As `Section.texts`, noted."""
        self._note(key, {"type": "string"})
        self._note(key, _several({"type": "string"}))
        return Section.texts(self, key, example)

    def inside(self, values: Mapping[str, object], *where: Key) -> Section:
        """As `Section.inside`; a table inside notes too."""
        child = _Noting(self.faults, values, (*self.where, *where), self.zone)
        self.children.append(child)
        return child

    def part(self, key: str) -> Section | None:
        """As `Section.part`, noted."""
        self._note(key, TABLE)
        return Section.part(self, key)

    def parts(self, key: str) -> list[Section]:
        """As `Section.parts`, noted."""
        self._note(key, TABLE)
        self._note(key, TABLES)
        return Section.parts(self, key)

    def require(self, key: str, example: str, reason: Message | None = None) -> None:
        """As `Section.require`, noted."""
        self.required.add(key)
        Section.require(self, key, example, reason)


def study_schema() -> Schema:
    """The JSON Schema of the study file; dates and times of TOML are texts in it."""
    schema = _object(_whole())
    columns = {"type": "object", "additionalProperties": {"anyOf": [*RULES, _several(RULES[1])]}}
    schema["properties"]["columns"] = columns
    # a text is the name of a file of readings, whose tables are then not asked for
    schema["properties"]["dash"]["anyOf"].append({"type": "string", "examples": ["dash.csv"]})
    return {"$schema": DIALECT, "title": "study file", **schema}


def keys_by_table() -> dict[str, tuple[str, ...]]:
    """The keys of each table of a study, by the label that messages give it (`[vehicle]`,
    `[[load]]`, and nothing for the top)."""
    found: dict[str, tuple[str, ...]] = {}
    sections: list[Section] = [_whole()]
    for section in sections:
        sections += section.children
        if section.where[:1] != ("columns",):
            found.setdefault(section.label.removesuffix(" 1"), tuple(section.asked))
    return found


def _whole() -> _Noting:
    """A study with every table there is, read."""
    data: dict[str, Any] = {}
    for _ in range(MAX_TURNS):
        top = _read(data)
        if not _filled(top, data):
            break
    return top


def write_study_schema(path: Path) -> None:
    """Write the JSON Schema to where the guide holds it."""
    path.write_text(json.dumps(study_schema(), indent=1) + "\n", encoding="utf-8")


def _read(data: Mapping[str, object]) -> _Noting:
    path = Path("study.toml")
    top = _Noting(Faults(Document(path, data, {})), data)
    read_sections(top, path)
    return top


def _filled(section: _Noting, data: dict[str, Any]) -> bool:
    """Whether `data` got a table or a value more that the reading of it asked for."""
    more = False
    for key, schemas in section.properties.items():
        if key == "columns" or key in data:
            continue
        if TABLE in schemas:
            data[key] = [{}] if TABLES in schemas else {}
            more = True
        elif section.where and "examples" in (first := (schemas or [DATE])[0]):
            data[key] = first["examples"][0]
            more = True
    for child in section.children:
        inner: Any = data
        for step in child.where[len(section.where) :]:
            inner = inner[step]
        assert isinstance(child, _Noting)
        more |= _filled(child, inner)
    return more


def _object(section: _Noting) -> Schema:
    inside = {child.where[len(section.where)]: child for child in section.children}
    properties = {
        key: _value(schemas, inside.get(key)) for key, schemas in section.properties.items()
    }
    found: Schema = {"type": "object", "properties": properties, "additionalProperties": False}
    if section.required:
        found["required"] = sorted(section.required)
    return found


def _value(schemas: list[Schema], inside: Section | None) -> Schema:
    """What a key may hold: one of the kinds that were asked of it."""
    if isinstance(inside, _Noting):
        table = _object(inside)
        tables = _several(table)
        schemas = [table if one == TABLE else tables if one == TABLES else one for one in schemas]
    if not schemas:
        return DATE
    return schemas[0] if len(schemas) == 1 else {"anyOf": schemas}


def _several(of: Schema) -> Schema:
    return {"type": "array", "items": of, "minItems": 1}


def _quantity(unit: str, example: str) -> Schema:
    return {"type": "string", "title": BY_NAME[unit].dimension, "examples": [example]}


def _range(low: float, high: float) -> Schema:
    found: Schema = {}
    if low > float("-inf"):
        found["minimum"] = low
    if high < float("inf"):
        found["maximum"] = high
    return found
