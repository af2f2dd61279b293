"""Warnings and questions: what the reader of the answers must know or say."""

from __future__ import annotations

from gearing.report.reading import Tree, rows, text
from gearing.report.section import Item, Section
from gearing.report.tables import table

_SHOWN_TRIPS = 12

# files and vehicles given and not used
NOT_USED = frozenset((
    "logs-not-used", "fill-ups-not-used", "fill-ups-doubted", "weather-not-used",
    "clocks-apart", "drives-at-once",
))  # fmt: skip
# what turns an answer round, or takes something given out of it, ahead of all else
_HEAVY = (
    "periods-swapped", "declared-contradicts-logs", "misfiled",
    *sorted(NOT_USED),
    # of a fleet's vehicles
    "left-out", "control-changed", "no-change-seen", "listed-twice",
)  # fmt: skip


def heavy(row: Tree) -> bool:
    """Whether the reader of the answers alone must hear of a warning."""
    return text(row.get("code")) in _HEAVY


def by_weight(found: list[Tree]) -> list[Tree]:
    """Warnings, the heaviest first."""
    places = {code: place for place, code in enumerate(_HEAVY)}
    return sorted(found, key=lambda row: places.get(text(row.get("code")), len(places)))


def warnings_section(results: Tree) -> Section:
    found = by_weight(rows(results, "warnings"))
    asked = [
        (text(row.get("message")), text(row.get("remedy")), text(row.get("file")))
        for row in rows(results, "questions")
    ]
    questions = table(
        "Questions to you", ("What is not clear", "What to do", "File"), asked, words=3
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
        items=tuple(Item(text(row.get("text")), _detail(row)) for row in found),
        tables=(questions,) if asked else (),
    )


def open_questions(results: Tree) -> str:
    """How many questions wait for the reader, and what that means; nothing where none does."""
    count = len(rows(results, "questions"))
    if count == 1:
        return "1 question about your files is open, and what hangs on it is not in these answers"
    told = f"{count} questions about your files are open, and what hangs on them is not in"
    return f"{told} these answers" if count else ""


def _detail(row: Tree) -> str:
    """The code of a warning and the trips it touches."""
    trips = row.get("trips")
    names = [str(trip) for trip in trips] if isinstance(trips, list) else []
    more = len(names) - _SHOWN_TRIPS
    touched = ", ".join(names[:_SHOWN_TRIPS]) + (f" and {more} more" if more > 0 else "")
    return "; ".join(part for part in (text(row.get("code")), touched) if part)
