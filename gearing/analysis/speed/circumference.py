"""Size arithmetic, published figure and measurement of one tire side by side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gearing.analysis.sides import SIDES, BySide
from gearing.analysis.speed.turns import MEASURED, PUBLISHED_DOUBT, Turns
from gearing.messages import Message, message
from gearing.statistics.estimate import Estimate
from gearing.study.model import Study
from gearing.units import MILE_M
from gearing.vehicle.tire import parse_size

NOTES = {
    "size": message("circumference-note/size"),
    "published": message("circumference-note/published"),
    "measured": message("circumference-note/measured"),
}


@dataclass(frozen=True, slots=True)
class CircumferenceRow:
    """`basis` "size", "published" or "measured"; `difference_percent` of its circumference from
    the measured one, None where that is not known."""

    period: str
    basis: str
    revolutions_per_km: Estimate
    circumference_m: float | None
    difference_percent: float | None
    note: Message


def circumference_rows(study: Study, turns: BySide[Turns]) -> tuple[CircumferenceRow, ...]:
    """Every figure there is for each period's drive tire."""
    rows = []
    for side in SIDES:
        period = study.period(side)
        if period is None:
            continue
        best = turns.of(side)
        measured = best.estimate if best.basis == MEASURED else None
        found: list[tuple[str, Estimate]] = []
        try:
            size = parse_size(period.drive_tire)
            low, high = size.revolutions_per_km_range
            found.append(("size", Estimate(size.revolutions_per_km, low, high, None, "size")))
        except ValueError:
            pass
        if period.revolutions_per_km is not None:
            value = period.revolutions_per_km
            reach = max(PUBLISHED_DOUBT * value, 0.5 / MILE_M * 1000)
            found.append(
                ("published", Estimate(value, value - reach, value + reach, None, "published"))
            )
        if measured is not None:
            found.append(("measured", measured))
        rows += [_row(side, basis, estimate, measured) for basis, estimate in found]
    return tuple(rows)


def _row(side: str, basis: str, turns: Estimate, measured: Estimate | None) -> CircumferenceRow:
    reference = measured.value if measured is not None else None
    gap = (
        None
        if reference is None or turns.value is None
        else 100 * float(np.expm1(np.log(reference / turns.value)))
    )
    return CircumferenceRow(
        side, basis, turns, None if turns.value is None else 1000 / turns.value, gap, NOTES[basis]
    )
