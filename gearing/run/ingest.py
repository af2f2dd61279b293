"""From a study's logs to the records of its trips: kept from earlier runs, else read and made."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TypeVar

from gearing.logs.timestamps.date_order import settled_orders
from gearing.messages import StudyWarning, UserText, message, problem_of
from gearing.run.chunks import pieces_of
from gearing.run.input_checks.clocks_apart import clocks_apart, drives_at_once
from gearing.run.progress import Progress
from gearing.run.store import Store
from gearing.run.study_logs import StudyLog, trip_names
from gearing.run.tasks import (
    Counts,
    FileReport,
    ReadTask,
    RecordTask,
    kept_records,
    kept_report,
    make_records,
    read_file,
)
from gearing.run.workers import Died, Workers
from gearing.study.model import Study
from gearing.trips.declared import Declared
from gearing.trips.even_rows import common_interval_s
from gearing.trips.join import Groups, group_recordings
from gearing.trips.record import TripRecord

Task = TypeVar("Task")
Result = TypeVar("Result")
Fitting = Callable[[int], Workers]  # the workers fit for so many bytes


@dataclass(frozen=True, slots=True)
class Gathered:
    """A report for each file, or part of one; how they belong together; the trips, by start; what
    is to be told of clocks."""

    reports: list[FileReport]
    groups: Groups
    records: list[TripRecord]
    clocks: tuple[StudyWarning, ...]


def read_tasks(study: Study, logs: Sequence[StudyLog], store: Store) -> list[ReadTask]:
    """One task a log."""
    declared = Declared.of(study)
    return [
        ReadTask(
            log.source.path,
            log.file,
            study.columns,
            study.time_zone,
            store.folder.absolute(),
            counts=Counts(declared, log.side, log.name),
            source=log.source if log.source.inner else None,
        )
        for log in logs
    ]


def gather(
    study: Study, logs: Sequence[ReadTask], workers: Fitting, progress: Progress
) -> Gathered:
    """Read what is new, join what is one recording, and make the trips of each."""
    tasks = [part for log in logs for part in _pieces(log) or [log]]
    reports = _read_all(tasks, workers, progress)
    mixed = {task.path for task, one in zip(tasks, reports, strict=True) if _mixed(one)}
    if mixed:
        whole = {log.file: log for log in logs}
        mended = {t.log if t.path in mixed else t.file: t for t in tasks}
        tasks = [whole.get(file, task) for file, task in mended.items()]
        reports = _read_all(tasks, workers, progress)
    orders = settled_orders(reports)
    for index, order in orders.items():
        tasks[index] = replace(tasks[index], order=order)
    settled = _read_all([tasks[index] for index in orders], workers, progress)
    for index, report in zip(orders, settled, strict=True):
        reports[index] = report
    groups = group_recordings([r.recording for r in reports if r.recording is not None])
    records = _record_all(Declared.of(study), groups, tasks, reports, workers, progress)
    clocks = (*clocks_apart(tasks, reports, groups, records), *drives_at_once(records))
    return Gathered(reports, groups, records, clocks)


def _pieces(log: ReadTask) -> list[ReadTask]:
    """A large log in parts, whose trips can be made only from all of them."""
    if log.source is not None:
        return []
    try:
        pieces = pieces_of(log.path, log.own_rules, log.time_zone)
    except OSError:
        pieces = []  # reading it will tell
    return [replace(log, file=log.file + piece.label, piece=piece) for piece in pieces]


def _mixed(report: FileReport) -> bool:
    """A part in which other headings begin: the parts behind it were read under the wrong ones."""
    return report.file != report.log and any(p.code == "new-headings" for p in report.repairs)


def _read_all(tasks: Sequence[ReadTask], workers: Fitting, progress: Progress) -> list[FileReport]:
    done = rows = 0

    def tell(report: FileReport) -> None:
        """Show that one more log was read."""
        nonlocal done, rows
        done, rows = done + 1, rows + report.rows_read
        progress.step(message("reading-logs"), done, len(tasks), rows)

    found = _all_of(tasks, kept_report, read_file, lambda new: workers(bytes_of(new)), tell)
    return [
        _killed(task.log, task.file, one) if isinstance(one, Died) else one
        for task, one in zip(tasks, found, strict=True)
    ]


def _all_of(
    tasks: Sequence[Task],
    kept: Callable[[Task], Result | None],
    make: Callable[[Task], Result],
    workers: Callable[[list[Task]], Workers],
    tell: Callable[[Result], None],
) -> list[Result | Died]:
    """The result of each task: kept from an earlier run, else made by workers fit for the rest."""
    found: dict[int, Result | Died] = {}
    for index, one in enumerate(_looked_up(kept, tasks)):
        if one is not None:
            found[index] = one
            tell(one)
    new = [index for index in range(len(tasks)) if index not in found]
    to_do = [tasks[index] for index in new]
    made = workers(to_do).run(make, to_do, tell)
    found |= zip(new, made, strict=True)
    return [found[index] for index in range(len(tasks))]


def _looked_up(kept: Callable[[Task], Result | None], tasks: Sequence[Task]) -> list[Result | None]:
    """What the store holds of each task; threads, for most of it is reading and checking."""

    def look(task: Task) -> Result | None:
        """What the store holds of a task; None too where it cannot be read."""
        try:
            return kept(task)
        except OSError:
            return None  # reading it will tell

    with ThreadPoolExecutor(os.cpu_count()) as threads:
        return list(threads.map(look, tasks))


def bytes_of(tasks: Sequence[ReadTask]) -> int:
    """How large the logs are together; one that is gone counts nothing."""
    total = 0
    for task in tasks:
        with contextlib.suppress(OSError):
            total += task.path.stat().st_size
    return total


def _killed(log: str, file: str, died: Died) -> FileReport:
    """Of a file that kills whoever reads it."""
    told = message("killed-the-reader", system=UserText(died.why, "system"))
    return FileReport(log=log, file=file, repairs=(problem_of(told, file=file),))


def _record_all(
    declared: Declared,
    groups: Groups,
    tasks: Sequence[ReadTask],
    reports: list[FileReport],
    workers: Fitting,
    progress: Progress,
) -> list[TripRecord]:
    """The trips of all recordings; what a recording that kills its workers held is set aside in
    `reports`."""
    place = {report.file: index for index, report in enumerate(reports)}
    work = []
    for group, name in zip(groups.groups, trip_names([g[0] for g in groups.groups]), strict=True):
        at = [place[file] for file in group]
        first = tasks[at[0]].counts
        counts = Counts(declared, first.side if first else None, name)
        work.append(RecordTask(tuple(reports[i] for i in at), tuple(tasks[i] for i in at), counts))
    made = _made(work, workers, progress)
    every_s = common_interval_s(
        [record for one in made if not isinstance(one, Died) for record in one]
    )
    if every_s:
        work = [_every(task, one, every_s) for task, one in zip(work, made, strict=True)]
        made = _made(work, workers, progress)
    records: list[TripRecord] = []
    for task, one in zip(work, made, strict=True):
        if isinstance(one, Died):
            for report in task.reports:
                reports[place[report.file]] = _killed(report.log, report.file, one)
        else:
            records += one
    return sorted(records, key=lambda record: (record.start, record.name))


def _every(task: RecordTask, made: list[TripRecord] | Died, every_s: float) -> RecordTask:
    """The task with road steps of rows `every_s` apart, where its trips are logged oftener."""
    if isinstance(made, Died) or all(one.interval_s >= every_s for one in made):
        return task
    return replace(task, counts=replace(task.counts, every_s=every_s))


def _made(
    work: Sequence[RecordTask], workers: Fitting, progress: Progress
) -> list[list[TripRecord] | Died]:
    """The trips of each recording."""
    done = 0

    def tell(_: list[TripRecord]) -> None:
        """Show that one more recording was measured."""
        nonlocal done
        done += 1
        progress.step(message("measuring-trips"), done, len(work))

    def fitting(new: list[RecordTask]) -> Workers:
        return workers(bytes_of([task for one in new for task in one.tasks]))

    return _all_of(work, kept_records, make_records, fitting, tell)
