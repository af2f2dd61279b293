"""Small things of setting type: a figure keeps its unit on the same line."""

from __future__ import annotations

import re

from markupsafe import Markup, escape

_UNIT = re.compile(
    r"(?<=\d) (?=(?:%|mph|mpg|km/h|km|mi|miles|rpm|kWh|m|ft|L|gal|°[CF]|L/100 km)(?![A-Za-z]))"
    r"|(?<=/32) (?=in\b)"
)
_DAY = re.compile(r"\b\d{4}-\d{2}-\d{2}\b")
_TIRES = re.compile(r"(?<=\bold|\bnew) (?=tires\b)")
_TIMES = re.compile(r"(?<=\d) x (?=[A-Za-z])")
_SPACE = "\N{NO-BREAK SPACE}"


def unbroken(text: str | Markup) -> Markup:
    """The text, escaped if it was not, with no line break within a date or a figure and unit."""
    markup = str(escape(text))
    markup = _TIMES.sub(f"{_SPACE}×{_SPACE}", markup)
    markup = _DAY.sub(r'<span class="nb">\g<0></span>', markup)
    markup = _TIRES.sub(_SPACE, markup)
    return Markup(_UNIT.sub(_SPACE, markup))
