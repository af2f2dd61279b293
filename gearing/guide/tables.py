"""Tables of the guide, made from the program's own: each a function to Markdown text."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from gearing.guide.nomenclature import NOMENCLATURE
from gearing.logs.headings import BESIDE, short_name
from gearing.messages import CATALOGUE, Message, Renderer
from gearing.messages.template import Severity, Template
from gearing.quantities import QUANTITIES, Quantity


def markdown(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A Markdown table, a line a row, closed by a line end."""
    lines = [heads, ["---"] * len(heads), *rows]
    return "".join("| " + " | ".join(_cell(one) for one in line) + " |\n" for line in lines)


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|")


def channels() -> str:
    """The channels by the names that `[columns]` takes."""
    heads = ("channel", "meaning", "kept in", "plausible", "standard", "headings known")
    return markdown(heads, map(_channel, QUANTITIES.values()))


def _channel(quantity: Quantity) -> tuple[str, ...]:
    bounded = quantity.low is not None and quantity.high is not None
    numbers = (("PID", quantity.pid), ("SPN", quantity.spn))
    return (
        f"`{short_name(quantity.name)}`",
        quantity.meaning,
        _unit(quantity.unit),
        f"{quantity.low:,g} to {quantity.high:,g}" if bounded else "",
        ", ".join(f"{kind} {number}" for kind, number in numbers if number is not None),
        ", ".join(quantity.headings),
    )


def _unit(unit: str) -> str:
    return "" if unit == "-" else unit


def companions() -> str:
    """What fill-up logs, weather files and route profiles carry beside the channels."""
    rows = ((f"`{short_name(name)}`", _unit(one.unit)) for name, one in BESIDE.items())
    return markdown(("column", "kept in"), rows)


def warnings() -> str:
    """The messages of the catalogue that have a severity, as an example of each reads."""
    told = sorted(
        (one for one in CATALOGUE.values() if one.severity is not None),
        key=lambda one: (list(Severity).index(one.severity or Severity.NOTE), one.code),
    )
    heads = ("code", "severity", "such as", "what to do")
    return markdown(heads, ((f"`{o.code}`", str(o.severity), *_example(o)) for o in told))


def reasons_why() -> str:
    """The other entries of the catalogue: why a figure is unknown, and parts of messages."""
    told = sorted((o for o in CATALOGUE.values() if o.severity is None), key=lambda o: o.code)
    heads = ("code", "such as", "what to do")
    return markdown(heads, ((f"`{one.code}`", *_example(one)) for one in told))


def _example(template: Template) -> tuple[str, str]:
    """The wording and the remedy with the example's fields, in metric units."""
    told = Message(template.code, tuple(template.example.items()))
    return Renderer().text(told), Renderer().remedy(told)


def nomenclature() -> str:
    """The symbols and names of the formulas."""
    heads = ("symbol", "name", "unit", "meaning")
    rows = ((o.symbol, f"`{o.name}`", o.unit, o.meaning) for o in NOMENCLATURE)
    return markdown(heads, rows)


TABLES: dict[str, Callable[[], str]] = {
    "channels": channels,
    "companions": companions,
    "warnings": warnings,
    "reasons-why": reasons_why,
    "nomenclature": nomenclature,
}
