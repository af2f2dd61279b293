"""The section of the first question: speed and distance."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits, signed
from gearing.report.chart import SIDES
from gearing.report.phrases import count_phrase, with_interval
from gearing.report.reading import Tree, dig, estimate, number, rows, text
from gearing.report.section import Section
from gearing.report.speed_charts import speed_chart, speed_table
from gearing.report.speed_tables import (
    causes_table,
    circumference_table,
    correction_table,
    months_table,
    needle_table,
    settings_table,
)
from gearing.report.tables import Table, table

if TYPE_CHECKING:
    import polars as pl


def speed_section(results: Tree, frames: dict[str, pl.DataFrame], display: Display) -> Section:
    del frames
    chart = speed_chart(results, display)
    shown = speed_table(results, display)
    tables = (
        _factor_table(results, display),
        settings_table(results, display),
        correction_table(results, display),
        needle_table(results, display),
        shown,
        _rules_table(results, display),
    )
    more = (
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
            "factor puts both speed and distance right.",
        ),
        charts=(chart,) if chart is not None else (),
        tables=tuple(t for t in tables if t.rows),
        more=tuple(t for t in more if t.rows),
        remarks=_explanations(results),
        missing=_missing(results),
    )


def _factor_table(results: Tree, display: Display) -> Table:
    cells: list[tuple[str, ...]] = []
    for side, tires in SIDES.items():
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
        ("Tires", "Odometer factor", "From", unit.capitalize(), "Found by"),
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
                SIDES.get(text(row.get("period")), ""),
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
        ("Rule", "Tires", f"At true [{unit}]", "Allowed", "Found", "From", "Met"),
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
    figure = number(row.get("figure"))
    low, high = number(row.get("figure_low")), number(row.get("figure_high"))
    if figure is None:
        return "not known"
    found = signed(display.speed(figure), 1)
    if low is None or high is None:
        return found
    ends = signed(display.speed(low), 1), signed(display.speed(high), 1)
    # an interval narrower than what is shown says nothing more
    return found if ends[0] == ends[1] else f"{found} ({ends[0]} to {ends[1]})"


def _explanations(results: Tree) -> tuple[str, ...]:
    """Every explanation that fits, and drifts in time."""
    found = dig(results, "speed", "explanations")
    told = [
        text(item) if isinstance(item, str) else text(dig(item, "text"))
        for item in (found if isinstance(found, list) else [])
    ]
    for row in rows(results, "speed", "drifts"):
        drift = number(row.get("percent_per_month"))
        tires = SIDES.get(text(row.get("side")), "")
        if drift is not None and abs(drift) >= 0.05:
            told.append(
                f"On the {tires} the {text(row.get('figure')).replace('_', ' ')} drifts by "
                f"{signed(drift, 2)} % a month, as wear or warmth would make it."
            )
    return tuple(one for one in told if one)


def _missing(results: Tree) -> tuple[str, ...]:
    out = []
    for side, tires in SIDES.items():
        factor = estimate(results, "speed", "odometer_factor", side)
        if not factor.known:
            out.append(f"Odometer factor on the {tires}: {factor.why}.")
    return tuple(out)
