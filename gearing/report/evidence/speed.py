"""The section of the first question: speed and distance."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gearing.analysis.sides import SIDES
from gearing.messages.display import Display, digits, signed
from gearing.report.charts.speed import speed_charts
from gearing.report.evidence.speed_tables import (
    causes_table,
    circumference_table,
    correction_table,
    months_table,
    needle_table,
    settings_table,
)
from gearing.report.phrases import count_phrase, said, with_interval
from gearing.report.section import Section, filled
from gearing.report.tables import Grid, Table
from gearing.report.views.speed import programmed, speed_answer
from gearing.statistics.estimate import Estimate

if TYPE_CHECKING:
    from gearing.analysis.speed.rules import Rule
    from gearing.results.record import Results

_MEETS = {True: "yes", False: "no", None: "cannot tell"}
_SMALL_DRIFT = 0.05  # percent a month


def speed_section(results: Results, display: Display) -> Section:
    """Needle and computer, what to program, the rules, and what may be behind the figures."""
    return Section(
        key="speed",
        title="Speed and distance",
        short="Speed",
        lead=(
            "The computer counts turns and multiplies by what it was told about the tires. With "
            "other tires it counts true to its old setting and false to the road. The odometer "
            "factor corrects both speed and distance.",
        ),
        charts=speed_charts(results, display),
        tables=filled(
            settings_table(results, display),
            correction_table(results, display),
            needle_table(results, display),
            _factor_table(results, display),
            _rules_table(results, display),
            causes_table(results),
            circumference_table(results, display),
            months_table(results, display),
        ),
        remarks=(*_percents(results, display), *_drifts(results, display)),
        missing=tuple(
            f"Odometer factor {display.on(side)}: {said(factor.why)}."
            for side in SIDES
            if not (factor := results.speed.odometer_factor.of(side)).known
        ),
        answer=speed_answer(results, display),
        folded="Evidence: needle and computer, what to program, rules, distance by month",
    )


@dataclass(frozen=True, slots=True)
class _Factor:
    """One row of the factors: a period, or a part of one before the factor changed in it."""

    tires: str
    factor: Estimate
    turns: Estimate | None
    basis: str


def _factor_table(results: Results, display: Display) -> Table:
    """The odometer factor and the turns of the tires, each period's earlier factors first."""
    speed = results.speed
    rows: list[_Factor] = []
    for side in SIDES:
        tires, factor = display.tires(side), speed.odometer_factor.of(side)
        turns = speed.revolutions_per_km.of(side)
        if factor.known or turns.value is not None:
            rows += [
                _Factor(
                    f"{tires}, until {following.at.date().isoformat()}",
                    level.odometer_factor,
                    None,
                    "before the factor changed",
                )
                for level, following in itertools.pairwise(speed.regimes.of(side))
            ]
            basis = said(turns.basis) or turns.method or "not known"
            rows.append(_Factor(tires, factor, turns.estimate.map(display.revolutions), basis))
    return (
        Grid(rows)
        .words(display.word("Tires"), lambda row: row.tires)
        .spread("Odometer factor", lambda row: row.factor, 4)
        .words("From", lambda row: count_phrase(row.factor) or "not known")
        .told(
            display.revolutions_unit.capitalize(),
            lambda row: "" if row.turns is None else with_interval(row.turns, 0),
        )
        .words("Found by", lambda row: row.basis)
        .table("The figures", note=_programming_note(results, display))
    )


def _programming_note(results: Results, display: Display) -> str:
    now, should_be = programmed(results, display)
    unit = display.revolutions_unit
    if not now:
        return f"The computer should work with {should_be} {unit}." if should_be else ""
    should = f" and should work with {should_be}" if should_be else ""
    return f"The computer now works with {now}{should} {unit}."


def _rules_table(results: Results, display: Display) -> Table:
    rules = results.speed.rules
    if all(row.figure is None for row in rules):
        rules = ()  # why not is told under what is not answered
    reasons = dict.fromkeys(said(row.why) for row in rules if row.meets is None)
    note = "49 CFR 393.82 binds commercial vehicles only."
    if told := "; ".join(filter(None, reasons)):
        note = f"Cannot tell: {told}. {note}"
    unit = display.speed_unit
    return (
        Grid(rules)
        .words("Rule", lambda row: row.rule)
        .words(display.word("Tires"), lambda row: display.tires(row.period))
        .told(f"At true [{unit}]", lambda row: digits(display.speed(row.at_kmh), 0))
        .told("Allowed", lambda row: _allowed(row, display))
        .told("Found", lambda row: _shown_less_true(row, display))
        .words("From", lambda row: row.basis)
        .words("Met", lambda row: _MEETS[row.meets])
        .table(f"The rules for speedometers: shown less true speed [{unit}]", note=note)
    )


def _allowed(row: Rule, display: Display) -> str:
    low, high = (display.speed(one) for one in (row.limit_low_kmh, row.limit_high_kmh))
    return f"{signed(low, 1)} to {signed(high, 1)}"


def _shown_less_true(row: Rule, display: Display) -> str:
    figures = (row.figure, row.figure_low, row.figure_high)
    value, low, high = (None if one is None else display.speed(one) for one in figures)
    return "-" if value is None else with_interval(Estimate(value, low, high), 1, sign=True)


def _percents(results: Results, display: Display) -> tuple[str, ...]:
    """Which percent of change is which, where all of them are known."""
    factors, engine = results.speed.odometer_factor, results.final_drive.change_percent.value
    before, after = factors.before.value, factors.after.value
    if before is None or after is None or engine is None:
        return ()
    rise, was, now = (signed(100 * (one - 1), 1) for one in (after / before, before, after))
    return (
        f"Which percent is which: true over counted distance was {was} % "
        f"{display.on('before')} and is {now} % {display.on('after')}, a change of {rise} %; "
        f"engine speed at the same true speed and gear changed by {signed(engine, 1)} %.",
    )


def _drifts(results: Results, display: Display) -> tuple[str, ...]:
    """Drifts in time that can be seen."""
    return tuple(
        f"{display.on(one.side).capitalize()} the {one.figure.replace('_', ' ')} drifts by "
        f"{signed(one.percent_per_month, 2)} % a month, as wear or warmth would make it."
        for one in results.speed.drifts
        if abs(one.percent_per_month) >= _SMALL_DRIFT
    )
