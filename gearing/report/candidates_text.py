"""Candidates side by side on a terminal of 80 columns."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits
from gearing.report.candidates_words import (
    FUEL,
    MAKERS,
    NO_WHOLE,
    SAFETY,
    Column,
    Row,
    compared_with,
    comparison_rows,
    gear_down,
    gearing_columns,
    marked,
    missing_routes,
    notes_of,
    route_columns,
    shown,
    sustains_column,
    tire_of,
)
from gearing.report.reading import Tree, branch, number, rows, text
from gearing.report.retell import for_reader

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gearing.messages.display import System

WIDTH = 80
NAME = 18
MARKS = ("*", "=")
LEGEND = (
    "* the best of its column, = one of several that may be: what lies between these is smaller "
    "than what is not known of it. Care: suits with care, as `gearing run` tells it."
)
_WIDTHS = {"top_gear_share": 7, "downshifts_under_drive": 7}
_WITH_INTERVAL = {"fuel_change_percent": 21, "brake_kwh": 18}
_VERDICTS = {
    "suits": "suits", "suits with care": "care", "does not suit": "no", "cannot tell yet": "?",
}  # fmt: skip
# headings in so many letters, by the column's key
_SHORT = {
    "gearing_change_percent": ("engine", "speed %"),
    "indicated_kmh": ("dash", "shows"),
    "engine_rpm": ("engine", "rpm"),
    "restoring_axle_ratio": ("axle to", "restore"),
    "startability_percent": ("sets", "off, %"),
    "top_gear_share": ("top", "gear %"),
    "top_gear_sustains_percent": ("top", "holds %"),
    "sustained_lowest_kmh": ("slowest", "{speed}"),
    "downshifts_under_drive": ("down-", "shifts"),
    "fuel_change_percent": ("{fuel}", "%"),
    "brake_kwh": ("brakes", "kWh"),
}


def candidate_lines(results: Tree, units: System = "metric") -> list[str]:
    """The comparison as lines: gearing, all routes together, each route, and what to know."""
    display = Display(units)
    results = for_reader(dict(results), display)
    table = comparison_rows(results)
    at = number(branch(results, "candidates_basis").get("at_kmh")) or 0.0
    speed = f"{digits(display.speed(at), 0)} {display.speed_unit}"
    lines = [*_filled(compared_with(results, display)), "", f"Gearing, at a true {speed}"]
    lines += _gearing(table, display, at)
    if any(rows(row.tree, "drives") for row in table):
        lines += ["", "All routes together, both ways"]
        lines += _together(table, display)
        for place, name in enumerate(_routes(table)):
            lines += ["", name, *_drive(table, place, display)]
    lines.append("")
    for row in table:
        for note in notes_of(row):
            lines += _filled(f"{row.label} {row.name}: {note}".strip(), "  ")
    basis = branch(results, "candidates_basis")
    told = [text(one) for one in basis.get("assumed", ())]
    legend = LEGEND if marked(results) else ""
    for words in (legend, NO_WHOLE, FUEL, *told, missing_routes(results), MAKERS, SAFETY):
        lines += _filled(words)
    return lines


def _filled(words: str, indent: str = "") -> list[str]:
    return textwrap.wrap(words, WIDTH, subsequent_indent=indent)


def _routes(table: Sequence[Row]) -> list[str]:
    longest = max((rows(row.tree, "drives") for row in table), key=len)
    return [text(one.get("route")) for one in longest]


def _name(row: Row) -> str:
    name = f"{row.label} {row.name}".strip() if row.label else row.name
    return name if len(name) < NAME else name[: NAME - 2] + "\N{HORIZONTAL ELLIPSIS}"


def _gearing(table: Sequence[Row], display: Display, at_kmh: float) -> list[str]:
    columns = gearing_columns(display, at_kmh)
    extra = ["tires".ljust(14) + "axle".rjust(5), "".ljust(19)]
    lines = _heads(columns, display, extra)
    for row in table:
        axle = number(row.tree.get("axle_ratio"))
        tire = tire_of(row.tree, display)[:13].ljust(14)
        before = tire + ("-" if axle is None else digits(axle, 2)).rjust(5)
        lines.append(_line(row, columns, branch(row.tree, "figures"), before))
    return lines


def _together(table: Sequence[Row], display: Display) -> list[str]:
    columns = route_columns(display)
    lines = _heads(columns, display, ["", ""])
    lines += [_line(row, columns, branch(row.tree, "figures"), "") for row in table]
    return lines


def _drive(table: Sequence[Row], place: int, display: Display) -> list[str]:
    first, *others = (
        Column(one.key, one.head, one.places, one.turned, one.sign)
        for one in route_columns(display)
    )
    columns = (first, sustains_column(), *others)
    heads = _heads(columns, display, ["", ""])
    unit = display.speed_unit
    lines = [f"{heads[0]}{'gear':>9} ver-", f"{heads[1]}{'at ' + unit:>9} dict"]
    for row in table:
        drives = rows(row.tree, "drives")
        if place >= len(drives):
            lines.append(f"{_name(row):<{NAME}}{'-':>8}")
            continue
        drive = drives[place]
        told = _line(row, columns, branch(drive, "figures"), "")
        verdict = _VERDICTS.get(text(drive.get("verdict")), "?")
        lines.append(f"{told}{gear_down(drive, display):>9} {verdict}")
    return lines


def _width(column: Column) -> int:
    return (_WITH_INTERVAL if column.interval else _WIDTHS).get(column.key, 8)


def _heads(columns: Sequence[Column], display: Display, before: Sequence[str]) -> list[str]:
    fuel = "economy" if display.us else "fuel"
    return [
        " " * NAME
        + before[line]
        + "".join(
            _SHORT[one.key][line].format(speed=display.speed_unit, fuel=fuel).rjust(_width(one))
            for one in columns
        )
        for line in (0, 1)
    ]


def _line(row: Row, columns: Sequence[Column], figures: Tree, before: str) -> str:
    cells = "".join(
        shown(one, branch(figures, one.key), marks=MARKS).rjust(_width(one)) for one in columns
    )
    return f"{_name(row):<{NAME}}{before}{cells}"
