"""What is seen of each logged value, held against the ways a speed may have been quantized.

Least squares of what a finer speed (engine speed in gear, true speed) shows at each logged value
on what each way says it stands for, everything that is not known at once; see `quantization`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gearing.statistics.arrays import Array, Index, distinct, sum_by
from gearing.trips.quantization_cells import RECEIVER
from gearing.trips.record import TripRecord
from gearing.units import KMH_MPS, MPH_MPS

UNIFORM = 1 / 12  # variance of a uniform step
KMH_MPH = KMH_MPS / MPH_MPS
# error of the lines of true speed beyond chance, as a share of a unit: tires grow with speed
RECEIVER_ERROR = 0.15
# spread of the slope of true over indicated speed from trip to trip
RECEIVER_SLOPE = 0.02
# square of the error from row to row of the finer speed, in units: mean and spread beforehand
ROW_NOISE = (0.05, 0.15)
# spread of half the square of a filter's time constant that is left in, in s squared
FILTER_S2 = 2.0
# spread of what is left of a delay once it is taken out trip by trip, in s
DELAY_S = 0.2
SAME_GEAR = 0.03
MIN_ROWS = 60.0
MIN_MET, MIN_VALUES = 20.0, 12  # rows at a value, and values, to tell how often each is met
MIN_COUNTED_M, COUNT_ERROR = 20_000.0, 5e-4
SMALL = 1e-4  # variance no look or value is below, in units
OUTLIER = 3.0  # in standard errors, counted as that many and no more


@dataclass(frozen=True, slots=True)
class Quantizer:
    """One way: `kind` of the result, and for values from 0 on the mean of what each stands for
    less the value, in units, and how many whole km/h become it (1 where none do): shapes
    (values,)."""

    name: str
    kind: str
    hidden: Array
    made_of: Array


def quantizers(unit: str | None, values: int) -> list[Quantizer]:
    """The ways there are for a unit, for values from 0 to `values`."""
    none, one = np.zeros(values), np.ones(values)
    found = [
        Quantizer("rounded", "rounded", none, one),
        Quantizer("truncated", "cut", none + 0.5, one),
    ]
    if unit != "mph":
        return found
    kmh = np.arange(int(values / KMH_MPH) + 3)
    for first, share in (("rounded", 0.0), ("truncated", 0.5)):
        for second, up in (("rounded", 0.5), ("truncated", 0.0)):
            made = (kmh * KMH_MPH + up).astype(np.int64)
            each = np.maximum(np.bincount(made)[:values], 1)
            mean = np.bincount(made, (kmh + share) * KMH_MPH)[:values] / each
            kind = "rounded" if (first, second) == ("rounded", "rounded") else "cut"
            name = f"km/h {first}, mph {second}"
            found.append(Quantizer(name, kind, mean - np.arange(values), each.astype(np.float64)))
    return found


@dataclass(frozen=True, slots=True)
class Cells:
    """All trips' cells: trip, line (gear of a period, or a period's true speed), logged value,
    whether it was held,
    looks, mean of the finer speed over that line's slope, its variance, slope of the log density of
    speeds there, variance of its place in the unit where the trip held that speed, and whether
    true speed."""

    trip: Index
    line: Index
    value: Index
    stays: Array
    rows: Array
    looks: Array
    mean: Array
    variance: Array
    rise: Array
    bend: Array
    density_slope: Array
    held: Array
    receiver: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]


def cells_of(records: Sequence[TripRecord]) -> Cells | None:
    """All trips' cells, by trip and line (a gear of a setting); None without rows enough."""
    # a recorder that draws lines between samples blurs them: only where no other is there
    clear = [record for record in records if not record.grid.drawn] or records
    number = {record.name: i for i, record in enumerate(records)}
    some = [record for record in clear if record.cells.height]
    if not some:
        return None
    height = [record.cells.height for record in some]
    each = {name: _together(some, name) for name in some[0].cells.columns}
    each["trip"] = np.repeat([number[record.name] for record in some], height)
    each["turn"] = np.concatenate([_turns(record) for record in some])
    logs = [f"{record.side} {record.grid.unit}" for record in some]
    each["log"] = np.repeat(np.unique(logs, return_inverse=True)[1], height)
    return _in_lines(each)


def _together(records: Sequence[TripRecord], name: str) -> Array:
    return np.concatenate([record.cells[name].to_numpy() for record in records])


def _in_lines(each: dict[str, Array]) -> Cells | None:
    """Cells laid together in lines, from their columns."""
    # a trip's slope on a line, by which trips of one gear are laid together
    line = _of_trip_and_gear(each)
    whole = each["looks"] * (each["value"] + 0.25)
    slope = (sum_by(line, each["sum"]) / sum_by(line, whole))[line]
    kept = sum_by(line, each["rows"])[line] >= MIN_ROWS
    if not kept.any():
        return None
    each = {name: values[kept] for name, values in each.items()}
    engine = each["gear"] != RECEIVER
    # of engine speed, revolutions over indicated speed: the same in every trip of one setting
    ratio = np.where(engine, np.log(slope[kept] * each["turn"]), 0.0)
    order = np.lexsort((each["value"], each["gear"], each["trip"], ratio, engine, each["log"]))
    each = {name: values[order] for name, values in each.items()}
    ratio, engine = ratio[order], engine[order]
    new = (np.diff(ratio) > SAME_GEAR) | (np.diff(each["log"]) != 0) | (engine[1:] != engine[:-1])
    line = np.concatenate([[0], np.cumsum(new)])
    scale = np.where(engine, each["turn"], 1.0)
    whole = each["looks"] * (each["value"] + 0.25)
    scale /= (sum_by(line, each["sum"] * scale) / sum_by(line, whole))[line]
    mean = each["sum"] / each["looks"]
    value = each["value"].astype(np.int64)
    variance = (each["sum_square"] / each["looks"] - mean**2) * scale**2
    beside = _held(_of_trip_and_gear(each), value, each["rows"])
    return Cells(
        each["trip"].astype(np.int64),
        line,
        value,
        stays=each["held"],
        rows=each["rows"],
        looks=each["looks"],
        mean=mean * scale,
        variance=variance,
        rise=each["rise"] / each["looks"] * scale,
        bend=each["bend"] / each["looks"] * scale,
        density_slope=_density_slope(line, value, each["rows"]),
        held=each["held"] * np.maximum(beside, _narrow(variance)),
        receiver=~engine,
    )


def _of_trip_and_gear(each: dict[str, Array]) -> Index:
    """A number for each trip's line."""
    gears = int(each["gear"].max()) + 2
    return distinct((each["trip"] * gears + each["gear"] - RECEIVER).astype(np.int64))[1]


def _density_slope(line: Index, value: Index, rows: Array) -> Array:
    """Slope of the log of how often values were logged on a line, over two to either side."""
    width = int(value.max()) + 5
    often = np.bincount(line * width + value + 2, rows, (int(line.max()) + 1) * width)
    log = np.log(often + 0.5)
    at = line * width + value + 2
    slope = (2 * log[at + 2] + log[at + 1] - log[at - 1] - 2 * log[at - 2]) / 10
    return np.asarray(np.clip(slope, -2.0, 2.0))


def _narrow(variance: Array) -> Array:
    """Variance of where in its unit a speed stood that was seen to vary by so much about it."""
    return np.asarray(UNIFORM * (1 - np.sqrt(np.clip(variance / UNIFORM, 0.0, 1.0))) ** 2)


def _held(line: Index, value: Index, rows: Array) -> Array:
    """Variance of where in its unit a trip's speed stood, by how much less often it met the values
    beside: a speed that is held may stand anywhere, one that wanders over units stands evenly."""
    width = int(value.max()) + 3
    at = line * width + value + 1
    often = np.bincount(at, rows, int(at.max()) + 2)
    beside = np.minimum(often[at - 1], often[at + 1]) / np.maximum(often[at], 1.0)
    return np.asarray(UNIFORM * (1 - np.minimum(2 * beside, 1.0)) ** 2)


def _turns(record: TripRecord) -> Array:
    """Revolutions a metre of each cell's gear, 1 of the receiver."""
    turns = np.exp(np.append(record.gear_clusters.of_engine(), 0.0))
    return np.asarray(turns[record.cells["gear"].to_numpy()])


def met(record: TripRecord, values: int, *, held: bool = False) -> Array:
    """Rows at each logged value that true speed is held against, or of them those where the value
    was `held`; shape (values,)."""
    cells = record.cells
    rows = np.where(cells["gear"].to_numpy() == RECEIVER, cells["rows"].to_numpy(), 0.0)
    if held:
        rows = rows * cells["held"].to_numpy()
    return sum_by(cells["value"].to_numpy(), rows, values)


@dataclass(frozen=True, slots=True)
class Counts:
    """By trip with a running count of distance: what a value hides on average, in units, its
    error, and the share of time at each value and of time when it was held there, both shapes
    (trips, values)."""

    hidden: Array
    error: Array
    share: Array
    held_share: Array


def distance_counts(records: Sequence[TripRecord], values: int) -> Counts:
    """What running counts of distance tell, by trip that has one."""
    found = []
    for record in records:
        count = record.counter
        if count is None or count.counted_m < MIN_COUNTED_M or record.indicated_m is None:
            continue
        if abs(count.true_m - record.true_m) > 2_000 or record.indicated_s < 600:
            continue
        often = met(record, values)
        if not often.any():
            continue
        part = count.true_m / max(record.true_m, 1.0)
        scaled = record.indicated_m * part
        unit_m = record.indicated_s * part * record.grid.step_mps
        error = np.hypot(0.5 * count.step_m, COUNT_ERROR * scaled) / unit_m
        stays = met(record, values, held=True)
        total = often.sum()
        found.append(((count.counted_m - scaled) / unit_m, error, often / total, stays / total))
    if not found:
        none = np.empty((0, values))
        return Counts(np.empty(0), np.empty(0), none, none)
    seen, errors, shares, stays_too = zip(*found, strict=True)
    return Counts(np.array(seen), np.array(errors), np.stack(shares), np.stack(stays_too))


@dataclass(frozen=True, slots=True)
class Fit:
    """One way's fit: chi-square, log volume of what is left open, places of held values, and the
    normal equations (unknowns, unknowns), trips' own slopes taken out, with where among the
    unknowns the places lie."""

    square: float
    volume: float
    place: Array
    normal: Array
    at: slice

    def place_covariance(self) -> Array:
        """What is left open of the places together, shape (values, values), in units squared."""
        picked = np.eye(len(self.normal))[:, self.at]
        return np.asarray(np.linalg.solve(self.normal, picked)[self.at], np.float64)


def fit(
    cells: Cells,
    way: Quantizer,
    engine: tuple[float, float],
    counts: Counts,
) -> Fit:
    """How one way fits; `engine` the spread of engine lines' slopes from trip to trip and their
    common error.

    Unknown with their priors: slope of each line, of each trip on it (engine and true speed
    apart), where in its unit each value stands, an error common to all engine lines and to all of
    true speed, and what differs from row to row in each. A cell holds one trip's slope, so that
    these are taken out one by one (Schur's complement) and the work grows with the trips alone.
    """
    at, factor, precision, place = _design(cells, way, engine)
    size = len(precision)
    trip, x, trip_precision = _trip_slopes(cells, engine)
    spread = np.clip(cells.variance, 0.05**2, 2 * UNIFORM)
    own = np.where(cells.looks > 3, spread, np.maximum(spread, UNIFORM)) / cells.looks
    own += cells.held + SMALL
    rest = cells.mean - cells.value - ROW_NOISE[0] * cells.density_slope - way.hidden[cells.value]
    error, share = counts.error, counts.held_share
    of_count = counts.hidden - counts.share @ way.hidden
    pairs, with_trip = at[:, None, :] * size + at[None, :, :], trip * size + at
    weight = 1 / own
    for _ in range(2):
        weighted = factor * weight
        normal = _summed(pairs, factor[:, None, :] * weighted, size * size).reshape(size, size)
        normal[np.arange(size), np.arange(size)] += precision
        normal[place, place] += share.T @ (share / error[:, None] ** 2)
        right = _summed(at, weighted * rest, size)
        right[place] += (of_count / error**2) @ share
        trips = sum_by(trip, weight * x**2, len(trip_precision)) + trip_precision
        right_trips = sum_by(trip, weight * x * rest, len(trips))
        shared = _summed(with_trip, weighted * x, len(trips) * size).reshape(len(trips), size)
        drawn = shared / trips[:, None]
        normal -= shared.T @ drawn
        solved = np.asarray(np.linalg.solve(normal, right - right_trips @ drawn), np.float64)
        slopes = right_trips / trips - drawn @ solved
        square = float(weight @ rest**2 + ((of_count / error) ** 2).sum())
        square -= float(right @ solved + right_trips @ slopes)
        off = rest - (factor * solved[at]).sum(axis=0) - x * slopes[trip]
        weight = np.minimum(1.0, OUTLIER / np.maximum(np.abs(off) / np.sqrt(own), 1e-9)) / own
    volume = float(np.linalg.slogdet(normal)[1]) - float(np.log(precision).sum())
    volume += float(np.log(trips / trip_precision).sum())
    return Fit(square, volume, solved[place], normal, place)


def _summed(at: Index, weights: Array, count: int) -> Array:
    """Sums of `weights` by where they go, both of one shape; shape (count,)."""
    return sum_by(at.ravel(), weights.ravel(), count)


def _trip_slopes(cells: Cells, engine: tuple[float, float]) -> tuple[Index, Array, Array]:
    """Which trip's slope, of engine or of true speed, each cell holds and with what factor, and the
    slopes' precision beforehand."""
    trips = int(cells.trip.max()) + 1
    precision = np.repeat([1 / engine[0] ** 2, 1 / RECEIVER_SLOPE**2], trips)
    at = np.asarray(cells.trip + np.where(cells.receiver, trips, 0))
    return at, np.asarray(cells.value + 0.25, np.float64), precision


def _design(
    cells: Cells, way: Quantizer, engine: tuple[float, float]
) -> tuple[Index, Array, Array, slice]:
    """Which unknowns but its trip's slope each cell holds, shape (6, cells), and with what factors;
    the unknowns' precision beforehand, and where among them the places of values lie."""
    lines, values = int(cells.line.max()) + 1, len(way.hidden)
    starts = np.cumsum([0, lines, values, 2, 2, 2])
    of_kind = starts[2:, None] + cells.receiver
    at = np.concatenate(([cells.line, starts[1] + cells.value], of_kind))
    x = cells.value + 0.25
    factor = np.stack(
        [x, cells.stays, np.ones_like(x), cells.density_slope, cells.rise, cells.bend]
    )
    precision = np.concatenate(
        [
            np.full(lines, 1.0),
            1 / (_open_places(cells, way) + SMALL),
            [1 / engine[1] ** 2, 1 / RECEIVER_ERROR**2],
            np.full(2, 1 / ROW_NOISE[1] ** 2),
            np.full(2, 1 / DELAY_S**2),
            np.full(2, 1 / FILTER_S2**2),
        ]
    )
    return at, factor, precision, slice(int(starts[1]), int(starts[2]))


def _open_places(cells: Cells, way: Quantizer) -> Array:
    """Variance of where in its unit each value stands on average: none where the looks at it cover
    the unit, a whole unit's where they are one."""
    values = len(way.hidden)
    held = cells.looks * cells.stays
    looks = np.bincount(cells.value, held, values)
    within = np.bincount(cells.value, held * np.maximum(cells.variance, 0.0), values)
    unit = UNIFORM * np.where(way.made_of > 1, way.made_of * KMH_MPH, 1.0) ** 2
    width = np.sqrt(np.clip(within / np.maximum(looks, 1e-9) / unit, 0.0, 1.0))
    return np.asarray(unit * (1 - width) ** 2)


def often_met(records: Sequence[TripRecord], ways: list[Quantizer], values: int) -> Array:
    """Log likelihood of each way from how often values were met: those made of two whole km/h are
    met twice as often as their neighbours, and what is left is smooth; shape (ways,)."""
    often = np.zeros(values + 2)
    for record in records:
        often += met(record, values + 2)
    inner = np.arange(1, values - 1)
    known = np.minimum(np.minimum(often[inner - 1], often[inner]), often[inner + 1]) >= MIN_MET
    count = np.count_nonzero(known)
    if count < MIN_VALUES:
        return np.zeros(len(ways))
    bends = []
    for way in ways:
        log = np.log(np.maximum(often[:values], 1e-9) / way.made_of)
        bends.append((log[1:-1] - 0.5 * (log[:-2] + log[2:]))[known])
    rest = np.array([max(float(bend @ bend), 1e-9) for bend in bends])
    # neighbouring bends share a value, which halves what they tell
    return np.asarray(-0.5 * (count / 2) * np.log(rest / rest.min()))
