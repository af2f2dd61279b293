"""What can be wrong with what the user gave: the catalogue, and one found case of it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

PROGRAM_FAULT = "program-fault"  # ours, and nothing a user can mend


class Severity(StrEnum):
    ERROR = "error"  # the thing named cannot be used
    QUESTION = "question"  # cannot be used until the user says which
    WARNING = "warning"  # used, but the answer may be touched
    NOTE = "note"  # repaired or passed over, and counted


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One fault, or one run of like faults.

    `code` is stable and lower-case with hyphens; `message` says what was found and what was
    expected; `remedy` what to do. Lines count from 1 and are None where the whole file is meant.
    """

    code: str
    severity: Severity
    message: str
    remedy: str = ""
    file: str = ""
    column: str = ""
    first_line: int | None = None
    last_line: int | None = None
    count: int = 1
    value: str = ""

    def sentence(self) -> str:
        """The problem in one line: where, what, and what to do."""
        place = self.file
        if self.first_line is not None:
            place += f", line {self.first_line}"
            if self.last_line is not None and self.last_line != self.first_line:
                place += f" to {self.last_line}"
        if self.column:
            place += f", column {self.column!r}"
        text = f"{place}: {self.message}" if place else self.message
        return f"{text} {self.remedy}".strip()


class GearingError(Exception):
    """Something a user can mend. Carries its problems; survives pickling between processes."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__(problems)
        self.problems = problems

    def __str__(self) -> str:
        return "\n".join(problem.sentence() for problem in self.problems)


@dataclass(frozen=True, slots=True)
class StudyWarning:
    """Something the reader of the answers must know: a stable code, a sentence, trips it touches
    and keys of the study file it is about.

    The sentence says what was seen and what it does to the answer.
    """

    code: str
    text: str
    trips: tuple[str, ...] = ()
    keys: tuple[str, ...] = ()
