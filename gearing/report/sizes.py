"""Tire sizes side by side, as a table for the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from gearing.messages.columns import USUAL_WIDTH, wrapped
from gearing.messages.display import Display, digits, signed
from gearing.report.phrases import said
from gearing.report.reader import for_reader
from gearing.report.tables import Grid, Table
from gearing.units import INCH_M

if TYPE_CHECKING:
    from gearing.analysis.sizes import SizeComparison, SizeFigures

INDICATED_MPH = (55, 60, 65, 70, 75)
INDICATED_KMH = (80, 90, 100, 110)


def size_text(
    comparisons: Sequence[SizeComparison], display: Display, width: int = USUAL_WIDTH
) -> str:
    """Two sizes figure by figure, or a row a size: the first as it is, the others against it."""
    told = for_reader(tuple(comparisons), display)
    if len(told) == 1:
        one = told[0]
        right = (
            f"A speedometer that is right on {one.old.size}, left as it is, on {one.new.size} "
            f"[{display.speed_unit}]:"
        )
        notes = [said(note) for note in (one.rule, *one.cautions)]
        tables = [_pair(one, display).lines(width), wrapped(right, width)]
        tables[1] += _speeds(one, display).lines(width)
    else:
        tables = [_list(told, display).lines(width)]
        notes = [_reading(told[0].old, display), *_cautions(told)]
    blocks = [*tables, [line for note in notes for line in wrapped(note, width)]]
    return "\n\n".join("\n".join(block) for block in blocks)


def _pair(told: SizeComparison, display: Display) -> Table:
    a, b = told.old, told.new
    around = (a.rolling_circumference_m, b.rolling_circumference_m)
    change = f"{signed(told.engine_speed_change_percent)} %"
    turns = [_turns(one, display) for one in (a, b)]
    rows = (
        _lengths("Diameter", (a.diameter_m, b.diameter_m), told.diameter_change_percent, display),
        _lengths("Rolling circumference", around, told.circumference_change_percent, display),
        (display.revolutions_unit.capitalize(), *(one[0] for one in turns), change),
        ("  limits of the rule", *(one[1] for one in turns), ""),
        ("Engine speed, same road speed", "", "", change),
    )
    grid = Grid(rows).words("", lambda row: row[0])
    for place, head in enumerate((a.size, b.size, "change"), start=1):
        grid = grid.told(head, lambda row, place=place: row[place])  # type: ignore[misc]
    return grid.table("Two sizes")


def _lengths(
    name: str, meters: tuple[float, float], change: float, display: Display
) -> tuple[str, str, str, str]:
    unit, per_m, places = ("in", 1 / INCH_M, 2) if display.us else ("mm", 1000.0, 0)
    first, second = (f"{per_m * one:.{places}f}" for one in meters)
    return f"{name}, {unit}", first, second, f"{signed(change)} %"


def _turns(size: SizeFigures, display: Display) -> tuple[str, str]:
    """Revolutions a distance, and from where to where they may lie."""
    figures = (size.revolutions_per_km, size.revolutions_per_km_low, size.revolutions_per_km_high)
    turns, low, high = (digits(display.revolutions(one), 0) for one in figures)
    return turns, f"{low} to {high}"


def _speeds(told: SizeComparison, display: Display) -> Table:
    shown = INDICATED_MPH if display.us else INDICATED_KMH
    rows = (("it shows", 1.0, 0), ("true", told.odometer_factor, 1))
    grid = Grid(rows).words("", lambda row: row[0])
    for speed in shown:
        grid = grid.told("", lambda row, speed=speed: f"{speed * row[1]:.{row[2]}f}")  # type: ignore[misc]
    return grid.table("Speeds")


def _list(told: Sequence[SizeComparison], display: Display) -> Table:
    shown = display.round_speed
    per = "mile" if display.us else "km"
    unit, per_m, places = ("in", 1 / INCH_M, 1) if display.us else ("mm", 1000.0, 0)
    rows = [(told[0].old, "", shown)]
    rows += [
        (one.new, signed(one.engine_speed_change_percent), shown * one.odometer_factor)
        for one in told
    ]
    return (
        Grid(rows)
        .words("Size", lambda row: row[0].size + ("*" if row[0].basis == "published" else ""))
        .told(f"diameter, {unit}", lambda row: digits(per_m * row[0].diameter_m, places))
        .told(f"revs per {per}", lambda row: _turns(row[0], display)[0])
        .told("within", lambda row: _turns(row[0], display)[1])
        .told("engine speed, %", lambda row: row[1])
        .told(f"true speed at {shown:.0f} {display.speed_unit}", lambda row: f"{row[2]:.1f}")
        .table("Sizes side by side")
    )


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
