"""Whether the factor changes with speed: tires grow, creep, or the computer adds an offset."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from gearing.analysis.trip_figures import TripFigures
from gearing.messages import Quantity, message
from gearing.statistics.estimate import Estimate, unknown
from gearing.statistics.mixed_effects import mixed_effects
from gearing.trips.record import TripRecord
from gearing.units import KMH_MPS

MIN_SPAN_KMH = 25.0
MIN_TRIPS = 4
# a slope smaller than this, percent for each 10 km/h, changes no row of the table visibly
MIN_SLOPE_PERCENT = 0.05
SURE = 3.0
# what a bin of one trip is trusted to: a fifth of a percent over a km, less over more
BIN_ERROR = 0.002


@dataclass(frozen=True, slots=True)
class SpeedDependence:
    """`percent_per_10_kmh` by how much the factor rises with indicated speed; `there`: whether
    it is sure and large enough to be used in the table; `about_kmh` where the factor stands."""

    percent_per_10_kmh: Estimate
    there: bool
    about_kmh: float | None


def speed_dependence(
    records: Sequence[TripRecord], figures: TripFigures, side: str
) -> SpeedDependence:
    """Slope of the log factor on speed inside each trip, pooled over the trips of a period."""
    used = set(
        figures.trips.filter((pl.col("side") == side) & pl.col("used") & pl.col("factor_used"))[
            "trip"
        ]
    )
    rounding = figures.rounding
    if not rounding.of(side).settled:
        return SpeedDependence(unknown(message("slope-unknown/quantization")), False, None)
    slopes, errors, speeds, ways = [], [], [], []
    for record in records:
        if record.name not in used:
            continue
        found = _slope(record, rounding.quantization_offset_mps(record.name))
        if found is not None:
            slopes.append(found[0])
            errors.append(found[1])
            speeds.append(found[2])
            ways.append(record.true_m)
    if len(slopes) < MIN_TRIPS:
        return SpeedDependence(
            unknown(
                message(
                    "slope-unknown/few-trips",
                    needed=MIN_TRIPS,
                    apart=Quantity(MIN_SPAN_KMH, "km/h"),
                    trips=len(slopes),
                )
            ),
            False,
            None,
        )
    pooled = mixed_effects(slopes, errors)
    (mean,), (deviation,) = pooled.coefficients, pooled.standard_errors
    there = abs(mean) > max(SURE * deviation, MIN_SLOPE_PERCENT)
    estimate = pooled.estimate(0, "slope-within-trips")
    return SpeedDependence(estimate, there, float(np.average(speeds, weights=ways)))


def _slope(record: TripRecord, quantization_offset_mps: float) -> tuple[float, float, float] | None:
    """Percent for each 10 km/h, its error, and the mean speed, of one trip."""
    time_s, true, indicated = (
        record.by_speed[name].to_numpy() for name in ("time_s", "true_m", "indicated_m")
    )
    enough = (time_s >= 30) & (true > 300)
    if enough.sum() < 3:
        return None
    time_s, true, indicated = time_s[enough], true[enough], indicated[enough]
    counted = indicated + quantization_offset_mps * time_s
    speed = counted / time_s / KMH_MPS
    if np.ptp(speed) < MIN_SPAN_KMH:
        return None
    y = 100 * np.log(true / counted)
    weight = true
    mean = float(np.average(speed, weights=weight))
    x = (speed - mean) / 10
    square = float((weight * x**2).sum())
    slope = float((weight * x * y).sum()) / square
    rest = y - np.average(y, weights=weight) - slope * x
    variance = float((weight * rest**2).sum() / weight.sum()) * len(y) / max(len(y) - 2, 1)
    floor = (100 * BIN_ERROR) ** 2 * 1000 / (float(weight.sum()) / len(y))
    error = np.sqrt(max(variance, floor) * float((weight**2 * x**2).sum())) / square
    return slope, float(error), mean
