"""The section of the first question: speed and distance."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.report.chart import SIDES
from gearing.report.display import Display, digits, signed
from gearing.report.phrases import count_phrase, with_interval
from gearing.report.reading import Tree, dig, estimate, number, rows, text
from gearing.report.section import Section
from gearing.report.speed_charts import speed_chart, speed_table
from gearing.report.tables import Table, table

if TYPE_CHECKING:
    import polars as pl


def speed_section(results: Tree, frames: dict[str, pl.DataFrame], display: Display) -> Section:
    del frames
    chart = speed_chart(results, display)
    shown = speed_table(results, display)
    tables = (_factor_table(results, display), shown, _rules_table(results, display))
    return Section(
        key="speed",
        title="Speed and distance",
        lead=(
            "The computer counts turns and multiplies by what it was told about the tires. With "
            "other tires it counts true to its old setting and false to the road. The odometer "
            "factor puts both speed and distance right.",
        ),
        charts=(chart,) if chart is not None else (),
        tables=tuple(t for t in tables if t.rows),
        remarks=_explanations(results),
        missing=_missing(results),
    )


def _factor_table(results: Tree, display: Display) -> Table:
    cells = []
    for side, tires in SIDES.items():
        factor = estimate(results, "speed", "odometer_factor", side)
        turns = estimate(results, "speed", "revolutions_per_km", side)
        if not factor.known and not turns.known:
            continue
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
        ("Tires", "Odometer factor", "From", f"{unit.capitalize()}", "Found by"),
        cells,
        note=_programming_note(results, display),
    )


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
    return f"{' and '.join(parts)} {display.revolutions_unit}."


_MEETS = {True: "yes", False: "no"}


def _rules_table(results: Tree, display: Display) -> Table:
    cells = []
    for row in rows(results, "speed", "rules"):
        meets = row.get("meets")
        known = _MEETS.get(meets) if isinstance(meets, bool) else None
        reason = text(row.get("why")) or text(row.get("meets_why"))
        cells.append(
            (
                text(row.get("rule")) or text(row.get("name")),
                SIDES.get(text(row.get("period")) or text(row.get("side")), ""),
                _figure(row.get("limit"), display),
                _figure(row.get("figure"), display),
                known or (f"cannot tell: {reason}" if reason else "cannot tell"),
            )
        )
    unit = display.speed_unit
    return table(
        "The rules for speedometers",
        ("Rule", "Tires", "Limit", f"Shown less true [{unit}]", "Met"),
        cells,
        words=5,
        note=(
            "Bus speed is not the needle: most needles are set to show a little more. 49 CFR "
            "393.82 binds commercial vehicles only."
        ),
    )


def _figure(value: object, display: Display) -> str:
    figure = number(value)
    if figure is None:
        return text(value)
    return signed(display.speed(figure), 1)


def _explanations(results: Tree) -> tuple[str, ...]:
    found = dig(results, "speed", "explanations")
    if not isinstance(found, list):
        return ()
    return tuple(text(item) if isinstance(item, str) else text(dig(item, "text")) for item in found)


def _missing(results: Tree) -> tuple[str, ...]:
    out = []
    for side, tires in SIDES.items():
        factor = estimate(results, "speed", "odometer_factor", side)
        if not factor.known:
            out.append(f"Odometer factor on the {tires}: {factor.why}.")
    return tuple(out)
