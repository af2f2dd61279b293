"""What share of a unit whole-number speeds hide, from lines of a finer speed on them.

A line g = k (a + q) is laid through the logged values a (in units), g being engine speed in one
gear or true speed; q is the share. Where in its unit a speed stood is chance, a uniform step's,
and it is the same chance however often that speed is met again: a cruise control that is set to
one speed, trip after trip, is met at one place of its unit. So each value is judged by how widely
the looks at it spread over its unit. Those that cover it say what they say; what a value not
covered leaves open is one error common to all lines, whatever trip or witness they are of.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from gearing.trips.record import TripRecord
from gearing.trips.sums import NOISE_MPS

Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
Indices = np.ndarray[tuple[int, ...], np.dtype[np.int64]]

CUT_OR_ROUNDED = 0.25  # what is hidden where it is not told, half-way between
UNIFORM = 1 / 12  # variance of a uniform step
# what each witness may be wrong by beyond chance, as a share of one unit: rows of engine speed
# and of bus speed are not taken at one instant; a tire grows and creeps with speed
DRIVELINE_DOUBT = 0.04
DRAWN_DOUBT = 0.25  # where a recorder drew lines between samples of either
RECEIVER_DOUBT = 0.15
COUNT_DOUBT_RELATIVE = 5e-4
LEAST_ROWS = 60.0
LEAST_APART, LARGEST_APART = 0.25, 4.0  # trips from their gear's line, in units; in errors squared
WAVES = 4
NEAR_BY = 8  # values, in units, over which a line is known well enough to compare places in them
LEAST_NOISE = 0.05  # of a look, as a share of one unit
LEAST_COUNTED_M = 20_000.0
SAME_GEAR = 0.03


@dataclass(frozen=True, slots=True)
class Witness:
    """The share of a unit hidden. `chance` is the error by where in their units the speeds stood,
    which all witnesses of one drive share; `doubt` this one's own."""

    name: str
    share: float
    chance: float
    doubt: float

    @property
    def error(self) -> float:
        return float(np.hypot(self.chance, self.doubt))


@dataclass(frozen=True, slots=True)
class _Cells:
    """What each line saw at each value."""

    line: Indices
    a: Array
    rows: Array
    looks: Array
    g: Array
    gg: Array
    held: Array
    held_g: Array
    held_gg: Array

    @classmethod
    def of(cls, sums: pl.DataFrame) -> _Cells:
        a = sums["whole"].cast(pl.Float64)
        names = ("count", "looks", "sum_g", "sum_gg", "held", "held_g", "held_gg")
        line = sums["line"].rank("dense").cast(pl.Int64).to_numpy() - 1
        return cls(line, a.to_numpy(), *(sums[name].to_numpy() for name in names))

    def width(self, slope: Array) -> Array:
        """How much of its unit the stays at a value covered, 0 to 1."""
        spread = (self.held_gg / self.held - (self.held_g / self.held) ** 2) / slope**2
        return np.sqrt(np.clip(spread / UNIFORM, 0.0, 1.0))

    def by_line(self, values: Array) -> Array:
        return np.bincount(self.line, values).astype(np.float64)


def witnesses(records: Sequence[TripRecord], spread: float = UNIFORM) -> list[Witness]:
    """All that can tell how records of one recorder, on one grid, were rounded; `spread` is the
    variance that whole units add, squared units."""
    step = records[0].grid.step_mps
    # a recorder that draws lines between samples blurs them: only where no other is there
    clear = [record for record in records if not record.grid.drawn]
    driveline = DRIVELINE_DOUBT if clear else DRAWN_DOUBT
    sums = _sums(clear or records)
    engine, receiver = sums.filter(pl.col("tooth") >= 0), sums.filter(pl.col("tooth") < 0)
    each = pl.struct("trip", "tooth").rank("dense")
    by_gear = _by_gear(engine)
    found = (
        # trips together or each by itself, never both: the rows are the same
        _witness(
            "engine speed in gear, all trips", by_gear, pl.col("gear"), driveline, step, spread
        )
        if _one_setting(by_gear)
        else _witness("engine speed in gear", engine, each, driveline, step, spread),
        _count(records, step, spread),
        _witness("true speed", receiver, each, RECEIVER_DOUBT, step, spread),
    )
    return [witness for witness in found if witness is not None]


def _sums(records: Sequence[TripRecord]) -> pl.DataFrame:
    """All trips' sums, with `trip`, by number, and `log`, period and grid."""
    heights = [record.lines.height for record in records]
    logs = [f"{record.side} {record.grid.unit}" for record in records]
    # one chunk, one order of sums, however many threads
    return pl.concat([record.lines for record in records], rechunk=True).with_columns(
        pl.Series("trip", np.repeat(np.arange(len(records)), heights)),
        pl.Series("log", np.repeat(logs, heights)),
    )


def _of_receiver(records: Sequence[TripRecord]) -> pl.DataFrame:
    """Sums of true speed on indicated, a line a trip."""
    return _sums(records).filter(pl.col("tooth") < 0).with_columns(pl.col("trip").alias("line"))


def met_again(records: Sequence[TripRecord], spread: float = UNIFORM) -> float:
    """Error of what is hidden on the whole, in units, where trips meet the same places of their
    units: by it they are all off alike, so that no scatter from trip to trip shows it."""
    sums = _of_receiver(records)
    if sums.height == 0:
        return 0.0
    cells = _Cells.of(sums)
    step = records[0].grid.step_mps
    stays = _Stays.of(cells, _fit(cells, step, spread), CUT_OR_ROUNDED)
    share = cells.rows / cells.rows.sum()
    own = stays.chance(share, cells.line).sum()
    return float(np.sqrt(max(stays.chance(share, np.zeros_like(cells.line))[0] - own, 0.0)))


def together(found: Sequence[Witness]) -> Witness:
    """All witnesses as one: their chance is common, their doubts are not."""
    weight = np.array([1 / witness.error**2 for witness in found])
    weight /= weight.sum()
    return Witness(
        max(zip(weight, found, strict=True), key=lambda pair: pair[0])[1].name,
        float(weight @ [witness.share for witness in found]),
        float(weight @ [witness.chance for witness in found]),
        float(np.linalg.norm(weight * [witness.doubt for witness in found])),
    )


def _by_gear(engine: pl.DataFrame) -> pl.DataFrame:
    """All trips of a period on one line a gear: the driveline is the same in every trip while the
    computer's setting is, so trips each at one speed tell together what none tells alone."""
    turn = pl.col("place").exp()
    ratio = (pl.col("sum_g").sum() / (pl.col("looks") * pl.col("whole")).sum()).log()
    lines = (
        engine.with_columns(pl.col("sum_g", "held_g") * turn, pl.col("sum_gg", "held_gg") * turn**2)
        .with_columns(ratio.over("trip", "tooth").alias("ratio"))
        .sort("log", "ratio", "trip", "tooth", "whole")
    )
    new = (pl.col("ratio").diff() > SAME_GEAR) | (pl.col("log") != pl.col("log").shift())
    return lines.with_columns(new.fill_null(False).cum_sum().alias("gear"))


def _one_setting(by_gear: pl.DataFrame) -> bool:
    """Whether the trips of each gear lie on one line, as they do until the computer is set anew."""
    if by_gear.height == 0:
        return False
    cells = _Cells.of(by_gear.with_columns(pl.col("gear").alias("line")))
    slope = (cells.by_line(cells.g) / cells.by_line(cells.looks * (cells.a + CUT_OR_ROUNDED)))[
        cells.line
    ]
    trip = by_gear.select(pl.struct("gear", "trip").rank("dense").cast(pl.Int64) - 1)
    at = trip.to_series().to_numpy()
    looks = np.bincount(at, cells.looks)
    off = np.bincount(at, cells.g / slope - cells.looks * (cells.a + CUT_OR_ROUNDED)) / looks
    # a trip's stays at one place of a unit, cut or rounded, and what a bend of the line adds
    due = LEAST_APART**2 + UNIFORM * np.bincount(at, cells.held**2) / looks**2
    return bool(np.mean(off**2 / due) < LARGEST_APART)


@dataclass(frozen=True, slots=True)
class _Fits:
    """Lines fitted: `share` hidden, its error by chance and by noise, and how far one look at a
    value, off by a unit, moves it (`influence`, cell by cell)."""

    share: Array
    error: Array
    mean_a: Array
    mean_g: Array
    influence: Array


def _fit(cells: _Cells, step: float, spread: float) -> _Fits:
    """Least squares would tilt a line wherever the two speeds are not taken at one instant, for
    speed returns to its mean; so the slope is the ratio of the two spreads, which does not mind,
    with the spread that whole units add taken off."""
    n = cells.by_line(cells.looks)
    mean_a, mean_g = cells.by_line(cells.looks * cells.a) / n, cells.by_line(cells.g) / n
    off = cells.a - mean_a[cells.line]
    seen = cells.by_line(cells.looks * off**2) / n
    var_a = np.maximum(seen - spread, np.maximum(0.25 * seen, 1e-9))
    var_g = np.maximum(cells.by_line(cells.gg) / n - mean_g**2, 1e-12)
    slope = np.sqrt(var_g / var_a)
    both = cells.by_line(cells.g * off) / n
    rest = (var_g + slope**2 * seen - 2 * slope * both) / slope**2
    influence = cells.looks / n[cells.line] * (1 - (mean_a / var_a)[cells.line] * off)
    # values that pass are met anywhere in their unit, each by itself, and so are stays, as far as
    # they differ (what they have in common is for `_Stays`); the rest is noise
    stayed = cells.held / cells.looks
    apart = 1 - stayed + stayed * cells.width(slope[cells.line]) ** 2
    noise = np.maximum(rest - spread, LEAST_NOISE**2)[cells.line]
    chance = influence**2 * (UNIFORM * stayed * apart + noise) / cells.looks
    # spread of a receiver's own noise, and how far that of whole units is an even step's, are
    # not known, and tilt the line in their turn
    tilt = 0.5 * np.hypot((NOISE_MPS / step) ** 2, spread / 2) / var_a * mean_a
    error = np.sqrt(cells.by_line(chance) + tilt**2)
    return _Fits(mean_g / slope - mean_a, error, mean_a, mean_g, influence)


def _witness(
    name: str, sums: pl.DataFrame, line: pl.Expr, doubt: float, step: float, spread: float
) -> Witness | None:
    """All lines pooled."""
    sums = sums.with_columns(line.alias("line"))
    sums = sums.filter(pl.col("count").sum().over("line") >= LEAST_ROWS)
    if sums.height == 0:
        return None
    cells = _Cells.of(sums)
    fits = _fit(cells, step, spread)
    good = np.isfinite(fits.share) & (fits.error < 2.0) & (np.abs(fits.share) < 3.0)
    if not good.any():
        return None
    shares = np.where(good, fits.share, 0.0)
    first = np.where(good, 1 / (fits.error**2 + doubt**2), 0.0)
    stays = _Stays.of(cells, fits, float((first * shares).sum() / first.sum()))
    open_ = stays.chance(fits.influence, cells.line)
    weight = np.where(good, 1 / (fits.error**2 + open_ + doubt**2), 0.0)
    total, lines = weight.sum(), int(good.sum())
    mean = float((weight * shares).sum() / total)
    apart = float((weight * (shares - mean) ** 2).sum() / max(lines - 1, 1))
    weight /= total
    chance = (weight**2 * (fits.error**2 + doubt**2))[good].sum() * max(apart, 1.0)
    pull = weight[cells.line] * fits.influence
    chance += stays.chance(pull, np.zeros_like(cells.line))[0]
    return Witness(name, mean, float(np.sqrt(chance)), doubt)


@dataclass(frozen=True, slots=True)
class _Stays:
    """Where in their units speeds stayed, as waves: `waves[k - 1]` is the mean of
    exp(2 pi i k place) over the looks at a value; passing looks have none.

    What a value hides beyond its half is a sawtooth of that place, whose waves have the variances
    1 / (2 pi^2 k^2). Where the unit begins is not known, so each wave may stand anyhow, but from
    value to value near by they stand as they are seen to: a speed that wanders over the edge of
    a unit hides at one value what it shows at the next.
    """

    whole: Indices
    waves: np.ndarray[tuple[int, ...], np.dtype[np.complex128]]

    @classmethod
    def of(cls, cells: _Cells, fits: _Fits, share: float) -> _Stays:
        slope = (fits.mean_g / np.maximum(fits.mean_a + share, 1.0))[cells.line]
        place, width = cells.held_g / cells.held / slope - cells.a, cells.width(slope)
        wave = np.arange(1, WAVES + 1)[:, None]
        waves = np.exp(2j * np.pi * wave * place) * np.sinc(wave * width)
        return cls(np.round(cells.a).astype(np.int64), waves * cells.held / cells.looks)

    def chance(self, pull: Array, group: Indices) -> Array:
        """Variance of the sum of what all values hide, each times `pull`, in each group."""
        first = int(self.whole.min())
        values = int(self.whole.max()) - first + 1
        at = group * values + self.whole - first
        size = (int(group.max()) + 1) * values
        found = np.zeros(int(group.max()) + 1)
        for k, wave in enumerate(self.waves, start=1):
            parts = (np.bincount(at, pull * part, size) for part in (wave.real, wave.imag))
            for part in parts:
                by_value = part.reshape(-1, values)
                # NEAR_BY values are taken together, wherever the first of them stands
                sums = np.cumsum(np.pad(by_value, ((0, 0), (NEAR_BY, NEAR_BY - 1))), axis=1)
                together = sums[:, NEAR_BY:] - sums[:, :-NEAR_BY]
                found += (together**2).sum(axis=1) / NEAR_BY / k**2
        total = float((1 / np.arange(1, WAVES + 1) ** 2).sum())
        return np.asarray(found * (UNIFORM / total))


def _count(records: Sequence[TripRecord], step: float, spread: float) -> Witness | None:
    """Distance counted against indicated speed summed over the whole of each trip."""
    share, error, trips = [], [], []
    for i, record in enumerate(records):
        count = record.counter
        if count is None or count.counted_m < LEAST_COUNTED_M or record.indicated_m is None:
            continue
        if abs(count.true_m - record.true_m) > 2_000 or record.indicated_s < 600:
            continue
        part = count.true_m / max(record.true_m, 1.0)
        scaled, moving_s = record.indicated_m * part, record.indicated_s * part
        unit_m = moving_s * record.grid.step_mps
        share.append((count.counted_m - scaled) / unit_m)
        error.append(np.hypot(0.5 * count.step_m, COUNT_DOUBT_RELATIVE * scaled) / unit_m)
        trips.append(i)
    if not trips:
        return None
    sums = _of_receiver([records[i] for i in trips])
    if sums["line"].n_unique() < len(trips):
        return None
    cells = _Cells.of(sums)
    fits = _fit(cells, step, spread)
    weight = 1 / np.array(error) ** 2
    weight /= weight.sum()
    mean = float(weight @ share)
    time = cells.rows / cells.by_line(cells.rows)[cells.line] * weight[cells.line]
    open_ = _Stays.of(cells, fits, mean).chance(time, np.zeros_like(cells.line))[0]
    own = (time**2 / np.maximum(cells.looks, 0.1) * UNIFORM).sum()
    measured = (weight**2 * np.array(error) ** 2).sum()
    return Witness(
        "distance count",
        mean,
        float(np.sqrt(open_ + own + measured)),
        COUNT_DOUBT_RELATIVE * 100,
    )
