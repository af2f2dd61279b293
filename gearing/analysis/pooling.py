"""A period's figure from its trips: in logarithms, days as units, an honest interval."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import polars as pl

from gearing.analysis.sides import SIDES
from gearing.statistics.estimate import NORMAL_95, Estimate
from gearing.statistics.intervals import t_quantile
from gearing.statistics.mixed_effects import mixed_effects

MIN_UNITS = 3
# between trips of one vehicle on the same tires, warm to cold: common practice, no source
FEW_TRIPS_BETWEEN = 1e-3


@dataclass(frozen=True, slots=True)
class PooledLog:
    """A mean in logarithms with its standard error and degrees of freedom, from `n` units.

    `kind` names how it was found and `unit` what it counts, together the `method` of its
    estimate. `shared` is the standard error all units have in common, which no number of them
    makes less.
    """

    value: float
    error: float
    degrees: float
    between: float
    n: int
    kind: str
    unit: Literal["days", "trips"]
    shared: float = 0.0

    def interval(self) -> tuple[float, float]:
        """Lower and upper end of the 95 % interval, in logarithms; what is shared counts as
        known."""
        reach = np.hypot(
            float(t_quantile(0.975, self.degrees)) * self.error, NORMAL_95 * self.shared
        )
        return self.value - reach, self.value + reach

    def estimate(self) -> Estimate:
        """The figure itself, out of logarithms."""
        low, high = self.interval()
        return Estimate(
            float(np.exp(self.value)), float(np.exp(low)), float(np.exp(high)), self.n, self.method
        )

    @property
    def method(self) -> str:
        """How it was pooled, and of what units: the method of an estimate made of it."""
        return f"{self.kind}-{self.unit}"


def pool_side(
    trips: pl.DataFrame,
    *,
    value: str,
    error: str,
    used: str,
    side: str,
    slope_per_month: float = 0.0,
    by_distance: bool = False,
) -> PooledLog | None:
    """Pool a period's log figures; None where no trip has one.

    Parameters
    ----------
    value, error
        columns: log figure and its standard error.
    by_distance
        weigh by distance driven, as a figure of distance over distance is; else by how well
        each trip tells it.
    slope_per_month
        of a drift that shows: taken off about the mean time driven, so that the pooled figure
        is the period's mean and the drift itself is not counted as scatter.
    """
    rows = trips.filter(
        (pl.col("side") == side) & pl.col("used") & pl.col(used)
        & pl.col(value).is_not_null() & pl.col(error).is_not_null()
    )  # fmt: skip
    if rows.height == 0:
        return None
    return replace(
        _pooled(rows, value, error, slope_per_month, by_distance=by_distance),
        shared=shared_error(rows),
    )


def shared_error(trips: pl.DataFrame) -> float:
    """The relative standard error of true distance that these trips have in common."""
    if "way_error" not in trips.columns:
        return 0.0
    known = trips.select("way_error", "true_m").drop_nulls()
    way = known["true_m"].to_numpy()
    return float(known["way_error"].to_numpy() @ way / way.sum()) if way.sum() > 0 else 0.0


def cut_or_rounded(trips: pl.DataFrame, coarse: str) -> float:
    """By how much the periods' figures may be apart, in logarithms, one of them cut to its unit
    and not rounded: the column `coarse` is half the unit over the mean of each trip. Alike, both
    are off alike."""
    if coarse not in trips.columns:
        return 0.0
    halves = [
        trips.filter(pl.col("side") == side)[coarse].drop_nulls().to_numpy() for side in SIDES
    ]
    if not min(map(len, halves)):
        return 0.0
    before, after = (float(np.median(half)) for half in halves)
    return abs(after - before)


def _pooled(
    rows: pl.DataFrame, value: str, error: str, slope_per_month: float, *, by_distance: bool
) -> PooledLog:
    rows = _level(rows, value, slope_per_month)
    days = _by_day(rows, value, error)
    unit: Literal["days", "trips"] = "days"
    if days.height < MIN_UNITS:
        days = rows.select(
            pl.col(value).alias("value"), pl.col(error).alias("error"), pl.col("true_m")
        )
        unit = "trips"
    if days.height < MIN_UNITS:
        return _few(days)
    if by_distance:
        return _by_distance(days, unit, sloped=bool(slope_per_month))
    pooled = mixed_effects(days["value"], days["error"])
    (mean,), (deviation,) = pooled.coefficients, pooled.standard_errors
    degrees = pooled.degrees - (1 if slope_per_month else 0)
    return PooledLog(
        mean, deviation, max(degrees, 1), pooled.between, pooled.n, "random-effects", unit
    )


def _level(rows: pl.DataFrame, value: str, slope: float) -> pl.DataFrame:
    if not slope:
        return rows
    month = pl.col("start").dt.epoch("s") / (30.44 * 86400)
    mean = (month * pl.col("true_m")).sum() / pl.col("true_m").sum()
    return rows.with_columns(pl.col(value) - slope * (month - mean))


def _by_day(rows: pl.DataFrame, value: str, error: str) -> pl.DataFrame:
    """Trips of one day share its weather and load: one unit."""
    weight = 1 / pl.col(error) ** 2
    return (
        rows.group_by("local_day", maintain_order=True)
        .agg(
            ((pl.col(value) * weight).sum() / weight.sum()).alias("value"),
            (1 / weight.sum()).sqrt().alias("error"),
            pl.col("true_m").sum(),
        )
        .sort("local_day")
    )


def _by_distance(units: pl.DataFrame, unit: Literal["days", "trips"], *, sloped: bool) -> PooledLog:
    """Mean weighted by distance; the error from how the units differ, each residual made up for
    its own pull on the mean, and never below what the units' own errors come to."""
    value, error = units["value"].to_numpy(), units["error"].to_numpy()
    share = (units["true_m"] / units["true_m"].sum()).to_numpy()
    mean = float(np.sum(share * value))
    rest = value - mean
    seen = float(np.sum(share**2 * rest**2 / np.maximum(1 - share, 0.05)))
    own = float(np.sum(share**2 * error**2))
    degrees = 1 / float(np.sum(share**2)) - 1 - sloped
    between = float(np.sqrt(max(np.average(rest**2, weights=share) - np.mean(error**2), 0.0)))
    return PooledLog(
        mean, float(np.sqrt(max(seen, own))), max(degrees, 1.0), between, len(value),
        "distance-weighted", unit,
    )  # fmt: skip


def _few(rows: pl.DataFrame) -> PooledLog:
    """One or two trips: five-minute blocks inside them, and what trips are known to differ by."""
    weight = (1 / (rows["error"] ** 2 + FEW_TRIPS_BETWEEN**2)).to_numpy()
    value = float((rows["value"].to_numpy() * weight).sum() / weight.sum())
    return PooledLog(
        value,
        float(1 / np.sqrt(weight.sum())),
        10.0,
        FEW_TRIPS_BETWEEN,
        rows.height,
        "few",
        "trips",
    )


def difference(after: PooledLog, before: PooledLog) -> PooledLog:
    """After less before, degrees of freedom by Welch and Satterthwaite."""
    a, b = after.error**2, before.error**2
    degrees = (a + b) ** 2 / max(a**2 / after.degrees + b**2 / before.degrees, 1e-300)
    return PooledLog(
        after.value - before.value,
        float(np.sqrt(a + b)),
        float(degrees),
        max(after.between, before.between),
        min(after.n, before.n),
        "welch",
        after.unit,
        abs(after.shared - before.shared),  # one road, one receiver: what is shared cancels
    )
