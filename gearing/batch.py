"""The run: which files, in parallel, taken up where an earlier run left off, merged, written."""

from __future__ import annotations

import contextlib
import os
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from gearing import outputs
from gearing.pieces import pieces_of
from gearing.problems import GearingError, Problem, Severity
from gearing.progress import Progress
from gearing.store import Store, digest, open_store
from gearing.study import load_study
from gearing.study.files import log_files
from gearing.study.model import Side, Study
from gearing.tasks import (
    FileReport,
    ReadTask,
    RecordTask,
    code_digest,
    in_one_order,
    make_records,
    read_file,
    without_samples,
)
from gearing.trips.join import Groups, group_recordings
from gearing.trips.record import TripRecord, stem
from gearing.workers import Died, Workers, cluster, local

if TYPE_CHECKING:
    from gearing.conclusion import Conclusion

CACHE = ".gearing-cache"
SMALL_BYTES = 20_000_000  # less than this in all is read sooner than workers start
Units = Literal["us", "metric"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """What the command line adds to a study."""

    out: Path | None = None
    jobs: int | None = None
    units: Units | None = None
    seed: int | None = None
    keep: bool = True
    share: bool = False
    cluster: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    results: dict[str, Any]
    folder: Path
    units: Units
    unchanged: bool

    @property
    def answered(self) -> bool:
        """At least one of the three questions has an answer; "cannot tell yet" is one."""
        return bool(self.results["answered"])


def run_study(path: Path, options: Options, progress: Progress) -> Outcome:
    """Run one study file and write its output folder.

    Raises
    ------
    GearingError
        the study file, the output folder or the disk is not fit.
    """
    study = load_study(path)
    return run_loaded(study, options.out or Path("reports") / study.slug, options, progress)


def run_loaded(study: Study, folder: Path, options: Options, progress: Progress) -> Outcome:
    """Run a study that is read already, into `folder`.

    Raises
    ------
    GearingError
        the output folder or the disk is not fit.
    """
    study = _with_options(study, options)
    outputs.claim_folder(folder, study.name)
    with (
        outputs.locked(folder),
        open_store(study.folder / CACHE, keep=options.keep) as store,
    ):
        outputs.remove_leavings(folder)
        try:
            return _run(study, folder, store, options, progress)
        except OSError as error:  # logs that cannot be read are told elsewhere
            raise _no_room(store.folder, error) from error


@in_one_order
def _run(study: Study, folder: Path, store: Store, options: Options, progress: Progress) -> Outcome:
    tasks, sides = _read_tasks(study, store)
    run_id = _run_id(study, tasks, store, options)
    done = outputs.finished_results(folder, run_id) if options.keep else None
    if done is not None:
        return Outcome(results=done, folder=folder, units=study.units, unchanged=True)
    with _workers(options, tasks) as workers:
        tasks, sides = _in_pieces(tasks, sides)
        reports = _read_all(tasks, workers, progress)
        mixed = {task.path for task, one in zip(tasks, reports, strict=True) if _mixed(one)}
        if mixed:
            tasks, sides = _whole_again(tasks, sides, mixed)
            reports = _read_all(tasks, workers, progress)
        groups, records = _record_all(study, tasks, sides, reports, workers, progress)
    # not needed by a run that finds nothing changed, and slow to load
    from gearing.conclusion import conclude

    progress.step("Finding the answers")
    conclusion = conclude(study, reports, groups, records)
    progress.step("Writing the report")
    results = _write(folder, run_id, conclusion, options, store)
    return Outcome(results=results, folder=folder, units=study.units, unchanged=False)


def _no_room(folder: Path, error: OSError) -> GearingError:
    problem = Problem(
        code="cache-not-written",
        severity=Severity.ERROR,
        file=str(folder),
        message=f"could not be written: {error.strerror or error}.",
        remedy="Free some space where the study lies, or run with --no-cache.",
    )
    return GearingError((problem,))


def _library(store: Store) -> str:
    """The page's drawing library, which takes a second to put together, from the store."""
    key = digest("drawing library", version("vl-convert-python"), code_digest("report"))
    kept = store.get(key)
    if kept is not None:
        return kept.decode()
    from gearing.report.document import drawing_library

    made = drawing_library()
    store.put(key, made.encode())
    return made


def _with_options(study: Study, options: Options) -> Study:
    return replace(
        study,
        units=options.units or study.units,
        seed=study.seed if options.seed is None else options.seed,
    )


def _read_tasks(study: Study, store: Store) -> tuple[list[ReadTask], list[Side | None]]:
    """One task a log, and the period each is filed under."""
    folder = study.folder.absolute()
    tasks, sides = [], []
    for path, side in log_files(study):
        path = path.absolute()
        shown = path
        with contextlib.suppress(ValueError):
            shown = path.relative_to(folder)
        tasks.append(
            ReadTask(
                path, shown.as_posix(), study.columns, study.time_zone, store.folder.absolute()
            )
        )
        sides.append(side)
    return tasks, sides


def _in_pieces(
    tasks: Sequence[ReadTask], sides: Sequence[Side | None]
) -> tuple[list[ReadTask], list[Side | None]]:
    """The same work with large logs in pieces."""
    cut = [
        (part, side)
        for task, side in zip(tasks, sides, strict=True)
        for part in _pieces(task) or [task]
    ]
    return [part for part, _ in cut], [side for _, side in cut]


def _pieces(whole: ReadTask) -> list[ReadTask]:
    try:
        pieces = pieces_of(whole.path, whole.own_rules, whole.time_zone)
    except OSError:
        pieces = []  # reading it will tell
    return [replace(whole, file=whole.file + piece.label, piece=piece) for piece in pieces]


def _run_id(study: Study, tasks: Sequence[ReadTask], store: Store, options: Options) -> str:
    """A digest of all the answers rest on: same inputs, same id."""
    companions = [study.fillups, study.weather, *(route.profile for route in study.routes)]
    paths = [task.path for task in tasks] + [path for path in companions if path is not None]

    def key(path: Path) -> str:
        try:
            return store.content_key(path)
        except OSError as error:
            return f"unreadable: {error.strerror}"

    with ThreadPoolExecutor(max_workers=os.cpu_count()) as threads:
        keys = list(threads.map(key, paths))
    names = [task.file for task in tasks]
    # where the study lies does not matter; what its files hold stands in the keys
    routes = tuple(replace(route, profile=Path(route.profile.name)) for route in study.routes)
    declared = repr(
        replace(study, path=Path(study.path.name), fillups=None, weather=None, routes=routes)
    )
    return digest(code_digest(""), declared, names, keys, options.share)[:32]


def _mixed(report: FileReport) -> bool:
    """A part in which other headings begin: the parts behind it were read under the wrong ones."""
    return report.file != report.log and any(p.code == "new-headings" for p in report.repairs)


def _whole_again(
    tasks: Sequence[ReadTask], sides: Sequence[Side | None], paths: set[Path]
) -> tuple[list[ReadTask], list[Side | None]]:
    """The same work with these files in one piece."""
    wholes: dict[str, tuple[ReadTask, Side | None]] = {}
    for task, side in zip(tasks, sides, strict=True):
        mended = replace(task, file=task.log, piece=None) if task.path in paths else task
        wholes[mended.file] = (mended, side)
    return [task for task, _ in wholes.values()], [side for _, side in wholes.values()]


@contextlib.contextmanager
def _workers(options: Options, tasks: Sequence[ReadTask]) -> Iterator[Workers]:
    if options.cluster is not None:
        with cluster(options.cluster) as workers:
            yield workers
        return
    yield local(options.jobs or _fitting_jobs(tasks))


def _fitting_jobs(tasks: Sequence[ReadTask]) -> int:
    total = 0
    for task in tasks:
        with contextlib.suppress(OSError):
            total += task.path.stat().st_size
    return 1 if total < SMALL_BYTES else max(1, min(os.cpu_count() or 1, len(tasks)))


def _read_all(tasks: Sequence[ReadTask], workers: Workers, progress: Progress) -> list[FileReport]:
    done = rows = 0

    def tell(report: FileReport) -> None:
        nonlocal done, rows
        done, rows = done + 1, rows + report.rows_read
        progress.step("Reading", done, len(tasks), rows)

    found = workers.run(read_file, tasks, tell)
    return [
        without_samples(task.log, task.file, _killer(task.file, one))
        if isinstance(one, Died)
        else one
        for task, one in zip(tasks, found, strict=True)
    ]


def _killer(file: str, died: Died) -> Problem:
    return Problem(
        code="killed-the-reader",
        severity=Severity.ERROR,
        file=file,
        message=f"the process that read this file died, twice ({died.why}); it was set aside.",
        remedy="Look whether the file is far larger than the others, or give fewer --jobs.",
    )


def _record_all(
    study: Study,
    tasks: Sequence[ReadTask],
    sides: Sequence[Side | None],
    reports: list[FileReport],
    workers: Workers,
    progress: Progress,
) -> tuple[Groups, list[TripRecord]]:
    """Join what is one recording, and make the trips of each."""
    groups = group_recordings([r.recording for r in reports if r.recording is not None])
    place = {report.file: index for index, report in enumerate(reports)}
    names = _names(groups)
    work = [
        RecordTask(
            tuple(reports[place[file]] for file in group),
            tuple(tasks[place[file]] for file in group),
            study,
            sides[place[group[0]]],
            names[group],
        )
        for group in groups.groups
    ]
    done = 0

    def tell(_: list[TripRecord]) -> None:
        nonlocal done
        done += 1
        progress.step("Measuring trips", done, len(work))

    records: list[TripRecord] = []
    made = workers.run(make_records, work, tell)
    for task, found in zip(work, made, strict=True):
        if isinstance(found, Died):
            for report in task.reports:
                lost = without_samples(report.log, report.file, _killer(report.file, found))
                reports[place[report.file]] = lost
        else:
            records += found
    return groups, sorted(records, key=lambda record: (record.start, record.name))


def _names(groups: Groups) -> dict[tuple[str, ...], str]:
    """A name for each recording: its first file's stem, with the folder where stems repeat."""
    stems = [stem(group[0]) for group in groups.groups]
    repeats = Counter(stems)
    names: dict[tuple[str, ...], str] = {}
    taken: set[str] = set()
    for group, short in zip(groups.groups, stems, strict=True):
        name = short
        if repeats[short] > 1:
            parent = Path(group[0]).parent.name
            name = f"{parent}/{short}" if parent else short
        if name in taken:
            name = group[0]
        taken.add(name)
        names[group] = name
    return names


def _write(
    folder: Path, run_id: str, conclusion: Conclusion, options: Options, store: Store
) -> dict[str, Any]:
    from gearing.report.page import render
    from gearing.report.tables import csv_safe

    results = conclusion.results(run_id)
    frames = conclusion.frames
    page = render(
        results,
        frames | {"set_aside": conclusion.set_aside},
        share=options.share,
        library=_library(store),
    )
    contents = {"report.html": page.encode()}
    for name in ("trips", "segments", "routes"):
        contents[f"{name}.parquet"] = outputs.parquet_bytes(frames[name], run_id)
    for name, frame in (("trips", frames["trips"]), ("set_aside", conclusion.set_aside)):
        contents[f"{name}.csv"] = outputs.csv_bytes(csv_safe(frame), run_id)
    outputs.write_run(folder, contents, results)
    return results
