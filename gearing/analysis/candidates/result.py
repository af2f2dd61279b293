"""Candidates side by side as frozen dataclasses: field names are the keys of `results.json`.

Speeds in km/h, grades and changes in percent, energies in kWh, volumes in L.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from gearing.messages import Text

Standing = Literal["best", "tie"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure of one row with the 95 % range of the draws.

    `standing` says how it stands among all rows: the best of its column, or one of several that
    may be, their differences being smaller than the interval of these; None where it is surely
    behind, where none is, or where neither more nor less is better by itself.
    """

    value: float | None = None
    low: float | None = None
    high: float | None = None
    standing: Standing | None = None
    why: Text | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CandidateDrive:
    """One route driven one way.

    Keys of `figures`: `top_gear_share` (of the time under way, 0 to 1), `top_gear_sustains_percent`
    (grade, at the route's target speed), `sustained_lowest_kmh` (over 300 m of a climb),
    `downshifts_under_drive`, `liters`, `fuel_change_percent` (against the row compared with),
    `brake_kwh` and `brake_stops` (of the service brakes).
    `gear_down` is the highest gear that holds the steepest 500 m down at or under the speed wanted,
    and `held_speed_kmh` what it holds, None where none does.
    """

    route: Text
    verdict: str
    care: tuple[Text, ...]
    figures: dict[str, Figure]
    gear_down: int | None
    held_speed_kmh: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CandidateRow:
    """One candidate, or a period's own tires and axle (`period`).

    `changed` are the study keys in which it differs from what it is compared with. Keys of
    `figures`: `gearing_change_percent` (of engine speed at the same true speed; negative is
    taller), `restoring_axle_ratio` (that brings the gearing compared with back on these tires),
    `indicated_kmh` and `engine_rpm` at the true speed `at_kmh`, `startability_percent`, and over
    all routes both ways `top_gear_share`, `sustained_lowest_kmh` (the lowest of any),
    `downshifts_under_drive`, `fuel_change_percent`, `brake_kwh`.
    """

    name: str
    period: str | None
    drive_tire: str | None
    axle_ratio: float | None
    changed: tuple[str, ...]
    revolutions_per_km: Figure
    basis: Text | None
    gear: int | None  # that `engine_rpm` is in
    figures: dict[str, Figure]
    drives: tuple[CandidateDrive, ...]
    notes: tuple[Text, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CandidatesBasis:
    """What the candidates are compared with, and on what the comparison rests.

    `references` are the periods' own tires, `compared_with` the one that changes are against;
    `why` says why the routes give no figures.
    """

    references: tuple[CandidateRow, ...]
    compared_with: str
    at_kmh: float
    assumed: tuple[Text, ...]
    why: Text | None
    draws: int
    seed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CandidatesFinding:
    """All candidates, and what they are compared with."""

    candidates: tuple[CandidateRow, ...]
    basis: CandidatesBasis
