"""`gearing candidates`: from the logs where there are any, else from what is declared."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gearing.analysis.candidates.find import find_candidates
from gearing.analysis.final_drive import find_final_drive
from gearing.analysis.mountain.doubts import routes_doubted
from gearing.analysis.mountain.model import road_model
from gearing.analysis.speed import find_speed
from gearing.analysis.speed.turns import for_usual_axle
from gearing.analysis.trip_figures import road_steps_of, trip_figures
from gearing.messages import GearingError, message, problem_of
from gearing.results import plain, with_messages
from gearing.run.batch import fitting_workers, study_store
from gearing.run.companion_files import read_companions
from gearing.run.ingest import gather, read_tasks
from gearing.run.study_logs import study_logs
from gearing.run.workers import in_one_order
from gearing.study import load_study

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from gearing.analysis.candidates.result import CandidatesFinding
    from gearing.run.batch import Options
    from gearing.run.progress import Progress
    from gearing.study.model import Study
    from gearing.trips.record import TripRecord


@in_one_order
def compare_candidates(
    path: Path, options: Options, progress: Progress
) -> tuple[Study, CandidatesFinding]:
    """The study of a file and its candidates compared.

    Raises
    ------
    GearingError
        the study file is not fit, or names no candidate.
    """
    study = load_study(path, logs_needed=False)
    if not study.candidates:
        raise GearingError((problem_of(message("no-candidates"), file=str(path)),))
    periods = [one for one in (study.before, study.after) if one is not None]
    records: Sequence[TripRecord] = ()
    if study.logs or any(one.logs for one in periods):
        study = load_study(path)
        records = _records(study, options, progress)
    progress.step(message("comparing-candidates"))
    figures = trip_figures(study, records)
    final_drive = find_final_drive(study, figures)
    speed = find_speed(study, records, figures, final_drive)
    model = road_model(
        study,
        for_usual_axle(study, speed.revolutions_per_km),
        steps=road_steps_of(records, figures) if records else None,
        trips=figures.trips if records else None,
        upshifts=figures.upshifts,
        seed=options.seed,
    )
    finding = find_candidates(
        study,
        profiles=read_companions(study).profiles,
        turns=speed.revolutions_per_km,
        odometer_factor=speed.odometer_factor,
        change_percent=final_drive.change_percent,
        model=model,
        seed=options.seed,
        withheld=routes_doubted((*speed.warnings, *final_drive.warnings)),
    )
    return study, finding


def candidate_results(finding: CandidatesFinding) -> dict[str, Any]:
    """The candidates alone, under the keys they have in `results.json`."""
    told = {"candidates": plain(finding.candidates), "candidates_basis": plain(finding.basis)}
    return with_messages(told)


def _records(study: Study, options: Options, progress: Progress) -> list[TripRecord]:
    """The trips of the study's logs, those kept from earlier runs not read again."""
    with (
        study_store(study, options) as store,
        fitting_workers(options) as workers,
    ):
        return gather(study, read_tasks(study, study_logs(study), store), workers, progress).records
