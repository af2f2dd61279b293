"""Single trips whose indicated speed was read in another unit than the other trips'."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import polars as pl

from gearing.analysis.sides import SIDES
from gearing.analysis.speed.units import LARGEST_TRUE_STEP, nearest_units, rule_line
from gearing.messages import StudyWarning, UserText, message, names, warning
from gearing.trips.record import TripRecord

MIN_TRUE_M = 2000.0
MIN_TRIPS, LARGEST_SHARE = 4, 0.5  # of a period's trips, before it is the period's own doubt
NEAR = 0.03  # of the ratio of two units, in logs, from the usual factor


def without_misread(
    records: Sequence[TripRecord],
) -> tuple[list[TripRecord], tuple[StudyWarning, ...]]:
    """The records, without indicated speed where a trip's factor is off from the others' by the
    ratio of two units, and a warning for each pair of units."""
    odd: dict[str, tuple[str, str]] = {}
    factors = {one.name: _log_factor(one) for one in records}
    for side in SIDES:
        own = {
            r.name: value
            for r in records
            if r.side == side and (value := factors[r.name]) is not None
        }
        if len(own) < MIN_TRIPS:
            continue
        usual = float(np.median(list(own.values())))
        found = {name: pair for name, value in own.items() if (pair := _units(value - usual))}
        if len(found) < LARGEST_SHARE * len(own):
            odd |= found
    files = {one.name: one.files[0] for one in records}
    by_units: dict[tuple[str, str], list[str]] = defaultdict(list)
    for name, pair in odd.items():
        by_units[pair].append(name)
    told = tuple(
        warning(
            message(
                "speed-unit-misread",
                trips=names(trips, "trip"),
                unit=UserText(own_unit),
                taken_for=UserText(taken),
                line=UserText(rule_line("HEADING", own_unit, files[trips[0]]), "line"),
            ),
            tuple(trips),
        )
        for (own_unit, taken), trips in by_units.items()
    )
    return [_blind(one) if one.name in odd else one for one in records], told


def _log_factor(record: TripRecord) -> float | None:
    if not record.has_receiver or not record.indicated_m or record.true_m < MIN_TRUE_M:
        return None
    return math.log(record.true_m / record.indicated_m)


def _units(step: float) -> tuple[str, str] | None:
    return nearest_units(step, NEAR) if abs(step) > LARGEST_TRUE_STEP else None


def _blind(record: TripRecord) -> TripRecord:
    """The record as it is of a log without indicated speed."""
    steps = record.steps
    return replace(
        record,
        indicated_m=None,
        indicated_s=0.0,
        blocks=record.blocks.clear(),
        by_speed=record.by_speed.clear(),
        cells=record.cells.clear(),
        stretches=tuple(replace(one, indicated_m=None) for one in record.stretches),
        steps=steps.with_columns(indicated_m=pl.lit(None, steps.schema["indicated_m"])),
    )
