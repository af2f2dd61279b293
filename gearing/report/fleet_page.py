"""The fleet's page: the answer, a row for each vehicle, and what stands behind them."""

from __future__ import annotations

from typing import Any

from gearing.messages.display import System
from gearing.report.document import document
from gearing.report.evidence.fleet import fleet_sections
from gearing.report.page import colophon
from gearing.report.retell import display_of, for_reader
from gearing.report.share import shared
from gearing.report.views.fleet import fleet_sheet

Results = dict[str, Any]


def render_fleet(
    results: Results,
    *,
    share: bool = False,
    units: System | None = None,
    library: str | None = None,
) -> str:
    """The comparison page of a fleet as HTML, from what fleet.json holds.

    `share` drops times of day and the names of files.
    """
    display = display_of(results, units)
    results = shared(results, {})[0] if share else results
    results = for_reader(results, display, hidden_trips={} if share else None)
    sections = fleet_sections(results, display)
    first = fleet_sheet(results, display)
    return document(
        "fleet.html",
        [chart for part in sections for chart in part.charts],
        display,
        library=library,
        title=f"{first.title}: what the new tires did",
        sheet=first,
        sections=sections,
        colophon=colophon(results, display),
    )
