"""What the terminal says: the sheet in short lines, what to do first, warnings by their weight."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from gearing.messages.display import Display, System
from gearing.report.evidence.warnings import by_weight, heavy, open_questions
from gearing.report.lines import Kind, Line
from gearing.report.phrases import counted, said, sentence
from gearing.report.reader import display_of, for_reader
from gearing.report.views.fleet import fleet_sheet
from gearing.report.views.mountain import TOLD
from gearing.report.views.routes_alone import route_sentences
from gearing.report.views.sheet import Sheet, sheet

if TYPE_CHECKING:
    from gearing.analysis.mountain import MountainFinding
    from gearing.messages import StudyWarning
    from gearing.report.views.answer import Answer
    from gearing.results.fleet import FleetResults
    from gearing.results.record import Results


def study_lines(results: Results, units: System | None = None) -> list[Line]:
    """The answers of a study, and what the reader of them alone would miss."""
    display = display_of(results, units)
    told = for_reader(results, display)
    return [
        *_answers(sheet(told, {}, display)),
        *_warnings(told.warnings, open_questions(len(told.questions))),
    ]


def fleet_lines(results: FleetResults, units: System | None = None) -> list[Line]:
    """The answer of a fleet, and a line a vehicle that asks for something."""
    display = display_of(results, units)
    told = for_reader(results, display)
    first = fleet_sheet(told, display)
    mend = [Line(f"{row.name}: {row.mend}", "look") for row in first.vehicles if row.mend]
    return [*_part("Fuel", first.answer), *mend, *_warnings(told.warnings)]


def route_lines(
    mountain: MountainFinding, units: System = "metric", *, logged: bool = False
) -> list[str]:
    """The mountain routes alone, a line each way, and what is missing; `logged`: the study has
    logs, which are not looked at."""
    display = Display(units)
    return route_sentences(for_reader(mountain, display), display, logged=logged)


def _answers(first: Sheet) -> Iterator[Line]:
    routes = [way.sentence() for way in first.ways[:TOLD]]
    if len(first.ways) > TOLD:
        routes.append(f"{counted(len(first.ways) - TOLD, 'more way')} in the report.")
    yield from _part("Speedometer", first.speed)
    yield from _part("Fuel", first.fuel, (first.money,))
    yield from _part("Mountain", first.mountain, (*routes, first.mountain.next_step))
    yield from _under("Look at", [one.text for one in first.look if not one.warned], "look")
    yield from _under("Driving", [f"{one.title}: {one.text}" for one in first.driving])


def _under(label: str, told: Iterable[str], kind: Kind = "plain") -> list[Line]:
    """Lines of one kind, the first under its label."""
    return [Line(one, kind, "" if i else label) for i, one in enumerate(told)]


def _part(label: str, answer: Answer, more: Sequence[str] = ()) -> Iterator[Line]:
    """What to do, the answer and how sure, then what else there is to it."""
    sure = f" {answer.sure}." if answer.sure else ""
    lines: list[tuple[str, Kind]] = [
        (answer.action, "action"),
        (f"{sentence(answer.short)}{sure}" if answer.settled else answer.headline, "answer"),
        *((one, "plain") for one in more),
    ]
    if not answer.settled:
        lines += [(answer.certainty, "plain"), (answer.next_step, "plain")]
    for i, (one, kind) in enumerate(dict.fromkeys(line for line in lines if line[0])):
        yield Line(one, kind, "" if i else label)


def _warnings(warnings: Sequence[StudyWarning], asked: str = "") -> list[Line]:
    """Warnings that touch the answers most in full, how many others there are, open questions."""
    told = [said(row.told) for row in by_weight(warnings) if heavy(row)]
    others = len(warnings) - len(told)
    if asked:
        told.append(f"{asked}: see the warnings of the report.")
    if others:
        more = " more" if told else ""
        told.append(f"{others}{more} warning{'' if others == 1 else 's'} in the report.")
    return _under("Warnings", told, "look")
