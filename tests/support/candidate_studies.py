"""An invented bus with candidates, and what they are compared on."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import polars as pl
from mountain_studies import pass_profile, study

from gearing.analysis.candidates.find import find_candidates
from gearing.analysis.candidates.result import CandidateRow, CandidatesFinding
from gearing.analysis.mountain.model import road_model
from gearing.analysis.sides import BySide
from gearing.analysis.speed.turns import Turns, for_usual_axle
from gearing.statistics.estimate import Estimate, unknown
from gearing.study.model import Candidate, Period, Study

PER_KM = 1 / 1.609344  # a mile in revolutions a km
OLD, NEW = 628 * PER_KM, 608 * PER_KM
DRAWS = 16


def bus(*candidates: Candidate, **changes: Any) -> Study:
    """The bus on 245/70R19.5 and 265/70R19.5 with these candidates."""
    periods = {
        "before": Period(side="before", drive_tire="245/70R19.5", revolutions_per_km=OLD),
        "after": Period(
            side="after", drive_tire="265/70R19.5", revolutions_per_km=NEW, logs=("after/*.csv",)
        ),
    }
    return replace(study(), candidates=candidates, **(periods | changes))


def published(per_km: float) -> Turns:
    return Turns(per_km, 0.99 * per_km, 1.01 * per_km, None, "published", "published")


def turns(told: Study) -> BySide[Turns]:
    nothing = Turns(None, None, None, None, None, None, "the study has no such period")
    return BySide(
        published(OLD) if told.before else nothing, published(NEW) if told.after else nothing
    )


def compare(told: Study, profile: pl.DataFrame | None = None, **options: Any) -> CandidatesFinding:
    no_factor = unknown("no logs")
    given: dict[str, Any] = {
        "profiles": {"pass": pass_profile() if profile is None else profile},
        "turns": turns(told),
        "odometer_factor": BySide(no_factor, no_factor),
        "draws": DRAWS,
    }
    of_model = {key: options.pop(key) for key in ("steps", "trips") if key in options}
    model = road_model(told, for_usual_axle(told, turns(told)), draws=DRAWS, **of_model)
    return find_candidates(told, **({"model": model} | given | options))


def factor(value: float) -> Estimate:
    return Estimate(value, 0.999 * value, 1.001 * value, 14, "test")


def row(finding: CandidatesFinding, name: str) -> CandidateRow:
    every = (*finding.candidates, *finding.basis.references)
    return next(one for one in every if one.name == name)


def value(told: CandidateRow, key: str) -> float:
    found = told.figures[key].value
    assert found is not None, told.figures[key]
    return found
