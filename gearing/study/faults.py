"""What is wrong with a study file, gathered while it is read."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from gearing.messages import Message, Problem, problem_of
from gearing.study.words import show

if TYPE_CHECKING:
    from gearing.study.document import Document, Key


@dataclass(slots=True)
class Faults:
    """All that is wrong with one file, in the order of its lines."""

    document: Document
    found: list[Problem] = field(default_factory=list)

    def add(self, where: tuple[Key, ...], told: Message, value: object = "") -> Problem:
        """Note a fault at a place in the file, with the value that stands there."""
        line = self.document.line(where)
        problem = problem_of(
            told,
            file=str(self.document.path),
            lines=None if line is None else (line, line),
            value=show(value) if value != "" else "",
        )
        self.found.append(problem)
        return problem

    def in_order(self) -> tuple[Problem, ...]:
        """The faults in the order of their lines; those without a line come first."""
        return tuple(sorted(self.found, key=lambda problem: problem.first_line or 0))
