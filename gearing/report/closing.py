"""What the terminal must say behind the answers: files and vehicles given and not used."""

from __future__ import annotations

from gearing.report.reading import Tree, rows, text

_TOLD = (
    *("logs-not-used", "fill-ups-not-used", "fill-ups-doubted", "weather-not-used"),
    # of a fleet's vehicles
    *("left-out", "control-changed", "no-change-seen", "listed-twice"),
)


def closing_words(results: Tree) -> list[str]:
    """The warnings, one a line, that the reader of the answers alone would miss."""
    return [text(row.get("text")) for row in _not_used(results)]


def of_vehicle(name: str, results: Tree) -> list[Tree]:
    """The same warnings of one vehicle's run, as a fleet tells them."""
    return [
        {"code": row.get("code"), "text": f"{name}: {text(row.get('text'))}", "trips": []}
        for row in _not_used(results)
    ]


def _not_used(results: Tree) -> list[Tree]:
    return [row for row in rows(results, "warnings") if row.get("code") in _TOLD]
