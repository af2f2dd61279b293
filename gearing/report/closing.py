"""What the terminal must say behind the answers: files and vehicles given and not used."""

from __future__ import annotations

from gearing.messages import UserText, field_of, message
from gearing.messages.told import Told
from gearing.report.reading import Tree, rows, text
from gearing.report.warnings_section import open_questions

_TOLD = (
    *("logs-not-used", "fill-ups-not-used", "fill-ups-doubted", "weather-not-used"),
    *("clocks-apart", "drives-at-once"),
    # of a fleet's vehicles
    *("left-out", "control-changed", "no-change-seen", "listed-twice"),
)


def closing_words(results: Tree) -> list[str]:
    """What the reader of the answers alone would miss, one a line."""
    told = [text(row.get("text")) for row in _not_used(results)]
    asked = open_questions(results)
    return [*told, f"{asked}: see the warnings of the report."] if asked else told


def of_vehicle(name: str, results: Tree) -> list[Tree]:
    """The same warnings of one vehicle's run, as a fleet tells them."""
    return [
        {
            "code": row.get("code"),
            "text": Told(message("of-vehicle", vehicle=UserText(name), told=field_of(told))),
            "trips": [],
        }
        for row in _not_used(results)
        if isinstance(told := row.get("text"), str)
    ]


def _not_used(results: Tree) -> list[Tree]:
    return [row for row in rows(results, "warnings") if row.get("code") in _TOLD]
