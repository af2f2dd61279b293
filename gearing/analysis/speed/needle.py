"""What to expect at the speeds people hold: true speed, engine speed and gear."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from gearing.analysis.final_drive import FinalDriveFinding
from gearing.analysis.sides import SIDES, BySide
from gearing.messages import Message, message
from gearing.statistics.estimate import Estimate
from gearing.study.model import Study
from gearing.units import KMH_MPS, MPH_MPS

US_NEEDLE_MPH = (55.0, 60.0, 65.0, 70.0)
METRIC_NEEDLE_KMH = (80.0, 90.0, 100.0, 110.0)
NEAR_KMH = 4.0
MIN_DRIVEN_S = 60.0
READ, TAKEN = message("needle-basis/read"), message("needle-basis/taken")


@dataclass(frozen=True, slots=True)
class AtSpeed:
    """One period at one shown speed: `gear` as driven at that speed, else the highest."""

    true_kmh: float | None
    engine_rpm: float | None
    gear: int | None
    driven: bool


@dataclass(frozen=True, slots=True)
class NeedleRow:
    """`shown` in `unit`; `basis`: by readings of the needle, or bus speed taken as shown, each
    period named where they differ."""

    shown: float
    unit: str
    shown_kmh: float
    basis: Message
    before: AtSpeed
    after: AtSpeed


def needle_rows(
    study: Study,
    driven: BySide[pl.DataFrame],
    factor: BySide[Estimate],
    needle: BySide[Estimate],
    final: FinalDriveFinding,
) -> tuple[NeedleRow, ...]:
    """Rows at 55, 60, 65, 70 mph, or 80 to 110 km/h for metric readers."""
    shown = (
        [(v, "mph", v * MPH_MPS / KMH_MPS) for v in US_NEEDLE_MPH]
        if study.units == "us"
        else [(v, "km/h", v) for v in METRIC_NEEDLE_KMH]
    )
    basis = _basis(factor, needle)
    rows = []
    for value, unit, kmh in shown:
        before, after = (
            _at(kmh, factor.of(side), needle.of(side), side, driven.of(side), final)
            for side in SIDES
        )
        rows.append(NeedleRow(value, unit, kmh, basis, before, after))
    return tuple(rows)


def _basis(factor: BySide[Estimate], needle: BySide[Estimate]) -> Message:
    """What the rows rest on, side by side where the periods differ."""
    of = {
        side: READ if needle.of(side).known else TAKEN
        for side in SIDES
        if needle.of(side).known or factor.of(side).known
    }
    if len(set(of.values())) < 2:
        return next(iter(of.values()), TAKEN)
    return message("needle-basis/each", before=of["before"], after=of["after"])


def gear_at(driven: pl.DataFrame, kmh: float) -> int | None:
    """The gear most time was spent in around a true speed, None where it was hardly driven."""
    near = driven.filter(pl.col("gear").is_not_null() & ((pl.col("kmh") - kmh).abs() <= NEAR_KMH))
    if near.height == 0 or float(near["seconds"].sum()) < MIN_DRIVEN_S:
        return None
    best = near.group_by("gear", maintain_order=True).agg(pl.col("seconds").sum())
    best = best.sort("seconds", descending=True, maintain_order=True)
    return int(best["gear"][0])


def _at(
    shown_kmh: float,
    factor: Estimate,
    needle: Estimate,
    side: str,
    driven: pl.DataFrame,
    final: FinalDriveFinding,
) -> AtSpeed:
    if needle.value is not None:
        true: float | None = shown_kmh / needle.value
    else:
        true = None if factor.value is None else shown_kmh * factor.value
    if true is None:
        return AtSpeed(None, None, None, False)
    rows = {row.gear: row for row in final.gears}
    held = gear_at(driven, true)
    gear = held if held in rows else (max(rows) if rows else None)
    if gear is None:
        return AtSpeed(true, None, None, False)
    turns = (rows[gear].before if side == "before" else rows[gear].after).rev_per_km
    rpm = None if turns is None else float(np.round(true / 60 * turns, 1))
    return AtSpeed(true, rpm, gear, held == gear)
