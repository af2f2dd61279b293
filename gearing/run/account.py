"""The account of what was given: rows read, used and set aside, files that gave nothing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

import polars as pl

from gearing.messages import Problem, Severity, UserText, message, problem_of
from gearing.results.record import InputCount, NoteGroup
from gearing.run.companion_files import CompanionFiles
from gearing.run.tasks import FileReport
from gearing.trips.join import Groups
from gearing.trips.record import TripRecord

SET_ASIDE = {
    "file": pl.String,
    "column": pl.String,
    "first_line": pl.Int64,
    "last_line": pl.Int64,
    "count": pl.Int64,
    "value": pl.String,
    "reason": pl.String,
    "message": pl.String,
    "what": pl.String,
}


def with_duplicates(reports: Sequence[FileReport], groups: Groups) -> list[FileReport]:
    """A file that shows what another shows is read, and set aside whole."""
    twins = dict(groups.duplicates)
    return [
        replace(
            report,
            rows_used=0,
            set_aside_rows=(
                *report.set_aside_rows,
                problem_of(
                    message("duplicate", other=UserText(twins[report.file], "file")),
                    file=report.file,
                    count=report.rows_used,
                ),
            ),
        )
        if report.file in twins
        else report
        for report in reports
    ]


def without_trips(
    reports: Sequence[FileReport], records: Sequence[TripRecord]
) -> tuple[Problem, ...]:
    """Files whose samples made no trip, so that nothing of them shows in the answers."""
    shown = {file for record in records for file in record.files}
    return tuple(
        problem_of(message("no-trip"), file=report.file)
        for report in reports
        if report.rows_used and report.file not in shown
    )


def input_count(reports: Sequence[FileReport]) -> InputCount:
    """Rows and values of all files by what became of them."""
    rows = _by_code(p for report in reports for p in report.set_aside_rows)
    return InputCount(
        files=len({report.log for report in reports}),
        rows_read=sum(report.rows_read for report in reports),
        rows_used=sum(report.rows_used for report in reports),
        rows_set_aside=sum(rows.values()),
        # a file without records has none to set aside
        reasons={code: count for code, count in rows.items() if count},
        values_set_aside=_by_code(p for report in reports for p in report.set_aside_values),
        repairs=_by_code(p for report in reports for p in report.repairs),
    )


def _by_code(problems: Iterable[Problem]) -> dict[str, int]:
    """How often each problem was met, by code, in the order of the codes."""
    met = Counter[str]()
    for problem in problems:
        met[problem.code] += problem.count
    return dict(sorted(met.items()))


def set_aside(reports: Sequence[FileReport], companions: CompanionFiles) -> pl.DataFrame:
    """What was not used, a row each run of like cases: the table `set_aside.csv`."""
    cases = [(one.set_aside_rows, one.set_aside_values) for one in reports]
    cases.append((companions.set_aside, companions.values_set_aside))
    rows = [
        (p.file, p.column, p.first_line, p.last_line, p.count, p.value, p.code, p.message, what)
        for case in cases
        for what, problems in zip(("row", "value"), case, strict=True)
        for p in problems
    ]
    return pl.DataFrame(rows, schema=SET_ASIDE, orient="row")


def grouped(problems: Sequence[Problem], severities: set[Severity]) -> tuple[NoteGroup, ...]:
    """Like problems of many files as one, with how many files and the first of them."""
    groups: dict[tuple[str, str, str], list[Problem]] = {}
    for one in problems:
        if one.severity in severities:
            groups.setdefault((one.code, one.column, one.remedy), []).append(one)
    return tuple(
        NoteGroup(
            code=code,
            severity=str(like[0].severity),
            column=column,
            message=like[0].told,
            remedy=like[0].fix,
            file=like[0].file,
            files=len({one.file for one in like}),
            count=sum(one.count for one in like),
        )
        for (code, column, _), like in groups.items()
    )
