"""How the logged speed was quantized, by one likelihood over all ways it may have been.

SAE J1979 parameter 0D reports whole km/h; some recorders make whole mph of them. A value
truncated to the whole unit hides half a unit on average, a rounded one nothing, and the two
differ by 0.5 % at 100 km/h: as much as a tire's wear. Engine speed in gear sits on the same
shaft and knows no tire; true speed and a running count of distance tell as well, less surely.
Each way says which speed a logged value stands for on average; what is seen of each value is
held against that. Where in its unit a speed that is held stands is chance, common to all that
meet it there, and is estimated with the rest. What differs from row to row between the two
speeds draws the mean of the finer one, at one logged value, towards where more speeds are: by its
variance times the slope of the log density of speeds (Tweedie's formula: Robbins 1956; Efron,
J. Am. Stat. Assoc. 106, 2011).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from gearing.analysis.identification.quantization_fit import (
    Cells,
    Counts,
    Quantizer,
    cells_of,
    distance_counts,
    fit,
    met,
    often_met,
    quantizers,
)
from gearing.analysis.sides import SIDES, BySide, by_side
from gearing.statistics.arrays import Array
from gearing.trips.record import TripRecord

LIKELY, ALIKE = 0.01, 0.04  # probability of a way; what ways may differ by, of a unit
ANOTHER_RECORDER = 5.0  # log odds against one that logs as the other does but for its rounding
# errors of engine lines beyond chance, as a share of a unit: filters that a delay does not undo;
# recorders that draw lines between samples
ENGINE_ERROR, DRAWN_ERROR = 0.07, 0.25
# where speed is not taken at the driveline, slip and growth tilt engine lines too; how likely that
# is, by what is declared
OFF_DRIVELINE_ERROR = 0.2
OFF_DRIVELINE = {"output shaft": 0.1, "drive wheels": 0.15, "front wheels": 0.9, "unknown": 0.4}
# spread of engine lines' slopes from trip to trip: one setting of the computer, or several
ENGINE_SLOPES = (1e-5, 1e-3, 0.03)


@dataclass(frozen=True, slots=True)
class Rounding:
    """How a trip's logged speed was quantized: `kind` "cut", "rounded", "none", "unsettled".

    `quantization_offset_mps` is what to add to a moving logged speed; `low_mps`, `high_mps` its
    ends where more than one way is likely."""

    kind: str
    unit: str | None
    quantization_offset_mps: float
    low_mps: float
    high_mps: float
    way: str | None = None

    @property
    def settled(self) -> bool:
        """Whether one way of quantizing is all that is likely."""
        return self.low_mps == self.high_mps


NONE = Rounding("none", None, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Places:
    """What the trips of one recorder leave open together, in whatever number they are.

    Trips that hold the same speeds share where in their unit these stand: `loading` (trips,
    values) is what a place of one unit does to a trip's distance, relative; `covariance` (values,
    values) that of the places, in units squared. `open_share` (trips,) is by how much of its
    distance the likely ways of quantizing move each trip's either way.
    """

    names: tuple[str, ...]
    loading: Array
    covariance: Array
    open_share: Array

    def variance(self, weights: Mapping[str, float]) -> float:
        """Of the weighted sum of relative distances of trips, by their places."""
        mean = self._weights(weights) @ self.loading
        return float(mean @ self.covariance @ mean)

    def open(self, weights: Mapping[str, float]) -> float:
        """By how much the likely ways move that sum either way."""
        return abs(float(self._weights(weights) @ self.open_share))

    def _weights(self, weights: Mapping[str, float]) -> Array:
        return np.array([weights.get(name, 0.0) for name in self.names])


@dataclass(frozen=True, slots=True)
class Roundings:
    """Rounding of each trip by name, the least settled of each period, and by recorder what its
    trips' values have in common."""

    trips: dict[str, Rounding]
    sides: BySide[Rounding]
    places: tuple[Places, ...] = ()

    def shared_error(self, trips: Sequence[str]) -> float:
        """The relative standard error of indicated distance that these trips have in common, one
        way of quantizing taken as settled."""
        alike = dict.fromkeys(trips, 1 / max(len(trips), 1))
        return float(np.sqrt(max(sum(one.variance(alike) for one in self.places), 0.0)))

    def contrast_error(self, trips: Sequence[str], others: Sequence[str]) -> float:
        """The relative standard error of the mean indicated distance of `trips` over that of
        `others`: what one recorder leaves open of both alike is none of it."""
        weights = dict.fromkeys(trips, 1 / max(len(trips), 1))
        weights |= dict.fromkeys(others, -1 / max(len(others), 1))
        square = sum(one.variance(weights) + one.open(weights) ** 2 for one in self.places)
        return float(np.sqrt(max(square, 0.0)))

    def of(self, side: str) -> Rounding:
        """The least settled rounding of a period's trips."""
        return self.sides.of(side)

    def quantization_offset_mps(self, trip: str) -> float:
        """What to add to a trip's moving logged speeds."""
        return self.trips.get(trip, NONE).quantization_offset_mps


def quantizations(records: Sequence[TripRecord], speed_source: str = "unknown") -> Roundings:
    """Of both periods together: an owner's recorder is the same before and after, unless each
    period by itself is sure of another way. Recorders are told apart by unit and headings."""
    groups: dict[bool, list[TripRecord]] = {}
    for record in records:
        if record.grid.unit is not None:
            groups.setdefault(record.grid.unit == "mph", []).append(record)
    trips: dict[str, Rounding] = {}
    places = []
    for recorder in (one for group in groups.values() for one in _by_recorder(group)):
        for same, judged in _by_setting(recorder, speed_source):
            found = _roundings(same, judged)
            trips |= found
            places.append(_places(same, judged, found))

    def least_settled(side: str) -> Rounding:
        """The rounding of the period's trips whose ends lie farthest apart; none without trips."""
        found = [trips.get(r.name, NONE) for r in records if r.side == side]
        return max(
            found, key=lambda q: (q.high_mps - q.low_mps, q.quantization_offset_mps), default=NONE
        )

    return Roundings(trips, by_side(least_settled), tuple(places))


def _by_recorder(records: list[TripRecord]) -> list[list[TripRecord]]:
    """Trips apart by recorder: by their headings, but that a column more or less makes none."""
    found: dict[frozenset[str], list[TripRecord]] = {}
    for record in sorted(records, key=lambda record: -len(record.headings)):
        whole = next((one for one in found if record.headings <= one), record.headings)
        found.setdefault(whole, []).append(record)
    return list(found.values())


def _by_setting(
    records: list[TripRecord], speed_source: str
) -> list[tuple[list[TripRecord], _Judged]]:
    """Trips apart by period where two ways explain them so much better than one."""
    whole = [(records, _judged(records, speed_source))]
    periods = [[r for r in records if r.side == side] for side in SIDES]
    if not all(periods):
        return whole
    each = [(period, _judged(period, speed_source)) for period in periods]
    apart = sum(judged.evidence for _, judged in each)
    return each if apart > whole[0][1].evidence + ANOTHER_RECORDER else whole


@dataclass(frozen=True, slots=True)
class _Judged:
    """Ways with their probabilities, for each the mean place of held values (ways, values), the
    log evidence of all together, and the covariance of the places by the likeliest way."""

    ways: list[Quantizer]
    probability: Array
    place: Array
    evidence: float
    covariance: Array


def _judged(records: Sequence[TripRecord], speed_source: str) -> _Judged:
    values = 2 + max(
        (int(r.cells["value"].max()) for r in records if r.cells.height),  # type: ignore[arg-type]
        default=0,
    )
    ways = quantizers(records[0].grid.unit, values)
    even = np.full(len(ways), 1 / len(ways))
    cells = cells_of(records)
    if cells is None:
        none = np.zeros((values, values))
        return _Judged(ways, even, np.zeros((len(ways), values)), 0.0, none)
    drawn = all(record.grid.drawn for record in records)
    counts = distance_counts(records, values)
    off = OFF_DRIVELINE[speed_source]
    errors = (DRAWN_ERROR if drawn else ENGINE_ERROR, max(OFF_DRIVELINE_ERROR, DRAWN_ERROR * drawn))
    # one setting of the computer, or several: as the first way has it, so have all
    slope = min(ENGINE_SLOPES, key=lambda one: _misfit(cells, ways[0], (one, errors[1]), counts))
    found = [[fit(cells, way, (slope, error), counts) for way in ways] for error in errors]
    square, volume = (
        np.array([[getattr(one, name) for one in row] for row in found])
        for name in ("square", "volume")
    )
    # lines fit no better than the best does: what is left of that is the unit of all
    degrees = max(len(cells.mean) - int(cells.line.max()) - int(cells.trip.max()) - 2, 1)
    scale = max(float(square.min()) / degrees, 1.0)
    fits = -0.5 * (square / scale + len(cells.mean) * np.log(scale) + volume)
    fits = fits + np.log(np.array([[1 - off], [off]])) + often_met(records, ways, values)
    probability = np.exp(fits - fits.max()).sum(axis=0)
    row = found[int(np.argmax(fits.max(axis=1)))]
    total = float(probability.sum())
    return _Judged(
        ways,
        probability / total,
        np.stack([one.place for one in row]),
        float(fits.max() + np.log(total)),
        scale * row[int(np.argmax(probability))].place_covariance(),
    )


def _misfit(cells: Cells, way: Quantizer, engine: tuple[float, float], counts: Counts) -> float:
    one = fit(cells, way, engine, counts)
    return one.square + one.volume


def _shares(record: TripRecord, values: int) -> tuple[Array, Array]:
    """Share of the time at each logged value, and of the time when it was held there; shapes
    (values,)."""
    time = met(record, values)
    if not time.sum() > 0:
        return np.full(values, 1 / values), np.zeros(values)
    return time / time.sum(), met(record, values, held=True) / time.sum()


def _places(
    records: Sequence[TripRecord], judged: _Judged, found: Mapping[str, Rounding]
) -> Places:
    values = judged.place.shape[1]
    seconds = [max(float(r.blocks["weight"].sum()), 1.0) for r in records]
    mean_mps = [
        max(float(r.blocks["indicated_m"].sum()) / time, 1.0)
        for r, time in zip(records, seconds, strict=True)
    ]
    loading = [
        r.grid.step_mps / mean * _shares(r, values)[1]
        for r, mean in zip(records, mean_mps, strict=True)
    ]
    names = tuple(r.name for r in records)
    open_share = [
        0.5 * (found[name].high_mps - found[name].low_mps) / mean
        for name, mean in zip(names, mean_mps, strict=True)
    ]
    return Places(names, np.stack(loading), judged.covariance, np.array(open_share))


def _roundings(records: Sequence[TripRecord], judged: _Judged) -> dict[str, Rounding]:
    """Each trip's rounding: what its values hide by each likely way, held places included."""
    likely = np.flatnonzero(judged.probability > LIKELY)
    top = int(np.argmax(judged.probability))
    found = {}
    for record in records:
        share, stays = _shares(record, judged.place.shape[1])
        unit = record.grid.step_mps
        hidden = np.array(
            [
                unit * float(share @ judged.ways[k].hidden + stays @ judged.place[k])
                for k in range(len(judged.ways))
            ]
        )
        way, mean = judged.ways[top], float(judged.probability @ hidden)
        low, high = float(hidden[likely].min()), float(hidden[likely].max())
        # ways that come to the same are one
        if high - low < ALIKE * unit:
            found[record.name] = Rounding(way.kind, record.grid.unit, mean, mean, mean, way.name)
        else:
            found[record.name] = Rounding("unsettled", record.grid.unit, mean, low, high)
    return found
