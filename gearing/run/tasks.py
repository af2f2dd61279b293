"""The two pieces of work a worker does: read one file, and make the records of one recording.

Each keeps its result in the store and is nothing but a look-up where that is still good.
"""

from __future__ import annotations

import contextlib
import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

import polars as pl

from gearing.logs.archives import LogSource
from gearing.logs.column_rule import ColumnRule, rules_for
from gearing.logs.model import Reading
from gearing.logs.read import read_log
from gearing.logs.timestamps.date_order import DateOrder
from gearing.messages import Problem, UserText, message, problem_of
from gearing.run.chunks import Piece, piece_file
from gearing.run.code_version import code_of_records
from gearing.run.serialize import pack, unpack
from gearing.run.store import Store, digest
from gearing.run.workers import in_one_order
from gearing.study.model import Side
from gearing.trips.declared import Declared
from gearing.trips.join import Recording, describe, has_bus, receives
from gearing.trips.record import TripRecord, records_of

Result = TypeVar("Result")

MAX_READS = 2  # of a file that changes while it is read
# of a reading, what its report holds under the same name
_OF_READING = (
    "file", "rows_read", "rows_used", "set_aside_rows", "set_aside_values", "questions",
    "good_for", "headings", "date_order",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Counts:
    """What of a study makes a recording's trips, under which period (None: by date) and name they
    count, and how far apart the rows are to be that their road steps are made of (0: as logged)."""

    declared: Declared
    side: Side | None
    name: str
    every_s: float = 0.0


@dataclass(frozen=True, slots=True)
class ReadTask:
    """One log to read: where it lies, the name shown, and what the study says of its columns."""

    path: Path
    file: str
    rules: tuple[ColumnRule, ...]
    time_zone: str
    store: Path
    piece: Piece | None = None
    counts: Counts | None = None  # None: the trips are left for later
    order: DateOrder | None = None  # of day and month, as other logs prove it
    source: LogSource | None = None  # None: the whole file

    @property
    def log(self) -> str:
        """The whole log's name, where this task is a part of it."""
        return self.file if self.piece is None else self.file.removesuffix(self.piece.label)

    @property
    def own_rules(self) -> tuple[ColumnRule, ...]:
        """The rules that concern this file."""
        mine = rules_for(self.rules, self.log)
        return tuple(replace(rule, files=None) for rule in mine)  # a piece has another path


@dataclass(frozen=True, slots=True, kw_only=True)
class FileReport:
    """What is known of a file once it is read; its samples, where they may be asked for, lie in
    the store under `samples`."""

    log: str  # the whole log's name; `file` may be a part of it
    file: str
    samples: str | None = None
    rows_read: int = 0
    rows_used: int = 0
    set_aside_rows: tuple[Problem, ...] = ()
    set_aside_values: tuple[Problem, ...] = ()
    repairs: tuple[Problem, ...] = ()
    questions: tuple[Problem, ...] = ()
    good_for: tuple[str, ...] = ()
    recording: Recording | None = None
    headings: tuple[str, ...] = ()
    date_order: str = ""
    local_times: bool = False  # its times name no zone


def kept_report(task: ReadTask) -> FileReport | None:
    """What an earlier run found in the file, if it is still the same.

    Raises
    ------
    OSError
        the file cannot be read.
    """
    store = Store(task.store)
    return _kept(FileReport, store, _report_key(task, store))


def _kept(kind: type[Result], store: Store, key: str) -> Result | None:
    content = store.get(key)
    if content is not None:
        with contextlib.suppress(ValueError):
            return unpack(kind, content)
    return None


def _report_key(task: ReadTask, store: Store) -> str:
    # the name shown stands in every problem
    of_study = (task.file, repr(task.own_rules), task.time_zone)
    part = (repr(task.piece), repr(task.order), task.source.member if task.source else None)
    return digest("file", code_of_records(), store.content_key(task.path), of_study, part)


@in_one_order
def read_file(task: ReadTask) -> FileReport:
    """Read a log into the store; where it may be a recording of its own, its trips as well.

    Never raises for what a file holds; a store that cannot be written raises OSError.
    """
    store = Store(task.store)
    try:
        key = _report_key(task, store)
    except OSError as error:
        return _unreadable(task, error)
    return _read_anew(task, store, key)


def _read_anew(task: ReadTask, store: Store, key: str) -> FileReport:
    for _ in range(MAX_READS):
        try:
            before = task.path.stat()
            reading = read_task(task)
            after = task.path.stat()
        except OSError as error:
            return _unreadable(task, error)
        steady = (before.st_size, before.st_mtime_ns) == (after.st_size, after.st_mtime_ns)
        if steady:
            break
    # what a changing file showed must not stand for the file it was taken for
    content = key if steady else digest(key, after.st_size, after.st_mtime_ns)
    samples = f"{content[:-8]}-samples" if reading.samples.height else None
    recording = describe(reading)
    if samples is not None and (task.piece is not None or _lacks_a_half(recording)):
        store.put(samples, _parquet(reading.samples))
    changed = () if steady else (problem_of(message("changed-while-read"), file=task.file),)
    report = FileReport(
        log=task.log,
        samples=samples,
        repairs=reading.repairs + changed,
        recording=recording,
        local_times=reading.dialect.local,
        **{name: getattr(reading, name) for name in _OF_READING},
    )
    if task.counts is not None and task.piece is None and "speed" in report.good_for:
        # most logs overlap no other: while the samples are at hand, their trips cost no reading
        whole = Samples(task.file, reading.samples)
        _make(RecordTask((report,), (task,), task.counts), [whole], store)
    if steady:
        store.put(key, pack(report))
    return report


def _lacks_a_half(recording: Recording | None) -> bool:
    """Whether another log may complete this one. Samples of a whole recording, once its trips are
    made, are hardly ever asked for again, and then read anew."""
    return recording is None or not (receives(recording) and has_bus(recording))


def read_task(task: ReadTask) -> Reading:
    """The file, or the piece of it, under the name that the report shows.

    Raises
    ------
    OSError
        the piece cannot be cut out.
    """
    if task.piece is None:
        return _read(task, task.source or task.path)
    with piece_file(task.path, task.piece) as own:
        return _in_whole_file(_read(task, own), task.piece)


def _read(task: ReadTask, source: Path | LogSource) -> Reading:
    rules, zone = task.own_rules, task.time_zone
    return read_log(source, name=task.file, rules=rules, time_zone=zone, order=task.order)


def _in_whole_file(reading: Reading, piece: Piece) -> Reading:
    """A piece's reading with the lines of the whole file."""

    def line(number: int | None) -> int | None:
        """A line of the piece as a line of the whole file."""
        return None if number is None else piece.line(number)

    def own(problems: tuple[Problem, ...]) -> tuple[Problem, ...]:
        """The problems with the whole file's lines."""
        return tuple(
            replace(one, first_line=line(one.first_line), last_line=line(one.last_line))
            for one in problems
        )

    told = ("set_aside_rows", "set_aside_values", "repairs", "questions")
    moved: dict[str, Any] = {name: own(getattr(reading, name)) for name in told}
    return replace(reading, **moved)


def _parquet(samples: pl.DataFrame) -> bytes:
    buffer = io.BytesIO()
    samples.write_parquet(buffer, compression="lz4", statistics=False)
    return buffer.getvalue()


def _unreadable(task: ReadTask, error: OSError) -> FileReport:
    told = message("unreadable-file", system=UserText(error.strerror or str(error), "system"))
    return FileReport(log=task.log, file=task.file, repairs=(problem_of(told, file=task.file),))


@dataclass(frozen=True, slots=True)
class RecordTask:
    """One recording: the reports of its files, and how its trips count."""

    reports: tuple[FileReport, ...]
    tasks: tuple[ReadTask, ...]
    counts: Counts


def kept_records(task: RecordTask) -> list[TripRecord] | None:
    """The trips of one recording as an earlier run, or the reading of its log, left them."""
    return _kept(list[TripRecord], Store(task.tasks[0].store), _records_key(task))


def _records_key(task: RecordTask) -> str:
    files = [(report.samples, report.file) for report in task.reports]
    return digest("records", code_of_records(), files, repr(task.counts))


@in_one_order
def make_records(task: RecordTask) -> list[TripRecord]:
    """The trips of one recording, from samples in the store."""
    samples = [
        Samples(report.file, samples_of(report, read))
        for report, read in zip(task.reports, task.tasks, strict=True)
    ]
    return _make(task, samples, Store(task.tasks[0].store))


def _make(task: RecordTask, samples: Sequence[Samples], store: Store) -> list[TripRecord]:
    counts = task.counts
    headings = {heading for report in task.reports for heading in report.headings}
    records = records_of(
        samples,
        counts.declared,
        side=counts.side,
        name=counts.name,
        headings=headings,
        every_s=counts.every_s,
    )
    store.put(_records_key(task), pack(records))
    return records


def samples_of(report: FileReport, task: ReadTask) -> pl.DataFrame:
    """The file's samples from the store; read anew where the entry is gone or damaged."""
    content = Store(task.store).get(report.samples) if report.samples else None
    if content is not None:
        with contextlib.suppress(pl.exceptions.PolarsError):
            return pl.read_parquet(io.BytesIO(content))
    return read_task(task).samples


@dataclass(frozen=True, slots=True)
class Samples:
    """Of a reading, what trips are made from."""

    file: str
    samples: pl.DataFrame
