"""The fleet's first screen: the pooled answer, and a line for each vehicle."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING
from urllib.parse import quote

from gearing.messages import told_of
from gearing.messages.display import Display, digits
from gearing.report.phrases import (
    capital,
    change_interval_phrase,
    change_phrase,
    clause,
    counted,
    joined,
    level_phrase,
    places_of,
    said,
    with_interval,
)
from gearing.report.views.answer import Answer
from gearing.report.views.fuel import CANNOT_TELL, VERDICTS, claim_phrase, shows_none, verdict_words
from gearing.report.views.fuel_next import SETTLED

if TYPE_CHECKING:
    from gearing.analysis.fleet import FleetFuel
    from gearing.analysis.fleet_vehicle import VehicleFigures
    from gearing.results.fleet import FleetResults
    from gearing.statistics.estimate import Estimate

_TELL_FLEET = 3  # vehicles with new tires; fewer may agree by chance
_MOSTLY_UNLIKE = 50.0  # percent of the spread that the vehicles' own days do not explain
_ROLES = {"changed": "new tires", "control": "unchanged"}
# reasons that more driving, or more vehicles, take away
_WIDE = ("verdict/open", "verdict/claim-open")

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
    """One vehicle of the list; `link` leads to its own page, where it has one, and `cells` are its
    figures by their headings."""

    name: str
    link: str
    tires: str
    mend: str
    cells: dict[str, str]


@dataclass(frozen=True, slots=True)
class FleetSheet:
    """A fleet's first screen, in finished strings."""

    title: str
    facts: tuple[str, ...]
    answer: Answer
    vehicles: tuple[VehicleLine, ...]


def fleet_sheet(results: FleetResults, display: Display) -> FleetSheet:
    """The sheet of a fleet's results told for their reader."""
    links = {one.name: f"./{quote(one.folder)}/report.html" for one in results.studies}
    missing = {one.name for one in results.not_run}
    lines = [
        _line(row, links.get(row.name, ""), display, missing=row.name in missing)
        for row in results.vehicles
    ]
    told = {head for line in lines for head, cell in line.cells.items() if cell != "-"}
    return FleetSheet(
        title=results.fleet or "A fleet without a name",
        facts=_facts(results, display),
        answer=_answer(results.fuel, display),
        vehicles=tuple(
            replace(line, cells={head: c for head, c in line.cells.items() if head in told})
            for line in lines
        ),
    )


def _line(row: VehicleFigures, link: str, display: Display, *, missing: bool) -> VehicleLine:
    now, should_be = (
        "" if one is None else digits(display.revolutions(one), 0)
        for one in (row.programmed_now_per_km, row.programmed_should_be_per_km)
    )
    mend = "; ".join(told for code, told in _MEND.items() if code in row.warning_codes)
    mend = "not run: see below" if missing else mend
    change = with_interval(display.fuel_change(row.change_percent), 1, sign=True)
    cells = {
        f"Program, {display.revolutions_unit}": _program(now, should_be),
        "Odometer factor": with_interval(row.odometer_factor_after, 4),
        f"{capital(display.fuel_word)} [% change]": change,
        # what is asked of new tires is not asked of a vehicle that kept its own
        "Its own verdict": "-" if row.role == "control" else _own_verdict(row),
        "Paid back in years": _years(row.years_to_pay),
        "Mountain": row.mountain or "-",
        "To mend": mend or "-",
    }
    return VehicleLine(row.name, link, _ROLES[row.role], mend, cells)


def _own_verdict(row: VehicleFigures) -> str:
    """A vehicle's verdict, which calls nothing a saving that is none."""
    if row.verdict == "smaller than claimed" and shows_none(row.change_percent):
        return "no saving shown"
    return row.verdict or "not answered"


def _program(now: str, should_be: str) -> str:
    if not should_be:
        return "-"
    if now == should_be:
        return f"{now}, as it is"
    return f"{now} to {should_be}" if now else should_be


def _years(years: Estimate) -> str:
    if years.value is None:
        return "-"
    low = years.value if years.low is None else years.low
    high = "never" if years.high is None else digits(years.high, 0)
    return f"{digits(years.value, 0)} ({digits(low, 0)} to {high})"


def _facts(results: FleetResults, display: Display) -> tuple[str, ...]:
    found = results.vehicles
    changed = sum(row.role != "control" for row in found)
    driven = sum(row.true_km for row in found)
    missing = len(results.not_run)
    return (
        f"{counted(changed, 'vehicle')} with new tires",
        f"{len(found) - changed} unchanged",
        *((f"{missing} of {len(found)} not run",) if missing else ()),
        f"{digits(display.distance(driven), 0)} true {display.distance_word}",
    )


def _answer(fuel: FleetFuel, display: Display) -> Answer:
    shown, verdict = fuel.answer, fuel.verdict or ""
    if shown.value is None or (verdict not in VERDICTS and verdict != CANNOT_TELL):
        reason = (said(shown.why) or said(fuel.verdict_why)).rstrip(".")
        told = f"Not answered: {reason}."
        return Answer("Fuel", "Not answered", told, settled=False, sure="Not answered yet")
    settled = verdict != CANNOT_TELL
    lead = "Cannot tell yet whether the tires changed the fuel used"
    if settled:
        lead = verdict_words(verdict, shown)
    basis = "beyond what the unchanged vehicles show"
    if not fuel.difference.known:
        lead += ", with no unchanged vehicle to compare with"
        basis = "over the vehicles with new tires"
    few = settled and (fuel.pooled.n or 0) < _TELL_FLEET
    found = change_phrase(shown, display, "is" if settled else "is best put at")
    change = display.fuel_change(shown)
    interval = change_interval_phrase(change) or "no interval"
    vehicles = counted(shown.n or 0, "vehicle")
    level = level_phrase(change.value or 0.0, places_of(change, 1))
    claim = fuel.claim_percent
    certainty = (
        f"{interval}; {vehicles}." if shown.n else "",
        "" if claim is None else f"The claim: {claim_phrase(claim, display)}.",
    )
    return Answer(
        "Fuel",
        f"{lead}: {display.fuel_word} {level} ({interval.removeprefix('95 % interval ')})",
        f"{lead}{', as far as two vehicles can tell' if few else ''}: {basis}, {found}.",
        joined(certainty),
        _next(fuel, verdict, few=few),
        settled,
        sure=f"{vehicles}{', settled' if verdict in SETTLED else ''}",
    )


def _next(fuel: FleetFuel, verdict: str, *, few: bool) -> str:
    """What to do next: nothing where it is settled, else why it is not, and what narrows the
    interval where that is what it takes."""
    if few:
        return "Next: more vehicles make it surer."
    if verdict in SETTLED:
        return f"No more driving is needed {SETTLED[verdict]}."
    # the reason of a size unsettled is that the interval is wide, as the verdict says already
    reason = "" if verdict.startswith("some saving") else said(fuel.verdict_why)
    wide = not reason or getattr(told_of(fuel.verdict_why or ""), "code", "") in _WIDE
    more = "Next: more days, or more vehicles, unchanged ones too, narrow the interval."
    if (fuel.heterogeneity_percent or 0.0) > _MOSTLY_UNLIKE:
        more = (
            "Next: more vehicles narrow the interval; more days on these, which differ, hardly do."
        )
    return joined((f"{capital(clause(reason))}." if reason else "", more if wide else ""))
