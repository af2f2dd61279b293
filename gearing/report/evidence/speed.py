"""The section of the first question: speed and distance."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

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
from gearing.report.phrases import count_phrase, with_interval
from gearing.report.reading import SIDES, Tree, dig, estimate, number, rows, text
from gearing.report.section import Section
from gearing.report.tables import Table, table
from gearing.report.views.speed import speed_answer
from gearing.statistics.estimate import Estimate

if TYPE_CHECKING:
    import polars as pl


def speed_section(results: Tree, frames: dict[str, pl.DataFrame], display: Display) -> Section:
    del frames
    tables = (
        settings_table(results, display),
        correction_table(results, display),
        needle_table(results, display),
        _factor_table(results, display),
        _rules_table(results, display),
        causes_table(results),
        circumference_table(results, display),
        months_table(results, display),
    )
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
        tables=tuple(t for t in tables if t.rows),
        remarks=_explanations(results, display),
        missing=_missing(results, display),
        answer=speed_answer(dict(results), display),
        folded="Evidence: needle and computer, what to program, rules, distance by month",
    )


def _factor_table(results: Tree, display: Display) -> Table:
    cells: list[tuple[str, ...]] = []
    for side in SIDES:
        tires = display.tires(side)
        factor = estimate(results, "speed", "odometer_factor", side)
        turns = estimate(results, "speed", "revolutions_per_km", side)
        if not factor.known and not turns.known:
            continue
        cells += _earlier(results, side, tires)
        basis = text(dig(results, "speed", "revolutions_per_km", side, "basis"))
        cells.append(
            (
                tires,
                with_interval(factor, 4),
                count_phrase(factor) or "not known",
                with_interval(turns.map(display.revolutions), 0),
                basis or turns.method or "not known",
            )
        )
    unit = display.revolutions_unit
    return table(
        "The figures",
        (display.word("Tires"), "Odometer factor", "From", unit.capitalize(), "Found by"),
        cells,
        figures=(1, 3),
        note=_programming_note(results, display),
    )


def _earlier(results: Tree, side: str, tires: str) -> list[tuple[str, ...]]:
    """What the factor was before it changed inside the period, oldest first."""
    levels = rows(results, "speed", "levels", side)
    cells: list[tuple[str, ...]] = []
    for level, following in itertools.pairwise(levels):
        factor = estimate(level, "odometer_factor")
        until = text(following.get("at"))[:10]
        cells.append(
            (
                f"{tires}, until {until}",
                with_interval(factor, 4),
                count_phrase(factor) or "not known",
                "",
                "before the factor changed",
            )
        )
    return cells


def _programming_note(results: Tree, display: Display) -> str:
    now = number(dig(results, "speed", "programmed_revolutions_per_km", "now"))
    should = number(dig(results, "speed", "programmed_revolutions_per_km", "should_be"))
    parts = []
    if now is not None:
        parts.append(f"The computer now works with {digits(display.revolutions(now), 0)}")
    if should is not None:
        parts.append(f"should work with {digits(display.revolutions(should), 0)}")
    if not parts:
        return ""
    if now is None:
        parts[0] = f"The computer {parts[0]}"
    return f"{' and '.join(parts)} {display.revolutions_unit}."


_MEETS = {True: "yes", False: "no"}


def _rules_table(results: Tree, display: Display) -> Table:
    cells, reasons = [], []
    found = rows(results, "speed", "rules")
    if all(number(row.get("figure")) is None for row in found):
        found = []  # why not is told under what is not answered
    for row in found:
        meets = row.get("meets")
        reason = text(row.get("why")) or text(row.get("meets_why"))
        if meets is None and reason and reason not in reasons:
            reasons.append(reason)
        cells.append(
            (
                text(row.get("rule")),
                display.tires(text(row.get("period"))),
                _at(row, display),
                _limits(row, display),
                _shown_less_true(row, display),
                text(row.get("basis")),
                _MEETS.get(meets, "cannot tell") if isinstance(meets, bool) else "cannot tell",
            )
        )
    unit = display.speed_unit
    note = "49 CFR 393.82 binds commercial vehicles only."
    if reasons:
        note = f"Cannot tell: {'; '.join(reasons)}. {note}"
    return table(
        f"The rules for speedometers: shown less true speed [{unit}]",
        ("Rule", display.word("Tires"), f"At true [{unit}]", "Allowed", "Found", "From", "Met"),
        cells,
        figures=(2, 3, 4),
        note=note,
    )


def _at(row: Tree, display: Display) -> str:
    kmh = number(row.get("at_kmh"))
    return "" if kmh is None else digits(display.speed(kmh), 0)


def _limits(row: Tree, display: Display) -> str:
    low, high = number(row.get("limit_low_kmh")), number(row.get("limit_high_kmh"))
    if low is None or high is None:
        return text(row.get("limit"))
    return f"{signed(display.speed(low), 1)} to {signed(display.speed(high), 1)}"


def _shown_less_true(row: Tree, display: Display) -> str:
    figures = [number(row.get(key)) for key in ("figure", "figure_low", "figure_high")]
    value, low, high = (None if one is None else display.speed(one) for one in figures)
    if value is None:
        return "-"
    return with_interval(Estimate(value, low, high), 1, sign=True)


def _explanations(results: Tree, display: Display) -> tuple[str, ...]:
    """Every explanation that fits, and drifts in time."""
    found = dig(results, "speed", "explanations")
    told = [
        text(item) if isinstance(item, str) else text(dig(item, "text"))
        for item in (found if isinstance(found, list) else [])
    ]
    for row in rows(results, "speed", "drifts"):
        drift = number(row.get("percent_per_month"))
        where = display.on(text(row.get("side"))).capitalize()
        if drift is not None and abs(drift) >= 0.05:
            told.append(
                f"{where} the {text(row.get('figure')).replace('_', ' ')} drifts by "
                f"{signed(drift, 2)} % a month, as wear or warmth would make it."
            )
    return tuple(one for one in told if one)


def _missing(results: Tree, display: Display) -> tuple[str, ...]:
    out = []
    for side in SIDES:
        factor = estimate(results, "speed", "odometer_factor", side)
        if not factor.known:
            out.append(f"Odometer factor {display.on(side)}: {factor.why}.")
    return tuple(out)
