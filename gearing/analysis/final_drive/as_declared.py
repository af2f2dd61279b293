"""The gearing by what is declared of tires, axle and gears, where no log shows an engine turn."""

from __future__ import annotations

import math
from dataclasses import replace

import polars as pl

from gearing.analysis.final_drive.answer import FinalDriveFinding, restoring_ratio
from gearing.analysis.final_drive.cruise import cruise_rows
from gearing.analysis.final_drive.gears import GearRow, GearUse
from gearing.analysis.sides import BySide, by_side
from gearing.messages import Measured, Message, Text, message
from gearing.statistics.estimate import Estimate, product, unknown
from gearing.study.model import Study

METHOD = "as declared"


def as_declared(
    found: FinalDriveFinding,
    study: Study,
    driven: BySide[pl.DataFrame],
    turns: BySide[Estimate],
    relative: Estimate,
    by: Text,
) -> FinalDriveFinding:
    """The finding with what the tires' figures make of the declared axle and gears.

    Parameters
    ----------
    turns
        revolutions a km of the drive tires of each period.
    relative, by
        the way per revolution after over before, and what tells it.
    """
    axle = by_side(lambda side: _axle(study, side))
    change = _change(study, axle, relative)
    gears = _gears(study, turns)
    told = None
    assert isinstance(by, Message)
    if change.figures is not None:
        told = message("engine-speed-by", percent=Measured(*change.figures, "%"), by=by)
    return replace(
        found,
        effective=BySide(axle.before, product(change.map(lambda p: 1 + p / 100), axle.before)),
        change_percent=change,
        restoring_axle_ratio=restoring_ratio(axle.after, change),
        gears=gears,
        cruise=cruise_rows(study.units, gears, driven),
        told=told,
    )


def _axle(study: Study, side: str) -> Estimate:
    ratio = study.axle_ratio(side)
    if ratio is None:
        return unknown(message("no-axle-ratio"))
    return Estimate(ratio, ratio, ratio, None, METHOD)


def _change(study: Study, axle: BySide[Estimate], relative: Estimate) -> Estimate:
    """Engine speed at the same true speed and gear [%]."""
    if study.before is None or study.after is None:
        return unknown(message("one-set-of-tires"))
    before, after = axle.before.value, axle.after.value
    other_axle = after / before if before and after else 1.0
    change = relative.map(lambda k: 100 * (other_axle / k - 1))
    return replace(change, n=None, method=METHOD) if change.known else change


def _gears(study: Study, turns: BySide[Estimate]) -> tuple[GearRow, ...]:
    """Engine turns a km of each declared gear; nobody knows how long each is used."""
    ratios = study.vehicle.gear_ratios

    def use(side: str, ratio: float) -> GearUse:
        axle, tire = study.axle_ratio(side), turns.of(side).value
        known = axle is not None and tire is not None and math.isfinite(tire)
        return GearUse(ratio * axle * tire if known and axle and tire else None, None, None)

    rows = [
        GearRow(i + 1, ratio, use("before", ratio), use("after", ratio), True)
        for i, ratio in enumerate(ratios)
    ]
    return tuple(row for row in rows if row.before.rev_per_km or row.after.rev_per_km)
