"""The air's temperature at each step, from whatever tells of it, and how far that may be off.

Best is the logged outside temperature and a weather file together: where both cover both periods
their mean is taken, and what their difference changes by from one period to the other stays
open, so that the interval reaches from what the one sensor says to what the other does. Next is
either alone; then the coolant or the intake air of an engine that has stood for a night; and
where nothing tells, the climate of the latitude at the date, within a range.

Sources
-------
[1] Zonal means of temperature, NCEP 1970-2000: equator less 60 N 39 K in winter and 12 K in
    summer, less 60 S 26 and 22 K; half the yearly range at 40 to 55 N is 8 K on coasts and 20 K
    inland; coldest in January and February.
[2] Daily means about the year's course, three airports of New York 2013 and Seattle 2012-2015:
    deviation 2.7 to 3.8 K, correlation with the next three days 0.65, 0.25 and 0.05.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from gearing.analysis.fuel.tank_model import YEAR_S
from gearing.analysis.fuel.weather import COVERED_LEAST

if TYPE_CHECKING:
    from gearing.statistics.arrays import Array

HALF_RANGE_K_PER_DEGREE = 14.0 / 47.5  # [1]: the middle of 8 and 20 K at 47.5 degrees
SOUTHERN_SHARE = 0.5  # of that: oceans; [1] has less still for 60 S
HALF_RANGE_ERROR = 0.43  # of the half range: 8 to 20 K are one deviation about 14 [1]
EQUATOR_C, COOLER_K_PER_DEGREE = 27.0, 0.45  # [1]: the yearly mean at 60 N is 25.5 K lower
LEVEL_ERROR_K = 6.0  # of the yearly mean at a latitude: height and coast (from memory)
LATITUDE_UNKNOWN = 45.0
COLDEST_DAY = 25.0  # of the year, in the north [1]
DAILY_ANOMALY_K, ANOMALY_DAYS = 3.3, 2.9  # [2]: 1 + 2 (0.65 + 0.25 + 0.05)
MONTHLY_ANOMALY_K = 1.5  # weather that lasts for weeks, by the same stations (from memory)
HOUR_ERROR_K = 2.0  # of what the time of day adds, from period to period (from memory)
SENSOR_DRIFT_K = 0.5  # of one sensor between two periods: half of what SAE J1263 allows any
OTHER_SENSOR_K = 2.0  # of two kinds of sensor: common practice, no source
# coolant and intake air of an engine that stood for a night and set off at once: the air's,
# within what a first minute or a garage adds (common practice, no source)
COLD_COOLANT_C, COLD_START_K = 30.0, 4.0
NIGHT_S, AT_ONCE_S = 6 * 3600, 120.0
STUCK_RANGE_K, STUCK_DAYS = 0.5, 4


@dataclass(frozen=True, slots=True)
class AirTemperature:
    """Temperature of each step [degC] and how far it may be off.

    `unlogged` is 1 where only the climate tells, and `season` (there, else 0) runs from -1 in the
    coldest to 1 in the warmest weeks. `difference_error_k` is the standard error of what the
    periods differ by, `half_range_error_k` and `level_error_k` those of the climate's half range
    and yearly mean. `apart_k` is what log and weather file disagree by about that difference
    (None where they cannot be compared); `stuck` whether the logged one never moves.
    """

    celsius: Array
    unlogged: Array
    season: Array
    difference_error_k: float = SENSOR_DRIFT_K
    half_range_error_k: float = 0.0
    level_error_k: float = 0.0
    apart_k: float | None = None
    stuck: bool = False

    @classmethod
    def sure(cls) -> AirTemperature:
        """One with nothing open."""
        nothing = np.zeros(0)
        return cls(nothing, nothing, nothing, 0.0)

    @property
    def known_share(self) -> float:
        """Share of the steps whose temperature something tells."""
        return 1.0 - float(self.unlogged.mean()) if len(self.unlogged) else 0.0


def air_temperature(joined: pl.DataFrame, observed_c: Array) -> AirTemperature:
    """Air temperature of each step [degC]. `observed_c` (n,) [degC] is the weather file's, NaN
    where it has none."""
    after = (joined["side"] == "after").to_numpy()
    logged, stuck = _logged(joined)
    both = np.isfinite(logged) & np.isfinite(observed_c)
    sides = [after == late for late in (False, True)]
    apart = None
    if all(both[side].mean() >= COVERED_LEAST for side in sides if side.any()) and both.any():
        celsius = np.where(both, (logged + observed_c) / 2, np.fmax(logged, observed_c))
        means = [float((logged - observed_c)[side & both].mean()) for side in sides if side.any()]
        apart = means[-1] - means[0]
        # 95 % of the interval reaches from one sensor's word to the other's
        error = max(SENSOR_DRIFT_K / math.sqrt(2), abs(apart) / 2)
    else:
        celsius = np.where(np.isfinite(logged), logged, observed_c)
        shares = [float(np.isfinite(logged[side]).mean()) for side in sides if side.any()]
        error = OTHER_SENSOR_K if abs(shares[-1] - shares[0]) > 0.5 else SENSOR_DRIFT_K
    celsius, error = _with_cold_starts(joined, celsius, error)
    missing = ~np.isfinite(celsius)
    if not missing.any():
        nothing = np.zeros(len(celsius))
        return AirTemperature(celsius, nothing, nothing, error, apart_k=apart, stuck=stuck)
    latitude = joined["latitude_deg"].median()
    level, half = climate(latitude if isinstance(latitude, float) else LATITUDE_UNKNOWN)
    season = np.where(missing, season_of(joined["start_s"].to_numpy()), 0.0)
    days = [int(joined.filter(pl.Series(side))["local_day"].n_unique()) for side in sides]
    weather = sum(
        DAILY_ANOMALY_K**2 * ANOMALY_DAYS / max(count, 1) + MONTHLY_ANOMALY_K**2 for count in days
    )
    return AirTemperature(
        np.where(missing, level + half * season, celsius),
        missing.astype(float),
        season,
        math.hypot(error, missing.mean() * math.sqrt(weather + HOUR_ERROR_K**2)),
        half_range_error_k=HALF_RANGE_ERROR * max(abs(half), 4.0),
        level_error_k=LEVEL_ERROR_K,
        apart_k=apart,
        stuck=stuck,
    )


def climate(latitude_deg: float) -> tuple[float, float]:
    """Yearly mean [degC] and half the yearly range [K] at a latitude, below 0 in the south, where
    the warmest weeks are the north's coldest."""
    away = abs(latitude_deg)
    half = HALF_RANGE_K_PER_DEGREE * min(away, 65.0)
    level = EQUATOR_C - COOLER_K_PER_DEGREE * away
    return level, half if latitude_deg >= 0 else -SOUTHERN_SHARE * half


def season_of(start_s: Array) -> Array:
    """-1 in the north's coldest weeks, 1 in its warmest, at moments [s since 1970], shape (n,)."""
    return np.asarray(-np.cos(2 * np.pi * (start_s - COLDEST_DAY * 86_400) / YEAR_S))


def _logged(joined: pl.DataFrame) -> tuple[Array, bool]:
    """The logged temperature drawn on within each trip; a sensor that never moves tells none."""
    own = pl.col("ambient_temperature_c").cast(pl.Float64)
    moves = joined.group_by("side", maintain_order=True).agg(
        stuck=(own.max() - own.min() < STUCK_RANGE_K)
        & (pl.col("local_day").filter(own.is_not_null()).n_unique() >= STUCK_DAYS)
    )
    stuck = moves.filter("stuck")["side"]
    filled = own.forward_fill().backward_fill().over("trip") if _holed(joined) else own
    kept = joined.select(pl.when(~pl.col("side").is_in(stuck.implode())).then(filled))
    return kept.to_series().to_numpy(), len(stuck) > 0


def _holed(joined: pl.DataFrame) -> bool:
    return joined["ambient_temperature_c"].null_count() > 0


def _with_cold_starts(joined: pl.DataFrame, celsius: Array, error: float) -> tuple[Array, float]:
    """Days without any temperature take that of an engine that stood for a night or so before:
    its coolant's or that of the air it draws first, whichever is the colder."""
    of_engine = pl.min_horizontal("coolant_temperature_c", "intake_air_temperature_c")
    steps = joined.select("side", "local_day", "trip", "start_s", "duration_s", cold=of_engine)
    if np.isfinite(celsius).all() or steps["cold"].null_count() == joined.height:
        return celsius, error
    first = (
        steps.group_by("side", "local_day", "trip", maintain_order=True)
        .agg(
            pl.col("cold").first(),
            pl.col("start_s").first(),
            pl.col("duration_s").first().alias("first_s"),
            (pl.col("start_s") + pl.col("duration_s")).last().alias("end_s"),
        )
        .with_columns(stood=pl.col("start_s") - pl.col("end_s").shift(1, fill_value=0.0))
        .filter(
            (pl.col("stood") >= NIGHT_S)
            & (pl.col("first_s") <= AT_ONCE_S)
            & (pl.col("cold") < COLD_COOLANT_C)
        )
        .group_by("side", "local_day", maintain_order=True)
        .agg(pl.col("cold").min())
    )
    told = (
        joined.select("side", "local_day")
        .join(first, on=["side", "local_day"], how="left", maintain_order="left")["cold"]
        .cast(pl.Float64)
        .to_numpy()
    )
    taken = ~np.isfinite(celsius) & np.isfinite(told)
    if taken.any():
        error = math.hypot(error, COLD_START_K)
    return np.where(taken, told, celsius), error
