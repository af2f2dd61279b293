"""Candidates as a part of a run, and `gearing candidates` by itself."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gearing.analysis.candidates import CandidatesFinding, find_candidates
from gearing.results import plain, with_messages

if TYPE_CHECKING:
    from collections.abc import Mapping

    import polars as pl

    from gearing.analysis.speed import SpeedFinding
    from gearing.messages import Text
    from gearing.statistics.estimate import Estimate
    from gearing.study.model import Study
    from gearing.trips.shifts import Upshifts


def candidates_of(
    study: Study,
    speed: SpeedFinding,
    profiles: Mapping[str, pl.DataFrame],
    *,
    change_percent: Estimate | None = None,
    steps: pl.DataFrame | None = None,
    trips: pl.DataFrame | None = None,
    upshifts: Upshifts | None = None,
    seed: int | None = None,
    withheld: Text | None = None,
) -> CandidatesFinding | None:
    """The candidates from what the run has found; None where the study names none."""
    if not study.candidates:
        return None
    return find_candidates(
        study,
        profiles=profiles,
        turns=speed.revolutions_per_km,
        odometer_factor=speed.odometer_factor,
        change_percent=change_percent,
        steps=steps,
        trips=trips,
        upshifts=upshifts,
        seed=seed,
        withheld=withheld,
    )


def candidate_results(finding: CandidatesFinding) -> dict[str, Any]:
    """The candidates alone, under the keys they have in `results.json`."""
    told = {"candidates": plain(finding.candidates), "candidates_basis": plain(finding.basis)}
    return with_messages(told)
