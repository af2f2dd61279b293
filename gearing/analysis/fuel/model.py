"""What the fuel comparison answers: frozen results, named as in `results.json`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import polars as pl

from gearing.analysis.sides import BySide
from gearing.messages import StudyWarning, Text
from gearing.statistics.estimate import Estimate

Verdict = Literal[
    "supported",
    "smaller than claimed",
    "some saving, size unsettled",
    "no change",
    "worse",
    "less fuel",
    "cannot tell yet",
]


@dataclass(frozen=True, slots=True)
class ChangePercent:
    """Change of fuel consumption, after against before [%]; negative is less fuel."""

    indicated: Estimate
    true_distance: Estimate
    matched: Estimate
    adjusted: Estimate
    fillups: Estimate


@dataclass(frozen=True, slots=True)
class Part:
    """One reason why the indicated change is not the adjusted one.

    `log` adds up: the logarithms of all parts and of the adjusted change make that of the
    indicated change; `percent` is the same as a change of consumption [%].
    """

    name: str
    percent: float
    log: float
    text: Text


@dataclass(frozen=True, slots=True)
class Physics:
    """One thing physics knows only within a range: what was taken, and how far it may be off.

    `points` is what one standard deviation of it does to the adjusted change [percent points];
    `estimated_share` tells how much of the range the logs themselves took away (0 none, 1 all).
    """

    name: str
    value: float
    deviation: float
    unit: str
    points: float
    estimated_share: float
    source: str  # "study" | "default"


@dataclass(frozen=True, slots=True)
class Idle:
    """Running without moving, apart from the comparison."""

    hours: float
    liters_per_hour: float | None
    fuel_share_percent: float | None


@dataclass(frozen=True, slots=True)
class Amount:
    """How much driving stands behind a side."""

    days: int
    trips: int
    true_km: float | None
    liters_per_100km: float | None
    mean_temperature_c: float | None
    mean_speed_kmh: float | None


@dataclass(frozen=True, slots=True)
class Savings:
    """What the adjusted change is worth: money a year, when the cost is back, CO2 [kg a year]."""

    currency: str
    saving_per_year: Estimate
    years_to_pay: Estimate
    co2_kg_per_year: Estimate


@dataclass(frozen=True, slots=True)
class Plan:
    """With the before side alone: how much to drive for a change of `claim_percent` to show.

    `before_km` counts what is still to drive before the change, `after_km` what then follows,
    if both sides are driven alike; None where no distance is enough.
    """

    claim_percent: float
    before_km: float | None
    after_km: float | None
    day_scatter_percent: float
    text: Text


@dataclass(frozen=True, slots=True)
class Chance:
    """Permutation in blocks of days: how often relabelled days differ as much."""

    p: float
    draws: int
    block_days: int
    seed: int


@dataclass(frozen=True, slots=True)
class TankFinding:
    """What the fill-up log tells beside `fuel.change_percent.fillups`.

    `count`: whole tanks of each side. `filling_error_l`: how far one fill is off full, standard
    deviation; `season_percent`: what the seasons by themselves made of the plain comparison,
    `driving_percent` what other roads and speeds did, as logged, else as driving by a dash that
    reads low may have done;
    `scatter_percent`: from tank to tank. `more_tanks`: on the new tires, until a change of half
    the claim (2 % without one) would show. `distance_by`: what put the odometer right.
    `next`: what would make the answer surer.
    """

    count: BySide[int]
    liters_per_100km: BySide[float | None]
    filling_error_l: float | None
    season_percent: float | None
    driving_percent: float | None
    scatter_percent: float | None
    smallest_detectable_percent: float | None
    more_tanks: int | None
    more_tanks_why: Text | None
    distance_by: Text
    next: Text  # what to do for the answer to be surer
    action: Text = ""  # the same in a few words


Basis = Literal["adjusted", "matched", "fillups"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelFinding:
    change_percent: ChangePercent
    parts: tuple[Part, ...]
    smallest_detectable_percent: float | None
    smallest_detectable_percent_why: Text | None
    more_driving_km: float | None
    more_driving_km_why: Text | None
    deciding_km: float | None  # until the verdict is settled, were the change to stay as it is
    verdict: Verdict | None
    verdict_why: Text
    verdict_basis: Basis | None  # the estimate the verdict rests on
    claim_percent: float | None
    margin_percent: float
    expected_percent: Estimate  # of the gearing alone
    engine_computer_scale: BySide[Estimate]  # fuel bought over fuel the computer counted
    tanks: TankFinding | None
    idle: BySide[Idle | None]
    sides: BySide[Amount]
    physics: tuple[Physics, ...]
    physics_half_width_percent: float | None  # of the adjusted interval, if days were endless
    day_scatter_percent: float | None
    autocorrelation: float | None
    size_change_percent: Estimate  # what is left of the adjusted change without the tread's part
    tread_percent: Estimate  # that part, from published figures
    chance: Chance | None
    plain_percent: Estimate  # the adjusted days by Welch's t, physics taken as known: a check
    savings: Savings | None
    savings_why: Text | None
    plan: Plan | None
    set_apart_km: dict[str, float]  # driving marked and left out of the comparison, by reason
    weather_used: Text  # how wind entered, in words
    disagreement: Text  # where the estimates differ: which assumption decides
    warnings: tuple[StudyWarning, ...]
    days: pl.DataFrame  # one row a day: side, day, distance, liters, the estimates' log ratios
    segments: pl.DataFrame  # road cells compared
