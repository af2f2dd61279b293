"""The gears of one period: clusters of all its trips laid over one another.

Trips of a period share their tires, so that their clusters stand at the same log ratios but for
what a day does to a tire. A trip that carries other tires (filed wrongly, swapped in between)
stands elsewhere as a whole; over *indicated* speed its gears stand where the others' do for as
long as the computer counts at the driveline and keeps its setting. Both are heard when trips are
laid over one another, so that a neighbouring overdrive is not taken for other tires.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gearing.statistics.arrays import Array, Index
from gearing.statistics.robust import weighted_median
from gearing.trips.record import TripRecord

SOURCES = ("shaft", "geared", "engine")
SAME_GEAR = 0.02  # clusters nearer than this are one gear
NEAR = 0.006  # and used in the fit while nearer than this
# two trips' clusters are never compared better than this
FLOOR = 1.5e-4
MAX_SLIP = 0.03  # per m/s2
# spread of trips on the same tires; of whatever else may differ between two trips
SAME_TIRES, ANYTHING = 0.004, 0.07
UNMATCHED = 0.02  # what a cluster that meets no gear adds to a fit, of one that does
MIN_MET = 0.05  # of a trip that shares a gear with others, the least of the same


@dataclass(frozen=True, slots=True)
class TripClusters:
    """One trip's clusters: `log_ratio` (ln revolutions per m), `error`, `distance_m` (each of
    shape (clusters,)), driving `force` (m/s2) in them with its variance `square` and covariance
    `product` with the log ratio; `log_factor` of the odometer, None where not known."""

    name: str
    driven_m: float  # with engine speed, in gear or not
    log_ratio: Array
    error: Array
    distance_m: Array
    force: Array
    square: Array
    product: Array
    engine: Array  # log ratios of the engine's clusters, whatever the others are of
    log_factor: float | None


@dataclass(frozen=True, slots=True)
class PeriodGears:
    """Gears of a period: `log_ratio` of each at its usual level with `error` and `share` of the
    road driven in it; by trip the `level` against that (NaN unknown), its `level_error`, road it
    rests on, mean force, and the gear of each of its clusters (-1 none)."""

    trips: tuple[TripClusters, ...]
    log_ratio: Array
    error: Array
    share: Array
    level: Array
    level_error: Array
    distance_m: Array
    force: Array
    gears: tuple[Index, ...]


def source_of(records: Sequence[TripRecord]) -> str | None:
    """What most trips' clusters are of: "shaft", "geared" or "engine"; None where none has any."""
    counts = Counter(source for r in records for source in set(r.gear_clusters.clusters["source"]))
    most = max(counts.values(), default=0)
    return next((s for s in SOURCES if counts[s] and counts[s] >= 0.8 * most), None)


def clusters_of(record: TripRecord, source: str, log_factor: float | None) -> TripClusters | None:
    """A trip's clusters of one source; None without any, or without a receiver."""
    clusters = record.gear_clusters.clusters
    # arrays, not frames: of a lifetime's thousands of trips each is small
    here = np.flatnonzero((clusters["source"] == source).to_numpy())
    if len(here) == 0 or not record.has_receiver:
        return None
    if source != "engine":
        here = here[np.argmax(clusters["distance_m"].to_numpy()[here])][None]

    def column(name: str) -> Array:
        """A column of the trip's clusters, of the rows that count."""
        return np.asarray(clusters[name].to_numpy()[here])

    return TripClusters(
        name=record.name,
        driven_m=float(record.gear_clusters.histogram["distance_m"].sum()),
        log_ratio=column("log_ratio"),
        error=column("error"),
        distance_m=column("distance_m"),
        force=column("force"),
        square=column("force_square"),
        product=column("force_product"),
        engine=record.gear_clusters.of_engine(),
        log_factor=log_factor,
    )


def wheel_slip(trips: Sequence[TripClusters]) -> float:
    """Growth of the log ratio with specific driving force [s2/m], from within clusters; 0 where
    it is not clear."""
    square = np.array([float((one.distance_m * one.square).sum()) for one in trips])
    product = np.array([float((one.distance_m * one.product).sum()) for one in trips])
    if square.sum() <= 0 or len(trips) < 5:
        return 0.0
    slope = float(product.sum() / square.sum())
    spread = product - slope * square
    count = len(trips)
    error = float(np.sqrt((spread**2).sum() * count / (count - 1)) / square.sum())
    return min(slope, MAX_SLIP) if slope > 3 * error else 0.0


def fit_period(trips: Sequence[TripClusters], slip: float, usual_force: float) -> PeriodGears:
    """Gears and trip levels of one period's trips (one at least, each with a cluster at least)."""
    rough, gears = _link(trips)
    trip, cluster, gear, value, error, distance, force = _observations(
        trips, rough, gears, slip, usual_force
    )
    weight = 1 / (error**2 + FLOOR**2 + (0.002 * np.exp(-distance / 5_000)) ** 2)
    places, level = gears.copy(), rough.copy()
    good = np.ones(len(value), dtype=bool)
    for turn in range(60):
        w = weight * good
        level = _means(trip, w, value - places[gear], len(trips))
        fresh = _means(gear, w, value - level[trip], len(places))
        seen = np.bincount(gear, weights=w, minlength=len(places)) > 0
        moved = float(np.abs(np.where(seen, fresh - places, 0.0)).max(initial=0.0))
        places = np.where(seen, fresh, places)
        if turn in (8, 20):
            good = np.abs(value - level[trip] - places[gear]) < NEAR
        if moved < 1e-8 and turn > 20:
            break
    w = weight * good
    total = np.bincount(trip, weights=w, minlength=len(trips))
    way = np.bincount(trip, weights=distance * good, minlength=len(trips)).astype(np.float64)
    known = (total > 0) & (way >= 500)
    usual = weighted_median(level[known], way[known]) if known.any() else 0.0
    by_gear = np.bincount(gear, weights=distance * good, minlength=len(places))
    of_gear = np.bincount(gear, weights=w, minlength=len(places))
    kept = by_gear > 0.005 * by_gear.sum()
    order = np.flatnonzero(kept)[np.argsort(-places[kept])]
    number = np.full(len(places), -1)
    number[order] = np.arange(len(order))
    own = [np.full(len(one.log_ratio), -1) for one in trips]
    for i, j, g, ok in zip(trip, cluster, gear, good, strict=True):
        own[i][j] = number[g] if ok else -1
    return PeriodGears(
        trips=tuple(trips),
        log_ratio=places[order] + usual,
        error=1 / np.sqrt(np.maximum(of_gear[order], 1.0)),
        share=by_gear[order] / max(by_gear[order].sum(), 1e-9),
        level=np.where(known, level - usual, np.nan),
        level_error=np.where(known, 1 / np.sqrt(np.maximum(total, 1e-9)), np.nan),
        distance_m=way,
        force=_means(trip, w, force, len(trips)),
        gears=tuple(own),
    )


def _link(trips: Sequence[TripClusters]) -> tuple[Array, Array]:
    """A rough level for each trip, and log ratios of the gears they share; the trips with most
    road come first, each laid onto what was gathered before it. NaN where a trip shares no gear
    with the others and its odometer factor is another: other tires or another setting."""
    ordered = sorted(range(len(trips)), key=lambda i: -float(trips[i].distance_m.sum()))
    first = trips[ordered[0]]
    factor = next((trips[i].log_factor for i in ordered if trips[i].log_factor is not None), None)
    at_factor = 0.0  # the level at which `factor` was met
    gears, weight = first.log_ratio.copy(), first.distance_m.copy()
    level = np.zeros(len(trips))
    met = first.log_factor is not None
    waiting, passed_over = ordered[1:], 0
    while waiting and passed_over < len(waiting):
        i = waiting.pop(0)
        one = trips[i]
        over_indicated = None
        if met and one.log_factor is not None and factor is not None:
            over_indicated = at_factor - (one.log_factor - factor)
        found = _best_level(one, gears, weight, over_indicated)
        if found is None:
            waiting.append(i)
            passed_over += 1
            continue
        passed_over = 0
        level[i] = found
        if not met and one.log_factor is not None:
            met, at_factor = True, found
        off = one.log_ratio[:, None] - found - gears[None, :]
        new = np.abs(off).min(axis=1) > SAME_GEAR
        np.add.at(weight, np.abs(off).argmin(axis=1)[~new], one.distance_m[~new])
        gears = np.concatenate((gears, one.log_ratio[new] - found))
        weight = np.concatenate((weight, one.distance_m[new]))
    level[waiting] = np.nan
    return level, gears


def _best_level(
    one: TripClusters, gears: Array, weight: Array, over_indicated: float | None
) -> float | None:
    """Level of a trip on the gears gathered so far: by the clusters that meet, and by how likely
    a level is beforehand (the same tires; the same gears over indicated speed; anything). None
    where nothing meets at the two levels likely beforehand, and they are two."""
    places = [0.0] if over_indicated is None else [0.0, over_indicated]
    pairs = (one.log_ratio[:, None] - gears[None, :]).ravel()
    candidates = np.concatenate((pairs[np.abs(pairs) < 0.25], places))
    off = one.log_ratio[None, :, None] - gears[None, None, :] - candidates[:, None, None]
    near = np.exp(-0.5 * (off / 0.005) ** 2) * np.sqrt(weight / weight.sum())[None, None, :]
    met = np.maximum(near.max(axis=2), UNMATCHED) @ (one.distance_m / one.distance_m.sum())
    likely = met[len(candidates) - len(places) :]
    if np.ptp(places) > NEAR and likely.max() < MIN_MET:
        return None
    prior = 0.6 * np.exp(-0.5 * (candidates / SAME_TIRES) ** 2)
    prior += 0.05 * np.exp(-0.5 * (candidates / ANYTHING) ** 2)
    if over_indicated is not None:
        prior += 0.35 * np.exp(-0.5 * ((candidates - over_indicated) / SAME_TIRES) ** 2)
    return float(candidates[int(np.argmax(met * prior))])


def _observations(
    trips: Sequence[TripClusters], level: Array, gears: Array, slip: float, usual_force: float
) -> tuple[Index, Index, Index, Array, Array, Array, Array]:
    """One entry a cluster on a gear: trip, cluster, gear, log ratio with slip taken to the usual
    force, error, road, force."""
    rows = []
    for i, one in enumerate(trips):
        off = np.abs(one.log_ratio[:, None] - level[i] - gears[None, :])
        value = one.log_ratio - slip * (one.force - usual_force)
        rows += [
            (i, j, int(off[j].argmin()), value[j], one.error[j], one.distance_m[j], one.force[j])
            for j in np.flatnonzero(off.min(axis=1) <= SAME_GEAR).tolist()
        ]
    trip, cluster, gear, value, error, distance, force = map(np.array, zip(*rows, strict=True))
    return trip, cluster, gear, value, error, distance, force


def _means(group: Index, weight: Array, value: Array, size: int) -> Array:
    total = np.bincount(group, weights=weight, minlength=size)
    sums = np.bincount(group, weights=weight * value, minlength=size)
    return np.where(total > 0, sums / np.maximum(total, 1e-300), 0.0)
