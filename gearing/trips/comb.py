"""Engine turns per metre of true road, in logarithms: a comb with one tooth a gear.

With the converter locked and no shift under way the engine turns
exp(tooth) times a metre, tooth = ln(gear ratio) + shift, shift = ln(axle ratio over rolling
circumference). All teeth move together when tires or axle change; the shift is what a tire
change shows. The output shaft, where logged, makes a comb of one tooth, free of gears.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
Mask = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]

BIN = 0.002
LOWEST, HIGHEST = np.log(0.1), np.log(30.0)
BINS = int((HIGHEST - LOWEST) / BIN)
SMOOTHING_BINS = 1.5
TOOTH_REACH = 0.008  # rows this near a tooth (0.8 %) are that gear's
TOOTH_APART = 0.03
STANDS_OUT = 2.0  # density on a tooth over that beside it
LEAST_SHARE = 0.01
BLOCK_S = 300.0
SLOWEST_MPS = 4.0
HARDEST_MPS2 = 0.8
STEADY = 0.012  # change of the log ratio from tick to tick while a gear holds
# what one tooth's place is trusted to at best, as a fraction: a receiver's speed scale
FLOOR = 1e-4

TOOTH_SCHEMA = {
    "source": pl.String, "place": pl.Float64, "error": pl.Float64, "distance_m": pl.Float64,
    "time_s": pl.Float64, "force": pl.Float64, "force_square": pl.Float64,
    "force_place": pl.Float64,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Comb:
    """What one trip shows of gearing.

    `teeth` has a row per tooth: `source` ("engine", "shaft", "geared": engine over the reported
    gear ratio), `place` (log turns per m), `error` (standard error), `distance_m`, `time_s`, and
    means for wheel creep: `force` (specific driving force without acceleration, m/s2) and, of
    the part that grade gives, `force_square` (variance) and `force_place` (covariance with the
    log ratio); acceleration stays out, for a tenth of a second between two records looks alike.
    `histogram`: `bin` (of width BIN from LOWEST), `time_s`, `distance_m` of all driven rows
    with engine speed, steady or not.
    """

    teeth: pl.DataFrame
    histogram: pl.DataFrame


def read_comb(motion: pl.DataFrame) -> Comb:
    """The comb of one trip's motion; empty frames where there is nothing to see."""
    ratios = _log_ratios(motion)
    if not ratios:
        return Comb(pl.DataFrame(schema=TOOTH_SCHEMA), _histogram(None, motion))
    climbing = 9.81 * np.nan_to_num(_numbers(motion, "grade"))
    force = climbing + 0.07 + 2.5e-4 * _numbers(motion, "true_speed_mps") ** 2
    distance = _numbers(motion, "true_step_m")
    time_s = motion["time"].dt.epoch("us").to_numpy() * 1e-6
    teeth = []
    for source, ratio in ratios.items():
        steady = _steady(motion, ratio)
        teeth += _teeth(
            source,
            ratio[steady],
            distance[steady],
            time_s[steady],
            np.stack((force[steady], climbing[steady])),
            float(motion["dt_s"][0]),
        )
    return Comb(
        pl.DataFrame(teeth, schema=TOOTH_SCHEMA, orient="row"),
        _histogram(ratios.get("engine"), motion),
    )


def log_turns(motion: pl.DataFrame, channel: str) -> Array:
    """ln of turns of `channel` (rpm) per metre of true road, NaN while slow or bridged."""
    speed = _numbers(motion, "true_speed_mps")
    turns = _numbers(motion, channel) / 60
    good = (speed > SLOWEST_MPS) & (turns > 1.0) & ~motion["bridged"].to_numpy()
    return np.log(np.where(good, turns, np.nan) / np.where(good, speed, 1.0))


def _numbers(motion: pl.DataFrame, name: str) -> Array:
    if name not in motion.columns:
        return np.full(motion.height, np.nan)
    return motion[name].to_numpy()


def _log_ratios(motion: pl.DataFrame) -> dict[str, Array]:
    found: dict[str, Array] = {}
    if "engine_speed_rpm" in motion.columns:
        found["engine"] = log_turns(motion, "engine_speed_rpm")
        if "gear_ratio" in motion.columns:
            ratio = _numbers(motion, "gear_ratio")
            found["geared"] = found["engine"] - np.log(np.where(ratio > 0.1, ratio, np.nan))
    if "output_shaft_rpm" in motion.columns:
        found["shaft"] = log_turns(motion, "output_shaft_rpm")
    return found


def _steady(motion: pl.DataFrame, ratio: Array) -> Mask:
    """Rows in which a gear holds: ratio unchanging, no shift, converter not told unlocked."""
    change = np.abs(np.diff(ratio))
    calm = np.zeros(len(ratio), dtype=bool)
    calm[1:-1] = (change[1:] < STEADY) & (change[:-1] < STEADY)
    calm &= np.abs(_numbers(motion, "acceleration_mps2")) < HARDEST_MPS2
    if "hdop" in motion.columns:
        calm &= ~(_numbers(motion, "hdop") > 5.0)
    for name, bad in (("lockup_engaged", 0.0), ("shift_in_process", 1.0)):
        if name in motion.columns:
            calm &= _numbers(motion, name) != bad
    return calm


def _teeth(
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
        place, rows = near
        way = float(distance[rows].sum())
        if way < max(LEAST_SHARE * total, 200.0) or not _stands_out(ratio, distance, place):
            continue
        mean_force, mean_climb = np.average(force[:, rows], weights=distance[rows], axis=1)
        off = force[1, rows] - mean_climb
        found.append((
            source, place, _block_error(ratio[rows] - place, distance[rows], time_s[rows]),
            way, float(np.count_nonzero(rows)) * interval_s, float(mean_force),
            float(np.average(off**2, weights=distance[rows])),
            float(np.average(off * (ratio[rows] - place), weights=distance[rows])),
        ))  # fmt: skip
    return found


def _stands_out(ratio: Array, distance: Array, place: float) -> bool:
    """Whether road gathers at a place more than beside it: a belt drive's smear does not."""
    off = np.abs(ratio - place)
    inside = float(distance[off < TOOTH_REACH].sum())
    ring = (off >= TOOTH_REACH) & (off < 3 * TOOTH_REACH)
    return inside > STANDS_OUT * 0.5 * float(distance[ring].sum())


def _peaks(ratio: Array, distance: Array) -> list[float]:
    """Rough places of the comb's teeth, the strongest first."""
    index = ((ratio - LOWEST) / BIN).astype(np.int64)
    inside = (index >= 0) & (index < BINS)
    heap = np.bincount(index[inside], weights=distance[inside], minlength=BINS)
    reach = 6
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / SMOOTHING_BINS) ** 2)
    smooth = np.convolve(heap, kernel, mode="same")
    floor = max(LEAST_SHARE * float(distance.sum()), 1.0)
    tops = np.flatnonzero(
        (smooth[1:-1] > smooth[:-2]) & (smooth[1:-1] >= smooth[2:]) & (smooth[1:-1] > floor)
    )
    kept: list[int] = []
    for top in sorted((tops + 1).tolist(), key=lambda i: -smooth[i]):
        if all(abs(top - other) * BIN > TOOTH_APART for other in kept):
            kept.append(top)
    return [float(LOWEST + (top + 0.5) * BIN) for top in kept]


def _settle(ratio: Array, distance: Array, place: float) -> tuple[float, Mask] | None:
    """The tooth's place as the distance-weighted mean of what lies within reach, repeated."""
    rows = np.abs(ratio - place) < TOOTH_REACH
    for _ in range(8):
        if np.count_nonzero(rows) < 10:
            return None
        moved = float(np.average(ratio[rows], weights=distance[rows]))
        rows = np.abs(ratio - moved) < TOOTH_REACH
        if abs(moved - place) < 1e-6:
            break
        place = moved
    return (place, rows) if np.count_nonzero(rows) >= 10 else None


def _block_error(residual: Array, distance: Array, time_s: Array) -> float:
    """Standard error of a distance-weighted mean, rows of five minutes taken as one."""
    block = ((time_s - time_s[0]) // BLOCK_S).astype(np.int64)
    weight = np.bincount(block, weights=distance)
    moment = np.bincount(block, weights=distance * residual)
    count = np.count_nonzero(weight)
    if count < 3:
        # too short for blocks: rows, with the persistence of a minute
        rough = np.sqrt(np.average(residual**2, weights=distance))
        return max(float(rough / np.sqrt(max(len(residual) / 60.0, 1.0))), FLOOR)
    spread = np.sqrt(float((moment**2).sum()) * count / (count - 1)) / float(weight.sum())
    return max(float(spread), FLOOR)


def _histogram(ratio: Array | None, motion: pl.DataFrame) -> pl.DataFrame:
    schema = {"bin": pl.Int32, "time_s": pl.Float64, "distance_m": pl.Float64}
    if ratio is None:
        return pl.DataFrame(schema=schema)
    known = np.isfinite(ratio)
    index = np.clip((ratio[known] - LOWEST) / BIN, 0, BINS - 1).astype(np.int64)
    time_s = np.bincount(index, weights=_numbers(motion, "dt_s")[known], minlength=BINS)
    way = np.bincount(index, weights=_numbers(motion, "true_step_m")[known], minlength=BINS)
    used = np.flatnonzero(time_s)
    return pl.DataFrame(
        {"bin": used, "time_s": time_s[used], "distance_m": way[used]}, schema=schema
    )


def fit_shift(
    places: Array, distance: Array, teeth: Array, expected: float | None
) -> tuple[float, float] | None:
    """The shift that lays found `places` onto known `teeth` (ln of gear ratios), and the share
    of distance it explains; None where nothing fits.

    `expected` is where the shift should be from declared figures; a tire change moves it by a
    few percent, a wrong gear by 14 % or more, so the search keeps to +-12 % of it.
    """
    if len(places) == 0 or len(teeth) == 0:
        return None
    candidates = (places[:, None] - teeth[None, :]).ravel()
    if expected is not None:
        candidates = candidates[np.abs(candidates - expected) < 0.12]
    if len(candidates) == 0:
        return None
    off = places[None, :, None] - teeth[None, None, :] - candidates[:, None, None]
    fit = np.exp(-0.5 * (np.abs(off).min(axis=2) / 0.006) ** 2) @ distance
    if expected is not None:
        fit = fit * np.exp(-0.5 * ((candidates - expected) / 0.06) ** 2)
    best = float(candidates[int(np.argmax(fit))])
    nearest = (places[:, None] - teeth[None, :] - best)[
        np.arange(len(places)), np.abs(places[:, None] - teeth[None, :] - best).argmin(axis=1)
    ]
    matched = np.abs(nearest) < 0.02
    if not matched.any():
        return None
    shift = best + float(np.average(nearest[matched], weights=distance[matched]))
    return shift, float(distance[matched].sum() / distance.sum())
