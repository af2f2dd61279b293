"""The rules for speedometers in a sentence, the reader's own first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits
from gearing.report.phrases import listed

if TYPE_CHECKING:
    from gearing.results.record import Results


def broken_rules(results: Results, side: str, display: Display) -> str:
    """A sentence on the rules where the present tires do not meet one, the reader's own first;
    empty where they meet all."""
    rows = [row for row in results.speed.rules if row.period == side]
    broken = [row for row in rows if row.meets is False]
    if not broken or broken[0].figure is None:
        return ""
    found = display.speed(broken[0].figure)
    off = f"{digits(abs(found), 1)} {display.speed_unit} {'low' if found < 0 else 'high'}"
    at = f"{digits(display.speed(broken[0].at_kmh), 0)} {display.speed_unit}"
    names = dict.fromkeys(sorted((row.rule for row in rows), key=_own(display).__ne__))
    outside = {row.rule for row in broken}
    met = [
        f"{'outside' if name in outside else 'within'} {name}"
        for name in names
        if name in outside or all(row.meets for row in rows if row.rule == name)
    ]
    return f"At {at} the needle reads {off}: {listed(met)}."


def own_rule_broken(results: Results, side: str, display: Display) -> str:
    """The same sentence where it is the rule of the reader's own roads that is broken."""
    own = [row for row in results.speed.rules if row.rule == _own(display)]
    broken = any(row.meets is False and row.period == side for row in own)
    return broken_rules(results, side, display) if broken else ""


def _own(display: Display) -> str:
    return "49 CFR 393.82" if display.us else "UN Regulation 39"
