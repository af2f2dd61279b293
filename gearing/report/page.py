"""The page: results.json and the frames beside it, as one HTML file that needs nothing else."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from altair.utils.schemapi import debug_mode

from gearing.messages.display import Display, System
from gearing.report.cautions import CAUTIONS
from gearing.report.document import document
from gearing.report.head import head
from gearing.report.reading import dig
from gearing.report.retell import for_reader, shared_names
from gearing.report.sections import sections
from gearing.report.share import shared
from gearing.report.evidence.warnings import open_questions
from gearing.report.views.answers import answers

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

    `frames` are `trips`, `segments` and `routes` as written beside the page, any of them
    missing. `share` drops positions, times of day and the names of files. `units` overrules
    those of the results (`units`, `us` or `metric`). `library` is the drawing library from
    `document.drawing_library`, where the caller has kept it.
    """
    display = Display(units or system(results))
    hidden = shared_names(results) if share else None
    if share:
        results, frames = shared(results, frames)
    results = for_reader(results, display, hidden_trips=hidden)
    with debug_mode(False):  # the charts' grammar is checked in tests, and takes longer than they
        parts = sections(results, frames, display)
    top = head(results, frames, display)
    return document(
        "page.html",
        [chart for part in parts for chart in part.charts],
        library=library,
        title=f"{top.title}: what the new tires did",
        head=top,
        answers=answers(results, display.system),
        asked=open_questions(results),
        sections=parts,
        cautions=CAUTIONS,
        colophon=colophon(results, display, share=share),
    )


def system(results: Results) -> System:
    """The reader's units as the results name them; metric where they do not."""
    return "us" if dig(results, "units") == "us" else "metric"


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
