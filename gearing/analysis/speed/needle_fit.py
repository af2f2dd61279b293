"""The speedometer's needle beside true speed: what it shows, before and after, and how sure.

    shown = gain x true + offset

The offset is the instrument's and the same on both sets of tires; the gain is the instrument's
times what the tires turn. Few readings tell neither the offset nor their own error well: both have
a range beforehand, and the interval knows it. A reading noted by the minute is worth what speed was
steady in it.

Sources: UN Regulation 39, paragraph 5.3, lets a needle show up to a tenth and 4 km/h more than is
true and nothing less; makers leave the upper half. SAE J2976 lets it show 1 % less to 4 % more at
45 mph. With any of that alike likely, and any part of it an offset, the offset is 0.9 km/h with a
deviation of 1.0. That a needle is read to about half a unit is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gearing.analysis.sides import SIDES, BySide, by_side
from gearing.analysis.speed.odometer_readings import side_at
from gearing.analysis.speed.rule_limits import NO_NEEDLE, SLOWEST_READ_MPS, far_off
from gearing.statistics.arrays import Array
from gearing.statistics.estimate import Estimate, unknown
from gearing.statistics.linear_posterior import (
    LinearPosterior,
    Scale,
    Shape,
    linear_posterior,
    root_of_rising,
)
from gearing.study.model import DashReading, Measured, Study
from gearing.trips.declared import noted_within
from gearing.trips.record import TripRecord
from gearing.units import KMH_MPS

READING = Scale(0.6, 0.5)  # km/h: 0.2 to 1.6 for 95 of 100 readers
GAIN = (1.02, 0.06)
OFFSET = (0.9, 1.0)  # km/h
MIN_READINGS = 1
CLOCK_S = 0.5  # of a moment noted by the second at a marker
UNSTEADY_KMH = 0.7  # at a reading, of a speed held over a stretch; both common practice, no source
METHOD = "needle-readings"


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading beside the receiver [km/h]; `unsteady_kmh`: standard deviation of true speed
    over the time it may have been read; `shared_kmh`: of what the receiver is off by, alike in all
    readings."""

    after: bool
    true_kmh: float
    shown_kmh: float
    unsteady_kmh: float = 0.0
    shared_kmh: float = 0.0


@dataclass(frozen=True, slots=True)
class NeedleFit:
    """What the readings of both periods say together; `count` of each."""

    posterior: LinearPosterior
    count: BySide[int]
    mean_true_kmh: BySide[float]

    def off(self, side: str, true_kmh: float) -> Estimate:
        """Shown less true [km/h] at a true speed."""
        contrast = self._gain(side) * true_kmh + _OFFSET
        low, high = (self.posterior.quantile(contrast, tail) for tail in (0.025, 0.975))
        middle = self.posterior.moments(contrast)[0]
        shown = Estimate(middle, low, high, self._n(side), METHOD)
        return shown.map(lambda kmh: kmh - true_kmh)

    def true(self, side: str, shown_kmh: float) -> Estimate:
        """True speed [km/h] where the needle shows so much."""

        def below(true_kmh: float) -> float:
            # the needle would show more than it does
            return self.posterior.below(-(self._gain(side) * true_kmh + _OFFSET), -shown_kmh)

        low, middle, high = (
            root_of_rising(lambda x, p=p: below(x) - p, 0.4 * shown_kmh, 2.5 * shown_kmh)  # type: ignore[misc]
            for p in _ENDS_AND_MIDDLE
        )
        return Estimate(middle, low, high, self._n(side), METHOD)

    def ratio(self, side: str) -> Estimate:
        """Shown over true at the speeds read."""
        if not self.count.of(side):
            return unknown(NO_NEEDLE)
        at = self.mean_true_kmh.of(side)
        return self.off(side, at).map(lambda off: 1 + off / at)

    def relative(self) -> Estimate:
        """True over shown after, against before: what the change of tires made of it."""
        if not min(self.count.before, self.count.after):
            return unknown(NO_NEEDLE)
        before, after = self._gain("before"), self._gain("after")
        low, middle, high = (
            self.posterior.ratio_quantile(before, after, p, 0.5, 2.0) for p in _ENDS_AND_MIDDLE
        )
        return Estimate(middle, low, high, self.count.before + self.count.after, METHOD)

    def _n(self, side: str) -> int:
        return self.count.of(side)

    @staticmethod
    def _gain(side: str) -> Array:
        return np.asarray(np.eye(4)[0 if side == "before" else 1])


_OFFSET = np.eye(4)[2]
_ENDS_AND_MIDDLE = (0.025, 0.5, 0.975)


def readings_of(study: Study, records: Sequence[TripRecord]) -> tuple[Reading, ...]:
    """The declared readings that can be a needle's: beside a receiver in a trip, or on a stretch
    of known length."""
    found: list[Reading] = []
    for record in records:
        for shown in record.shown:
            declared = study.dash[shown.index].speed_mps
            if declared is None or shown.true_mps is None or shown.true_mps < SLOWEST_READ_MPS:
                continue
            if not far_off(declared, shown.true_mps):
                shared = record.way_error * shown.true_mps
                speeds = (shown.true_mps, declared, shown.unsteady_mps, shared)
                found.append(Reading(record.side == "after", *(v / KMH_MPS for v in speeds)))
    seen = {shown.index for record in records for shown in record.shown}
    return (*found, *_on_stretches(study, records, seen))


def on_stretch(study: Study, reading: DashReading) -> Measured | None:
    """The stretch of known length the needle was read on, if it can be the needle's there."""
    for stretch in study.measured:
        lasts = (stretch.end - stretch.start).total_seconds()
        if stretch.distance_m is None or lasts <= 0 or reading.speed_mps is None:
            continue
        true = stretch.distance_m / lasts
        inside = stretch.start <= reading.at <= stretch.end
        if inside and true >= SLOWEST_READ_MPS and not far_off(reading.speed_mps, true):
            return stretch
    return None


def _on_stretches(study: Study, records: Sequence[TripRecord], seen: set[int]) -> list[Reading]:
    """Readings that no log reaches, taken while a stretch of known length was driven steadily: true
    is its length over the time it took."""
    found = []
    for index, shown in enumerate(study.dash):
        stretch = None if index in seen else on_stretch(study, shown)
        side = None if stretch is None else side_at(study, shown.at, records)
        if stretch is None or side is None:
            continue
        assert stretch.distance_m is not None
        assert shown.speed_mps is not None
        lasts = (stretch.end - stretch.start).total_seconds()
        true = stretch.distance_m / lasts
        by_minute = all(noted_within(at)[1] > at for at in (stretch.start, stretch.end))
        clock = 60 / math.sqrt(12) if by_minute else CLOCK_S
        unsure = true * math.hypot(clock, clock) / lasts
        unsteady = math.hypot(unsure / KMH_MPS, UNSTEADY_KMH)
        speeds = (true / KMH_MPS, shown.speed_mps / KMH_MPS)
        found.append(Reading(side == "after", *speeds, unsteady))
    return found


def fit_needle(readings: Sequence[Reading]) -> NeedleFit | None:
    """The fit; None without a reading."""
    if len(readings) < MIN_READINGS:
        return None
    after = np.array([reading.after for reading in readings])
    true = np.array([reading.true_kmh for reading in readings])
    shown = np.array([reading.shown_kmh for reading in readings])
    unsteady = np.array([reading.unsteady_kmh for reading in readings])
    shared = np.array([reading.shared_kmh for reading in readings])
    noise = np.diag(1 + (unsteady / READING.median) ** 2)
    design = np.column_stack([true * ~after, true * after, np.ones(len(true)), shared])
    posterior = linear_posterior(
        shown,
        design,
        np.array([GAIN[0], GAIN[0], OFFSET[0], 0.0]),
        np.array([GAIN[1], GAIN[1], OFFSET[1], 1.0]),
        [Shape(noise, 0.0)],
        READING,
    )
    sides = {side: true[after == (side == "after")] for side in SIDES}
    return NeedleFit(
        posterior,
        by_side(lambda side: len(sides[side])),
        by_side(lambda side: float(sides[side].mean()) if len(sides[side]) else 80.0),
    )
