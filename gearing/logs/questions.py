"""The questions of many logs, each asked once, with lines that the study takes as they stand."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from gearing.logs.ledger import proposed_lines
from gearing.logs.timestamps.date_order import shortened
from gearing.messages import Items, Message, Problem, message_of

_ENTRY = re.compile(r"^(.*?) = (\{.*\})$")


@dataclass(frozen=True, slots=True)
class MergedQuestion:
    """One question: what it says, of which logs, and the lines of which one answers it; without
    lines `remedy` says what to do."""

    told: Message
    files: tuple[str, ...]
    lines: tuple[str, ...]
    remedy: str

    @property
    def message(self) -> str:
        """What it says, as text."""
        return str(self.told)

    @property
    def where(self) -> Items:
        """The logs it is of."""
        return shortened(self.files)


class Asking(Protocol):
    """A log, or a notebook beside logs, with what it leaves open."""

    @property
    def questions(self) -> Sequence[Problem]:
        """What is asked of the user."""


def merged_questions(readings: Iterable[Asking]) -> list[MergedQuestion]:
    """Each question once, whatever the values of one log or another: the same of the same column,
    with the same lines but for the log they name."""
    found: dict[tuple[object, ...], list[Problem]] = {}
    for reading in readings:
        for question in reading.questions:
            lines = tuple(re.sub(r', files = ".*?"', "", line) for line in proposed_lines(question))
            found.setdefault((question.code, question.column, lines), []).append(question)
    return [_merged(asked) for asked in found.values()]


def _merged(asked: list[Problem]) -> MergedQuestion:
    files = tuple(dict.fromkeys(question.file for question in asked))
    each = list(dict.fromkeys(line for question in asked for line in proposed_lines(question)))
    own = proposed_lines(asked[0])
    if len(each) > len(own):  # one line a log: TOML takes a key once, with an entry for each
        entries = [found for line in each if (found := _ENTRY.match(line))]
        keys = {found[1] for found in entries}
        if len(own) == len(keys) == 1 and len(entries) == len(each):
            own = (f"{keys.pop()} = [{', '.join(found[2] for found in entries)}]",)
    first = asked[0]
    return MergedQuestion(message_of(first), files, own, "" if own else first.remedy)
