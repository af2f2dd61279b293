"""The fleet's first screen: the pooled answer, and a line for each vehicle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from gearing.messages.display import Display, digits
from gearing.report.phrases import (
    capital,
    change_interval_phrase,
    change_phrase,
    clause,
    with_interval,
)
from gearing.report.reading import Tree, branch, estimate, number, rows, text, why
from gearing.report.views.answer import Answer
from gearing.report.views.fuel import VERDICTS, claim_phrase, shows_none, verdict_words
from gearing.report.views.fuel_next import SETTLED
from gearing.statistics.estimate import Estimate

_TELL_FLEET = 3  # vehicles with new tires; fewer may agree by chance
_MOSTLY_UNLIKE = 50.0  # percent of the spread that the vehicles' own days do not explain
_ROLES = {"changed": "new tires", "control": "unchanged"}
_CANNOT_TELL = "cannot tell yet"

# what a vehicle's run warned of that someone has to mend
_MEND = {
    "periods-swapped": "logs of before and after look swapped",
    "declared-contradicts-logs": "declared figures do not fit the logs",
    "misfiled": "a trip is filed under the wrong tires",
    "logs-not-used": "logs not used",
    "fill-ups-not-used": "fill-ups not used",
    "fill-ups-doubted": "fill-ups in doubt",
    "weather-not-used": "weather not used",
    "clocks-apart": "clocks apart",
    "drives-at-once": "two drives at once",
}


@dataclass(frozen=True, slots=True)
class VehicleLine:
    """One vehicle of the list; `link` leads to its own page, where it has one."""

    name: str
    link: str
    tires: str
    program: str
    factor: str
    change: str
    verdict: str
    payback: str
    mountain: str
    mend: str


@dataclass(frozen=True, slots=True)
class FleetSheet:
    title: str
    facts: tuple[str, ...]
    answer: Answer
    vehicles: tuple[VehicleLine, ...]
    heads: tuple[str, ...]


def fleet_sheet(results: Tree, display: Display) -> FleetSheet:
    unit = display.revolutions_unit.removeprefix("revolutions ")
    links = {
        text(row.get("name")): f"./{quote(folder)}/report.html"
        for row in rows(results, "studies")
        if (folder := text(row.get("folder")))
    }
    missing = {text(one.get("name")) for one in rows(results, "not_run")}
    return FleetSheet(
        title=text(results.get("fleet")) or text(results.get("name")) or "A fleet without a name",
        facts=_facts(results, display),
        answer=_answer(results, display),
        vehicles=tuple(_line(row, links, missing, display) for row in rows(results, "vehicles")),
        heads=(
            "Vehicle",
            f"Program, revolutions {unit}",
            "Odometer factor",
            f"{capital(display.fuel_word)} [% change]",
            "Its own verdict",
            "Paid back in years",
            "Mountain",
            "To mend",
        ),
    )


def _line(row: Tree, links: dict[str, str], missing: set[str], display: Display) -> VehicleLine:
    name, control = text(row.get("name")), row.get("role") == "control"
    programmed = [number(row.get(f"programmed_{key}_per_km")) for key in ("now", "should_be")]
    now, should_be = ("" if p is None else digits(display.revolutions(p), 0) for p in programmed)
    years = estimate(row, "years_to_pay")
    codes = row.get("warning_codes")
    mend = [told for code, told in _MEND.items() if isinstance(codes, list) and code in codes]
    return VehicleLine(
        name,
        links.get(name, ""),
        _ROLES.get(text(row.get("role")), text(row.get("role"))),
        _program(now, should_be),
        with_interval(estimate(row, "odometer_factor_after"), 4),
        with_interval(display.fuel_change(estimate(row, "change_percent")), 1, sign=True),
        # what is asked of new tires is not asked of a vehicle that kept its own
        "-" if control else _own_verdict(row),
        "-" if years.value is None else _years(years),
        text(row.get("mountain")) or "-",
        "not run: see below" if name in missing else "; ".join(mend),
    )


def _own_verdict(row: Tree) -> str:
    """A vehicle's verdict, which calls nothing a saving that is none."""
    verdict = text(row.get("verdict"))
    if verdict == "smaller than claimed" and shows_none(estimate(row, "change_percent")):
        return "no saving shown"
    return verdict or "not answered"


def _program(now: str, should_be: str) -> str:
    if not should_be:
        return "-"
    if now == should_be:
        return f"{now}, as it is"
    return f"{now} to {should_be}" if now else should_be


def _years(years: Estimate) -> str:
    value, low = years.value or 0.0, years.low
    high = "never" if years.high is None else digits(years.high, 0)
    return f"{digits(value, 0)} ({digits(value if low is None else low, 0)} to {high})"


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
    if shown.value is None or (verdict not in VERDICTS and verdict != _CANNOT_TELL):
        reason = str(shown.why or why(fuel, "verdict")).rstrip(".")
        told = f"Not answered: {reason}."
        return Answer("Fuel", "Not answered", told, settled=False, sure="Not answered yet")
    lead = "Cannot tell yet whether the tires changed the fuel used"
    if verdict in VERDICTS:
        lead = verdict_words(verdict, shown)
    settled = verdict != _CANNOT_TELL
    compared = estimate(fuel, "difference").known
    if compared:
        basis = "beyond what the unchanged vehicles show"
    else:
        lead += ", with no unchanged vehicle to compare with"
        basis = "over the vehicles with new tires"
    found = change_phrase(shown, display, "is" if settled else "is best put at")
    few = settled and (estimate(fuel, "pooled").n or 0) < _TELL_FLEET
    certainty = [f"{_interval(shown, display)}; {_vehicles(shown)}." if shown.n else ""]
    claim = number(fuel.get("claim_percent"))
    if claim is not None:
        certainty.append(f"The claim: {claim_phrase(claim, display)}.")
    next_step = (
        "Next: more vehicles make it surer."
        if few
        else f"No more driving is needed {SETTLED[verdict]}."
        if verdict in SETTLED
        else _open(fuel, verdict)
    )
    interval = _interval(shown, display).removeprefix("95 % interval ")
    return Answer(
        "Fuel",
        f"{lead}: {display.fuel_word} {change_phrase(shown, display, '').split('  ', 1)[-1]}"
        f" ({interval})",
        f"{lead}{', as far as two vehicles can tell' if few else ''}: {basis}, {found}.",
        " ".join(part for part in certainty if part),
        next_step,
        settled,
        sure=f"{_vehicles(shown)}, {'settled' if verdict in SETTLED else 'unsettled'}",
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


def named(results: Any) -> str:
    """The fleet's name, for titles."""
    return text(results.get("fleet")) or text(results.get("name")) or "A fleet without a name"
