"""The page: results and the frames beside them, as one HTML file that needs nothing else."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING

from altair.utils.schemapi import debug_mode

from gearing.messages.display import Display, System
from gearing.report.candidates_section import candidates_section
from gearing.report.chart import still
from gearing.report.document import Still, document
from gearing.report.evidence.data import data_section, set_aside_section
from gearing.report.evidence.fuel import fuel_section
from gearing.report.evidence.mountain import mountain_section
from gearing.report.evidence.speed import speed_section
from gearing.report.evidence.warnings import warnings_section
from gearing.report.glossary import template_file
from gearing.report.reader import display_of, for_reader, shared_frames, shared_names
from gearing.report.views.sheet import sheet

if TYPE_CHECKING:
    import polars as pl

    from gearing.report.section import Section
    from gearing.results.fleet import FleetResults
    from gearing.results.record import Results


def render(
    results: Results,
    frames: dict[str, pl.DataFrame],
    *,
    share: bool = False,
    units: System | None = None,
    library: str | None = None,
    still: Still = still,
) -> str:
    """The report as HTML.

    `frames` are `trips`, `segments` and `routes` as written beside the page, the fuel comparison's
    `days` and the cases `set_aside`, any of them missing. `share` drops positions, times of day
    and the names of files. `units` overrules those of the results (`units`, `us` or `metric`).
    `library` is the drawing library from `document.drawing_library`, and `still` what draws a
    still picture, where the caller keeps them.
    """
    display = display_of(results, units)
    hidden = shared_names(results) if share else None
    if hidden is not None:
        frames = shared_frames(frames, hidden)
    results = for_reader(results, display, hidden_trips=hidden)
    with debug_mode(False):  # the charts' grammar is checked in tests, and takes longer than they
        parts = sections(results, frames, display)
    first = sheet(results, frames, display)
    return document(
        "page.html",
        parts,
        display,
        library=library,
        still=still,
        title=f"{first.title}: {display.word('what the new tires did')}",
        sheet=first,
        cautions=tomllib.loads(template_file("cautions.toml"))["caution"],
        colophon=colophon(results, display, share=share, seed=results.seed),
    )


def sections(
    results: Results, frames: dict[str, pl.DataFrame], display: Display
) -> tuple[Section, ...]:
    """Speed, fuel, mountain, candidates, warnings, what was done, what was set aside; of results
    told for their reader."""
    candidates = candidates_section(results, display)
    return (
        speed_section(results, display),
        fuel_section(results, frames, display),
        mountain_section(results, frames, display),
        *(() if candidates is None else (candidates,)),
        warnings_section(results.warnings, results.questions),
        data_section(results, frames, display),
        set_aside_section(results, frames),
    )


def colophon(
    results: Results | FleetResults,
    display: Display,
    *,
    share: bool = False,
    seed: int | None = None,
) -> tuple[str, ...]:
    """What the foot of the page says of the run."""
    return (
        f"gearing {results.version}",
        *(() if seed is None else (f"seed {seed}",)),
        f"run {results.run_id}",
        "US units" if display.us else "metric units",
        *(("without positions, times of day and file names",) if share else ()),
    )
