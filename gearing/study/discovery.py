"""What a folder of logs holds, looked at for a starting study."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, cast

from gearing.logs.beside import Skipped, kept_beside, skipped_in
from gearing.logs.endings import (
    PLAIN,
    is_log,
    is_of_report,
    shown_name,
)
from gearing.logs.kinds import DASH, FILLUP_LOG, PROFILE, WEATHER
from gearing.messages import (
    GearingError,
    Items,
    Message,
    UserText,
    message,
    message_of,
    names,
    problem_of,
)
from gearing.study.carries import Evidence, evidence_in, read_beside

if TYPE_CHECKING:
    from gearing.logs.model import Reading
    from gearing.logs.questions import MergedQuestion

PACKED = (".gz", ".zip")
READ_AT_MOST = 200  # logs looked into, evenly spread; more would only be slower
NEIGHBOURS = 4  # of them side by side, so that two of one drive are looked into together
SIDES = ("before", "after")
Joined = Callable[[Sequence["Reading"]], Sequence[tuple[int, ...]]]


@dataclass(frozen=True, slots=True)
class FolderScan:
    """What a folder holds: logs with their side where subfolders tell it, and companions."""

    folder: Path
    logs: tuple[Path, ...]
    sides: dict[str, tuple[Path, ...]]  # before and after, or empty
    fillups: Path | None
    weather: Path | None
    dash: Path | None
    routes: tuple[Path, ...]
    skipped: tuple[Skipped, ...] = ()  # what may be meant as a log and is none, and why


@dataclass(frozen=True, slots=True)
class LogSummary:
    """What the logs looked into hold."""

    looked: int
    unread: tuple[tuple[str, Message], ...]  # file and why
    first: datetime | None
    last: datetime | None
    pause: tuple[datetime, datetime] | None  # the longest without a log
    good_for: dict[str, int]  # how many logs, each by itself
    together: dict[str, int]  # how many recordings of several logs, of which none is by itself
    missing: dict[str, tuple[Message, ...]]
    by_zone: tuple[str, ...]  # missing as long as local times are taken for UTC, it may be
    questions: tuple[MergedQuestion, ...]
    us: bool
    local: int  # how many carry local time
    evidence: Evidence  # of logs and of what lies beside them
    not_known: tuple[str, ...] = ()  # lines for [columns] of a log with no heading known


def file_error(path: Path, told: Message) -> GearingError:
    """An error about one file, named as the user knows it."""
    return GearingError((problem_of(told, file=shown_name(path)),))


def log_suffix(path: Path) -> str:
    """The ending of a log's name, packing included, as written; empty where it is no log."""
    if not is_log(path):
        return ""
    packed = path.suffix if path.suffix.lower() in PACKED else ""
    inner = Path(path.name.removesuffix(packed)).suffix
    return (inner if inner.lower() in PLAIN else "") + packed


def look_at(folder: Path, study: Path) -> FolderScan:
    """Sort the files of a folder into logs, companions and route profiles.

    Raises
    ------
    GearingError
        the folder is not there or holds no logs.
    """
    if not folder.is_dir():
        raise file_error(folder, message("study-files/not-a-folder"))
    files = sorted(path for path in folder.rglob("*") if path.is_file() and log_suffix(path))
    files = [
        path
        for path in files
        if not any(part.startswith(".") for part in path.relative_to(folder).parts)
        and path.resolve() != study.resolve()
        and not is_of_report(path)
    ]
    of_kind: dict[str, list[Path]] = {}
    for path in files:
        of_kind.setdefault(kept_beside(path), []).append(path)
    fillups, weather, dash = (
        next(iter(of_kind.get(kind, ())), None) for kind in (FILLUP_LOG, WEATHER, DASH)
    )
    routes = of_kind.get(PROFILE, [])
    logs = [path for path in files if path not in (fillups, weather, dash, *routes)]
    if not logs and fillups is None:
        raise file_error(folder, _no_logs(skipped_in(folder)[:3]))
    sides = {side: _under(logs, folder, side) for side in SIDES}
    return FolderScan(
        folder=folder,
        logs=tuple(logs),
        sides=sides if all(sides.values()) else {},
        fillups=fillups,
        weather=weather,
        dash=dash,
        routes=tuple(routes),
        skipped=tuple(skipped_in(folder)),
    )


def _no_logs(skipped: Sequence[Skipped]) -> Message:
    endings = names(PLAIN, joint=",")
    if not skipped:
        return message("study-files/no-logs", endings=endings)
    told = [message("file-skipped", file=UserText(name, "file"), why=why) for name, why in skipped]
    return message("study-files/no-logs-but", endings=endings, skipped=Items(tuple(told), ""))


def stem_of(path: Path) -> str:
    """A log's name without its ending, packing included."""
    return path.name[: len(path.name) - len(log_suffix(path))]


def _under(logs: Sequence[Path], folder: Path, side: str) -> tuple[Path, ...]:
    return tuple(path for path in logs if path.relative_to(folder).parts[0].lower() == side)


def each_alone(readings: Sequence[Reading]) -> list[tuple[int, ...]]:
    """No log joined with another."""
    return [(index,) for index in range(len(readings))]


def look_into(look: FolderScan, joined: Joined = each_alone) -> LogSummary:
    """Read logs of a folder, evenly spread where there are very many. `joined` says which of
    them, by index, are one recording."""
    from gearing.logs.answers import usable_for
    from gearing.logs.archives import sources
    from gearing.logs.overview import not_known
    from gearing.logs.questions import merged_questions
    from gearing.logs.read import read_log
    from gearing.logs.timestamps.date_order import settled_orders

    paths = [source for path in _spread(look.logs) for source in sources(path)]
    readings = [read_log(path) for path in paths]
    orders = settled_orders(readings)
    for index, order in orders.items():
        readings[index] = read_log(paths[index], order=order)
    spans = sorted(map(_span, (reading for reading in readings if reading.samples.height)))
    unread = tuple(
        (reading.file, message_of(reading.failures[0]))
        for reading in readings
        if reading.failures and not reading.samples.height
    )
    local = sum(reading.dialect.local for reading in readings)
    together, missing = _good_for(readings, joined(readings) or each_alone(readings))
    everything = {name for reading in readings for name in reading.samples.columns}
    mixed = 0 < local < len(readings)
    beside = read_beside(look.fillups, look.dash)
    questions, unnamed = merged_questions([*readings, *beside.files]), not_known(readings)
    return LogSummary(
        looked=len(readings),
        unread=unread,
        first=spans[0][0] if spans else None,
        last=max(end for _, end in spans) if spans else None,
        pause=_longest_pause(spans),
        good_for=Counter(part for reading in readings for part in reading.good_for),
        together=together,
        missing=missing,
        by_zone=tuple(
            part for part in usable_for(tuple(everything))[0] if mixed and part in missing
        ),
        questions=tuple(questions),
        us=beside.in_miles
        or any(column.unit in ("mph", "mi") for r in readings for column in r.columns),
        local=local,
        evidence=evidence_in(
            frozenset(everything),
            beside,
            len(look.routes),
            asked=bool(questions or unnamed),
        ),
        not_known=tuple(unnamed),
    )


def _span(reading: Reading) -> tuple[datetime, datetime]:
    times = reading.samples["time"]
    return cast("datetime", times.min()), cast("datetime", times.max())


def _longest_pause(
    spans: Sequence[tuple[datetime, datetime]],
) -> tuple[datetime, datetime] | None:
    pauses = [
        (after[0] - before[1], before[1], after[0])
        for before, after in itertools.pairwise(spans)
        if after[0] > before[1]
    ]
    return max(pauses)[1:] if pauses else None


def _spread(logs: Sequence[Path]) -> list[Path]:
    """Logs evenly spread over all, a few neighbours each: the track and the vehicle's log of one
    drive stand side by side."""
    step = max(1, -(-len(logs) // READ_AT_MOST))
    return [path for index, path in enumerate(logs) if index // NEIGHBOURS % step == 0]


def _good_for(
    readings: Sequence[Reading], recordings: Sequence[tuple[int, ...]]
) -> tuple[dict[str, int], dict[str, tuple[Message, ...]]]:
    """For each answer: of how many recordings several logs are good for it only together; and,
    where no recording is at all, the least that one lacks."""
    from gearing.logs.answers import ANSWERS, usable_for

    together: Counter[str] = Counter()
    lacking: dict[str, tuple[Message, ...]] = {}
    for members in recordings:
        logs = [readings[index] for index in members]
        channels = {name for log in logs for name in log.samples.columns}
        good_for, missing = usable_for(tuple(channels))
        together.update(set(good_for) - {part for log in logs for part in log.good_for})
        for part, lacks in missing.items():
            if part not in lacking or len(lacks) < len(lacking[part]):
                lacking[part] = lacks
    answered = {part for reading in readings for part in reading.good_for} | set(together)
    order = [part for part in ANSWERS if part in together]
    return {part: together[part] for part in order}, {
        part: lacking[part] for part in ANSWERS if part in lacking and part not in answered
    }
