"""What a trip shows of how its indicated speed was quantized: cells of a finer speed.

`finer = scale x (value + offset)`: engine speed in one gear, and true speed, are finer than whole
units of indicated speed. By logged value, and by what is held against it, sums are kept of the
finer speed. Each record has a delay of its own (a computer filters speed and hardly engine
speed), which would tilt the line wherever speed changes; it is taken out first, and what is left
of it moves a cell by so much times its mean rise. What a first-order filter does beyond delaying is
half the square of its time constant times the second derivative of speed, to second order. The
means of both are kept beside, and what is left and the constant estimated for all trips together.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from gearing.statistics.arrays import Array, Index, Mask
from gearing.trips.motion import Trip
from gearing.trips.rounding import on_grid

# `gear`: -1 true speed, else which of the trip's engine clusters; `value` whole units logged;
# `held` 1 where the value stayed long, 0 where it was passed; `rows`; `looks`, how often the value
# was met anew, and over looks sums of the finer speed in units (in true metres a second over the
# unit), of its square, its rise a second and its second derivative
CELL_SCHEMA = {"gear": pl.Int32, "value": pl.Int32, "held": pl.Int32} | dict.fromkeys(
    ("rows", "looks", "sum", "sum_square", "rise", "bend"), pl.Float64
)
RECEIVER = -1
MIN_MPS = 8.0
MIN_ROWS = 40
MAX_MPS2 = 0.8
# a row that passes is a part of a look, a value that stays one, however long it stays
PASSING, LOOK_S = 0.3, 14.0
# a value that stays as long is held; two beside each other, with as many changes, twice as long
HELD_VALUE_S, MIN_TO_AND_FRO = 10.0, 4
MAX_DELAY_S, DELAY_ERROR_S = 4.0, 1.0
RISE_TICKS = 2  # to an interval of the trip's clock
HELD_S = (2.0, 5.0)  # the gear must have held before, for a filter to have settled
NEAR_GEAR, WIDE_GEAR = 0.003, 0.06  # of engine over indicated speed, from the gear's


@dataclass(frozen=True, slots=True)
class _Logged:
    """Values on the grid and their moments."""

    at_s: Array
    value: Index


@dataclass(frozen=True, slots=True)
class _Finer:
    """A finer speed on an even clock, NaN where it was not measured; `whole` has something there
    all the same, and `measured` says where that is the speed itself (None: everywhere)."""

    first_s: float
    step_s: float
    speed: Array
    whole: Array
    measured: Mask | None = None

    @classmethod
    def of(cls, time_s: Array, speed: Array, interval_s: float) -> _Finer | None:
        """Of a speed measured at `time_s`."""
        if len(time_s) < MIN_ROWS:
            return None
        step = interval_s / RISE_TICKS
        clock = np.arange(time_s[0], time_s[-1], step)
        if len(clock) < 4 * RISE_TICKS + 2:
            return None
        even = np.interp(clock, time_s, speed)
        return cls(float(time_s[0]), step, _without_holes(even, clock, time_s, interval_s), even)

    def near(self, factor: float, rough: Array) -> _Finer:
        """`factor` times this, and where that is far from a `rough` speed, that one: what the
        engine does in another gear has no part in how the speed rises and bends beside it."""
        even = self.whole * factor
        own = np.abs(even / np.maximum(rough, 1.0) - 1) < WIDE_GEAR
        even = np.where(own, even, rough)
        return replace(
            self, speed=np.where(np.isnan(self.speed), np.nan, even), whole=even, measured=own
        )

    def own(self, moments_s: Array) -> Mask:
        """Whether the speed itself was measured, and in the range of what is logged."""
        if self.measured is None:
            return np.ones(len(moments_s), dtype=bool)
        place = np.rint((moments_s - self.first_s) / self.step_s).astype(np.int64)
        return np.asarray(self.measured.take(place, mode="clip"))

    def _around(self, moments_s: Array, reach: int) -> tuple[Callable[[int], Array], Mask]:
        """What draws the speed in between ticks at so many ticks, up to `reach`, from each moment;
        and the moments about which there are as many."""
        place = (moments_s - self.first_s) / self.step_s
        last = len(self.speed) - 1 - reach
        left = np.minimum(np.maximum(place.astype(np.int64), reach), last - 1)
        part = place - left
        rest, first = 1 - part, left - reach

        def drawn(by: int) -> Array:
            """The speed `by` ticks from each moment."""
            beside = self.speed[reach + by :]
            return np.asarray(beside.take(first) * rest + beside[1:].take(first) * part)

        return drawn, (part >= 0) & (part <= 1)

    def at(self, moments_s: Array) -> tuple[Array, Array]:
        """Drawn in between ticks, and its rise over `RISE_TICKS` to either side, per interval of
        the trip's clock; NaN where those are outside."""
        drawn, inside = self._around(moments_s, RISE_TICKS)
        rise = (drawn(RISE_TICKS) - drawn(-RISE_TICKS)) / 2
        return np.where(inside, drawn(0), np.nan), rise

    def bend(self, moments_s: Array) -> Array:
        """Its second derivative [a second squared], from moments to either side alone: what is
        measured at the moment itself has no part in it; 0 where those are outside."""
        drawn, inside = self._around(moments_s, 2 * RISE_TICKS)
        near, far = (drawn(-by) + drawn(by) for by in (RISE_TICKS, 2 * RISE_TICKS))
        square = 3 * (self.step_s * RISE_TICKS) ** 2
        return np.nan_to_num(np.where(inside, (far - near) / square, 0.0))


def _without_holes(even: Array, clock: Array, time_s: Array, interval_s: float) -> Array:
    """NaN between samples too far apart to draw a line between."""
    far = np.diff(time_s) > 1.5 * interval_s
    if not far.any():
        return even
    right = np.clip(np.searchsorted(time_s, clock), 1, len(time_s) - 1)
    return np.where(far[right - 1], np.nan, even)


def quantization_cells(trip: Trip, clusters: Array) -> pl.DataFrame:
    """Cells of one trip, columns of `CELL_SCHEMA`; `clusters` the log ratios of its engine's gears
    over true distance."""
    unit, interval_s = trip.grid.step_mps, trip.interval_s
    if trip.grid.unit is None:
        return pl.DataFrame(schema=CELL_SCHEMA)
    value = np.rint(trip.logged_mps / unit).astype(np.int64)
    use = on_grid(trip.logged_mps, trip.grid) & (trip.logged_mps > MIN_MPS)
    logged = _Logged(trip.logged_s[use], value[use])
    if len(logged.value) < MIN_ROWS:
        return pl.DataFrame(schema=CELL_SCHEMA)
    seen = ~trip.ticks.bridged
    parts = []
    factor = 1.0 if trip.factor is None else trip.factor
    speed = trip.ticks["true_speed_mps"][seen] / unit / factor
    true = _Finer.of(trip.ticks.time_s[seen], speed, interval_s)
    if true is not None:
        parts.append(_cells(RECEIVER, logged, true, interval_s))
    engine = _Finer.of(trip.engine_s, trip.engine_rpm, interval_s) if len(clusters) else None
    if engine is not None:
        rough = np.interp(_clock_of(engine), trip.logged_s, value + 0.25)
        turns = np.exp(-clusters) / 60 / unit / factor
        parts += _cells_of_gears(logged, [engine.near(float(k), rough) for k in turns], interval_s)
    parts = [
        [*cells[:5], cells[5] * factor, cells[6] * factor**2, *(x * factor for x in cells[7:])]
        for cells in parts
    ]
    if not parts:
        return pl.DataFrame(schema=CELL_SCHEMA)
    columns = {
        name: np.concatenate(some).astype(np.int32 if kind == pl.Int32 else np.float64)
        for (name, kind), some in zip(CELL_SCHEMA.items(), zip(*parts, strict=True), strict=True)
    }
    return pl.DataFrame(columns)


def _clock_of(finer: _Finer) -> Array:
    return np.asarray(finer.first_s + finer.step_s * np.arange(len(finer.whole)))


def _cells_of_gears(logged: _Logged, engines: list[_Finer], interval_s: float) -> list[list[Array]]:
    """Cells of the engine speed in each gear."""
    parts = []
    for gear, engine in enumerate(engines):
        # rows of other gears are nobody's to look at again
        mine = engine.own(logged.at_s)
        own = _Logged(logged.at_s[mine], logged.value[mine])
        parts.append(_cells(gear, own, engine, interval_s, in_gear=True))
    return parts


def _cells(
    gear: int, logged: _Logged, finer: _Finer, interval_s: float, *, in_gear: bool = False
) -> list[Array]:
    """Columns of `CELL_SCHEMA`; none where there is too little to see."""
    if len(logged.value) < MIN_ROWS:
        return [np.empty(0)] * len(CELL_SCHEMA)
    at, g, rise, keep = _aligned(logged, finer, interval_s, in_gear=in_gear)
    if len(keep) < MIN_ROWS:
        return [np.empty(0)] * len(CELL_SCHEMA)
    seen = _Logged(logged.at_s[keep], logged.value[keep])
    return _sums(gear, seen, g[keep], rise[keep], finer.bend(at[keep]), interval_s)


def _aligned(
    logged: _Logged, finer: _Finer, interval_s: float, *, in_gear: bool
) -> tuple[Array, Array, Array, Index]:
    """The logged moments less the delay, the finer speed then with its rise a second, and which
    are fit to be seen."""
    delay_s, near = 0.0, WIDE_GEAR
    for turn in range(4):
        at = logged.at_s - delay_s
        g, rise = finer.at(at)
        rise /= interval_s
        # one row of a leap would outweigh a thousand
        keep = np.isfinite(g + rise) & (np.abs(rise) < MAX_MPS2 / 0.27)
        if in_gear:
            keep &= _in_gear(g, logged.value, near)
            for before in HELD_S:
                keep &= finer.own(at - before)
        kept = np.flatnonzero(keep)
        moved = _delay(g[kept], rise[kept], logged.value[kept])
        if turn == 3 or (turn and abs(moved) < 0.02):
            break
        delay_s = float(np.clip(delay_s + moved, -MAX_DELAY_S, MAX_DELAY_S))
        near = NEAR_GEAR
    return at, g, rise, kept


def _in_gear(g: Array, value: Index, near: float) -> Mask:
    """Rows whose engine speed is this gear's, as well as a whole unit lets one tell."""
    middle = value + 0.25
    with np.errstate(invalid="ignore"):
        return np.asarray(np.abs(g / middle - 1) < near + 1.0 / middle)


def _delay(g: Array, rise: Array, value: Index) -> float:
    """Seconds by which the logged value trails the finer speed, from how the two differ with its
    rise, drawn to 0 where speed hardly changes."""
    if len(g) < MIN_ROWS:
        return 0.0
    off, rise = g - value, rise - rise.mean()
    off -= off.mean()
    noise = max(float(np.mean(off**2)), 1e-9)
    return float(off @ rise / (rise @ rise + noise / DELAY_ERROR_S**2))


def _held(value: Index, rows: Array, interval_s: float) -> Mask:
    """Of runs at one value, shapes (runs,), those of a speed that is held: at one value, or, held
    where one ends and the next begins, to and fro between those two, which no look at either of
    them by itself would show."""
    held = rows * interval_s >= HELD_VALUE_S
    for lower in (value // 2, (value + 1) // 2):
        first = np.concatenate(([0], np.flatnonzero(np.diff(lower)) + 1))
        runs = np.diff(first, append=len(value))
        long = np.add.reduceat(rows, first) * interval_s >= 2 * HELD_VALUE_S
        held |= np.repeat(long & (runs > MIN_TO_AND_FRO), runs)
    return np.asarray(held)


def _sums(
    gear: int, logged: _Logged, g: Array, rise: Array, bend: Array, interval_s: float
) -> list[Array]:
    """Columns of `CELL_SCHEMA`: what passes a value covers its unit evenly, what holds it may
    stand anywhere in it, and the two are kept apart. A passage cut off by what is not to be seen,
    as where the gear is shifted, covers a part of its unit alone and is left out."""
    value = logged.value
    apart, changed = np.diff(logged.at_s) > 1.5 * interval_s, np.diff(value) != 0
    begins = np.concatenate(([0], np.flatnonzero(changed | apart) + 1))
    length = np.diff(begins, append=len(value))
    cut_off = np.concatenate(([True], apart, [True]))
    new = np.concatenate(([True], changed[begins[1:] - 1]))
    run = np.cumsum(new) - 1
    rows = np.asarray(np.bincount(run, length), np.float64)
    held = _held(value[begins[new]], rows, interval_s)[run]
    whole = held | ~(cut_off[begins] | cut_off[begins + length])
    look = np.where(whole, np.minimum(1.0, PASSING + length * interval_s / LOOK_S), 0.0)
    first = int(value.min())
    at = 2 * (value[begins] - first) + held
    met = np.flatnonzero(np.bincount(at, look))
    mean = np.add.reduceat(g, begins) / length
    square = np.add.reduceat(g * g, begins) / length

    def by_value(of_stay: Array) -> Array:
        """A figure by stay, shape (stays,), summed over the stays of a kind at each value met."""
        return np.asarray(np.bincount(at, of_stay)[met], np.float64)

    return [
        np.full(len(met), float(gear)),
        met // 2 + float(first),
        (met % 2).astype(np.float64),
        by_value(np.where(whole, length, 0.0)),
        by_value(look),
        by_value(look * mean),
        by_value(look * square),
        by_value(look * np.add.reduceat(rise, begins) / length),
        by_value(look * np.add.reduceat(bend, begins) / length),
    ]
