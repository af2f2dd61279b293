"""The page: results.json and the frames beside it, as one HTML file that needs nothing else."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from altair.utils.schemapi import debug_mode

from gearing.messages.display import Display, System
from gearing.report.cautions import CAUTIONS
from gearing.report.document import document
from gearing.report.retell import display_of, for_reader, shared_names
from gearing.report.sections import sections
from gearing.report.share import shared
from gearing.report.views.sheet import sheet

if TYPE_CHECKING:
    import polars as pl

Results = dict[str, Any]


def render(
    results: Results,
    frames: dict[str, pl.DataFrame],
    *,
    share: bool = False,
    units: System | None = None,
    library: str | None = None,
) -> str:
    """The report as HTML.

    `frames` are `trips`, `segments` and `routes` as written beside the page, the fuel comparison's
    `days` and the cases `set_aside`, any of them missing. `share` drops positions, times of day
    and the names of files. `units` overrules those of the results (`units`, `us` or `metric`).
    `library` is the drawing library from `document.drawing_library`, where the caller has kept it.
    """
    display = display_of(results, units)
    hidden = shared_names(results) if share else None
    if share:
        results, frames = shared(results, frames)
    messages = results.get("messages", {})
    results = for_reader(results, display, hidden_trips=hidden)
    with debug_mode(False):  # the charts' grammar is checked in tests, and takes longer than they
        parts = sections(results, frames, display)
    first = sheet(results, frames, display, messages)
    return document(
        "page.html",
        [chart for part in parts for chart in part.charts],
        display,
        library=library,
        title=f"{first.title}: {display.word('what the new tires did')}",
        sheet=first,
        sections=parts,
        cautions=CAUTIONS,
        colophon=colophon(results, display, share=share),
    )


def colophon(results: Results, display: Display, *, share: bool = False) -> tuple[str, ...]:
    """What the foot of the page says of the run."""
    run = [
        f"{label} {results[key]}"
        for key, label in (("version", "gearing"), ("seed", "seed"), ("run_id", "run"))
        if isinstance(results.get(key), str | int)
    ]
    run.append("US units" if display.us else "metric units")
    if share:
        run.append("without positions, times of day and file names")
    return tuple(run)
