"""The run: which files, in parallel, taken up where an earlier run left off, merged, written.

Where nothing has changed the earlier run's results are all that is read, and what reads logs,
finds answers and draws, slow to load, is left alone.
"""

from __future__ import annotations

import contextlib
import importlib
import json
import os
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import AbstractContextManager
from dataclasses import astuple, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from gearing.messages import GearingError, Problem, UserText, message, problem_of
from gearing.report.lines import Line
from gearing.run import outputs
from gearing.run.code_version import code_digest, code_of_records
from gearing.run.progress import Progress
from gearing.run.store import Store, digest, open_store
from gearing.run.study_logs import StudyLog, study_logs
from gearing.run.workers import Workers, cluster, in_one_order, local, processes
from gearing.study import load_study
from gearing.study.model import Study

if TYPE_CHECKING:
    from gearing.results.record import Results
    from gearing.run.analyze import Conclusion
    from gearing.run.ingest import Gathered

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
    """What a run leaves; `results` are those of its JSON file."""

    results: dict[str, Any]
    folder: Path
    units: Units
    unchanged: bool
    lines: tuple[Line, ...] = ()  # what the terminal says of it
    faults: tuple[Problem, ...] = ()  # of a fleet's vehicles that could not be run

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
        study_store(study, options) as store,
    ):
        outputs.remove_stale_files(folder)
        return _run(study, folder, store, options, progress)


def _run(study: Study, folder: Path, store: Store, options: Options, progress: Progress) -> Outcome:
    logs = study_logs(study)
    run_id = _run_id(study, logs, store, options)
    done = outputs.finished_results(folder, run_id) if options.keep else None
    lines = None if done is None else _kept_lines(store, run_id) or lines_again(done)
    if done is not None and lines is not None:
        return Outcome(results=done, folder=folder, units=study.units, unchanged=True, lines=lines)
    return _run_anew(study, logs, folder, run_id, store, options, progress)


@in_one_order
def _run_anew(
    study: Study,
    logs: Sequence[StudyLog],
    folder: Path,
    run_id: str,
    store: Store,
    options: Options,
    progress: Progress,
) -> Outcome:
    from gearing.run.ingest import gather, read_tasks
    from gearing.run.render import prepare

    tasks = read_tasks(study, logs, store)
    with _beside(options) as beside:
        beside.submit(importlib.import_module, "gearing.run.ingest")
        threading.Thread(target=_load_answers, daemon=True).start()
        with fitting_workers(options, beside) as workers:
            found = gather(study, tasks, workers, progress)
        beside.submit(prepare)
        progress.step(message("finding-answers"))
        conclusion = _concluded(study, found)
        progress.step(message("writing-report"))
        results = conclusion.results(run_id)
        tree = _write(folder, results, conclusion, options, beside, store)
    from gearing.report.terminal import study_lines

    lines = tuple(study_lines(results))
    with contextlib.suppress(OSError):  # made anew then
        store.put(_lines_key(run_id), json.dumps([astuple(one) for one in lines]).encode())
    return Outcome(results=tree, folder=folder, units=study.units, unchanged=False, lines=lines)


def _lines_key(run_id: str) -> str:
    return digest("terminal", run_id)


def _kept_lines(store: Store, run_id: str) -> tuple[Line, ...]:
    """What the terminal said of a run: making it anew would load all that finds answers."""
    kept = store.get(_lines_key(run_id))
    return () if kept is None else tuple(Line(*one) for one in json.loads(kept))


def lines_again(tree: dict[str, Any]) -> tuple[Line, ...] | None:
    """What the terminal says of results read back; None where they are not whole."""
    from gearing.report.terminal import study_lines
    from gearing.results.record import Results

    try:
        return tuple(study_lines(Results.from_tree(tree)))
    except (LookupError, TypeError, ValueError, AttributeError, AssertionError):
        return None


def _load_answers() -> None:
    """What finds the answers is slow to load, and workers read meanwhile."""
    importlib.import_module("gearing.run.analyze")
    for name in ("scipy.special", "scipy.linalg", "scipy.sparse.csgraph"):
        importlib.import_module(name)


@in_one_order
def analyze(path: str | Path, *, jobs: int | None = None, seed: int | None = None) -> Results:
    """The answers to a study file, with nothing written but what is kept for the next run.

    `jobs` processes read the logs (None: one a core); `seed` overrules the study's own.

    Raises
    ------
    GearingError
        the study file is not fit, or its folder cannot be written.
    """
    from gearing.run.ingest import gather, read_tasks

    options = Options(jobs=jobs, seed=seed)
    study = _with_options(load_study(Path(path)), options)
    with study_store(study, options) as store:
        logs = study_logs(study)
        run_id = _run_id(study, logs, store, options)
        with fitting_workers(options) as workers:
            tasks = read_tasks(study, logs, store)
            found = gather(study, tasks, workers, Progress(quiet=True))
    return _concluded(study, found).results(run_id)


def _concluded(study: Study, found: Gathered) -> Conclusion:
    from gearing.run.analyze import conclude

    conclusion = conclude(study, found.reports, found.groups, found.records)
    return replace(conclusion, warnings=(*found.clocks, *conclusion.warnings))


@contextlib.contextmanager
def study_store(study: Study, options: Options) -> Iterator[Store]:
    """The store of a study's earlier runs; with a cluster, where its workers see it too.

    Raises
    ------
    GearingError
        it cannot be written: logs that cannot be read are told elsewhere.
    """
    folder, shared = study.folder / CACHE, options.cluster is not None
    try:
        with open_store(folder, code_of_records(), keep=options.keep, shared=shared) as store:
            yield store
    except OSError as error:
        told = message("cache-not-written", system=UserText(str(error.strerror or error), "system"))
        raise GearingError((problem_of(told, file=str(folder)),)) from error


def _with_options(study: Study, options: Options) -> Study:
    return replace(
        study,
        units=options.units or study.units,
        seed=study.seed if options.seed is None else options.seed,
    )


def _run_id(study: Study, logs: Sequence[StudyLog], store: Store, options: Options) -> str:
    """A digest of all the answers rest on: same inputs, same id."""
    beside_logs = (study.fillups, study.weather, study.dash_file)
    companions = [*beside_logs, *(route.profile for route in study.routes)]
    paths = [log.source.path for log in logs] + [path for path in companions if path is not None]

    def key(path: Path) -> str:
        """The content's digest of a file; where it cannot be read, the reason in its place."""
        try:
            return store.content_key(path)
        except OSError as error:
            return f"unreadable: {error.strerror}"

    with ThreadPoolExecutor(max_workers=os.cpu_count()) as threads:
        keys = list(threads.map(key, paths))
    names = [log.file for log in logs]
    # where the study lies does not matter; what its files hold stands in the keys
    routes = tuple(replace(route, profile=Path(route.profile.name)) for route in study.routes)
    beside: dict[str, Any] = dict.fromkeys(("fillups", "weather", "dash_file"))
    declared = replace(study, path=Path(study.path.name), routes=routes, **beside)
    return digest(code_digest(""), repr(declared), names, keys, options.share)[:32]


@contextlib.contextmanager
def all_workers(options: Options) -> Iterator[Workers]:
    """The workers asked for: a cluster's, or processes of this machine, one a core.

    Raises
    ------
    GearingError
        the cluster cannot be reached.
    """
    if options.cluster is None:
        yield local(options.jobs or os.cpu_count() or 1)
        return
    with cluster(options.cluster) as workers:
        yield workers


@contextlib.contextmanager
def fitting_workers(
    options: Options, beside: Executor | None = None
) -> Iterator[Callable[[int], Workers]]:
    """Workers fit for so many bytes to be read: for little this process, with the one that stands
    beside it, unless asked otherwise."""
    free = options.jobs is None and options.cluster is None
    few = replace(local(1), help=beside if (os.cpu_count() or 1) > 1 else None)
    with all_workers(options) as workers:
        yield lambda size: few if free and size < SMALL_BYTES else workers


def _beside(options: Options) -> AbstractContextManager[Executor]:
    """Where the page is drawn: in a process, for what draws is slow to load and a thread would
    hold up reading and finding; in this one where no other is wanted."""
    return ThreadPoolExecutor(1) if options.jobs == 1 else processes(1)


def _write(
    folder: Path,
    results: Results,
    conclusion: Conclusion,
    options: Options,
    beside: Executor,
    store: Store,
) -> dict[str, Any]:
    """The output folder's files; the tree that `results.json` holds."""
    from gearing.report.tables import csv_safe
    from gearing.run.render import draw

    tree, run_id = results.tree(), results.run_id
    frames = conclusion.frames
    drawn = frames | {"set_aside": conclusion.set_aside}
    with ThreadPoolExecutor(1) as waiting:
        page = waiting.submit(draw, beside, results, drawn, share=options.share, store=store)
        contents = {
            f"{name}.parquet": outputs.parquet_bytes(frames[name], run_id)
            for name in ("trips", "segments", "routes")
        }
        for name, frame in (("trips", frames["trips"]), ("set_aside", conclusion.set_aside)):
            contents[f"{name}.csv"] = outputs.csv_bytes(csv_safe(frame), run_id)
        contents["report.html"] = page.result().encode()
    outputs.write_run(folder, contents, tree)
    return tree
