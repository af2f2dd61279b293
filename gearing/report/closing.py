"""What the terminal must say behind the answers: files that were given and not used."""

from __future__ import annotations

from gearing.report.reading import Tree, rows, text

_TOLD = ("logs-not-used", "fill-ups-not-used", "fill-ups-doubted", "weather-not-used")


def closing_words(results: Tree) -> list[str]:
    """The warnings, one a line, that the reader of the answers alone would miss."""
    return [text(row.get("text")) for row in rows(results, "warnings") if row.get("code") in _TOLD]
