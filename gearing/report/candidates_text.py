"""Candidates side by side on a terminal of 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits
from gearing.report.phrases import said
from gearing.report.reader import for_reader
from gearing.report.views.candidates import (
    FUEL,
    MAKERS,
    NO_WHOLE,
    SAFETY,
    SUSTAINS,
    Choice,
    Column,
    choices,
    compared_with,
    gear_down,
    gearing_columns,
    marked,
    missing_routes,
    notes_of,
    route_columns,
    tire_of,
)

if TYPE_CHECKING:
    from gearing.analysis.candidates.result import CandidatesFinding, Figure
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


def candidate_lines(finding: CandidatesFinding, units: System = "metric") -> list[str]:
    """The comparison as lines: gearing, all routes together, each route, and what to know."""
    display = Display(units)
    finding = for_reader(finding, display)
    basis = finding.basis
    every = choices(finding.candidates, basis)
    speed = f"{digits(display.speed(basis.at_kmh), 0)} {display.speed_unit}"
    lines = [*_filled(compared_with(basis, display)), "", f"Gearing, at a true {speed}"]
    lines += _gearing(every, display, basis.at_kmh)
    longest = max((one.row.drives for one in every), key=len)
    if longest:
        columns = route_columns(display)
        lines += ["", "All routes together, both ways", *_heads(columns, display)]
        lines += [_line(one, columns, one.row.figures) for one in every]
    for place, drive in enumerate(longest):
        lines += ["", said(drive.route), *_drive(every, place, display)]
    lines.append("")
    for one in every:
        for told in notes_of(one.row):
            lines += _filled(f"{one.name}: {told}", "  ")
    legend = LEGEND if marked(every) else ""
    assumed, missing = map(said, basis.assumed), missing_routes(basis)
    for words in (legend, NO_WHOLE, FUEL, *assumed, missing, MAKERS, SAFETY):
        lines += _filled(words)
    return lines


def _filled(words: str, indent: str = "") -> list[str]:
    return textwrap.wrap(words, WIDTH, subsequent_indent=indent)


def _gearing(every: Sequence[Choice], display: Display, at_kmh: float) -> list[str]:
    columns = gearing_columns(display, at_kmh)
    lines = _heads(columns, display, ("tires".ljust(14) + "axle".rjust(5), " " * 19))
    for one in every:
        axle = "-" if one.row.axle_ratio is None else digits(one.row.axle_ratio, 2)
        before = f"{tire_of(one.row, display)[:13]:<14}{axle:>5}"
        lines.append(_line(one, columns, one.row.figures, before))
    return lines


def _drive(every: Sequence[Choice], place: int, display: Display) -> list[str]:
    first, *others = (replace(one, interval=False) for one in route_columns(display))
    columns = (first, SUSTAINS, *others)
    heads = _heads(columns, display)
    lines = [f"{heads[0]}{'gear':>9} ver-", f"{heads[1]}{'at ' + display.speed_unit:>9} dict"]
    for one in every:
        if place >= len(one.row.drives):
            lines.append(f"{_name(one)}{'-':>8}")
            continue
        drive = one.row.drives[place]
        told = _line(one, columns, drive.figures)
        verdict = _VERDICTS.get(drive.verdict, "?")
        lines.append(f"{told}{gear_down(drive, display):>9} {verdict}")
    return lines


def _name(one: Choice) -> str:
    short = f"{one.name[: NAME - 2]}\N{HORIZONTAL ELLIPSIS}"
    return f"{one.name if len(one.name) < NAME else short:<{NAME}}"


def _width(column: Column) -> int:
    return (_WITH_INTERVAL if column.interval else _WIDTHS).get(column.key, 8)


def _heads(
    columns: Iterable[Column], display: Display, before: tuple[str, str] = ("", "")
) -> list[str]:
    words = {"fuel": "economy" if display.us else "fuel", "speed": display.speed_unit}
    told = [(_SHORT[one.key], _width(one)) for one in columns]
    return [
        " " * NAME
        + lead
        + "".join(short[line].format(**words).rjust(width) for short, width in told)
        for line, lead in enumerate(before)
    ]


def _line(
    one: Choice, columns: Iterable[Column], figures: Mapping[str, Figure], before: str = ""
) -> str:
    cells = "".join(column.cell(figures, MARKS).rjust(_width(column)) for column in columns)
    return f"{_name(one)}{before}{cells}"
