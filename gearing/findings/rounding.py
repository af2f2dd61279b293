"""Whether the logged speed was cut or rounded to whole units, from all trips together.

`indicated = true / k + q`: a value cut to the whole unit hides half a unit on average, a
rounded one nothing. Three witnesses can tell: engine speed in gear, which sits on the same
shaft and knows no tire; a running count of distance; and true speed over a range of speeds,
which a tire that grows with speed can mislead.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from gearing.findings.sides import BySide, by_side
from gearing.trips.record import TripRecord
from gearing.trips.rounding import Grid

Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

# what each witness may be wrong by beyond chance, as a share of one unit: rows of engine speed
# and of bus speed are not taken at one instant; a tire grows and creeps with speed
DRIVELINE_DOUBT = 0.04
DRAWN_DOUBT = 0.25  # where a recorder drew lines between samples of either
RECEIVER_DOUBT = 0.15
COUNT_DOUBT_RELATIVE = 5e-4
DECIDED = np.log(200.0)
LEAST_ROWS = 60.0
NOISE_MPS = 0.08
SAME_GEAR = 0.03


@dataclass(frozen=True, slots=True)
class Rounding:
    """How the logged speed was rounded: `kind` "cut", "rounded", "none" or "cut or rounded".

    `hidden_mps` is what to add to a moving logged speed; `low_mps`, `high_mps` the two ends
    where it could not be told. `seen_share` is the share of a unit the witnesses show.
    """

    kind: str
    unit: str | None
    hidden_mps: float
    low_mps: float
    high_mps: float
    seen_share: float | None = None
    witness: str | None = None

    @property
    def settled(self) -> bool:
        return self.low_mps == self.high_mps


NONE = Rounding("none", None, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class _Witness:
    name: str
    share: float
    error: float


@dataclass(frozen=True, slots=True)
class Roundings:
    """Rounding of each trip by name, and of most trips of each side."""

    trips: dict[str, Rounding]
    sides: BySide[Rounding]

    def of(self, side: str) -> Rounding:
        return self.sides.of(side)

    def hidden_mps(self, trip: str) -> float:
        """What to add to a trip's moving logged speeds."""
        return self.trips.get(trip, NONE).hidden_mps


def settle_roundings(records: Sequence[TripRecord]) -> Roundings:
    """By side and unit, for each recorder rounds its own way; where one group's trips cannot
    tell, all trips together do."""
    groups: dict[tuple[str, str], list[TripRecord]] = {}
    for record in records:
        if record.grid.unit is not None:
            groups.setdefault((record.side, record.grid.unit), []).append(record)
    seen = {key: _Seen.of(some) for key, some in groups.items()}
    everyone = sum(one.odds for one in seen.values())
    trips: dict[str, Rounding] = {}
    for key, some in groups.items():
        one = seen[key]
        odds = one.odds if abs(one.odds) > DECIDED else everyone
        trips |= dict.fromkeys((r.name for r in some), _rounding(some[0].grid, odds, one.best))

    def main(side: str) -> Rounding:
        """The widest that any trip of the side has: one unsettled leaves the side so."""
        found = [trips.get(r.name, NONE) for r in records if r.side == side]
        return max(found, key=lambda q: (q.high_mps - q.low_mps, q.hidden_mps), default=NONE)

    return Roundings(trips, by_side(main))


@dataclass(frozen=True, slots=True)
class _Seen:
    """Log odds of cut against rounded from one group of trips, and its surest witness."""

    odds: float
    best: _Witness | None

    @classmethod
    def of(cls, same: Sequence[TripRecord]) -> _Seen:
        step = same[0].grid.step_mps
        drawn = any(r.grid.drawn for r in same)
        driveline = DRAWN_DOUBT if drawn else DRIVELINE_DOUBT
        found = (
            _line(same, step, pl.col("tooth") >= 0, "engine speed in gear", driveline),
            _common_lines(same, step, driveline),
            _count(same, step),
            _line(same, step, pl.col("tooth") < 0, "true speed", RECEIVER_DOUBT),
        )
        witnesses = [w for w in found if w is not None]
        best = min(witnesses, key=lambda w: w.error, default=None)
        return cls(sum(_odds(w) for w in witnesses), best)


def _rounding(grid: Grid, odds: float, best: _Witness | None) -> Rounding:
    """What these odds of cut against rounded come to on a grid."""
    share = best.share if best else None
    name = best.name if best else None
    half = grid.step_mps / 2
    if odds > DECIDED:
        return Rounding("cut", grid.unit, half, half, half, share, name)
    if odds < -DECIDED:
        return Rounding("rounded", grid.unit, 0.0, 0.0, 0.0, share, name)
    likely = 1 / (1 + np.exp(-odds))
    return Rounding("cut or rounded", grid.unit, float(likely) * half, 0.0, half, share, name)


def _odds(witness: _Witness) -> float:
    """Log odds of cut against rounded, no witness trusted beyond 1 in 10^6."""
    cut = ((witness.share - 0.5) / witness.error) ** 2
    rounded = (witness.share / witness.error) ** 2
    # one that fits neither says little, whichever it is nearer to
    fits = np.exp(-0.5 * max(min(cut, rounded) - 4.0, 0.0))
    return float(np.clip(0.5 * (rounded - cut) * fits, -14.0, 14.0))


def _line(
    records: Sequence[TripRecord], step: float, wanted: pl.Expr, name: str, doubt: float
) -> _Witness | None:
    """Intercepts of lines on indicated speed, trip by trip, tooth by tooth."""
    sums = pl.concat([r.lines for r in records]).filter(wanted & (pl.col("count") >= LEAST_ROWS))
    if sums.height == 0:
        return None
    n, own, a, g, aa, ag, gg = (
        sums[c].to_numpy()
        for c in ("count", "independent", "sum_a", "sum_g", "sum_aa", "sum_ag", "sum_gg")
    )
    share, error = _intercepts(n, own, a, g, aa, ag, gg, step)
    return _pool(name, share, error, doubt)


def _common_lines(records: Sequence[TripRecord], step: float, doubt: float) -> _Witness | None:
    """Engine speed in gear once more, all trips on one line a gear.

    The driveline is the same in every trip while the computer's setting is, so trips each at
    one speed of their own tell together what none tells alone.
    """
    lines = pl.concat([r.lines for r in records]).filter(pl.col("tooth") >= 0)
    if lines.height < 2:
        return None
    turn = pl.col("place").exp()
    sums = lines.with_columns(
        pl.col("sum_g") * turn, pl.col("sum_ag") * turn, pl.col("sum_gg") * turn**2
    ).sort(pl.col("sum_g") / pl.col("sum_a"))
    ratio = (sums["sum_g"] / sums["sum_a"]).log()
    gear = (ratio.diff().fill_null(0.0) > SAME_GEAR).cum_sum().alias("gear")
    names = ("count", "independent", "sum_a", "sum_g", "sum_aa", "sum_ag", "sum_gg")
    pooled = (
        sums.with_columns(gear)
        .group_by("gear", maintain_order=True)
        .agg(pl.col(names).sum())
        .sort("gear")
    )
    pooled = pooled.filter(pl.col("count") >= LEAST_ROWS)
    if pooled.height == 0:
        return None
    n, own, a, g, aa, ag, gg = (pooled[c].to_numpy() for c in names)
    share, error = _intercepts(n, own, a, g, aa, ag, gg, step)
    return _pool("engine speed in gear, all trips", share, error, doubt)


def _intercepts(
    n: Array, own: Array, a: Array, g: Array, aa: Array, ag: Array, gg: Array, step: float
) -> tuple[Array, Array]:
    """Hidden share of a unit from each line g = k (a + q), with its error.

    Least squares would tilt the line wherever the two are not taken at one instant, for speed
    returns to its mean; so the slope is the ratio of the two spreads, which does not mind, with
    the spread that whole units add (a uniform step's) taken off. `own` is how many of the n rows
    tell something of their own.
    """
    mean_a, mean_g = a / n, g / n
    seen = aa / n - mean_a**2
    var_a = np.maximum(seen - step**2 / 12, np.maximum(0.25 * seen, 1e-9))
    var_g = np.maximum(gg / n - mean_g**2, 1e-9)
    slope = np.sqrt(var_g / var_a)
    rest = var_g + slope**2 * seen - 2 * slope * (ag / n - mean_a * mean_g)
    rest = np.maximum(rest, (0.05 * step) ** 2)
    hidden = mean_g / slope - mean_a
    error = np.sqrt(rest / own * (1 + mean_a**2 / var_a)) / slope
    # spread of a receiver's own noise, unknown, tilts the line in its turn
    tilt = 0.5 * NOISE_MPS**2 / var_a * mean_a
    return hidden / step, np.hypot(error, tilt) / step


def _pool(name: str, share: Array, error: Array, doubt: float) -> _Witness | None:
    good = np.isfinite(share) & np.isfinite(error) & (error < 2.0) & (np.abs(share) < 3.0)
    if not good.any():
        return None
    weight = 1 / (error[good] ** 2 + doubt**2)
    mean = float((weight * share[good]).sum() / weight.sum())
    spread = float((weight * (share[good] - mean) ** 2).sum() / max(len(weight) - 1, 1))
    own = np.sqrt(max(spread, 1.0) / weight.sum())
    return _Witness(name, mean, float(np.hypot(own, doubt)))


def _count(records: Sequence[TripRecord], step: float) -> _Witness | None:
    """Distance counted against indicated speed summed over the whole of each trip."""
    share, error = [], []
    for record in records:
        count = record.counter
        if count is None or count.counted_m < 20_000 or record.indicated_m is None:
            continue
        if abs(count.true_m - record.true_m) > 2_000 or record.indicated_s < 600:
            continue
        scaled = record.indicated_m * count.true_m / max(record.true_m, 1.0)
        moving_s = record.indicated_s * count.true_m / max(record.true_m, 1.0)
        share.append((count.counted_m - scaled) / moving_s / step)
        error.append(np.hypot(0.5 * count.step_m, COUNT_DOUBT_RELATIVE * scaled) / moving_s / step)
    if not share:
        return None
    return _pool("distance count", np.array(share), np.array(error), COUNT_DOUBT_RELATIVE * 100)
