"""A message's wording: text with placeholders, and what else the catalogue says of it.

`{days}` shows a field. `{days:day|days}` chooses by it: the first wording for a count of one or
for true or a row of one, else the second. `{why:clause}` sets a message inside a sentence: no
full stop, no capital; `{why:sentence}` makes one of it; `{why:title}` and `{why:remedy}` are its
title and remedy. `{@new tires}` is a word that depends on the audience
(`gearing.messages.audience`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gearing.messages.audience import Role
    from gearing.messages.render import Field


PLACEHOLDER = re.compile(r"\{(@?)([a-z][a-z_0-9 ]*)(?::([^{}]*))?\}")


class Severity(StrEnum):
    ERROR = "error"  # the thing named cannot be used
    QUESTION = "question"  # cannot be used until the user says which
    WARNING = "warning"  # used, but the answer may be touched
    NOTE = "note"  # repaired or passed over, and counted


@dataclass(frozen=True, slots=True)
class Template:
    """One entry of the catalogue.

    `text` says what was found and what it does to the answer, `remedy` what to do; both may hold
    placeholders. `title` stands for several cases told as one; without it, the text does. A
    template without `severity` is a part of others or a reason (`why`). With `audience` it and
    the messages in it are worded for a vehicle of that role, whoever reads it.
    """

    code: str
    text: str
    remedy: str = ""
    severity: Severity | None = None
    title: str = ""
    example: Mapping[str, Field] = field(default_factory=dict)
    audience: Role | None = None

    @property
    def placeholders(self) -> frozenset[str]:
        """The fields that the wording asks for."""
        found = PLACEHOLDER.finditer(self.text + self.remedy)
        return frozenset(one[2] for one in found if not one[1])


# every message there is, by code; `gearing.messages.catalogue` fills it
CATALOGUE: dict[str, Template] = {}
