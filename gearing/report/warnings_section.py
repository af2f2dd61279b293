"""Warnings: what the reader of the answers must know."""

from __future__ import annotations

from gearing.report.reading import Tree, rows, text
from gearing.report.section import Section
from gearing.report.tables import table

_SHOWN_TRIPS = 3


def warnings_section(results: Tree) -> Section:
    found = rows(results, "warnings")
    cells = [(text(row.get("text")), _trips(row), text(row.get("code"))) for row in found]
    asked = [
        (text(row.get("message")), text(row.get("remedy")), text(row.get("file")))
        for row in rows(results, "questions")
    ]
    tables = (
        table("Warnings", ("What was seen", "Trips", "Code"), cells, words=3),
        table("Questions to you", ("What is not clear", "What to do", "File"), asked, words=3),
    )
    return Section(
        key="warnings",
        title="Warnings",
        short="Warnings",
        lead=(
            "What was seen in these logs that touches the answers."
            if found
            else "Nothing was seen in these logs that would touch the answers.",
        ),
        tables=tuple(t for t in tables if t.rows),
    )


def _trips(row: Tree) -> str:
    trips = row.get("trips")
    names = [str(trip) for trip in trips] if isinstance(trips, list) else []
    more = len(names) - _SHOWN_TRIPS
    return ", ".join(names[:_SHOWN_TRIPS]) + (f" and {more} more" if more > 0 else "")
