"""The logs of a study and the names they go by: nothing of them is read, and little is loaded."""

from __future__ import annotations

import contextlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from gearing.logs.archives import LogSource, sources
from gearing.logs.endings import shown_name, stem
from gearing.study.files import log_files
from gearing.study.model import Side, Study


@dataclass(frozen=True, slots=True)
class StudyLog:
    """One log: where it lies, the period it is filed under (None: by date), the file name shown
    and the name of its trips."""

    source: LogSource
    side: Side | None
    file: str
    name: str


def study_logs(study: Study) -> list[StudyLog]:
    """Every log of a study, those in archives one by one."""
    folder = study.folder.absolute()
    logs = [
        (source, side) for path, side in log_files(study) for source in sources(path.absolute())
    ]
    shown = [source.shown(_shown(source.path, folder)) for source, _ in logs]
    return [
        StudyLog(source, side, file, name)
        for (source, side), file, name in zip(logs, shown, trip_names(shown), strict=True)
    ]


def _shown(path: Path, folder: Path) -> str:
    with contextlib.suppress(ValueError):
        path = path.relative_to(folder)
    return shown_name(path)


def trip_names(files: Sequence[str]) -> list[str]:
    """A name for the recording that begins with each file: its stem, with the folder where stems
    repeat."""
    stems = [stem(file) for file in files]
    repeats = Counter(stems)
    names: list[str] = []
    taken: set[str] = set()
    for file, short in zip(files, stems, strict=True):
        name = short
        if repeats[short] > 1:
            parent = Path(file).parent.name
            name = f"{parent}/{short}" if parent else short
        if name in taken:
            name = file
        taken.add(name)
        names.append(name)
    return names
