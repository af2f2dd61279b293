"""The fleet's page and answer: vehicle by vehicle, pooled, against those left unchanged."""

from __future__ import annotations

from typing import Any

from gearing.messages.display import Display, System, digits, signed
from gearing.report.answer import Answer
from gearing.report.document import document
from gearing.report.fleet_chart import fleet_chart
from gearing.report.fuel_next import SETTLED
from gearing.report.fuel_words import VERDICTS, claim_phrase, shows_none, verdict_words
from gearing.report.page import colophon, system
from gearing.report.phrases import (
    capital,
    change_interval_phrase,
    change_phrase,
    clause,
    signed_with_interval,
    with_interval,
)
from gearing.report.reading import Tree, branch, dig, estimate, number, rows, text, why
from gearing.report.retell import for_reader
from gearing.report.section import Section
from gearing.report.share import shared
from gearing.report.tables import Table, table
from gearing.report.warnings_section import warnings_section
from gearing.statistics.estimate import Estimate

Results = dict[str, Any]

_TELL_FLEET = 3  # vehicles with new tires; fewer may agree by chance
_MOSTLY_UNLIKE = 50.0  # percent of the spread that the vehicles' own days do not explain
_TELL_SPREAD = 5  # vehicles; fewer say hardly anything of how vehicles differ
_ROLES = {"changed": "new tires", "control": "unchanged"}


def fleet_answer(results: Results, units: System = "metric") -> str:
    """The fleet's fuel answer in a few plain sentences."""
    display = Display(units)
    return _answer(for_reader(results, display), display).sentence()


def render_fleet(
    results: Results,
    *,
    share: bool = False,
    units: System | None = None,
    library: str | None = None,
) -> str:
    """The comparison page of a fleet as HTML, from what fleet.json holds.

    `share` drops times of day and the names of files.
    """
    display = Display(units or system(results))
    results = shared(results, {})[0] if share else results
    results = for_reader(results, display, hidden_trips={} if share else None)
    chart = fleet_chart(results, display)
    charts = () if chart is None else (chart,)
    tables = (_pooled_table(results, display), _vehicle_table(results, display))
    vehicles = Section(
        key="vehicles",
        title="Vehicle by vehicle",
        short="Vehicles",
        lead=(
            "Each vehicle is compared with itself, before and after. Unchanged vehicles "
            "show what season, fuel and roads did meanwhile; what the others changed beyond that "
            "is the tires'.",
        ),
        charts=charts,
        tables=tuple(t for t in tables if t.rows),
        more=tuple(t for t in (_drive_table(results),) if t.rows),
        remarks=_remarks(results, display),
    )
    return document(
        "fleet.html",
        charts,
        library=library,
        title=f"{_name(results)}: what the new tires did",
        name=_name(results),
        facts=_facts(results, display),
        answer=_answer(results, display),
        sections=(*_not_run(results), vehicles, warnings_section(results)),
        reports=_reports(results),
        colophon=colophon(results, display),
    )


def _not_run(results: Tree) -> tuple[Section, ...]:
    """What is to be mended of the vehicles that could not be run; nothing where all were."""
    cells = [
        (
            text(one.get("name")),
            f"{text(problem.get('message'))} {text(problem.get('remedy'))}".strip(),
            _place(problem),
        )
        for one in rows(results, "not_run")
        for problem in rows(one, "problems")
    ]
    if not cells:
        return ()
    told = table(
        "What is to be mended",
        ("Vehicle", "What is wrong, and what to do", "Where"),
        cells,
        words=3,
    )
    lead = (
        "These vehicles are in no figure of this page. Mend what is named and run the fleet again: "
        "the others are not read anew."
    )
    return (
        Section(
            key="not-run", title="Vehicles not run", short="Not run", lead=(lead,), tables=(told,)
        ),
    )


def _place(problem: Tree) -> str:
    file, line = text(problem.get("file")), number(problem.get("line"))
    return f"{file}, line {line:.0f}" if file and line is not None else file or "-"


def _name(results: Tree) -> str:
    return text(results.get("fleet")) or text(results.get("name")) or "A fleet without a name"


def _facts(results: Tree, display: Display) -> tuple[str, ...]:
    found = rows(results, "vehicles")
    changed = sum(row.get("role") != "control" for row in found)
    driven = sum(number(row.get("true_km")) or 0.0 for row in found)
    controls = len(found) - changed
    missing = len(rows(results, "not_run"))
    return (
        f"{changed} vehicle{'' if changed == 1 else 's'} with new tires",
        f"{controls} unchanged",
        *((f"{missing} of {len(found)} not run",) if missing else ()),
        f"{digits(display.distance(driven), 0)} true {display.distance_word}",
    )


def _answer(results: Tree, display: Display) -> Answer:
    fuel = branch(results, "fuel")
    shown = estimate(fuel, "answer")
    verdict = text(fuel.get("verdict"))
    if shown.value is None or verdict not in VERDICTS:
        reason = str(shown.why or why(fuel, "verdict")).rstrip(".")
        return Answer("Fuel", "Not answered", f"Not answered: {reason}.", settled=False)
    settled = verdict != "cannot tell yet"
    lead = verdict_words(verdict, shown)
    basis = (
        "beyond what the unchanged vehicles show"
        if estimate(fuel, "difference").known
        else "over the vehicles with new tires"
    )
    found = change_phrase(shown, display, "is" if settled else "is best put at")
    few = settled and (estimate(fuel, "pooled").n or 0) < _TELL_FLEET
    certainty = [f"{_interval(shown, display)}; {_vehicles(shown)}." if shown.n else ""]
    claim = number(fuel.get("claim_percent"))
    if claim is not None:
        certainty.append(f"The claim: {claim_phrase(claim, display)}.")
    return Answer(
        "Fuel",
        lead,
        f"{lead}{', as far as two vehicles can tell' if few else ''}: {basis}, {found}.",
        " ".join(part for part in certainty if part),
        "Next: more vehicles make it surer."
        if few
        else f"No more driving is needed {SETTLED[verdict]}."
        if verdict in SETTLED
        else _open(fuel, verdict),
        settled,
    )


def _open(fuel: Tree, verdict: str) -> str:
    """Why it is not settled, and what narrows the interval where that is what it takes.

    The reason of a size unsettled is told in consumption, which not every reader has.
    """
    reason = text(fuel.get("verdict_why"))
    told = "" if verdict.startswith("some saving") else capital(clause(reason)) if reason else ""
    wide = not told or told.startswith("The interval")
    unlike = (number(fuel.get("heterogeneity_percent")) or 0.0) > _MOSTLY_UNLIKE
    more = (
        "Next: more vehicles narrow the interval; more days on these, which differ, hardly do"
        if unlike
        else "Next: more days, or more vehicles, unchanged ones too, narrow the interval"
    )
    return " ".join(f"{part}." for part in (told, more if wide else "") if part)


def _interval(shown: Estimate, display: Display) -> str:
    return change_interval_phrase(display.fuel_change(shown)) or "no interval"


def _vehicles(shown: Estimate) -> str:
    return f"{shown.n} vehicle{'' if shown.n == 1 else 's'}"


def _vehicle_table(results: Tree, display: Display) -> Table:
    cells = []
    for row in rows(results, "vehicles"):
        control = row.get("role") == "control"
        weight, driven = number(row.get("weight")), number(row.get("true_km"))
        change = display.fuel_change(estimate(row, "change_percent"))
        cells.append(
            (
                text(row.get("name")),
                signed_with_interval(change),
                _ROLES.get(text(row.get("role")), text(row.get("role"))),
                # what is asked of new tires is not asked of a vehicle that kept its own
                "-" if control else _own_verdict(row),
                "-" if weight is None else f"{digits(100 * weight, 0)} %",
                digits(display.distance(driven), 0) if driven else "-",
            )
        )
    return table(
        "Every vehicle",
        (
            "Vehicle",
            f"Change of {display.fuel_word} [%]",
            "Tires",
            "Its own verdict",
            "Weight in the pooled figure",
            f"True {display.distance_word}",
        ),
        cells,
        figures=(1, 4, 5),
        note="A vehicle's own verdict is on the claim of its own study, where that states one.",
    )


def _own_verdict(row: Tree) -> str:
    """A vehicle's verdict, which calls nothing a saving that is none."""
    verdict = text(row.get("verdict"))
    if verdict == "smaller than claimed" and shows_none(estimate(row, "change_percent")):
        return "no saving shown"
    return verdict or "not answered"


def _drive_table(results: Tree) -> Table:
    return table(
        "Odometer factor and engine speed of every vehicle",
        ("Vehicle", "Odometer factor after", "Engine speed [% change]"),
        [
            (
                text(row.get("name")),
                with_interval(estimate(row, "odometer_factor_after"), 4),
                signed_with_interval(estimate(row, "final_drive_change_percent")),
            )
            for row in rows(results, "vehicles")
        ],
    )


def _pooled_table(results: Tree, display: Display) -> Table:
    names = {
        "pooled": "Vehicles with new tires, pooled",
        "controls": "Unchanged vehicles, pooled",
        "difference": "Difference of the two",
    }
    cells = []
    for key, name in names.items():
        shown = display.fuel_change(estimate(results, "fuel", key))
        if shown.known:
            count = str(shown.n) if shown.n is not None else "-"
            cells.append((name, signed_with_interval(shown), count))
        else:
            cells.append((name, f"not known: {shown.why}", "-"))
    return table(
        "The fleet together",
        ("What", f"Change of {display.fuel_word} [%]", "Vehicles"),
        cells,
        words=2,
        note="In brackets the 95 % interval. What all vehicles share drops out of the difference, "
        "which may be surer than either.",
    )


def _remarks(results: Tree, display: Display) -> tuple[str, ...]:
    low = number(dig(results, "fuel", "vehicle_low"))
    high = number(dig(results, "fuel", "vehicle_high"))
    between = number(dig(results, "fuel", "between_percent"))
    share = number(dig(results, "fuel", "heterogeneity_percent"))
    out = []
    if low is not None and high is not None:
        ends = sorted(display.fuel_change_percent(end) for end in (low, high))
        known = estimate(results, "fuel", "difference").known
        beyond = ", beyond what unchanged ones show" if known else ""
        out.append(
            f"One more vehicle, driven and logged as these were, would show a change of "
            f"{display.fuel_word} between {signed(ends[0])} and {signed(ends[1])} %{beyond}, in 95 "
            "cases of 100."
        )
    if between is None or share is None:
        return tuple(out)
    count = estimate(results, "fuel", "pooled").n or 0
    if count < _TELL_SPREAD:
        told = f"How much the change differs from vehicle to vehicle, {count} are too few to tell."
    elif between == 0:
        told = (
            "The vehicles differ by no more than their own days explain. That does not make them "
            "alike: a difference between them may be hidden in it."
        )
    else:
        told = (
            f"From vehicle to vehicle the change differs by roughly {digits(between, 1)} points "
            "(standard deviation) beyond what their own days explain; that is "
            f"{digits(share, 0)} % of the spread seen."
        )
    return (*out, told)


def _reports(results: Tree) -> tuple[tuple[str, str], ...]:
    """Name and address of each vehicle's own page, beside this one."""
    from urllib.parse import quote

    return tuple(
        (text(row.get("name")), f"./{quote(folder)}/report.html")
        for row in rows(results, "studies")
        if (folder := text(row.get("folder")))
    )
