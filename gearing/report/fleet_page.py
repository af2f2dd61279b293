"""The fleet's page: the answer, a row for each vehicle, and what stands behind them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from altair.utils.schemapi import debug_mode

from gearing.messages.display import System
from gearing.report.document import document
from gearing.report.evidence.fleet import fleet_sections
from gearing.report.page import colophon
from gearing.report.reader import display_of, for_reader
from gearing.report.views.fleet import fleet_sheet

if TYPE_CHECKING:
    from gearing.results.fleet import FleetResults


def render_fleet(
    results: FleetResults,
    *,
    share: bool = False,
    units: System | None = None,
    library: str | None = None,
) -> str:
    """The comparison page of a fleet as HTML, from what fleet.json holds.

    `share` drops times of day and the names of files. `units` and `library` as for `page.render`.
    """
    display = display_of(results, units)
    results = for_reader(results, display, hidden_trips={} if share else None)
    with debug_mode(False):
        sections = fleet_sections(results, display)
    first = fleet_sheet(results, display)
    return document(
        "fleet.html",
        sections,
        display,
        library=library,
        title=f"{first.title}: what the new tires did",
        sheet=first,
        colophon=colophon(results, display),
    )
