"""Many files at once: in this process, in a pool of processes, or on a cluster.

All three are used through the standard executor interface, and give the same results in the
same order. A worker that dies is replaced and its task tried again alone; a task that kills its
worker twice comes back as `Died`.
"""

from __future__ import annotations

import atexit
import contextlib
import ctypes
import functools
import gc
import importlib
import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from multiprocessing.connection import wait as wait_for
from typing import Any, Generic, ParamSpec, TypeVar

from gearing.messages import GearingError, UserText, message, problem_of

Task = TypeVar("Task")
Result = TypeVar("Result")
Given = ParamSpec("Given")

TRIES = 2
# the GNU allocator hands memory back after each array, and the system clears it again for the
# next, page by page or in large pages of which most is never used
_M_TRIM_THRESHOLD, _M_MMAP_THRESHOLD = -1, -3  # malloc.h
_MMAP_THRESHOLD = 32 << 20
KEEP_MEMORY = {
    "MALLOC_TRIM_THRESHOLD_": str(64 << 20),
    "MALLOC_MMAP_THRESHOLD_": str(_MMAP_THRESHOLD),
    "NUMPY_MADVISE_HUGEPAGE": "0",
}
# sums go in the order of threads: with one, the last digit is the same on every machine
ONE_THREAD = {"POLARS_MAX_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}


@dataclass(frozen=True, slots=True)
class Died:
    """The task killed its worker as often as it was tried."""

    why: str


@dataclass(frozen=True, slots=True)
class Workers:
    """Where tasks run: `make` gives a fresh executor, `width` tasks are under way at once. Without
    one they run here, and in `help`, a process of its own, once that has started."""

    make: Callable[[int], contextlib.AbstractContextManager[Executor]] | None
    width: int
    help: Executor | None = None

    def run(
        self,
        function: Callable[[Task], Result],
        tasks: Sequence[Task],
        on_done: Callable[[Result], object] = lambda _: None,
    ) -> list[Result | Died]:
        """`function` of each task, in the order of the tasks.

        `on_done` is called as results come in. What `function` raises is raised here.
        """
        if self.make is None or len(tasks) < 2:
            return list(_Here(function, tasks, on_done).run(self.help))
        return _Round(function, tasks, on_done, self.make, self.width).run()


@dataclass
class _Here(Generic[Task, Result]):
    """Tasks in this process from the first on, and from the last on in one that helps."""

    _function: Callable[[Task], Result]
    _tasks: Sequence[Task]
    _on_done: Callable[[Result], object]

    def run(self, helper: Executor | None) -> list[Result]:
        """Results in the order of the tasks; what a helper that died was at is done here."""
        todo, found = deque(range(len(self._tasks))), dict[int, Result]()
        lent: dict[int, Future[Result]] = {}
        started = helper.submit(int) if helper is not None and len(todo) > 1 else None
        while todo or lent:
            while helper is not None and todo and len(lent) < 2 and started and started.done():
                index = todo.pop()
                lent[index] = helper.submit(self._function, self._tasks[index])
            for index in [index for index, one in lent.items() if one.done() or not todo]:
                try:
                    found[index] = lent.pop(index).result()
                    self._on_done(found[index])
                except BrokenProcessPool:
                    helper = None
                    todo.append(index)
            if todo:
                index = todo.popleft()
                found[index] = self._function(self._tasks[index])
                self._on_done(found[index])
        return [found[index] for index in range(len(self._tasks))]


@dataclass
class _Round(Generic[Task, Result]):
    """One pass over the tasks, through as many executors as it takes."""

    _function: Callable[[Task], Result]
    _tasks: Sequence[Task]
    _on_done: Callable[[Result], object]
    _make: Callable[[int], contextlib.AbstractContextManager[Executor]]
    _width: int
    _found: dict[int, Result | Died] = field(default_factory=dict)

    def run(self) -> list[Result | Died]:
        """Run all tasks; results in their order, `Died` for one that killed its worker alone
        too."""
        todo = list(range(len(self._tasks)))
        while todo:
            suspects = self._together(todo)
            for index in suspects:
                self._alone(index)
            todo = [index for index in todo if index not in self._found]
        return [self._found[index] for index in range(len(self._tasks))]

    def _take(self, index: int, result: Result) -> None:
        self._found[index] = result
        self._on_done(result)

    def _together(self, todo: Sequence[int]) -> list[int]:
        """Work through the tasks; the ones under way when a worker died come back."""
        waiting = iter(todo)
        under_way: dict[Future[Result], int] = {}
        with self._make(self._width) as executor:
            try:
                while True:
                    # one more than the workers, so that none waits for its next task
                    while len(under_way) <= self._width:
                        index = next(waiting, None)
                        if index is None:
                            break
                        under_way[executor.submit(self._function, self._tasks[index])] = index
                    if not under_way:
                        return []
                    for future in wait(under_way, return_when=FIRST_COMPLETED).done:
                        self._take(under_way[future], future.result())
                        del under_way[future]
            except Exception as error:
                if not _is_worker_death(error):
                    raise
                return [index for index in under_way.values() if index not in self._found]

    def _alone(self, index: int) -> None:
        why = ""
        for _ in range(TRIES):
            try:
                with self._make(1) as executor:
                    self._take(index, executor.submit(self._function, self._tasks[index]).result())
                return
            except Exception as error:
                if not _is_worker_death(error):
                    raise
                why = str(error)
        self._found[index] = Died(why)


def _is_worker_death(error: Exception) -> bool:
    # the cluster's own by name, for its package is optional
    return isinstance(error, BrokenProcessPool) or type(error).__name__ == "KilledWorker"


def local(jobs: int) -> Workers:
    """This machine: `jobs` processes, or this one alone where that is 1."""
    if jobs == 1:
        return Workers(None, 1)
    return Workers(processes, jobs)


class _Pool(ProcessPoolExecutor):
    """A pool whose processes do not hear Ctrl-C, not even while they start: it reaches the whole
    group, and it is for the run to end them, without a traceback from each."""

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """Submit a task, an interrupt held back until the worker it may start is born."""
        # processes are spawned here, and are born with what this thread holds back
        with _interrupt_held():
            return super().submit(fn, *args, **kwargs)


@contextlib.contextmanager
def _interrupt_held() -> Iterator[None]:
    """Ctrl-C comes after, where the system can hold it back."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextlib.contextmanager
def processes(width: int) -> Iterator[Executor]:
    """So many processes, spawned, that end with this one, and at once where that goes wrong."""
    others = set(multiprocessing.active_children())
    # spawned, never forked: polars' threads do not survive a fork
    context = multiprocessing.get_context("spawn")
    # a process a core, and sums that go in one order whatever the machine
    with _environment(ONE_THREAD | KEEP_MEMORY):
        executor = _Pool(width, mp_context=context, initializer=_end_with_parent)
        try:
            yield executor
        except BaseException:
            for process in set(multiprocessing.active_children()) - others:
                process.kill()  # what it was at is not wanted any more
            raise
        finally:
            executor.shutdown(wait=True, cancel_futures=True)


@contextlib.contextmanager
def while_importing() -> Iterator[None]:
    """Without looking for garbage, which modules are not; nor is it looked for there later."""
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        gc.enable()


def in_one_order(function: Callable[Given, Result]) -> Callable[Given, Result]:
    """Has polars sum in the order of the rows: its other engine sums as its threads end, and the
    last digit would vary.

    Not polars' own decorator, which sets the option once and takes it back at the first return.
    """

    @functools.wraps(function)
    def wrapped(*args: Given.args, **kwargs: Given.kwargs) -> Result:
        """The function, run in polars' in-memory engine."""
        import polars as pl  # slow to load, and what only looks on needs none of it

        with pl.Config(engine_affinity="in-memory"):
            return function(*args, **kwargs)

    return wrapped


def keep_memory() -> None:
    """For this process, which is running already, what KEEP_MEMORY is for a worker.

    Source: mallopt(3); another allocator than GNU's is left as it is.
    """
    os.environ["NUMPY_MADVISE_HUGEPAGE"] = "0"  # read when numpy is loaded
    with contextlib.suppress(OSError, AttributeError, TypeError):
        mallopt = ctypes.CDLL(None).mallopt
        mallopt(_M_MMAP_THRESHOLD, _MMAP_THRESHOLD)
        mallopt(_M_TRIM_THRESHOLD, 1 << 30)


@contextlib.contextmanager
def _environment(values: dict[str, str]) -> Iterator[None]:
    before = {name: os.environ.get(name) for name in values}
    os.environ |= values
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


def _end_with_parent() -> None:
    """Leave no worker behind when the run itself is killed, and have none linger at its end."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # all it made is in the store or sent: taking the interpreter apart would only take time
    atexit.register(os._exit, 0)
    parent = multiprocessing.parent_process()
    if parent is None:
        return

    def watch() -> None:
        """Wait for the end of the process that started this one, and end with it."""
        wait_for([parent.sentinel])
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


@contextlib.contextmanager
def cluster(address: str) -> Iterator[Workers]:
    """The workers of a dask.distributed scheduler.

    Raises
    ------
    GearingError
        the optional package is not installed, or no scheduler answers at the address.
    """
    try:
        distributed = importlib.import_module("distributed")
    except ImportError as error:
        raise GearingError((problem_of(message("cluster-not-installed")),)) from error
    try:
        client = distributed.Client(address, timeout="10s", set_as_default=False)
    except (OSError, ValueError) as error:
        told = message(
            "cluster-not-there",
            address=UserText(address, "system"),
            system=UserText(str(error), "system"),
        )
        raise GearingError((problem_of(told),)) from error
    with client:
        width = max(1, len(client.nthreads()))

        @contextlib.contextmanager
        def executor(_: int) -> Iterator[Executor]:
            """The cluster's standard executor, as many workers as it has."""
            # tasks touch files, so an equal task is not an equal result
            yield client.get_executor(pure=False)

        yield Workers(executor, width)
