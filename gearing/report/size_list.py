"""Three and more tire sizes side by side, for the terminal."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

from gearing.messages.display import Display, digits, signed
from gearing.report.reading import Tree, branch, number, rows, text
from gearing.report.retell import for_reader

if TYPE_CHECKING:
    from collections.abc import Sequence

WIDTH = 80
ROW = "{:<19}{:>9}{:>9}{:>17}{:>10}{:>13}"


def size_list(told: dict[str, Any], display: Display) -> str:
    """A row a size, the first as it is and the others against it; at most 80 columns wide."""
    whole = for_reader(told, display)
    comparisons = [whole, *rows(whole, "further")]
    first = branch(comparisons[0], "old")
    per = "mile" if display.us else "km"
    shown = display.round_speed
    lines = [
        ROW.format("", "diameter", "revs per", "within", "engine", "true speed"),
        ROW.format(
            "Size", "in" if display.us else "mm", per, "", "speed, %",
            f"at {shown:.0f} {display.speed_unit}",
        ),
        _row(first, "", f"{shown:.1f}", display),
    ]  # fmt: skip
    for one in comparisons:
        factor = number(one.get("odometer_factor")) or 1.0
        change = number(one.get("engine_speed_change_percent")) or 0.0
        lines.append(_row(branch(one, "new"), signed(change), f"{shown * factor:.1f}", display))
    lines.append("")
    lines += [textwrap.fill(n, WIDTH) for n in (_reading(first, display), *_cautions(comparisons))]
    return "\n".join(line.rstrip() for line in lines)


def _row(size: Tree, change: str, true: str, display: Display) -> str:
    figures = [number(size.get(f"revolutions_per_km{end}")) or 0.0 for end in ("", "_low", "_high")]
    turns, low, high = (digits(display.revolutions(one), 0) for one in figures)
    diameter = number(size.get("diameter_m")) or 0.0
    across = digits(diameter / 0.0254, 1) if display.us else digits(1000 * diameter, 0)
    mark = "*" if size.get("basis") == "published" else ""
    return ROW.format(
        text(size.get("size")) + mark, across, turns, f"{low} to {high}", change, true
    )


def _cautions(comparisons: Sequence[Tree]) -> list[str]:
    """Each caution once; one that is not for every size names those it is for."""
    sizes: dict[str, list[str]] = {}
    for one in comparisons:
        for note in one.get("cautions", ()):
            sizes.setdefault(note, []).append(text(branch(one, "new").get("size")))
    every = len(comparisons)
    return [n if len(of) == every else f"{', '.join(of)}: {n}" for n, of in sizes.items()]


def _reading(first: Tree, display: Display) -> str:
    name = text(first.get("size"))
    return (
        f"Each against {name}: engine speed at the same road speed and gear, and the true speed "
        f"where a speedometer that is right on {name}, left as it is, shows "
        f"{display.round_speed:.0f} {display.speed_unit}. An * marks revolutions as published for "
        "the tire, good to 1 % for one tire; the others follow from the size, good to 2.5 %."
    )
