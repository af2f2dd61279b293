"""The page, drawn beside the finding of the answers: what draws it is slow to load."""

from __future__ import annotations

import importlib
from concurrent.futures import Executor
from concurrent.futures.process import BrokenProcessPool
from importlib.metadata import version
from typing import Any

import polars as pl

from gearing.run.store import Store, digest
from gearing.run.tasks import code_digest, in_one_order


def prepare(store: Store) -> None:
    """Load what draws, and have the drawing library in the store."""
    importlib.import_module("gearing.report.page")
    from gearing.report.chart import start_drawing

    start_drawing()
    _library(store)


def draw(
    beside: Executor,
    results: dict[str, Any],
    frames: dict[str, pl.DataFrame],
    *,
    share: bool,
    store: Store,
) -> str:
    """The page, from where `prepare` ran, or from here if that is gone."""
    try:
        return beside.submit(_drawn, results, frames, share, store).result()
    except BrokenProcessPool:
        return _drawn(results, frames, share, store)


@in_one_order
def _drawn(
    results: dict[str, Any], frames: dict[str, pl.DataFrame], share: bool, store: Store
) -> str:
    from gearing.report.page import render

    return render(results, frames, share=share, library=_library(store))


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
