"""All trips' combs laid over one another: one shift a trip, and where each gear's tooth stands.

With declared gear ratios the teeth are known but for the rounding of the ratios, which at two
decimals is up to 0.8 % and would pass for a tire change where gears are used differently
before and after; so each gear has a small offset of its own, found from all trips together.
Without them the teeth are what the trips share, numbered from the lowest gear.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from gearing.study.model import Study
from gearing.trips.comb import fit_shift
from gearing.trips.record import TripRecord, expected_shift

Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

SOURCES = ("shaft", "geared", "engine")
EXPLAINED = 0.5
# of the road driven with engine speed, what must be on teeth at all
LEAST_HELD, LEAST_HELD_IN_TRIP = 0.1, 0.05
NO_GEAR_HELD = (
    "engine speed keeps no fixed ratio to road speed on a tenth of the road: a belt drive, a "
    "converter that hardly locks, or too few rows a minute; log output-shaft speed"
)
SAME_TOOTH = 0.02
FAR = 0.006
# two trips' teeth are never compared better than this
FLOOR = 1.5e-4
LARGEST_CREEP = 0.03  # per m/s2


@dataclass(frozen=True, slots=True)
class Shift:
    """Log turns a metre of one trip, relative to the teeth; `distance_m` it rests on."""

    value: float
    error: float
    distance_m: float
    force: float


@dataclass(frozen=True, slots=True)
class CombFit:
    """`source`: "shaft", "geared", "engine" or None. `teeth`: log place of each gear relative to
    the shift, lowest gear first; `ratios` the declared ones, else None. `creep` per m/s2 of
    specific driving force. `explained` the share of distance on some tooth.
    `gear_moves`: by how much each tooth (from 0) moved from before to after against the trips'
    common shift, in logs. `why` says what is missing where `source` is None."""

    source: str | None
    shifts: dict[str, Shift] = field(default_factory=dict)
    teeth: tuple[float, ...] = ()
    ratios: tuple[float, ...] | None = None
    creep: float = 0.0
    explained: float = 0.0
    ratios_fit: bool | None = None
    gear_moves: dict[int, float] = field(default_factory=dict)
    why: str | None = None

    @property
    def absolute(self) -> bool:
        """Whether exp(shift) is axle turns a metre, and not relative to teeth found."""
        return self.source in ("shaft", "geared") or bool(self.ratios)


@dataclass(frozen=True, slots=True)
class _Seen:
    name: str
    side: str
    expected: float | None
    driven_m: float  # with engine speed, in gear or not
    place: Array
    error: Array
    distance: Array
    force: Array
    square: Array
    product: Array


def fit_combs(study: Study, records: Sequence[TripRecord]) -> CombFit:
    """The common comb of all trips and each trip's shift; empty where nothing turns."""
    source = _source(records)
    if source is None:
        return CombFit(None)
    seen = [s for r in records if (s := _seen(r, source, study)) is not None]
    if not seen:
        return CombFit(None)
    if source != "engine":
        return _solve(source, seen, np.zeros(1), [0.0] * len(seen), None, None)
    driven = sum(one.driven_m for one in seen)
    if sum(float(one.distance.sum()) for one in seen) < LEAST_HELD * driven:
        return CombFit(None, why=NO_GEAR_HELD)
    seen = [s for s in seen if float(s.distance.sum()) >= LEAST_HELD_IN_TRIP * s.driven_m]
    fit = _declared(study, seen)
    if fit is not None and fit.explained >= EXPLAINED:
        return fit
    return _found(seen, declared=bool(study.vehicle.gear_ratios))


def _source(records: Sequence[TripRecord]) -> str | None:
    counts = Counter(source for r in records for source in set(r.comb.teeth["source"]))
    most = max(counts.values(), default=0)
    return next((s for s in SOURCES if counts[s] and counts[s] >= 0.8 * most), None)


def _seen(record: TripRecord, source: str, study: Study) -> _Seen | None:
    teeth = record.comb.teeth
    # arrays, not frames: of a lifetime's thousands of trips each is small
    here = np.flatnonzero((teeth["source"] == source).to_numpy())
    if len(here) == 0 or not record.has_receiver:
        return None
    if source != "engine":
        here = here[np.argmax(teeth["distance_m"].to_numpy()[here])][None]
    columns = ("place", "error", "distance_m", "force", "force_square", "force_place")
    return _Seen(
        record.name,
        record.side,
        expected_shift(study, record.side),
        float(record.comb.histogram["distance_m"].sum()),
        *(teeth[c].to_numpy()[here] for c in columns),
    )


def _declared(study: Study, seen: list[_Seen]) -> CombFit | None:
    if not study.vehicle.gear_ratios:
        return None
    teeth = np.log(np.array(study.vehicle.gear_ratios))
    shifts: list[float | None] = []
    for one in seen:
        fit = fit_shift(one.place, one.distance, teeth, one.expected)
        shifts.append(fit[0] if fit is not None else None)
    # without a declared axle a trip in one gear fits any tooth: the trips' common answer decides
    if all(one.expected is None for one in seen) and any(s is not None for s in shifts):
        weights = np.array([float(one.distance.sum()) for one in seen])
        known = np.array([s is not None for s in shifts])
        values = np.array([0.0 if s is None else s for s in shifts])
        common = _weighted_median(values[known], weights[known])
        shifts = [
            f[0] if (f := fit_shift(one.place, one.distance, teeth, common)) else None
            for one in seen
        ]
    return _solve("engine", seen, teeth, shifts, study.vehicle.gear_ratios, True)


def _weighted_median(values: Array, weights: Array) -> float:
    order = np.argsort(values)
    total = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(total, 0.5 * total[-1])])


def _found(seen: list[_Seen], *, declared: bool) -> CombFit:
    """Teeth that the trips share, each trip laid onto what was gathered before it."""
    ordered = sorted(range(len(seen)), key=lambda i: -float(seen[i].distance.sum()))
    teeth = seen[ordered[0]].place.copy()
    weight = seen[ordered[0]].distance.copy()
    shifts: list[float | None] = [None] * len(seen)
    for i in ordered:
        one = seen[i]
        fit = _relative_shift(one, teeth, weight)
        if fit is None:
            continue
        shifts[i] = fit
        off = one.place[:, None] - fit - teeth[None, :]
        new = np.abs(off).min(axis=1) > SAME_TOOTH
        nearest = np.abs(off).argmin(axis=1)
        np.add.at(weight, nearest[~new], one.distance[~new])
        teeth = np.concatenate((teeth, one.place[new] - fit))
        weight = np.concatenate((weight, one.distance[new]))
    kept = weight > 0.005 * weight.sum()
    order = np.argsort(-teeth[kept])
    return _solve("engine", seen, teeth[kept][order], shifts, None, False if declared else None)


def _relative_shift(one: _Seen, teeth: Array, weight: Array) -> float | None:
    candidates = (one.place[:, None] - teeth[None, :]).ravel()
    candidates = candidates[np.abs(candidates) < 0.12]
    if len(candidates) == 0:
        return None
    off = one.place[None, :, None] - teeth[None, None, :] - candidates[:, None, None]
    near = np.exp(-0.5 * (off / 0.005) ** 2)
    share = (near * np.sqrt(weight / weight.sum())[None, None, :]).max(axis=2)
    fit = (share @ one.distance) * np.exp(-0.5 * (candidates / 0.06) ** 2)
    best = int(np.argmax(fit))
    return float(candidates[best]) if fit[best] > 0 else None


def _solve(
    source: str,
    seen: list[_Seen],
    teeth: Array,
    shifts: Sequence[float | None],
    ratios: tuple[float, ...] | None,
    ratios_fit: bool | None,
) -> CombFit:
    """Trip shifts and tooth offsets together by alternating weighted means."""
    creep = _creep(seen)
    trip, tooth, value, error, distance, force = _observations(seen, teeth, shifts, creep, source)
    if len(value) == 0:
        return CombFit(None)
    weight = 1 / (error**2 + FLOOR**2 + (0.002 * np.exp(-distance / 5_000)) ** 2)
    offset: Array = np.zeros(len(teeth))
    level: Array = np.zeros(len(seen))
    good = np.ones(len(value), dtype=bool)
    for turn in range(60):
        w = weight * good
        level = _means(trip, w, value - offset[tooth], len(seen))
        fresh = _means(tooth, w, value - level[trip], len(teeth))
        by_tooth = np.bincount(tooth, weights=distance * good, minlength=len(teeth))
        fresh -= float(np.sum(fresh * by_tooth) / max(by_tooth.sum(), 1e-9))
        moved = float(np.abs(fresh - offset).max())
        offset = fresh
        if turn in (8, 20):
            good = np.abs(value - level[trip] - offset[tooth]) < FAR
        if moved < 1e-8 and turn > 20:
            break
    total = sum(float(one.distance.sum()) for one in seen)
    shifts_by_name = _shifts(seen, trip, weight * good, distance, force, level)
    return CombFit(
        source,
        shifts_by_name,
        tuple((teeth + offset).tolist()),
        ratios,
        creep,
        float(distance[good].sum()) / max(total, 1e-9),
        ratios_fit,
        _gear_moves(seen, trip, tooth, weight * good, value - level[trip] - offset[tooth]),
    )


def _gear_moves(
    seen: list[_Seen], trip: np.ndarray, tooth: np.ndarray, weight: Array, rest: Array
) -> dict[int, float]:
    side = np.array([one.side == "after" for one in seen])[trip]
    moves = {}
    for k in np.unique(tooth).tolist():
        rows = [(tooth == k) & (side == after) & (weight > 0) for after in (False, True)]
        if all(np.count_nonzero(r) >= 2 for r in rows):
            means = [float(np.average(rest[r], weights=weight[r])) for r in rows]
            moves[k] = means[1] - means[0]
    return moves


def _means(group: np.ndarray, weight: Array, value: Array, size: int) -> Array:
    total = np.bincount(group, weights=weight, minlength=size)
    sums = np.bincount(group, weights=weight * value, minlength=size)
    return np.where(total > 0, sums / np.maximum(total, 1e-300), 0.0)


def _observations(
    seen: list[_Seen],
    teeth: Array,
    shifts: Sequence[float | None],
    creep: float,
    source: str,
) -> tuple[np.ndarray, np.ndarray, Array, Array, Array, Array]:
    """One entry a tooth seen: trip, tooth, log place less the tooth's, creep taken to the mean."""
    rows = []
    forces = np.concatenate([one.force for one in seen])
    ways = np.concatenate([one.distance for one in seen])
    usual = float(np.average(forces, weights=ways))
    for i, (one, shift) in enumerate(zip(seen, shifts, strict=True)):
        if shift is None:
            continue
        for j in range(len(one.place)):
            off = one.place[j] - shift - teeth
            k = int(np.abs(off).argmin()) if source == "engine" else 0
            if source == "engine" and abs(off[k]) > SAME_TOOTH:
                continue
            value = one.place[j] - teeth[k] - creep * (one.force[j] - usual)
            rows.append((i, k, value, one.error[j], one.distance[j], one.force[j]))
    if not rows:
        empty = np.empty(0)
        return empty.astype(int), empty.astype(int), empty, empty, empty, empty
    columns = list(zip(*rows, strict=True))
    return (
        np.array(columns[0]), np.array(columns[1]),
        np.array(columns[2]), np.array(columns[3]), np.array(columns[4]), np.array(columns[5]),
    )  # fmt: skip


def _shifts(
    seen: list[_Seen], trip: np.ndarray, weight: Array, distance: Array, force: Array, level: Array
) -> dict[str, Shift]:
    total = np.bincount(trip, weights=weight, minlength=len(seen))
    way = np.bincount(trip, weights=distance * (weight > 0), minlength=len(seen))
    pull = _means(trip, weight, force, len(seen))
    return {
        one.name: Shift(
            float(level[i]), float(1 / np.sqrt(total[i])), float(way[i]), float(pull[i])
        )
        for i, one in enumerate(seen)
        if total[i] > 0 and way[i] >= 500
    }


def _creep(seen: list[_Seen]) -> float:
    """Growth of the log ratio with driving force, from within the teeth; 0 where unclear."""
    square = np.array([float((one.distance * one.square).sum()) for one in seen])
    product = np.array([float((one.distance * one.product).sum()) for one in seen])
    if square.sum() <= 0 or len(seen) < 5:
        return 0.0
    slope = float(product.sum() / square.sum())
    spread = product - slope * square
    count = len(seen)
    error = float(np.sqrt((spread**2).sum() * count / (count - 1)) / square.sum())
    return min(slope, LARGEST_CREEP) if slope > 3 * error else 0.0
