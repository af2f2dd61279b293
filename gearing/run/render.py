"""The page, drawn beside the finding of the answers: what draws it is slow to load."""

from __future__ import annotations

import contextlib
import importlib
import inspect
from concurrent.futures import Executor
from concurrent.futures.process import BrokenProcessPool
from importlib.metadata import version
from typing import Any

import polars as pl

from gearing.run.store import digest, machine_store
from gearing.run.tasks import in_one_order


def prepare() -> None:
    """Load what draws, and have the drawing library at hand."""
    importlib.import_module("gearing.report.page")
    from gearing.report.chart import start_drawing

    start_drawing()
    _library()


def draw(
    beside: Executor,
    results: dict[str, Any],
    frames: dict[str, pl.DataFrame],
    *,
    share: bool,
) -> str:
    """The page, from where `prepare` ran, or from here if that is gone."""
    try:
        return beside.submit(_drawn, results, frames, share).result()
    except BrokenProcessPool:
        return _drawn(results, frames, share)


@in_one_order
def _drawn(results: dict[str, Any], frames: dict[str, pl.DataFrame], share: bool) -> str:
    from gearing.report.kept import is_control, without_new_tires
    from gearing.report.page import render

    page = render(results, frames, share=share, library=_library())
    return without_new_tires(page) if is_control(results) else page


def _library() -> str:
    """The page's drawing library, which takes a second to put together and is the same for all
    studies: kept for the user of this machine."""
    from gearing.report.document import drawing_library

    store = machine_store()
    made_by = inspect.getsource(drawing_library)
    key = digest("drawing library", version("vl-convert-python"), made_by)
    kept = store.get(key) if store else None
    if kept is not None:
        return kept.decode()
    made = drawing_library()
    if store:
        with contextlib.suppress(OSError):  # a home that cannot be written
            store.put(key, made.encode())
    return made
