"""The words of the trade the page uses, each with what it means here."""

from __future__ import annotations

import re
from dataclasses import dataclass

from markupsafe import Markup, escape

from gearing.quantities import QUANTITIES
from gearing.report.tables import Table, table


@dataclass(frozen=True, slots=True)
class Term:
    """A word or phrase and its meaning; `spellings` are what else it may look like in a text."""

    name: str
    meaning: str
    spellings: tuple[str, ...] = ()

    @property
    def anchor(self) -> str:
        return "term-" + re.sub(r"[^a-z0-9]+", "-", self.name.lower()).strip("-")


TERMS = (
    Term("indicated speed", "Speed as the vehicle's computer counts it. The needle may show more."),
    Term("true speed", "Speed over the ground, from the GPS receiver."),
    Term(
        "odometer factor",
        "True distance over what the vehicle's computer counts: true = factor x indicated. "
        "Above 1, you drive farther and faster than shown.",
    ),
    Term(
        "95 % interval",
        "The range the true figure lies in, in 95 of 100 studies done like this one.",
    ),
    Term(
        "revolutions per mile",
        "Turns of the drive tires over a distance, rolling under load. What the engine, "
        "transmission or brake computer is programmed with.",
        ("revolutions per km",),
    ),
    Term(
        "axle ratio",
        "Turns of the drive shaft for one turn of the drive wheels.",
        ("final drive ratio",),
    ),
    Term(
        "effective axle ratio",
        "The axle ratio the vehicle would have on the old tires to turn the engine as it turns "
        "now. Taller tires make it smaller, which is taller gearing.",
    ),
    Term(
        "torque converter",
        "The fluid coupling before an automatic transmission. While it is unlocked it slips, and "
        "engine speed says nothing about gearing.",
    ),
    Term(
        "fuel consumption",
        "Fuel for a distance (L/100 km). Lower is better.",
    ),
    Term(
        "fuel economy",
        "Distance for an amount of fuel (mpg). Higher is better. 5 % less consumption is 5.3 % "
        "more economy.",
    ),
    Term(
        "fill-ups",
        "The log of what went into the tank, with the odometer as shown.",
        ("fill-up log",),
    ),
    Term("share of full load", "Engine torque over what the engine can give at that speed."),
    Term(
        "gradeability",
        "The steepest grade a gear can hold at a steady speed.",
    ),
    Term("startability", "The steepest grade the vehicle can start on."),
    Term(
        "retarder",
        "What slows the vehicle besides the service brakes: engine brake, exhaust brake, "
        "hydraulic or electric retarder.",
    ),
    Term(
        "service brakes",
        "The wheel brakes under the pedal.",
        ("the brakes",),
    ),
    Term("wide-base single", "One wide tire in the place of a pair of dual tires."),
    Term("lugging", "Pulling hard at an engine speed below what the engine likes."),
    Term(
        "filter regeneration",
        "Burning the exhaust filter clean on the road, which takes fuel of its own.",
        ("regeneration",),
    ),
    Term(
        "draws",
        "Runs of the road model, each with weight, drag, wind and temperature picked from what "
        "they may be; the share of draws in which something happens is how likely it is.",
    ),
    Term(
        "smallest detectable change",
        "The smallest change these drives would have shown four times out of five.",
    ),
)


def channels() -> Table:
    """What the logs may carry, from the one table of quantities."""
    rows = [
        (
            quantity.label,
            quantity.meaning,
            "" if quantity.unit == "-" else quantity.unit,
            "; ".join(
                part
                for part in (
                    f"PID {quantity.pid}" if quantity.pid else "",
                    f"SPN {quantity.spn}" if quantity.spn else "",
                )
                if part
            ),
        )
        for quantity in QUANTITIES.values()
    ]
    return table(
        "What logs may carry",
        ("Channel", "Meaning", "Unit", "Standard"),
        rows,
        words=4,
        note="PID: SAE J1979 parameter. SPN: SAE J1939 suspect parameter number.",
    )


def terms() -> tuple[Term, ...]:
    """All terms in the order of the alphabet."""
    return tuple(sorted(TERMS, key=lambda term: term.name.lower()))


_PATTERN = re.compile(
    "|".join(
        rf"\b{re.escape(spelling)}\b" if spelling[0].isalpha() else re.escape(spelling)
        for spelling in sorted(
            (s for term in TERMS for s in (term.name, *term.spellings)), key=len, reverse=True
        )
    ),
    re.IGNORECASE,
)
_ANCHORS = {
    spelling.lower(): term.anchor for term in TERMS for spelling in (term.name, *term.spellings)
}


def glossed(text: str) -> Markup:
    """The text, escaped, with the first mention of each term linked to its meaning."""
    seen: set[str] = set()
    out: list[Markup] = []
    last = 0
    for match in _PATTERN.finditer(text):
        anchor = _ANCHORS[match[0].lower()]
        if anchor in seen:
            continue
        seen.add(anchor)
        out.append(escape(text[last : match.start()]))
        out.append(Markup('<a class="term" href="#{}">{}</a>').format(anchor, match[0]))
        last = match.end()
    out.append(escape(text[last:]))
    return Markup("").join(out)
