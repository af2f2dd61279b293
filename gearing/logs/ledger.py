"""The ledger of one file: rows and values set aside, repairs, questions; nothing is lost."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from gearing.logs.reasons import problem
from gearing.messages import Problem

_UNDER_COLUMNS = "under [columns] in the study"
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

    def set_aside_rows(self, code: str, lines: Lines, value: str = "", detail: str = "") -> None:
        self.rows += _runs(code, self.file, "", lines, value, detail)

    def set_aside_values(
        self, code: str, column: str, lines: Lines, value: str = "", detail: str = ""
    ) -> None:
        self.values += _runs(code, self.file, column, lines, value, detail)

    def repair(self, code: str, count: int = 1, detail: str = "", column: str = "") -> None:
        if count:
            self.repairs.append(
                problem(code, file=self.file, count=count, detail=detail, column=column)
            )

    def ask(self, code: str, detail: str, lines_to_add: list[str], column: str = "") -> None:
        """A question; the remedy shows the `[columns]` lines, one of which answers it. Without
        lines the remedy is to record what is missing."""
        if not lines_to_add:
            remedy = "Record it as well: no column of this file can serve."
            self.questions.append(
                problem(code, file=self.file, detail=detail, remedy=remedy, column=column)
            )
            return
        which = "Add this line" if len(lines_to_add) == 1 else "Add one of these lines"
        remedy = f"{which} {_UNDER_COLUMNS}:\n" + "\n".join(lines_to_add)
        self.questions.append(
            problem(code, file=self.file, detail=detail, remedy=remedy, column=column)
        )

    @property
    def count_rows(self) -> int:
        return sum(p.count for p in self.rows)


def lines_to_add(questions: Iterable[Problem]) -> str:
    """A sentence with the lines that would answer these questions; empty where there are none."""
    each = [q.remedy.partition(f"{_UNDER_COLUMNS}:\n")[2].splitlines() for q in questions]
    choices = list(dict.fromkeys(" or ".join(lines) for lines in each if lines))
    if not choices:
        return ""
    return f"{_UNDER_COLUMNS.capitalize()} add {', and '.join(choices)}."


def _runs(
    code: str, file: str, column: str, lines: Lines, value: str, detail: str
) -> list[Problem]:
    """Like cases in neighbouring lines as one problem each, or all as one where they are many."""
    if len(lines) == 0:
        return []
    lines = np.sort(np.asarray(lines, dtype=np.int64))
    breaks = np.flatnonzero(np.diff(lines) > 1) + 1
    parts = np.split(lines, breaks) if len(breaks) < MAX_RUNS else [lines]
    return [
        problem(
            code,
            file=file,
            column=column,
            lines=(int(part[0]), int(part[-1])),
            count=len(part),
            value=value,
            detail=detail,
        )
        for part in parts
    ]
