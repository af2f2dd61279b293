"""What the terminal says: the sheet in short lines, what to do first, warnings by their weight."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import Any, Literal

from gearing.messages import UserText, field_of, message
from gearing.messages.display import System
from gearing.messages.told import Told
from gearing.report.evidence.warnings import NOT_USED, by_weight, heavy, open_questions
from gearing.report.reading import Tree, rows, text
from gearing.report.retell import display_of, for_reader
from gearing.report.views.answer import Answer
from gearing.report.views.fleet import fleet_sheet
from gearing.report.views.mountain import route_sentences
from gearing.report.views.sheet import Sheet, sheet

Kind = Literal["action", "answer", "look", "plain"]
_STYLES = {"action": "\x1b[1m", "look": "\x1b[33m", "label": "\x1b[36m"}
_END = "\x1b[0m"
_LABEL = 13  # columns that the questions' names take


@dataclass(frozen=True, slots=True)
class Line:
    """One line; `label` names the question where a new one begins."""

    text: str
    kind: Kind = "plain"
    label: str = ""


def study_lines(results: dict[str, Any], units: System) -> list[Line]:
    """The answers of a study, and what the reader of them alone would miss."""
    display = display_of(results, units)
    told = for_reader(results, display)
    first = sheet(told, {}, display)
    return [*_answers(first), *_warnings(told)]


def fleet_lines(results: dict[str, Any], units: System) -> list[Line]:
    """The answer of a fleet, and a line a vehicle that asks for something."""
    told = for_reader(results, display_of(results, units))
    first = fleet_sheet(told, display_of(results, units))
    mend = [Line(f"{row.name}: {row.mend}", "look") for row in first.vehicles if row.mend]
    return [*_part("Fuel", first.answer, ()), *mend, *_warnings(told)]


def route_lines(mountain: dict[str, Any], units: System = "metric") -> list[str]:
    """The mountain routes alone, a line each way, and what is missing."""
    display = display_of(mountain, units)
    return route_sentences(for_reader(mountain, display), display)


def printed(lines: list[Line], *, width: int | None = None, colour: bool = False) -> str:
    """The lines as text, wrapped to `width` where one is given."""
    labelled = any(line.label for line in lines)
    out = []
    for line in lines:
        lead = f"{line.label:{_LABEL}}" if labelled else ""
        whole = lead + line.text
        if width is not None:
            rest = " " * len(lead)
            whole = textwrap.fill(
                whole, max(width, 40), subsequent_indent=rest, break_on_hyphens=False
            )
        style = _STYLES.get(line.kind, "") if colour else ""
        body = whole[len(lead) :]
        if colour and lead.strip():
            lead = f"{_STYLES['label']}{lead}{_END}"
        out.append(lead + (f"{style}{body}{_END}" if style else body))
    return "\n".join(out)


def _answers(first: Sheet) -> list[Line]:
    routes = [" ".join((f"{route.name}: {route.verdict}.", *route.lines)) for route in first.routes]
    if first.more_routes:
        routes.append(f"{first.more_routes} more in the report.")
    look = [one for one in first.look if not one.warned]
    return [
        *_part("Speedometer", first.speed, ()),
        *_part("Fuel", first.fuel, (first.money,)),
        *_part("Mountain", first.mountain, [*routes, first.mountain.next_step]),
        *(Line(one.text, "look", "Look at" if not i else "") for i, one in enumerate(look)),
        *(
            Line(f"{one.title}: {one.text}", "plain", "Driving" if not i else "")
            for i, one in enumerate(first.driving)
        ),
    ]


def _part(label: str, answer: Answer, more: Any) -> list[Line]:
    """What to do, the answer and how sure, then what else there is to it."""
    sure = f" {answer.sure}." if answer.sure else ""
    told = f"{answer.short}.{sure}" if answer.settled else answer.headline
    lines = [(answer.action, "action"), (told, "answer"), *((one, "plain") for one in more)]
    if not answer.settled:
        lines += [(answer.certainty, "plain"), (answer.next_step, "plain")]
    shown = list(dict.fromkeys((one, kind) for one, kind in lines if one))
    return [Line(one, kind, label if not i else "") for i, (one, kind) in enumerate(shown)]  # type: ignore[arg-type]


def _warnings(results: Tree) -> list[Line]:
    """Warnings that touch the answers most in full, how many others there are, open questions."""
    found = by_weight(rows(results, "warnings"))
    told = [text(row.get("text")) for row in found if heavy(row)]
    others = len(found) - len(told)
    if asked := open_questions(results):
        told.append(f"{asked}: see the warnings of the report.")
    if others:
        more = " more" if told else ""
        told.append(f"{others}{more} warning{'' if others == 1 else 's'} in the report.")
    return [Line(one, "look", "Warnings" if not i else "") for i, one in enumerate(told)]


def of_vehicle(name: str, results: Tree) -> list[Tree]:
    """What one vehicle's run did not use, as a fleet tells it."""
    return [
        {
            "code": row.get("code"),
            "text": Told(message("of-vehicle", vehicle=UserText(name), told=field_of(told))),
            "trips": [],
        }
        for row in rows(results, "warnings")
        if row.get("code") in NOT_USED and isinstance(told := row.get("text"), str)
    ]
