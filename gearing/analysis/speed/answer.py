"""All parts of the speed answer put together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from gearing.analysis.final_drive import (
    FinalDriveFinding,
    declared_axle,
    find_final_drive,
    pooled_axle_turns,
)
from gearing.analysis.identification.contradictions import contradictions
from gearing.analysis.identification.quantization import Rounding
from gearing.analysis.outliers import ChangePoint, Drift
from gearing.analysis.pooling import shared_error
from gearing.analysis.sides import BySide, by_side
from gearing.analysis.speed.circumference import CircumferenceRow, circumference_rows
from gearing.analysis.speed.declared import declared_warnings
from gearing.analysis.speed.dependence import SpeedDependence, speed_dependence
from gearing.analysis.speed.explanations import Reconciled, reconcile
from gearing.analysis.speed.factor import (
    FactorLevel,
    factor_levels,
    first_level,
    odometer_factor,
    pooled_factor,
)
from gearing.analysis.speed.measured import MeasuredDistances, measured_distances
from gearing.analysis.speed.needle import (
    NeedleCorrection,
    NeedleRow,
    needle_rows,
    speedometer_correction,
)
from gearing.analysis.speed.needle_fit import fit_needle, readings_of
from gearing.analysis.speed.odometer import Month, Odometer, distance_by_month, odometer
from gearing.analysis.speed.odometer_readings import odometer_factors
from gearing.analysis.speed.order import order_warnings
from gearing.analysis.speed.programming import ToProgram, to_program
from gearing.analysis.speed.relative import Relative, relative_factor
from gearing.analysis.speed.rule_limits import NO_NEEDLE
from gearing.analysis.speed.rules import Rule, rule_rows
from gearing.analysis.speed.turns import Programmed, Turns, programmed, tire_turns
from gearing.analysis.speed.units import UnitDoubt, unit_doubts, unit_warnings, withheld
from gearing.analysis.trip_figures import TripFigures
from gearing.messages import Quantity, StudyWarning, message, warning
from gearing.statistics.estimate import NORMAL_95, Estimate, unknown
from gearing.study.model import Study
from gearing.trips.record import TripRecord
from gearing.units import MILE_M

SPEEDS_APART_KMH = 20.0  # that settle how the logged speed is quantized
TOLD_PERCENT = 0.1  # a doubt about all distances smaller than this is not worth a word


@dataclass(frozen=True, slots=True)
class SpeedRow:
    """What an indicated speed means."""

    indicated_kmh: float
    true_kmh: BySide[float | None]


@dataclass(frozen=True, slots=True)
class SpeedFinding:
    """The speed answer; every part that cannot be told says why in its own `why`.

    `odometer_factor` is that in effect when the period ended, the last of its `levels`."""

    odometer_factor: BySide[Estimate]
    regimes: BySide[tuple[FactorLevel, ...]]
    unit_doubts: BySide[UnitDoubt | None]
    rounding: BySide[Rounding]
    per_speed: BySide[SpeedDependence]
    table: tuple[SpeedRow, ...]
    odometer: Odometer
    revolutions_per_km: BySide[Turns]
    programmed_revolutions_per_km: Programmed
    to_program: ToProgram
    circumferences: tuple[CircumferenceRow, ...]
    reconciled: Reconciled
    rules: tuple[Rule, ...]
    speedometer_ratio: BySide[Estimate]
    speedometer: tuple[NeedleRow, ...]
    speedometer_correction: NeedleCorrection
    relative: Relative
    measured: MeasuredDistances
    distance_by_month: tuple[Month, ...]
    misfiled: tuple[str, ...]
    change_points: tuple[ChangePoint, ...]
    drifts: tuple[Drift, ...]
    warnings: tuple[StudyWarning, ...]


def find_speed(
    study: Study,
    records: Sequence[TripRecord],
    figures: TripFigures,
    final: FinalDriveFinding | None = None,
    fillups: pl.DataFrame | None = None,
) -> SpeedFinding:
    """The speed answer from the trips' records and figures; `fillups` may tell the odometer."""
    records = sorted(records, key=lambda record: (record.start, record.name))
    final = final if final is not None else find_final_drive(study, figures)
    measured = measured_distances(study, records, figures)
    factor = by_side(lambda side: odometer_factor(study, figures, side))
    by_odometer = odometer_factors(study, records, fillups)
    factor = by_side(lambda side: _or_measured(factor.of(side), measured, by_odometer, side))
    doubts = unit_doubts(study, factor)
    factor = by_side(lambda side: _or_withheld(factor.of(side), doubts.of(side)))
    levels = by_side(lambda side: factor_levels(study, figures, side))
    turns = by_side(lambda side: tire_turns(study, figures, side))
    current = [one for one in records if _in_effect(one, levels.of(one.side))]
    fit = fit_needle(readings_of(study, current))
    needle = by_side(lambda side: unknown(NO_NEEDLE) if fit is None else fit.ratio(side))
    bends = by_side(lambda side: speed_dependence(records, figures, side))
    setting = programmed(study, factor, turns)
    last = "after" if study.after is not None else "before"
    axle = declared_axle(study, figures.identification, last)
    reconciled = _reconciled(study, figures, doubts)
    return SpeedFinding(
        odometer_factor=factor,
        regimes=levels,
        unit_doubts=doubts,
        rounding=figures.rounding.sides,
        per_speed=bends,
        table=_table(study, factor, bends),
        odometer=odometer(study, records, factor, levels.after),
        revolutions_per_km=turns,
        programmed_revolutions_per_km=setting,
        to_program=to_program(study, setting, axle),
        circumferences=circumference_rows(study, turns),
        reconciled=reconciled,
        rules=rule_rows(study, needle, factor, fit),
        speedometer_ratio=needle,
        speedometer=needle_rows(study, figures.driven, factor, needle, final, fit),
        speedometer_correction=speedometer_correction(study, fit),
        relative=relative_factor(study, factor, fit, measured, turns),
        measured=measured,
        distance_by_month=distance_by_month(figures),
        misfiled=figures.verdicts.misfiled,
        change_points=figures.verdicts.change_points,
        drifts=figures.verdicts.drifts,
        warnings=(
            *(order := order_warnings(study, figures, reconciled)),
            *contradictions(study, figures.identification, swapped=bool(order)),
            *unit_warnings(study, doubts),
            *figures.warnings,
            *_warnings(records, figures, factor),
            *declared_warnings(study, records, measured),
        ),
    )


def _in_effect(record: TripRecord, levels: tuple[FactorLevel, ...]) -> bool:
    """Whether a trip was driven with the setting the period ended with."""
    return len(levels) < 2 or record.start >= levels[-1].at


def _reconciled(study: Study, figures: TripFigures, doubts: BySide[UnitDoubt | None]) -> Reconciled:
    """What the change of tires moved: the last level before it against the first after."""
    first = {
        figure: first_level(figures, "after", figure) for figure in ("factor", "log_axle_turns")
    }
    sound = doubts.map(lambda doubt: doubt is None)
    return reconcile(
        study,
        BySide(
            pooled_factor(figures, "before") if sound.before else None,
            pooled_factor(figures, "after", level=first["factor"]) if sound.after else None,
        ),
        BySide(
            pooled_axle_turns(figures, "before"),
            pooled_axle_turns(figures, "after", level=first["log_axle_turns"]),
        ),
        figures.identification,
    )


def _or_measured(
    factor: Estimate, measured: MeasuredDistances, by_odometer: BySide[Estimate], side: str
) -> Estimate:
    """Without a computer's count beside a receiver, stretches of known length tell the factor, or
    odometer readings: whichever is surest."""
    if factor.known:
        return factor
    others = [measured.factor(side), by_odometer.of(side)]
    told = [one for one in others if one is not None and one.low is not None]
    return min(told, key=lambda one: (one.high or 0.0) - (one.low or 0.0), default=factor)


def _or_withheld(factor: Estimate, doubt: UnitDoubt | None) -> Estimate:
    """No figure rests on a speed whose unit must be wrong."""
    return factor if doubt is None else withheld(doubt)


def _table(
    study: Study, factor: BySide[Estimate], bends: BySide[SpeedDependence]
) -> tuple[SpeedRow, ...]:
    """Every 10 km/h, or every 5 mph for readers who have miles."""
    if study.units == "us":
        speeds = [5 * i * MILE_M / 1000 for i in range(4, 17)]
    else:
        speeds = [10.0 * i for i in range(3, 13)]

    def true(speed: float, side: str) -> float | None:
        """True speed [km/h] at an indicated one [km/h]; None where the factor is not known."""
        value, bend = factor.of(side).value, bends.of(side)
        if value is None:
            return None
        if bend.there and bend.about_kmh is not None and bend.percent_per_10_kmh.value is not None:
            value *= 1 + bend.percent_per_10_kmh.value / 100 * (speed - bend.about_kmh) / 10
        return speed * value

    return tuple(SpeedRow(v, BySide(true(v, "before"), true(v, "after"))) for v in speeds)


def _warnings(
    records: Sequence[TripRecord], figures: TripFigures, factor: BySide[Estimate]
) -> list[StudyWarning]:
    found = []
    for side in ("before", "after"):
        rounding = figures.rounding.of(side)
        if not rounding.settled and factor.of(side).known:
            apart = Quantity(SPEEDS_APART_KMH, "km/h")
            found.append(warning(message("rounding-unsettled", after=side == "after", apart=apart)))
        trips = figures.trips.filter((pl.col("side") == side) & pl.col("used"))
        doubt = 100 * NORMAL_95 * shared_error(trips)
        if doubt > TOLD_PERCENT:
            by_fixes = any(one.speed_from == "positions" for one in records if one.side == side)
            after, off = side == "after", Quantity(doubt, "%", 1)
            if by_fixes:
                told = message("positions-far-apart", after=after, off=off)
            else:
                told = message("receiver-speed-open", after=after, off=off)
            found.append(warning(told))
    return found
