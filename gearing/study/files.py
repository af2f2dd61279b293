"""Files a study names: companions that must be there, and globs of logs with their period."""

from __future__ import annotations

import glob
import os
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from gearing.logs.endings import is_of_report
from gearing.messages import Items, Message, UserText, message, names
from gearing.study.section import Section
from gearing.study.words import near_miss, nearest, show

if TYPE_CHECKING:
    from gearing.messages.render import Field
    from gearing.study.model import Side, Study

NAMED_AT_MOST = 3


def find_file(section: Section, key: str, example: str, *, needed: bool = True) -> Path | None:
    """The file a key names, relative to the study file; if `needed`, noted where not there."""
    text = section.text(key, example)
    if text is None:
        return None
    folder = section.faults.document.path.parent
    path = folder / text
    try:
        if path.is_file():
            return path
        there: bool | None = path.is_dir()
    except (OSError, ValueError):
        there = None
    if needed:
        section.fault(key, _not_found(section.called(key), text, folder, there))
    return None


def _not_found(key: UserText, text: str, folder: Path, there: bool | None) -> Message:
    """`there`: as a folder; None where it cannot be looked at."""
    named, place = UserText(show(text), "file"), UserText(str(folder), "file")
    advice = _near_files(folder, text) or message("paths-relative")
    if there is None:
        return message("study-files/closed", key=key, shown=named, folder=place, advice=advice)
    return message(
        "study-files/folder" if there else "study-files/missing",
        key=key,
        shown=named,
        folder=place,
        advice=advice,
    )


def match_logs(folder: Path, pattern: str) -> list[Path]:
    """The files a pattern matches, relative to `folder`, sorted by path.

    A pattern that is the very name of a file is that file, whatever brackets are in it.
    """
    try:
        if (folder / pattern).is_file():
            return [folder / pattern]
        names = glob.glob(pattern, root_dir=folder, recursive=True)  # noqa: PTH207
        # a broken link stays in the list: reading it will tell
        found = (folder / name for name in names)
        return sorted(path for path in found if not (path.is_dir() or is_of_report(path)))
    except (OSError, ValueError):
        return []


def shut_folders(folder: Path, pattern: str, matched: Sequence[Path] = ()) -> list[Path]:
    """The folders a pattern leads into that may not be looked into and gave no match.

    What lies in them matches nothing, and nothing tells so.
    """
    try:
        names = {
            name
            for place in map(str, Path(pattern).parents)
            for name in glob.glob(place, root_dir=folder, recursive=True)  # noqa: PTH207
        }
    except (OSError, ValueError):
        return []
    found = {parent for path in matched for parent in path.parents}
    return sorted(p for name in names if (p := folder / name) not in found and _is_shut(p))


def _is_shut(place: Path) -> bool:
    try:
        next(place.iterdir(), None)  # leave to list
        (place / "any").lstat()  # and leave to go in
    except PermissionError:
        return True
    except OSError:
        return False
    return False


def _near_files(folder: Path, text: str) -> Message | None:
    """What lies where a file or pattern was looked for, as a remedy; None if nothing does."""
    place = folder / text
    try:
        while not place.is_dir() and place != place.parent:
            place = place.parent
        found = sorted(path for path in place.iterdir() if not path.name.startswith("."))
        held = [f"{path.name}/" for path in found if path.is_dir()]
        held += [path.name for path in found if not path.is_dir()]
    except (OSError, ValueError):
        return None
    files = [name for name in held if not name.endswith("/")]
    close = nearest(Path(text).name, files)
    if close is not None and not any(mark in text for mark in "*?["):
        return near_miss(show(os.path.relpath(place / close, folder)))
    looked = UserText("this folder" if place == Path() else str(place), "file")
    if not held:
        return message("folder-empty", folder=looked)
    listed: tuple[Field, ...] = names(held[:NAMED_AT_MOST], "file").items
    if len(held) > NAMED_AT_MOST:
        listed = (*listed, message("and-so-on"))
    return message("folder-holds", folder=looked, files=Items(listed, ","))


def check_logs(section: Section) -> None:
    """Note each pattern of `logs` that matches no file."""
    folder = section.faults.document.path.parent
    patterns = section.values.get("logs")
    for pattern in [patterns] if isinstance(patterns, str) else _texts(patterns):
        if match_logs(folder, pattern):
            continue
        advice = _near_files(folder, pattern) or message("paths-relative")
        if (folder / pattern).is_dir():
            inside = UserText(f'"{pattern.rstrip("/")}/*.csv"', "file")
            advice = message("take-folder", pattern=inside)
        if shut := shut_folders(folder, pattern):
            advice = message("folder-shut", folder=UserText(str(shut[0]), "file"))
        told = message(
            "study-files/no-match",
            key=section.called("logs"),
            shown=UserText(show(pattern), "file"),
            advice=advice,
        )
        section.fault("logs", told)


def _texts(value: object) -> list[str]:
    return [entry for entry in value if isinstance(entry, str)] if isinstance(value, list) else []


def log_files(study: Study) -> list[tuple[Path, Side | None]]:
    """Every log of a study with its period, sorted, each file once.

    The period is None where the study splits its logs by date: then each trip's start decides
    (`side_at`). The study's own companions are no logs, even where a pattern matches them.
    """
    beside = (study.fillups, study.weather, study.dash_file)
    companions = {path.resolve() for path in beside if path is not None}
    seen = {*companions, study.path.resolve()}
    found: list[tuple[Path, Side | None]] = []
    for patterns, side in _patterns(study):
        for path in _matched(study.folder, patterns):
            if path.resolve() not in seen:
                seen.add(path.resolve())
                found.append((path, side))
    return sorted(found, key=lambda entry: str(entry[0]))


def _matched(folder: Path, patterns: Iterable[str]) -> list[Path]:
    return sorted({path for pattern in patterns for path in match_logs(folder, pattern)})


def _patterns(study: Study) -> list[tuple[tuple[str, ...], Side | None]]:
    periods = [period for period in (study.before, study.after) if period is not None]
    found: list[tuple[tuple[str, ...], Side | None]] = [
        (period.logs, period.side) for period in periods
    ]
    if study.logs:
        only = periods[0].side if len(periods) == 1 else None
        found.append((study.logs, only))
    return found


def shared_logs(study: Study) -> list[Path]:
    """The files that the patterns of both periods match."""
    if study.before is None or study.after is None:
        return []
    before = {path.resolve() for path in _matched(study.folder, study.before.logs)}
    after = _matched(study.folder, study.after.logs)
    return [path for path in after if path.resolve() in before]
