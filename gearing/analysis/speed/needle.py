"""What to expect at the speeds people hold: true speed, engine speed and gear."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from gearing.analysis.final_drive import FinalDriveFinding
from gearing.analysis.sides import SIDES, BySide, by_side
from gearing.analysis.speed.needle_fit import NeedleFit
from gearing.analysis.speed.rule_limits import NO_NEEDLE
from gearing.messages import Measured, Message, Quantity, Text, message
from gearing.statistics.estimate import Estimate, unknown
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


@dataclass(frozen=True, slots=True)
class NeedleSpeed:
    """What is true [km/h] where the needle shows `shown_kmh`."""

    shown_kmh: float
    true_kmh: BySide[Estimate]


@dataclass(frozen=True, slots=True)
class NeedleCorrection:
    """By readings of the needle beside the receiver's speed: how many, the correction at each
    speed shown, and `relative`: true over shown after the change, against before."""

    readings: BySide[int]
    table: tuple[NeedleSpeed, ...]
    relative: Estimate
    told: Text | None = None  # the correction at a round speed


def speedometer_correction(study: Study, fit: NeedleFit | None) -> NeedleCorrection:
    """Every 10 km/h, or every 10 mph for readers who have miles."""
    if fit is None:
        return NeedleCorrection(BySide(0, 0), (), unknown(NO_NEEDLE))
    step = 10 * MPH_MPS / KMH_MPS if study.units == "us" else 10.0
    shown = [step * i for i in range(3, 9 if study.units == "us" else 12)]

    def true(side: str, kmh: float) -> Estimate:
        return fit.true(side, kmh) if fit.count.of(side) else unknown(NO_NEEDLE)

    rows = tuple(NeedleSpeed(v, by_side(lambda side, v=v: true(side, v))) for v in shown)  # type: ignore[misc]
    at = 60 * MPH_MPS / KMH_MPS if study.units == "us" else 100.0
    told = _told(at, by_side(lambda side: true(side, at)))
    return NeedleCorrection(fit.count, rows, fit.relative(), told)


def _told(shown_kmh: float, true: BySide[Estimate]) -> Text:
    shown = Quantity(shown_kmh, "km/h")
    before, after = _measured(true.before), _measured(true.after)
    if before is not None and after is not None:
        return message("needle-tells", shown=shown, after=after, before=before)
    one = after or before
    assert one is not None
    return message("needle-tells/one", shown=shown, true=one, after=after is not None)


def _measured(speed: Estimate) -> Measured | None:
    return None if speed.figures is None else Measured(*speed.figures, "km/h")


def needle_rows(
    study: Study,
    driven: BySide[pl.DataFrame],
    factor: BySide[Estimate],
    needle: BySide[Estimate],
    final: FinalDriveFinding,
    fit: NeedleFit | None = None,
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
            _at(
                _true(kmh, factor.of(side), needle.of(side), fit, side),
                side,
                driven.of(side),
                final,
            )
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


def _true(
    shown_kmh: float, factor: Estimate, needle: Estimate, fit: NeedleFit | None, side: str
) -> float | None:
    """By the needle's readings, else by bus speed taken as shown."""
    if fit is not None and fit.count.of(side):
        return fit.true(side, shown_kmh).value
    if needle.value is not None:
        return shown_kmh / needle.value
    return None if factor.value is None else shown_kmh * factor.value


def _at(true: float | None, side: str, driven: pl.DataFrame, final: FinalDriveFinding) -> AtSpeed:
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
