"""The page, drawn beside the finding of the answers: what draws it is slow to load."""

from __future__ import annotations

import contextlib
import functools
import importlib
import inspect
from concurrent.futures import Executor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import replace
from importlib.metadata import version
from typing import TYPE_CHECKING, Any

import polars as pl

from gearing.run.store import Store, digest, machine_store
from gearing.run.workers import in_one_order

if TYPE_CHECKING:
    from collections.abc import Callable

    from gearing.results.record import Results


@functools.cache
def prepare() -> None:
    """Load what draws and what results are made of, and have the drawing library at hand."""
    for name in ("gearing.report.page", "gearing.run.analyze"):
        importlib.import_module(name)
    from gearing.report.chart import start_drawing
    from gearing.report.document import start_templates

    start_drawing()
    start_templates()
    library()


def draw(
    beside: Executor,
    results: Results,
    frames: dict[str, pl.DataFrame],
    *,
    share: bool,
    store: Store | None = None,
) -> str:
    """The page, from where `prepare` ran, or from here if that is gone.

    Still pictures of charts that are as they were in an earlier run come from `store`.
    """
    nothing = pl.DataFrame()  # what is drawn of frames is in `frames`
    slim = replace(
        results,
        fuel=replace(results.fuel, days=nothing, segments=nothing),
        mountain=replace(results.mountain, frame=nothing),
    )
    try:
        return beside.submit(_drawn, slim, frames, share, store).result()
    except BrokenProcessPool:
        return _drawn(slim, frames, share, store)


@in_one_order
def _drawn(
    results: Results, frames: dict[str, pl.DataFrame], share: bool, store: Store | None
) -> str:
    from gearing.report.page import render

    still = functools.partial(_still, store)
    return render(results, frames, share=share, library=library(), still=still)


def _still(store: Store | None, spec: dict[str, Any], key: str) -> str:
    from gearing.report import chart

    key_of = digest("still", _made_by(chart), spec, key)
    return _kept(store, key_of, lambda: chart.still(spec, key))


@functools.cache
def _made_by(code: Any) -> tuple[str, str]:
    """What draws by some of our code: the engine's version, and that code's source."""
    return version("vl-convert-python"), inspect.getsource(code)


def library() -> str:
    """The page's drawing library, which takes a second to put together and is the same for all
    studies: kept for the user of this machine."""
    from gearing.report.document import drawing_library

    key = digest("drawing library", _made_by(drawing_library))
    return _kept(machine_store(), key, drawing_library)


def _kept(store: Store | None, key: str, make: Callable[[], str]) -> str:
    """What `make` gives, or gave in an earlier run."""
    kept = store.get(key) if store else None
    if kept is not None:
        return kept.decode()
    made = make()
    if store:
        with contextlib.suppress(OSError):  # a folder that cannot be written
            store.put(key, made.encode())
    return made
