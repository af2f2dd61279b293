"""Values that look fine one by one and are not: null island, position spikes, stuck channels."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import polars as pl

from gearing.logs.archives import LogFileError
from gearing.logs.leaps import leaps
from gearing.logs.ledger import Ledger
from gearing.logs.positions import POSITION
from gearing.messages import Message, message

DEGREE_M = 111_320.0  # of latitude, near enough to tell a spike
NULL_ISLAND_DEG = 0.01
MAX_SPEED_MPS = 90.0  # between two fixes
SPIKE_M = 200.0  # a jump shorter than this is noise, not a spike
MAX_SPIKES, MIN_SPIKES = 0.2, 20  # of the fixes; more are another vehicle's, row by row
FROZEN_MPS = 3.0
FROZEN_S = 5.0
MAX_FROZEN = 0.2  # of the moving rows; more is the recorder's habit
STUCK_S = 60.0
STUCK_ROWS = 20
LEVEL_M = 5000.0  # of road, over which no receiver's altitude stays the same to the last digit
_COUNTS = ("fuel_used_l", "indicated_distance_m")
MIN_CHANGES, MAX_FALLS = 20, 0.2  # of a count, and the share of them that may fall: set back
MAX_STEP_S = 60.0  # between rows, beyond which nothing is known of the way
# What must have moved meanwhile, and by how much, to call a channel stuck
_MOVES = {"gps_speed_mps": 5.0, "indicated_speed_mps": 5.0, "engine_speed_rpm": 400.0}
_MAY_STICK = (
    "indicated_speed_mps",
    "gps_speed_mps",
    "engine_speed_rpm",
    "output_shaft_rpm",
    "fuel_rate_lph",
    "mass_air_flow_gps",
)
_OF_WHEELS = ("indicated_speed_mps", "output_shaft_rpm")
TURNING_RPM = 200.0
_ZERO_IS_TRUE = ("fuel_rate_lph",)  # overrun burns nothing, down a whole mountain
# Speeds: where the road goes by as steadily, an engine that moves has only changed gear
_OF_THE_ROAD = ("indicated_speed_mps", "gps_speed_mps", "output_shaft_rpm")
STEADY_MPS = 2.5  # whole units, a receiver's noise and its lag at both ends of a run
STEADY_PARTS = 6  # of a run, to see from positions whether its speed held

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Run = dict[str, Floats]  # channels over a stretch of rows, NaN where one has no value


def check_samples(samples: pl.DataFrame, headings: dict[str, str], ledger: Ledger) -> pl.DataFrame:
    """Set aside what cannot be; `headings` gives each channel's heading for the ledger."""
    if "latitude_deg" in samples.columns or "longitude_deg" in samples.columns:
        samples = _positions(samples, headings, ledger)
        samples = _frozen_fix(samples, headings, ledger)
    samples = _falling_counts(samples, headings, ledger)
    samples = _level_altitude(samples, headings, ledger)
    for name, mask in leaps(samples).items():
        samples = _without(samples, mask, (name,), message("leap"), headings, ledger)
    return _stuck(samples, headings, ledger)


def _falling_counts(
    samples: pl.DataFrame, headings: dict[str, str], ledger: Ledger
) -> pl.DataFrame:
    """Counts that fall as no count does: what was burnt or driven since the row before."""
    for name in (one for one in _COUNTS if one in samples.columns):
        change = np.diff(_given(samples.get_column(name).to_numpy()))
        falls, rises = int((change < 0).sum()), int((change > 0).sum())
        if falls + rises >= MIN_CHANGES and falls > MAX_FALLS * (falls + rises):
            given = samples.get_column(name).is_not_null()
            samples = _without(samples, given, (name,), message("no-count"), headings, ledger)
    return samples


def _level_altitude(
    samples: pl.DataFrame, headings: dict[str, str], ledger: Ledger
) -> pl.DataFrame:
    """Altitude that stays the same to the last digit over kilometres, which a receiver's own noise
    does not let it: a zero, or the last fix, written on."""
    speed = next((n for n in ("gps_speed_mps", "indicated_speed_mps") if n in samples.columns), "")
    if "altitude_m" not in samples.columns or not speed:
        return samples
    index, runs = _long_runs(samples["altitude_m"].to_numpy())
    if not runs:
        return samples
    time_us = samples["time"].cast(pl.Int64).to_numpy()
    speed_mps = np.nan_to_num(samples[speed].to_numpy())
    found = np.zeros(samples.height, np.bool_)
    for begin, end in runs:
        first, last = index[begin], index[end - 1] + 1
        step_s = np.clip(np.diff(time_us[first:last]) / 1e6, 0.0, MAX_STEP_S)
        if speed_mps[first + 1 : last] @ step_s > LEVEL_M:
            found[index[begin:end]] = True
    if not found.any():
        return samples
    return _without(samples, pl.Series(found), ("altitude_m",), message("stuck"), headings, ledger)


def _long_runs(values: Floats) -> tuple[Ints, list[tuple[int, int]]]:
    """The rows that have a value, and among these the runs of `STUCK_ROWS` and more of one value:
    the first, and the one behind the last."""
    known = ~np.isnan(values)
    given = values if known.all() else values[known]
    edges = np.ones(len(given) + 1, np.bool_)
    np.not_equal(given[1:], given[:-1], out=edges[1:-1])
    bounds = np.flatnonzero(edges)
    long = np.flatnonzero(np.diff(bounds) >= STUCK_ROWS)
    if len(long) == 0:
        return long, []
    runs = zip(bounds[long].tolist(), bounds[long + 1].tolist(), strict=True)
    return np.flatnonzero(known), list(runs)


def _positions(samples: pl.DataFrame, headings: dict[str, str], ledger: Ledger) -> pl.DataFrame:
    names = POSITION
    for here, other in (names, names[::-1]):
        if here in samples.columns:
            if other in samples.columns and not samples[other].null_count():
                continue
            lonely = samples[here].is_not_null()
            if other in samples.columns:
                lonely &= samples[other].is_null()
            samples = _without(samples, lonely, (here,), message("half-position"), headings, ledger)
    if not all(name in samples.columns for name in names):
        return samples
    if _far_from_zero(samples, names):
        return _without_spikes(samples, names, headings, ledger)
    zero = (samples[names[0]].abs() < NULL_ISLAND_DEG) & (samples[names[1]].abs() < NULL_ISLAND_DEG)
    samples = _without(samples, zero, names, message("null-island"), headings, ledger)
    if "gps_speed_mps" in samples.columns and zero.any():
        # no fix, no speed: the zero is no standing vehicle, unless its own speed is zero as well
        blind = zero & (samples["gps_speed_mps"] == 0)
        if "indicated_speed_mps" in samples.columns:
            blind &= (samples["indicated_speed_mps"] != 0).fill_null(True)
        samples = _without(
            samples, blind, ("gps_speed_mps",), message("null-island"), headings, ledger
        )
    return _without_spikes(samples, names, headings, ledger)


def _far_from_zero(samples: pl.DataFrame, names: tuple[str, ...]) -> bool:
    for name in names:
        low, high = samples[name].min(), samples[name].max()
        if isinstance(low, float) and isinstance(high, float) and (low > 1 or high < -1):
            return True
    return False


def _without_spikes(
    samples: pl.DataFrame, names: tuple[str, ...], headings: dict[str, str], ledger: Ledger
) -> pl.DataFrame:
    for turn in range(3):  # a spike of several rows goes from its edges inward
        found = _spikes(samples)
        if not found.any():
            break
        if turn == 0 and found.sum() > max(MAX_SPIKES * samples[names[0]].count(), MIN_SPIKES):
            raise LogFileError(message("two-tracks"))
        samples = _without(samples, found, names, message("position-spike"), headings, ledger)
    return samples


def _without(
    samples: pl.DataFrame,
    mask: pl.Series,
    names: tuple[str, ...],
    told: Message,
    headings: dict[str, str],
    ledger: Ledger,
) -> pl.DataFrame:
    mask = mask.fill_null(False)
    if not mask.any():
        return samples
    lines = samples["line"].filter(mask).to_numpy()
    for name in names:
        first = samples[name].filter(mask).item(0)
        ledger.set_aside_values(told, headings.get(name, name), lines, f"{first:.6g}")
    return samples.with_columns(pl.when(~mask).then(pl.col(name)).alias(name) for name in names)


def _frozen_fix(samples: pl.DataFrame, headings: dict[str, str], ledger: Ledger) -> pl.DataFrame:
    """A receiver that lost its fix and writes the last one on: the same place, at a speed that
    would have left it. One that holds each fix for some rows is left alone."""
    names = (*POSITION, "gps_speed_mps")
    if not all(name in samples.columns for name in names):
        return samples
    moving = samples["gps_speed_mps"].to_numpy() > FROZEN_MPS
    same = moving.copy()
    same[:1] = False
    for name in names:
        values = samples[name].to_numpy()
        same[1:] &= values[1:] == values[:-1]
    if not same.any() or np.count_nonzero(same) > MAX_FROZEN * np.count_nonzero(moving):
        return samples
    seconds = samples["time"].cast(pl.Int64).to_numpy() / 1e6
    edges = np.flatnonzero(np.diff(same.astype(np.int8), prepend=0, append=0))
    found = np.zeros(samples.height, np.bool_)
    for begin, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if seconds[end - 1] - seconds[begin - 1] >= FROZEN_S:
            found[begin:end] = True
    return _without(samples, pl.Series(found), names, message("stuck"), headings, ledger)


def _largest_step(angle: np.ndarray) -> float:
    step = np.diff(angle)
    return float(max(step.max(), -step.min()))


def _spikes(samples: pl.DataFrame) -> pl.Series:
    """Fixes far from both neighbours while the neighbours are near each other."""
    found = np.zeros(samples.height, np.bool_)
    lat, lon = (_given(samples.get_column(name).to_numpy()) for name in POSITION)
    if len(lat) < 3:
        return pl.Series(found)
    if max(_largest_step(lat), _largest_step(lon)) * DEGREE_M * 1.5 < SPIKE_M:
        return pl.Series(found)
    index = np.flatnonzero(samples["latitude_deg"].is_not_null().to_numpy())
    seconds = samples["time"].cast(pl.Int64).to_numpy()[index] / 1e6

    def gap(k: int) -> tuple[np.ndarray, np.ndarray]:
        north = lat[k:] - lat[:-k]
        east = (lon[k:] - lon[:-k]) * np.cos(np.radians(lat[k:]))
        return np.hypot(north, east) * DEGREE_M, np.maximum(seconds[k:] - seconds[:-k], 0.1)

    near, near_s = gap(1)
    far, far_s = gap(2)
    jump = (near > SPIKE_M) & (near / near_s > MAX_SPEED_MPS)
    middle = jump[:-1] & jump[1:] & (far / far_s < MAX_SPEED_MPS)
    spike = np.zeros(len(index), np.bool_)
    spike[1:-1] = middle
    # the first and last fix have one neighbour only: the one after next judges
    spike[0] = jump[0] and not jump[1]
    spike[-1] = jump[-1] and not jump[-2]
    # two jumps away and back with rows between: the shorter side is the spike
    found[index[spike]] = True
    return pl.Series(found)


def _stuck(samples: pl.DataFrame, headings: dict[str, str], ledger: Ledger) -> pl.DataFrame:
    looked_at = [n for n in (*_MAY_STICK, *POSITION) if n in samples.columns]
    channels: Run = {name: samples.get_column(name).to_numpy() for name in looked_at}
    channels["time"] = samples["time"].cast(pl.Int64).to_numpy() / 1e6
    for name in _MAY_STICK:
        others = [o for o in _MOVES if o != name and o in channels]
        if name not in channels or not others:
            continue
        index, runs = _long_runs(channels[name])
        stuck = np.zeros(samples.height, np.bool_)
        for first, behind in runs:
            begin, end = index[first], index[behind - 1] + 1
            run = {one: values[begin:end] for one, values in channels.items()}
            if run["time"][-1] - run["time"][0] >= STUCK_S and _others_moved(run, name, others):
                # the first of the run was true once
                stuck[index[first + 1 : behind]] = True
        if name in _ZERO_IS_TRUE:
            stuck &= channels[name] != 0.0
        if stuck.any():
            mask = pl.Series(stuck)
            samples = _without(samples, mask, (name,), message("stuck"), headings, ledger)
            channels[name] = samples[name].to_numpy()
    return samples


def _given(values: Floats) -> Floats:
    known = ~np.isnan(values)
    return values if known.all() else values[known]


def _others_moved(run: Run, name: str, others: list[str]) -> bool:
    """Another channel varied over the run by more than steady driving does."""
    value = float(run[name][0])
    if value == 0.0 and name in _OF_WHEELS and _engine_off(run):
        return False  # carried, as on a ferry: the wheels do stand
    for other in others:
        if value == 0.0 and other == "engine_speed_rpm":
            continue  # standing still with the engine revving is no fault
        moved = _given(run[other])
        if len(moved) < STUCK_ROWS // 2 or np.ptp(moved) <= _MOVES[other]:
            continue
        low, high = np.quantile(moved, (0.02, 0.98), method="nearest")
        if high - low <= _MOVES[other]:
            continue
        return not (other == "engine_speed_rpm" and _road_agrees(run, name, others))
    return False


def _engine_off(run: Run) -> bool:
    turning = _given(run.get("engine_speed_rpm", np.zeros(0)))
    return len(turning) > 0 and bool(turning.max() < TURNING_RPM)


def _road_agrees(run: Run, name: str, others: list[str]) -> bool:
    """A speed that held over the run held by another speed, or by the positions, as well."""
    if name not in _OF_THE_ROAD:
        return False
    for other in others:
        speed = _given(run[other])
        if other == "engine_speed_rpm" or len(speed) < STUCK_ROWS // 2:
            continue
        most = np.quantile(speed, (0.05, 0.5, 0.95), method="nearest")
        if np.ptp(most) > 0:  # else it may be frozen itself
            return _held(most, name, float(run[name][0]))
    if not all(channel in run for channel in POSITION):
        return False
    lat, lon, seconds = (run[channel] for channel in (*POSITION, "time"))
    known = ~(np.isnan(lat) | np.isnan(lon))
    lat, lon, seconds = lat[known], lon[known], seconds[known]
    if len(lat) < STUCK_ROWS // 2:
        return False
    way_m = np.hypot(np.diff(lat), np.diff(lon) * np.cos(np.radians(lat[0]))) * DEGREE_M
    way_m = np.concatenate(([0.0], np.cumsum(way_m)))
    at = np.linspace(seconds[0], seconds[-1], STEADY_PARTS + 1)
    return _held(np.diff(np.interp(at, seconds, way_m)) / np.diff(at), name, float(run[name][0]))


def _held(speed_mps: np.ndarray, name: str, value: float) -> bool:
    if np.ptp(speed_mps) > STEADY_MPS:
        return False
    of_wheels = name == "output_shaft_rpm"  # turns, not to be compared with a speed
    return of_wheels or bool(abs(np.median(speed_mps) - value) <= _MOVES["gps_speed_mps"])
