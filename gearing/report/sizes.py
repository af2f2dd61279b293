"""Tire sizes side by side, as a table for the terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits, signed
from gearing.report.phrases import said
from gearing.report.reader import for_reader
from gearing.units import INCH_M

if TYPE_CHECKING:
    from gearing.analysis.sizes import SizeComparison, SizeFigures

INDICATED_MPH = (55, 60, 65, 70, 75)
INDICATED_KMH = (80, 90, 100, 110)
TEXT_WIDTH, LIST_WIDTH = 92, 80
_ROW = "{:<19}{:>9}{:>9}{:>17}{:>10}{:>13}"


def size_text(comparisons: Sequence[SizeComparison], display: Display) -> str:
    """Two sizes figure by figure, or a row a size: the first as it is, the others against it."""
    told = for_reader(tuple(comparisons), display)
    lines = _pair(told[0], display) if len(told) == 1 else _list(told, display)
    return "\n".join(line.rstrip() for line in lines)


def _pair(told: SizeComparison, display: Display) -> list[str]:
    a, b = told.old, told.new
    per = "mile" if display.us else "km"
    change = f"{signed(told.engine_speed_change_percent)} %"
    around = (a.rolling_circumference_m, b.rolling_circumference_m)
    return [
        _row("", a.size, b.size, "change"),
        _lengths("Diameter", (a.diameter_m, b.diameter_m), told.diameter_change_percent, display),
        _lengths("Rolling circumference", around, told.circumference_change_percent, display),
        _row(f"Revolutions per {per}", _turns(a, display)[0], _turns(b, display)[0], change),
        _row("  limits of the rule", _turns(a, display)[1], _turns(b, display)[1]),
        _row("Engine speed, same road speed", "", "", change),
        "",
        f"A speedometer that is right on {a.size}, left as it is, on {b.size}:",
        *_speed_lines(told, display),
        "",
        *(textwrap.fill(said(note), TEXT_WIDTH) for note in (told.rule, *told.cautions)),
    ]


def _row(name: str, first: str, second: str, last: str = "") -> str:
    return f"{name:<32}{first:>14}{second:>14}{last:>10}"


def _lengths(name: str, meters: tuple[float, float], change: float, display: Display) -> str:
    unit, per_m, places = ("in", 1 / INCH_M, 2) if display.us else ("mm", 1000.0, 0)
    first, second = (f"{per_m * one:.{places}f}" for one in meters)
    return _row(f"{name}, {unit}", first, second, f"{signed(change)} %")


def _turns(size: SizeFigures, display: Display) -> tuple[str, str]:
    """Revolutions a distance, and from where to where they may lie."""
    figures = (size.revolutions_per_km, size.revolutions_per_km_low, size.revolutions_per_km_high)
    turns, low, high = (digits(display.revolutions(one), 0) for one in figures)
    return turns, f"{low} to {high}"


def _speed_lines(told: SizeComparison, display: Display) -> list[str]:
    shown, width = (INDICATED_MPH, 8) if display.us else (INDICATED_KMH, 9)
    factor, unit = told.odometer_factor, display.speed_unit
    return [
        "  it shows " + "".join(f"{speed:>{width}}" for speed in shown) + f" {unit}",
        "  true     " + "".join(f"{speed * factor:>{width}.1f}" for speed in shown) + f" {unit}",
    ]


def _list(told: Sequence[SizeComparison], display: Display) -> list[str]:
    """At most 80 columns wide."""
    first, shown = told[0].old, display.round_speed
    at = f"at {shown:.0f} {display.speed_unit}"
    length, per = ("in", "mile") if display.us else ("mm", "km")
    return [
        _ROW.format("", "diameter", "revs per", "within", "engine", "true speed"),
        _ROW.format("Size", length, per, "", "speed, %", at),
        _listed(first, "", shown, display),
        *(
            _listed(
                one.new,
                signed(one.engine_speed_change_percent),
                shown * one.odometer_factor,
                display,
            )
            for one in told
        ),
        "",
        *(textwrap.fill(note, LIST_WIDTH) for note in (_reading(first, display), *_cautions(told))),
    ]


def _listed(size: SizeFigures, change: str, true: float, display: Display) -> str:
    turns, span = _turns(size, display)
    diameter = size.diameter_m
    across = digits(diameter / INCH_M, 1) if display.us else digits(1000 * diameter, 0)
    mark = "*" if size.basis == "published" else ""
    return _ROW.format(size.size + mark, across, turns, span, change, f"{true:.1f}")


def _cautions(comparisons: Sequence[SizeComparison]) -> list[str]:
    """Each caution once; one that is not for every size names those it is for."""
    sizes: dict[str, list[str]] = {}
    for one in comparisons:
        for note in one.cautions:
            sizes.setdefault(said(note), []).append(one.new.size)
    every = len(comparisons)
    return [n if len(of) == every else f"{', '.join(of)}: {n}" for n, of in sizes.items()]


def _reading(first: SizeFigures, display: Display) -> str:
    return (
        f"Each against {first.size}: engine speed at the same road speed and gear, and the true "
        f"speed where a speedometer that is right on {first.size}, left as it is, shows "
        f"{display.round_speed:.0f} {display.speed_unit}. An * marks revolutions as published for "
        "the tire, good to 1 % for one tire; the others follow from the size, good to 2.5 %."
    )
