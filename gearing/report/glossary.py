"""The words of the trade the page uses, each with what it means here."""

from __future__ import annotations

import functools
import re
import tomllib
from dataclasses import dataclass
from importlib import resources

from markupsafe import Markup, escape

from gearing.quantities import QUANTITIES
from gearing.report.tables import Grid, Table


@dataclass(frozen=True, slots=True)
class Term:
    """A word or phrase and its meaning; `spellings` are what else it may look like in a text."""

    name: str
    meaning: str
    spellings: tuple[str, ...] = ()

    @property
    def anchor(self) -> str:
        """Where the page tells its meaning."""
        return "term-" + re.sub(r"[^a-z0-9]+", "-", self.name.lower()).strip("-")


def template_file(name: str) -> str:
    """A file of `templates`, as text."""
    return resources.files("gearing.report").joinpath("templates", name).read_text(encoding="utf-8")


@functools.cache
def terms() -> tuple[Term, ...]:
    """All terms in the order of the alphabet."""
    found = tomllib.loads(template_file("glossary.toml"))["term"]
    return tuple(Term(t["name"], t["meaning"], tuple(t.get("spellings", ()))) for t in found)


def channels() -> Table:
    """What the logs may carry, from the one table of quantities."""
    return (
        Grid(QUANTITIES.values())
        .words("Channel", lambda one: one.label)
        .words("Meaning", lambda one: one.meaning)
        .words("Unit", lambda one: "" if one.unit == "-" else one.unit)
        .words("Standard", lambda one: _numbers(one.pid, one.spn))
        .table(
            "What logs may carry",
            note="PID: SAE J1979 parameter. SPN: SAE J1939 suspect parameter number.",
        )
    )


def _numbers(pid: object, spn: object) -> str:
    """The standards' numbers of a quantity that has any."""
    return "; ".join(f"{name} {n}" for name, n in (("PID", pid), ("SPN", spn)) if n)


@functools.cache
def _anchors() -> dict[str, str]:
    return {
        spelling.lower(): term.anchor
        for term in terms()
        for spelling in (term.name, *term.spellings)
    }


@functools.cache
def _pattern() -> re.Pattern[str]:
    longest_first = sorted(_anchors(), key=len, reverse=True)
    spellings = (
        rf"\b{re.escape(one)}\b" if one[0].isalpha() else re.escape(one) for one in longest_first
    )
    return re.compile("|".join(spellings), re.IGNORECASE)


def glossed(text: str) -> Markup:
    """The text, escaped, with the first mention of each term linked to its meaning."""
    seen: set[str] = set()
    out: list[Markup] = []
    last = 0
    for match in _pattern().finditer(text):
        anchor = _anchors()[match[0].lower()]
        if anchor in seen:
            continue
        seen.add(anchor)
        out.append(escape(text[last : match.start()]))
        out.append(Markup('<a class="term" href="#{}">{}</a>').format(anchor, match[0]))
        last = match.end()
    out.append(escape(text[last:]))
    return Markup("").join(out)
