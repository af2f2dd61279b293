"""Each gear: engine turns a km before and after, and the share of time and distance in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from gearing.findings.comb_fit import CombFit
from gearing.findings.pooling import PooledLog
from gearing.findings.sides import BySide, by_side
from gearing.findings.trip_figures import TripFigures
from gearing.study.model import Study
from gearing.trips.comb import BIN, LOWEST

Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

REACH = 0.016
# shares seen below this are chance meetings, not a gear
LEAST_SHARE = 0.002


@dataclass(frozen=True, slots=True)
class GearUse:
    """Engine turns a true km, and shares of the time and distance driven with engine speed."""

    rev_per_km: float | None
    time_share: float | None
    distance_share: float | None


@dataclass(frozen=True, slots=True)
class GearRow:
    """`ratio` as declared, None where the gear was found and numbered from the lowest."""

    gear: int
    ratio: float | None
    before: GearUse
    after: GearUse
    labelled: bool


def gear_rows(
    study: Study, figures: TripFigures, pooled: BySide[PooledLog | None]
) -> tuple[GearRow, ...]:
    """One row a gear, lowest first; empty where no engine speed was seen with true speed."""
    comb = figures.comb
    teeth = _teeth(study, comb)
    if teeth is None:
        return ()
    use = by_side(lambda side: _use(figures, side, teeth, pooled.of(side)))
    labelled = bool(study.vehicle.gear_ratios) and comb.ratios_fit is not False
    return tuple(
        GearRow(
            i + 1,
            study.vehicle.gear_ratios[i] if labelled else None,
            use.before[i],
            use.after[i],
            labelled,
        )
        for i in range(len(teeth))
    )


def no_gear_share(gears: tuple[GearRow, ...], side: str) -> float | None:
    """Share of time on the move in which no gear holds: neutral, shifting, converter unlocked."""
    shares = [(row.before if side == "before" else row.after).time_share for row in gears]
    known = [share for share in shares if share is not None]
    return max(0.0, 1 - sum(known)) if known else None


def _teeth(study: Study, comb: CombFit) -> Array | None:
    """Log of each gear's turns over the shift's."""
    if comb.source is None:
        return None
    if comb.source == "engine":
        return np.array(comb.teeth)
    if not study.vehicle.gear_ratios:
        return None
    return np.asarray(np.log(np.array(study.vehicle.gear_ratios)))


def _use(figures: TripFigures, side: str, teeth: Array, pooled: PooledLog | None) -> list[GearUse]:
    if pooled is None:
        return [GearUse(None, None, None)] * len(teeth)
    rows = figures.trips.filter((pl.col("side") == side) & pl.col("used"))
    time_s, way = np.zeros(len(teeth)), np.zeros(len(teeth))
    all_time, all_way = 0.0, 0.0
    shifts = dict(rows.select("trip", "shift").drop_nulls().iter_rows())
    for name, shift in shifts.items():
        heap = figures.histograms[name]
        place = LOWEST + (heap["bin"].to_numpy() + 0.5) * BIN - shift
        near = np.abs(place[:, None] - teeth[None, :])
        tooth = near.argmin(axis=1)
        on = near[np.arange(len(place)), tooth] < REACH
        seconds, metres = heap["time_s"].to_numpy(), heap["distance_m"].to_numpy()
        time_s += np.bincount(tooth[on], weights=seconds[on], minlength=len(teeth))
        way += np.bincount(tooth[on], weights=metres[on], minlength=len(teeth))
        all_time, all_way = all_time + float(seconds.sum()), all_way + float(metres.sum())
    turns = 1000 * np.exp(pooled.value + teeth)
    return [
        GearUse(
            float(turns[i]),
            float(time_s[i] / all_time) if all_time else None,
            float(way[i] / all_way) if all_way else None,
        )
        for i in range(len(teeth))
    ]
