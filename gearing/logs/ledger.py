"""The ledger of one file: rows and values set aside, repairs, questions; nothing is lost."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
import polars as pl

from gearing.messages import Items, Message, Problem, UserText, message, names, problem_of

MAX_RUNS = 40  # more runs of one like case than this are told as one

Lines = npt.NDArray[Any]


@dataclass(slots=True)
class Ledger:
    """Collects while a file is read; `file` is the name shown."""

    file: str
    rows: list[Problem] = field(default_factory=list)
    values: list[Problem] = field(default_factory=list)
    repairs: list[Problem] = field(default_factory=list)
    questions: list[Problem] = field(default_factory=list)
    local_times: bool = False  # the log's times name no zone: the study's was taken, or UTC

    def set_aside_rows(self, told: Message, lines: Lines, value: str = "") -> None:
        """Rows by their 1-based source lines, with what stands in the first; none is nothing."""
        self.rows += _runs(told, self.file, "", lines, value)

    def set_aside_values(self, told: Message, column: str, lines: Lines, value: str = "") -> None:
        """Single values of a column, in rows that are used."""
        self.values += _runs(told, self.file, column, lines, value)

    def without(
        self, frame: pl.DataFrame, useless: pl.Expr, told: Message | None = None
    ) -> pl.DataFrame:
        """The rows of a frame, which has their `line`, that carry what the file is for; the
        others are set aside, for want of a value unless `told` says why."""
        aside = frame.select(pl.lit(True) & useless).to_series().fill_null(False)
        lines = frame["line"].filter(aside).to_numpy()
        self.set_aside_rows(told or message("no-values"), lines)
        return frame.filter(~aside) if len(lines) else frame

    def repair(self, told: Message, count: int = 1, column: str = "") -> None:
        """What was mended or passed over, and how often; never is nothing."""
        if count:
            self.repairs.append(problem_of(told, file=self.file, count=count, column=column))

    def ask(self, told: Message, column: str = "") -> None:
        """A question; the field `answer` of its message is what `answer` makes."""
        self.questions.append(problem_of(told, file=self.file, column=column))

    @property
    def count_rows(self) -> int:
        """How many rows were set aside."""
        return sum(p.count for p in self.rows)


def answer(lines: Sequence[str]) -> Message:
    """What answers a question: one of these `[columns]` lines, or, where no column can serve, to
    record what is missing."""
    if not lines:
        return message("no-column-serves")
    return message("lines-to-add", lines=names(tuple(lines), "line", "\n"))


def proposed_lines(question: Problem) -> tuple[str, ...]:
    """The `[columns]` lines, one of which answers the question."""
    told = question.told
    found = dict(told.fields).get("answer") if isinstance(told, Message) else None
    lines = dict(found.fields).get("lines") if isinstance(found, Message) else None
    if not isinstance(lines, Items):
        return ()
    return tuple(one.text for one in lines.items if isinstance(one, UserText))


def lines_to_add(questions: Iterable[Problem]) -> Message | None:
    """The lines that would answer all of these questions; None where there are none."""
    each = dict.fromkeys(lines for q in questions if (lines := proposed_lines(q)))
    if not each:
        return None
    choices = Items(tuple(names(lines, "line", "or") for lines in each), ", and")
    return message("add-under-columns", choices=choices)


def _runs(told: Message, file: str, column: str, lines: Lines, value: str) -> list[Problem]:
    """Like cases in neighbouring lines as one problem each, or all as one where they are many."""
    if len(lines) == 0:
        return []
    lines = np.sort(np.asarray(lines, dtype=np.int64))
    breaks = np.flatnonzero(np.diff(lines) > 1) + 1
    parts = np.split(lines, breaks) if len(breaks) < MAX_RUNS else [lines]
    return [
        problem_of(
            told,
            file=file,
            column=column,
            lines=(int(part[0]), int(part[-1])),
            count=len(part),
            value=value,
        )
        for part in parts
    ]
