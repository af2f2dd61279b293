"""`gearing inspect`: how each log would be read, before any study exists."""

from __future__ import annotations

import itertools
import json
import os
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

from gearing.logs.answers import usable_for
from gearing.logs.archives import LogSource, sources
from gearing.logs.beside import Skipped, kept_beside, logs_in, skipped_in
from gearing.logs.column_rule import ColumnRule, rules_for
from gearing.logs.describe import as_text, describe, printable
from gearing.logs.endings import LOG_ENDINGS, file_name, shown_name
from gearing.logs.model import Reading
from gearing.logs.overview import next_steps, not_known, overview, question_lines
from gearing.logs.questions import merged_questions
from gearing.logs.read import read_log
from gearing.logs.timestamps.date_order import DateOrder, settled_orders
from gearing.messages import GearingError, Message, Problem, UserText, message, names, problem_of
from gearing.messages.columns import reflowed
from gearing.study import load_study
from gearing.study.carries import (
    Beside,
    beside_lines,
    carried_lines,
    evidence_in,
    read_beside,
)
from gearing.trips.join import Recording, group_recordings
from gearing.trips.join import describe as describe_recording

MAX_JOINED = 8  # drives of several logs, told
MAX_ONE_BY_ONE = 3  # logs told one by one; more are told by recorder


@dataclass(frozen=True, slots=True)
class Reader:
    """What a study says of reading logs."""

    rules: tuple[ColumnRule, ...] = ()
    time_zone: str = "UTC"
    folder: Path | None = None

    def read(
        self, source: LogSource, order: DateOrder | None = None
    ) -> tuple[Reading, Recording | None]:
        """The log with its first and last sample alone, for a folder may hold thousands."""
        name = self._shown(source)
        rules = tuple(replace(rule, files=None) for rule in rules_for(self.rules, name))
        reading = read_log(source, name=name, rules=rules, time_zone=self.time_zone, order=order)
        samples = reading.samples
        ends = samples.gather_every(max(samples.height - 1, 1))
        return replace(reading, samples=ends), describe_recording(reading)

    def _shown(self, source: LogSource) -> str:
        """A log's name: within the study's folder that from there."""
        name = file_name(source.path)
        if self.folder is not None:
            log, folder = source.path.resolve(), self.folder.resolve()
            name = shown_name(log.relative_to(folder)) if log.is_relative_to(folder) else name
        return source.shown(name)


def inspect_files(
    paths: Sequence[Path], study: Path | None, *, as_json: bool, width: int | None = None
) -> str:
    """The description of each log, as text of at most `width` columns or as a JSON list.

    Raises
    ------
    GearingError
        a path that is not there, a folder without logs, a study file that is not fit.
    """
    reader = Reader()
    if study is not None:
        declared = load_study(study, logs_needed=False)
        reader = Reader(declared.columns, declared.time_zone, declared.folder)
    logs, skipped = _expanded(paths)
    every = [source for path in logs for source in sources(path)]
    with ThreadPoolExecutor(os.cpu_count()) as threads:
        read = list(threads.map(reader.read, every))
    for index, order in settled_orders([one for one, _ in read]).items():
        read[index] = reader.read(every[index], order)
    readings = [one for one, _ in read]
    folder = paths[0] if len(paths) == 1 and paths[0].is_dir() else None
    beside, profiles = _beside(paths, folder, reader)
    together = _together(readings, _groups([recording for _, recording in read]))
    if as_json:
        described = [describe(one) for one in readings]
        for members, good_for in together.items():
            for index in members:
                others = [readings[other].file for other in members if other != index]
                described[index] |= {"joined_with": others, "good_for_joined": list(good_for)}
        return json.dumps(described, ensure_ascii=False, indent=1)
    drives = [str(told) for told in _joined(readings, together)]
    if len(readings) <= MAX_ONE_BY_ONE and not any(path.is_dir() for path in paths):
        notebooks = beside_lines(beside) + question_lines(beside.files)
        told = [as_text(one, width) for one in readings]
        return reflowed("\n\n".join([*told, *_block(notebooks), *drives]), width)
    blocks = [*overview(readings, skipped, beside.files, width), *drives]
    told = [f"  {line}" for line in beside_lines(beside)]
    blocks += _block([str(message("beside")), *told] if told else [])
    if folder:
        channels = frozenset(name for one in readings for name in one.samples.columns)
        asked = bool(merged_questions([*readings, *beside.files]) or not_known(readings))
        blocks += _block(carried_lines(evidence_in(channels, beside, profiles, asked=asked)))
    named = shown_name(folder) if folder else ""
    steps = next_steps(readings, named, study is not None, beside.files)
    return reflowed("\n\n".join([*blocks, steps]), width)


def _block(lines: Sequence[str]) -> list[str]:
    """The lines as one block of text; none are no block."""
    return ["\n".join(lines)] if lines else []


def joined(readings: Sequence[Reading]) -> list[tuple[int, ...]]:
    """Which of these logs, by index, a run takes for one recording."""
    return _groups([describe_recording(one) for one in readings])


def _groups(recordings: Sequence[Recording | None]) -> list[tuple[int, ...]]:
    named = [replace(one, file=str(i)) for i, one in enumerate(recordings) if one is not None]
    return [tuple(sorted(map(int, group))) for group in group_recordings(named).groups]


def _together(
    readings: Sequence[Reading], groups: Sequence[tuple[int, ...]]
) -> dict[tuple[int, ...], tuple[str, ...]]:
    """Logs that are one recording, by index, and what they are good for as that."""
    found = {}
    for members in groups:
        channels = {name for index in members for name in readings[index].samples.columns}
        if len(members) > 1:
            found[members] = usable_for(tuple(channels))[0]
    return found


def _beside(paths: Sequence[Path], folder: Path | None, reader: Reader) -> tuple[Beside, int]:
    """The notebooks that lie beside a folder's logs, or among the files named, and how many
    profiles of roads."""
    files = [folder / name for name, _ in skipped_in(folder)] if folder else paths
    kinds = [(kept_beside(path), path) for path in files if path.is_file()]
    found = dict(reversed(kinds))

    def rules(path: Path) -> tuple[ColumnRule, ...]:
        shown = os.path.relpath(path, reader.folder or folder or path.parent)
        return rules_for(reader.rules, shown_name(Path(shown)))

    fillups, dash = found.get("fill-ups"), found.get("dash readings")
    profiles = sum(kind == "road profile" for kind, _ in kinds)
    return read_beside(fillups, dash, reader.time_zone, rules), profiles


def _joined(
    readings: Sequence[Reading], together: dict[tuple[int, ...], tuple[str, ...]]
) -> Iterator[Message]:
    for members, good_for in itertools.islice(together.items(), MAX_JOINED):
        files = names([printable(readings[index].file) for index in members], "file")
        if good_for:
            yield message("drives-joined", files=files, answers=names(good_for, joint=","))
        else:
            yield message("drives-joined/nothing", files=files)
    if len(together) > MAX_JOINED:
        yield message("drives-joined/more", drives=len(together) - MAX_JOINED)


def _expanded(paths: Sequence[Path]) -> tuple[list[Path], list[Skipped]]:
    """Files as they are; of folders, every log in them and below, and what is passed over there
    though it may be a log, with the reason.

    Raises
    ------
    GearingError
        a path that is not there, a study file, or a folder without logs.
    """
    problems = [
        problem_of(message("no-such-file"), file=shown_name(path))
        for path in paths
        if not path.exists() and path.suffix.lower() != ".toml"
    ]
    problems += [
        problem_of(message("inspected-study", file=UserText(name, "file")), file=name)
        for name in (shown_name(path) for path in paths if path.suffix.lower() == ".toml")
    ]
    if problems:
        raise GearingError(tuple(problems))
    logs: list[Path] = []
    skipped: list[Skipped] = []
    for path in paths:
        if not path.is_dir():
            logs.append(path)
            continue
        inside = logs_in(path)
        if not inside and not any(
            kept_beside(path / one) == "fill-ups" for one, _ in skipped_in(path)
        ):
            raise GearingError((_no_logs(path, skipped_in(path)),))
        logs += inside
        skipped += skipped_in(path)
    return logs, skipped


def _no_logs(path: Path, skipped: Sequence[Skipped]) -> Problem:
    endings = names(LOG_ENDINGS, joint=",")
    told = message("no-logs/here", endings=endings)
    if skipped:
        name, why = skipped[0]
        told = message("no-logs/skipped", endings=endings, skipped=UserText(name, "file"), why=why)
    return problem_of(told, file=shown_name(path))
