"""Warnings and questions: what the reader of the answers must know or say."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from gearing.report.phrases import said
from gearing.report.section import Item, Section, filled
from gearing.report.tables import Grid

if TYPE_CHECKING:
    from gearing.messages import StudyWarning
    from gearing.results.record import NoteGroup

_SHOWN_TRIPS = 12

# files and vehicles given and not used
NOT_USED = frozenset((
    "logs-not-used", "fill-ups-not-used", "fill-ups-doubted", "weather-not-used",
    "clocks-apart", "drives-at-once",
))  # fmt: skip
# what turns an answer round, or takes something given out of it, ahead of all else
_HEAVY = (
    "change-outside-drives", "periods-swapped", "declared-contradicts-logs", "misfiled",
    "fuel-missing-under-load", "engine-otherwise", "dash-left-out",
    *sorted(NOT_USED),
    # of a fleet's vehicles
    "left-out", "control-changed", "no-change-seen", "listed-twice", "same-figures",
)  # fmt: skip


def heavy(row: StudyWarning) -> bool:
    """Whether the reader of the answers alone must hear of a warning."""
    return row.code in _HEAVY


def by_weight(found: Sequence[StudyWarning]) -> list[StudyWarning]:
    """Warnings, the heaviest first."""
    places = {code: place for place, code in enumerate(_HEAVY)}
    return sorted(found, key=lambda row: places.get(row.code, len(places)))


def warnings_section(found: Sequence[StudyWarning], questions: Sequence[NoteGroup] = ()) -> Section:
    """Every warning, the heaviest first, and what the reader is asked."""
    return Section(
        key="warnings",
        title="Warnings",
        short="Warnings",
        lead=() if found else ("Nothing was seen in these logs that would touch the answers.",),
        items=tuple(Item(said(row.told), _detail(row)) for row in by_weight(found)),
        tables=filled(
            Grid(questions)
            .words("What is not clear", lambda row: row.message)
            .words("What to do", lambda row: row.remedy)
            .words("File", lambda row: row.file)
            .table("Questions to you")
        ),
    )


def open_questions(count: int) -> str:
    """How many questions wait for the reader, and what that means; nothing where none does."""
    if count == 1:
        return "1 question about your files is open, and what hangs on it is not in these answers"
    told = f"{count} questions about your files are open, and what hangs on them is not in"
    return f"{told} these answers" if count else ""


def _detail(row: StudyWarning) -> str:
    """The trips a warning touches, where it does not name the only one."""
    more = len(row.trips) - _SHOWN_TRIPS
    told = ", ".join(row.trips[:_SHOWN_TRIPS]) + (f" and {more} more" if more > 0 else "")
    return "" if told in said(row.told) else told
