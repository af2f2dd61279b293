"""Logs that gave nothing to the answers, told where the answers are read."""

from __future__ import annotations

from collections.abc import Sequence

from gearing.logs.ledger import lines_to_add
from gearing.messages import (
    Items,
    Message,
    Problem,
    Severity,
    StudyWarning,
    UserText,
    message,
    message_of,
    warning,
)
from gearing.run.tasks import FileReport

MANY = 0.1  # of the logs given; fewer are told in the lists alone, unless a line would bring them
MAX_REASONS = 3
_OF_TIME = ("which-date-order", "which-start", "which-time")


def logs_not_used(reports: Sequence[FileReport]) -> tuple[StudyWarning, ...]:
    """One warning where many logs were set aside whole, or any that an answer of the user would
    bring in. Copies of logs that were used do not count; each file that is no log has a warning
    of its own."""
    logs: dict[str, list[FileReport]] = {}
    for report in reports:
        logs.setdefault(report.log, []).append(report)
    why: dict[str, list[tuple[str, Problem]]] = {}
    for log, parts in logs.items():
        if any(part.rows_used for part in parts):
            continue
        reason = _reason(parts)
        if reason is not None and reason.code != "duplicate":
            why.setdefault(reason.code, []).append((log, reason))
    strangers = tuple(map(_stranger, why.pop("other-kind", [])[:MAX_REASONS]))
    count = sum(map(len, why.values()))
    asked = [q for part in why.values() for _, q in part if q.severity is Severity.QUESTION]
    if not asked and count <= MANY * len(logs):
        return strangers
    ordered = sorted(why.items(), key=lambda item: -len(item[1]))
    told = [_told(cases) for _, cases in ordered[:MAX_REASONS]]
    if len(ordered) > MAX_REASONS:
        told.append(message("other-reasons"))
    reasons, lines = Items(tuple(told), ";"), lines_to_add(asked)
    if lines is None:
        unused = message("logs-not-used", unused=count, logs=len(logs), reasons=reasons)
    else:
        unused = message(
            "logs-not-used/lines", unused=count, logs=len(logs), reasons=reasons, lines=lines
        )
    return (*strangers, warning(unused))


def _stranger(case: tuple[str, Problem]) -> StudyWarning:
    """Of a file among the logs that is none."""
    file, why = case
    named = UserText(file, "file")
    return warning(message("logs-not-used/other-kind", file=named, why=message_of(why)))


def _reason(parts: Sequence[FileReport]) -> Problem | None:
    """Why a log gave nothing: what is asked, else what stopped it, else what most rows met."""
    asked = [p for part in parts for p in part.questions]
    asked.sort(key=lambda p: p.code not in _OF_TIME)  # without a time all else is idle
    rows = [p for part in parts for p in part.set_aside_rows]
    grave = [p for p in rows if p.severity is Severity.ERROR]
    grave += [p for part in parts for p in part.repairs if p.severity is Severity.ERROR]
    most = [max(rows, key=lambda p: p.count)] if rows else []
    return next(iter((*asked, *grave, *most)), None)


def _told(cases: Sequence[tuple[str, Problem]]) -> Message:
    """One reason, and the logs it stopped."""
    first, why = cases[0]
    return message(
        "log-reason",
        why=message_of(why),
        logs=len(cases),
        first=UserText(first, "file"),
        others=len(cases) > 1,
    )
