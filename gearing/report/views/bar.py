"""The fuel change as one bar: interval, zero, margin and claim, in places along an axis."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits, minus, signed
from gearing.report.views.fuel import claimed_percent, decisive

if TYPE_CHECKING:
    from gearing.results.record import Results

WIDTH = 340.0  # of the drawing, in its own units
_EDGE = 14.0
STEPS = (1, 2, 5, 10, 20, 50, 100, 1e9)  # between two marks of an axis


@dataclass(frozen=True, slots=True)
class Bar:
    """Places along the axis from 0 to `WIDTH`; `alt` tells the same in words."""

    value: float
    low: float
    high: float
    zero: float
    margin: tuple[float, float]
    claim: float | None
    claim_label: str
    ticks: tuple[tuple[float, str], ...]
    better: str
    alt: str


def fuel_bar(results: Results, display: Display) -> Bar | None:
    """The change the verdict rests on; None where there is none with an interval."""
    shown = display.fuel_change(decisive(results)[1])
    if shown.figures is None:
        return None
    value, low, high = shown.figures
    claim = claimed_percent(results)
    claimed = None if claim is None else display.fuel_change_percent(claim)
    margin = results.fuel.margin_percent or 1.0
    every = [low, high, -margin, margin, *([] if claimed is None else [claimed])]
    step = next(s for s in STEPS if (max(every) - min(every)) / s <= 6)
    first, last = math.floor(min(every) / step) * step, math.ceil(max(every) / step) * step

    def at(percent: float) -> float:
        """The place of a change along the axis."""
        span = (percent - first) / (last - first)
        return round(_EDGE + span * (WIDTH - 2 * _EDGE), 1)

    counts = range(round((last - first) / step) + 1)
    told = f"{signed(value)} %, from {signed(low)} to {signed(high)} %"
    label = "" if claimed is None else f"claim {signed(claimed)}"
    return Bar(
        at(value),
        at(low),
        at(high),
        at(0.0),
        (at(-margin), at(margin)),
        None if claimed is None else at(claimed),
        label,
        tuple((at(first + i * step), minus(first + i * step, 0)) for i in counts),
        "right is better" if display.us else "left is better",
        f"Change of {display.fuel_word} {told}; no change means within {digits(margin, 0)} %"
        + (f"; {label} %." if label else "."),
    )
