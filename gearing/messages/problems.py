"""What can be wrong with what the user gave, and what the reader must know of the answers."""

from __future__ import annotations

from dataclasses import dataclass

from gearing.messages.render import METRIC, Message, Remedy, Text
from gearing.messages.template import CATALOGUE, Severity

PROGRAM_FAULT = "program-fault"  # ours, and nothing a user can mend


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One fault, or one run of like faults.

    `code` is stable and lower-case with hyphens; `told` says what was found and what was
    expected; `fix` what to do; `message` and `remedy` are their metric texts. Lines count from 1
    and are None where the whole file is meant.
    """

    code: str
    severity: Severity
    told: Text
    fix: Text = ""
    file: str = ""
    column: str = ""
    first_line: int | None = None
    last_line: int | None = None
    count: int = 1
    value: str = ""

    @property
    def message(self) -> str:
        """What was found, as metric text."""
        return str(self.told)

    @property
    def remedy(self) -> str:
        """What to do, as metric text; empty where nothing is to be done."""
        return str(self.fix)

    @property
    def title(self) -> str:
        """What was found in a few words, without the figures of this case."""
        if isinstance(self.told, Message):
            return METRIC.title(self.told)
        return self.message.rstrip(".")

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


class MessageError(ValueError):
    """A value that cannot be used, told in a message; survives pickling between processes."""

    def __init__(self, told: Message) -> None:
        super().__init__(told)
        self.told = told


@dataclass(frozen=True, slots=True)
class StudyWarning:
    """Something the reader of the answers must know: a stable code, a message, trips it touches
    and keys of the study file it is about.

    The message says what was seen and what it does to the answer; `text` is its metric text.
    """

    code: str
    told: Text
    trips: tuple[str, ...] = ()
    keys: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """The message as metric text."""
        return str(self.told)


def message_of(problem: Problem) -> Message:
    """The problem's message, to set it in another.

    Raises
    ------
    TypeError
        it has plain text as yet.
    """
    if not isinstance(problem.told, Message):
        raise TypeError(f"{problem.code} is no message")
    return problem.told


def warning(told: Message, trips: tuple[str, ...] = (), keys: tuple[str, ...] = ()) -> StudyWarning:
    """The warning that a message of the catalogue makes."""
    return StudyWarning(told.topic, told, trips, keys)


def problem_of(
    told: Message,
    *,
    file: str = "",
    column: str = "",
    lines: tuple[int, int] | None = None,
    count: int = 1,
    value: str = "",
) -> Problem:
    """The problem that a message of the catalogue makes: its severity and remedy are the
    template's.

    Raises
    ------
    KeyError
        the catalogue has no such code, or no severity for it.
    """
    severity = CATALOGUE[told.code].severity
    if severity is None:
        raise KeyError(f"{told.code} has no severity")
    return Problem(
        code=told.topic,
        severity=severity,
        told=told,
        fix=Remedy(told) if CATALOGUE[told.code].remedy else "",
        file=file,
        column=column,
        first_line=lines[0] if lines else None,
        last_line=lines[1] if lines else None,
        count=count,
        value=value[:80],
    )
