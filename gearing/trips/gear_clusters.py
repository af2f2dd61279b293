"""Clusters of the log ratio of engine revolutions to true distance, one a gear held.

With the converter locked and no gear change under way the engine turns exp(log_ratio) times a
metre, log_ratio = ln(gear ratio) + log_axle_turns, log_axle_turns = ln(axle ratio over rolling
circumference). All clusters move together when tires or axle change; log_axle_turns is what a
tire change shows. The output shaft, where logged, makes one cluster, free of gears.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from gearing.statistics.arrays import Array, Index, Mask
from gearing.trips.ticks import Ticks

BIN = 0.002
MIN_LOG, MAX_LOG = np.log(0.1), np.log(30.0)
BINS = int((MAX_LOG - MIN_LOG) / BIN)
SMOOTHING_BINS = 1.5
CLUSTER_HALF_WIDTH = 0.008  # rows this near a cluster's middle (0.8 %) are that gear's
MIN_CLUSTER_GAP = 0.03
MIN_CONTRAST = 2.0  # density in a cluster over that beside it
MIN_SHARE = 0.01
BLOCK_S = 300.0
MIN_MPS = 4.0
MAX_MPS2 = 0.8
STEADY = 0.012  # change of the log ratio from tick to tick while a gear holds
# what one cluster's middle is trusted to at best, as a fraction: a receiver's speed scale
FLOOR = 1e-4

CLUSTER_SCHEMA = {
    "source": pl.String, "log_ratio": pl.Float64, "error": pl.Float64, "distance_m": pl.Float64,
    "time_s": pl.Float64, "force": pl.Float64, "force_square": pl.Float64,
    "force_product": pl.Float64,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class GearClusters:
    """What one trip shows of gearing.

    `clusters` has a row each: `source` ("engine", "shaft", "geared": engine over the reported
    gear ratio), `log_ratio` (ln of revolutions per m), `error` (standard error), `distance_m`,
    `time_s`, and for wheel slip `force` (specific driving force without acceleration, m/s2) and,
    of the part that grade gives, `force_square` (variance), `force_product` (covariance with the
    log ratio); acceleration stays out, for a tenth of a second between two records looks alike.
    `histogram`: `bin` (of width BIN from MIN_LOG), `time_s`, `distance_m` of all driven rows
    with engine speed, steady or not.
    """

    clusters: pl.DataFrame
    histogram: pl.DataFrame

    def of_engine(self) -> Array:
        """Log ratios of the engine's clusters, in their order; shape (clusters,)."""
        of_engine = np.array([one == "engine" for one in self.clusters["source"]], dtype=bool)
        return np.asarray(self.clusters["log_ratio"].to_numpy()[of_engine])


def find_gear_clusters(ticks: Ticks) -> GearClusters:
    """The gear clusters of one trip's motion; empty frames where there is nothing to see."""
    ratios = _log_ratios(ticks)
    if not ratios:
        return GearClusters(pl.DataFrame(schema=CLUSTER_SCHEMA), _histogram(None, ticks))
    climbing = 9.81 * np.nan_to_num(ticks["grade"])
    force = climbing + 0.07 + 2.5e-4 * ticks["true_speed_mps"] ** 2
    distance = ticks["true_step_m"]
    time_s = ticks.time_s
    clusters: list[tuple[object, ...]] = []
    for source, ratio in ratios.items():
        steady = np.flatnonzero(_steady(ticks, ratio))
        clusters += _clusters(
            source,
            ratio[steady],
            distance[steady],
            time_s[steady],
            np.stack((force[steady], climbing[steady])),
            ticks.interval_s,
        )
    return GearClusters(
        pl.DataFrame(clusters, schema=CLUSTER_SCHEMA, orient="row"),
        _histogram(ratios.get("engine"), ticks),
    )


def log_ratio_of(ticks: Ticks, channel: str) -> Array:
    """ln of revolutions of `channel` (rpm) per metre of true road, NaN while slow or bridged."""
    speed = ticks["true_speed_mps"]
    turns = ticks[channel] / 60
    good = (speed > MIN_MPS) & (turns > 1.0) & ~ticks.bridged
    return np.log(np.where(good, turns, np.nan) / np.where(good, speed, 1.0))


def _log_ratios(ticks: Ticks) -> dict[str, Array]:
    found: dict[str, Array] = {}
    if "engine_speed_rpm" in ticks:
        found["engine"] = log_ratio_of(ticks, "engine_speed_rpm")
        if "gear_ratio" in ticks:
            ratio = ticks["gear_ratio"]
            found["geared"] = found["engine"] - np.log(np.where(ratio > 0.1, ratio, np.nan))
    if "output_shaft_rpm" in ticks:
        found["shaft"] = log_ratio_of(ticks, "output_shaft_rpm")
    return found


def _steady(ticks: Ticks, ratio: Array) -> Mask:
    """Rows in which a gear holds: ratio unchanging, no shift, converter not told unlocked."""
    change = np.abs(np.diff(ratio))
    calm = np.zeros(len(ratio), dtype=bool)
    calm[1:-1] = (change[1:] < STEADY) & (change[:-1] < STEADY)
    calm &= np.abs(ticks["acceleration_mps2"]) < MAX_MPS2
    if "hdop" in ticks:
        calm &= ~(ticks["hdop"] > 5.0)
    for name, bad in (("lockup_engaged", 0.0), ("shift_in_process", 1.0)):
        if name in ticks:
            calm &= ticks[name] != bad
    return calm


def _clusters(
    source: str, ratio: Array, distance: Array, time_s: Array, force: Array, interval_s: float
) -> list[tuple[object, ...]]:
    if len(ratio) < 20:
        return []
    total = float(distance.sum())
    found: list[tuple[object, ...]] = []
    for rough in _peaks(ratio, distance):
        near = _settle(ratio, distance, rough)
        if near is None:
            continue
        middle, rows = near
        own = distance[rows]
        way = float(own.sum())
        if way < max(MIN_SHARE * total, 200.0) or not _stands_out(ratio, distance, middle):
            continue
        mean_force, mean_climb = np.average(force[:, rows], weights=own, axis=1)
        off, beside = force[1, rows] - mean_climb, ratio[rows] - middle
        found.append((
            source, middle, _block_error(beside, own, time_s[rows]), way,
            float(len(rows)) * interval_s, float(mean_force),
            float(np.average(off**2, weights=own)), float(np.average(off * beside, weights=own)),
        ))  # fmt: skip
    return found


def _stands_out(ratio: Array, distance: Array, middle: float) -> bool:
    """Whether road gathers around a ratio more than beside it: a belt drive's smear does not."""
    off = np.abs(ratio - middle)
    inside = float(distance[off < CLUSTER_HALF_WIDTH].sum())
    ring = (off >= CLUSTER_HALF_WIDTH) & (off < 3 * CLUSTER_HALF_WIDTH)
    return inside > MIN_CONTRAST * 0.5 * float(distance[ring].sum())


def _peaks(ratio: Array, distance: Array) -> list[float]:
    """Rough middles of the clusters, the strongest first."""
    index = ((ratio - MIN_LOG) / BIN).astype(np.int64)
    inside = (index >= 0) & (index < BINS)
    counts = np.bincount(index[inside], weights=distance[inside], minlength=BINS)
    support = 6
    kernel = np.exp(-0.5 * (np.arange(-support, support + 1) / SMOOTHING_BINS) ** 2)
    smooth = np.convolve(counts, kernel, mode="same")
    floor = max(MIN_SHARE * float(distance.sum()), 1.0)
    tops = np.flatnonzero(
        (smooth[1:-1] > smooth[:-2]) & (smooth[1:-1] >= smooth[2:]) & (smooth[1:-1] > floor)
    )
    kept: list[int] = []
    for top in sorted((tops + 1).tolist(), key=lambda i: -smooth[i]):
        if all(abs(top - other) * BIN > MIN_CLUSTER_GAP for other in kept):
            kept.append(top)
    return [float(MIN_LOG + (top + 0.5) * BIN) for top in kept]


def _settle(ratio: Array, distance: Array, middle: float) -> tuple[float, Index] | None:
    """The cluster's middle as the distance-weighted mean of what lies near it, repeated, and which
    rows those are."""
    rows = np.flatnonzero(np.abs(ratio - middle) < CLUSTER_HALF_WIDTH)
    for _ in range(8):
        if len(rows) < 10:
            return None
        moved = float(np.average(ratio[rows], weights=distance[rows]))
        rows = np.flatnonzero(np.abs(ratio - moved) < CLUSTER_HALF_WIDTH)
        if abs(moved - middle) < 1e-6:
            break
        middle = moved
    return (middle, rows) if len(rows) >= 10 else None


def _block_error(residual: Array, distance: Array, time_s: Array) -> float:
    """Standard error of a distance-weighted mean, rows of five minutes taken as one."""
    block = ((time_s - time_s[0]) / BLOCK_S).astype(np.int64)
    weight = np.bincount(block, weights=distance)
    moment = np.bincount(block, weights=distance * residual)
    count = np.count_nonzero(weight)
    if count < 3:
        # too short for blocks: rows, with the persistence of a minute
        rough = np.sqrt(np.average(residual**2, weights=distance))
        return max(float(rough / np.sqrt(max(len(residual) / 60.0, 1.0))), FLOOR)
    spread = np.sqrt(float((moment**2).sum()) * count / (count - 1)) / float(weight.sum())
    return max(float(spread), FLOOR)


def _histogram(ratio: Array | None, ticks: Ticks) -> pl.DataFrame:
    schema = {"bin": pl.Int32, "time_s": pl.Float64, "distance_m": pl.Float64}
    if ratio is None:
        return pl.DataFrame(schema=schema)
    known = np.isfinite(ratio)
    index = np.clip((ratio[known] - MIN_LOG) / BIN, 0, BINS - 1).astype(np.int64)
    time_s = np.bincount(index, minlength=BINS) * ticks.interval_s
    way = np.bincount(index, weights=ticks["true_step_m"][known], minlength=BINS)
    used = np.flatnonzero(time_s)
    return pl.DataFrame(
        {"bin": used, "time_s": time_s[used], "distance_m": way[used]}, schema=schema
    )
