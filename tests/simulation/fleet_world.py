"""Invented fleets: what one vehicle's days show, with the truth known.

Written apart from the package. A vehicle's day has a consumption: its own level, the season, the
tires, its own day, which resembles the day before. The season moves all vehicles of a fleet
alike, and each a little differently; part of it is what physics knows within a range (and
each study states), part nobody adjusts for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class FleetCell:
    """One kind of fleet. Percentages are standard deviations of logarithms times 100."""

    name: str
    changed: int = 8
    controls: int = 4
    effect_percent: float = -3.0
    effect_differs: float = 0.7  # from vehicle to vehicle
    season_known: float = 1.2  # shared, stated by each study as physics' own doubt
    season_bias: float = 2.0  # shared, in no study's interval, the same in every fleet
    season_unknown: float = 1.0  # shared, in no study's interval, drawn per fleet
    season_differs: float = 0.5  # from vehicle to vehicle
    staggered: bool = False  # changes spread over half a year, the season with them
    days: tuple[int, int] = (6, 20)  # a side
    day_noise: float = 4.0
    noise_differs: float = 0.0  # logarithm's deviation of the day noise from vehicle to vehicle
    persistence: float = 0.3


@dataclass(frozen=True)
class VehicleDays:
    control: bool
    before: np.ndarray  # log consumption a day
    after: np.ndarray
    stated_points: float
    temperature_change_k: float


@dataclass(frozen=True)
class FleetWorld:
    vehicles: tuple[VehicleDays, ...]
    truth_percent: float  # mean effect of the tires


def _days(g: np.random.Generator, n: int, noise: float, persistence: float) -> np.ndarray:
    shock = g.normal(0, 1, n + 20)
    series = np.zeros(n + 20)
    for i in range(1, n + 20):
        series[i] = persistence * series[i - 1] + np.sqrt(1 - persistence**2) * shock[i]
    return series[20:] * noise / 100


def make_fleet(cell: FleetCell, seed: int) -> FleetWorld:
    """One fleet; the truth is the mean over vehicles of the tires' effect."""
    g = np.random.default_rng(seed)
    known = g.normal(0, cell.season_known) / 100
    unknown = g.normal(cell.season_bias, cell.season_unknown) / 100
    vehicles = []
    for number in range(cell.changed + cell.controls):
        control = number >= cell.changed
        phase = g.uniform(-0.2, 1.0) if cell.staggered else 1.0
        season = phase * (known + unknown) + g.normal(0, cell.season_differs) / 100
        effect = 0.0
        if not control:
            effect = np.log1p(cell.effect_percent / 100)
            effect += g.normal(0, cell.effect_differs) / 100
        level = g.normal(3.4, 0.1)
        noise = cell.day_noise * float(np.exp(g.normal(0, cell.noise_differs)))
        n_before, n_after = g.integers(cell.days[0], cell.days[1] + 1, 2)
        vehicles.append(
            VehicleDays(
                control,
                level + _days(g, n_before, noise, cell.persistence),
                level + season + effect + _days(g, n_after, noise, cell.persistence),
                abs(phase) * cell.season_known,
                15.0 * phase,
            )
        )
    return FleetWorld(tuple(vehicles), cell.effect_percent)


CELLS = (
    FleetCell("one season apart"),
    FleetCell(
        "no season", season_known=0.0, season_bias=0.0, season_unknown=0.0, season_differs=0.0
    ),
    FleetCell("season known to physics", season_bias=0.0, season_unknown=0.0),
    FleetCell("changes spread out", staggered=True),
    FleetCell("vehicles differ much", effect_differs=2.0, season_differs=1.0),
    FleetCell("few days", days=(4, 7)),
    FleetCell("two controls", changed=10, controls=2),
    FleetCell("one control", changed=11, controls=1),
    FleetCell("three and two controls", changed=3, controls=2),
    FleetCell("scatter differs much", noise_differs=0.5),
    FleetCell("no effect", effect_percent=0.0, effect_differs=0.0),
)
