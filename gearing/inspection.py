"""`gearing inspect`: how each log would be read, before any study exists."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from gearing.logs.answers import what_it_is_good_for
from gearing.logs.archives import LogSource, sources
from gearing.logs.column_rule import ColumnRule
from gearing.logs.date_order import settled_orders
from gearing.logs.describe import as_text, describe, printable
from gearing.logs.endings import LOG_ENDINGS, file_name, is_log, is_of_report, shown_name
from gearing.logs.model import Reading
from gearing.problems import GearingError, Problem, Severity
from gearing.study import load_study
from gearing.tasks import ReadTask, read_task
from gearing.trips.join import describe as describe_recording
from gearing.trips.join import group_recordings


@dataclass(frozen=True, slots=True)
class Reader:
    """What a study says of reading logs."""

    rules: tuple[ColumnRule, ...] = ()
    time_zone: str = "UTC"
    folder: Path | None = None


def inspect_files(paths: Sequence[Path], study: Path | None, *, as_json: bool) -> str:
    """The description of each log, as text or as a JSON list.

    Raises
    ------
    GearingError
        a path that is not there, a folder without logs, a study file that is not fit.
    """
    reader = Reader()
    if study is not None:
        declared = load_study(study, logs_needed=False)
        reader = Reader(declared.columns, declared.time_zone, declared.folder)
    tasks = [_task(source, reader) for path in _expanded(paths) for source in sources(path)]
    readings = [read_task(task) for task in tasks]
    for index, order in settled_orders(readings).items():
        readings[index] = read_task(replace(tasks[index], order=order))
    together = _together(readings)
    if as_json:
        described = [describe(one) for one in readings]
        for members, good_for in together.items():
            for index in members:
                others = [readings[other].file for other in members if other != index]
                described[index] |= {"joined_with": others, "good_for_joined": list(good_for)}
        return json.dumps(described, ensure_ascii=False, indent=1)
    return "\n\n".join([*(as_text(one) for one in readings), *_as_words(readings, together)])


def joined(readings: Sequence[Reading]) -> list[tuple[int, ...]]:
    """Which of these logs, by index, a run takes for one recording."""
    named = [describe_recording(replace(one, file=str(i))) for i, one in enumerate(readings)]
    groups = group_recordings([one for one in named if one is not None]).groups
    return [tuple(sorted(map(int, group))) for group in groups]


def _together(readings: Sequence[Reading]) -> dict[tuple[int, ...], tuple[str, ...]]:
    """Logs that are one recording, by index, and what they are good for as that."""
    found = {}
    for members in joined(readings):
        channels = {name for index in members for name in readings[index].samples.columns}
        if len(members) > 1:
            found[members] = what_it_is_good_for(tuple(channels))[0]
    return found


def _as_words(
    readings: Sequence[Reading], together: dict[tuple[int, ...], tuple[str, ...]]
) -> Iterator[str]:
    for members, good_for in together.items():
        names = " and ".join(printable(readings[index].file) for index in members)
        yield f"{names} show one drive; joined, good for: {', '.join(good_for) or 'nothing'}"


def _task(source: LogSource, reader: Reader) -> ReadTask:
    path = source.path
    name = file_name(path)
    if reader.folder is not None and path.resolve().is_relative_to(reader.folder.resolve()):
        inside = path.resolve().relative_to(reader.folder.resolve())
        name = shown_name(inside)
    own = source if source.inner else None
    name = source.shown(name)
    return ReadTask(path, name, reader.rules, reader.time_zone, store=path, source=own)


def _expanded(paths: Sequence[Path]) -> Iterator[Path]:
    """Files as they are; of folders, every log in them and below."""
    problems = [_missing(path) for path in paths if not path.exists()]
    if problems:
        raise GearingError(tuple(problems))
    for path in paths:
        if not path.is_dir():
            yield path
            continue
        inside = [
            one
            for one in sorted(path.rglob("*"))
            if one.is_file() and is_log(one) and not is_of_report(one)
        ]
        if not inside:
            raise GearingError((_no_logs(path),))
        yield from inside


def _missing(path: Path) -> Problem:
    return Problem(
        code="no-such-file",
        severity=Severity.ERROR,
        file=shown_name(path),
        message="is not there.",
        remedy="Check the name; a folder may be named too.",
    )


def _no_logs(path: Path) -> Problem:
    return Problem(
        code="no-logs",
        severity=Severity.ERROR,
        file=shown_name(path),
        message=f"holds no logs; looked for {', '.join(LOG_ENDINGS)}.",
        remedy="Name the files themselves if they end otherwise.",
    )
