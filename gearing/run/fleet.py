"""A fleet's run: each study in a folder of its own, and one page that compares the vehicles."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from gearing.analysis.fleet import VehicleFigures, pool, vehicle_figures
from gearing.messages import (
    GearingError,
    Problem,
    StudyWarning,
    UserText,
    field_of,
    message,
    problem_of,
)
from gearing.report.evidence.warnings import NOT_USED
from gearing.report.fleet_page import render_fleet
from gearing.report.terminal import fleet_lines
from gearing.results import dumps, plain
from gearing.results.fleet import FleetResults, FleetStudy, ToMend, VehicleNotRun
from gearing.run import outputs
from gearing.run.batch import Options, Outcome, all_workers, run_loaded
from gearing.run.progress import Progress
from gearing.run.store import digest
from gearing.run.workers import Died, local
from gearing.study.files import log_files
from gearing.study.fleet import Fleet, Member, NotRun, load_fleet
from gearing.study.model import Role, Study
from gearing.version import __version__


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """What a fleet keeps of one vehicle's run: thousands of whole results would not fit."""

    member: Member
    figures: VehicleFigures
    run_id: str
    answered: bool
    unchanged: bool
    warnings: tuple[StudyWarning, ...]


def run_fleet(path: Path, options: Options, progress: Progress) -> Outcome:
    """Run every study of a fleet file and write `fleet.html`, `fleet.json`, one folder a study.

    A vehicle that cannot be run is told at once, named in both, and costs no other.

    Raises
    ------
    GearingError
        the fleet file, the output folder or the disk is not fit, or no vehicle could be run.
    """
    fleet = load_fleet(path)
    options = replace(options, units=options.units or fleet.units)
    folder = options.out or Path("reports") / fleet.slug
    outputs.claim_folder(folder, fleet.name)
    outputs.remove_stale_files(folder)
    for one in fleet.not_run:
        progress.tell(problem.sentence() for problem in one.problems)
    found = _run_all(fleet, folder, options, progress)
    runs = [one for one in found if isinstance(one, _Run)]
    not_run = [*fleet.not_run, *(one for one in found if isinstance(one, NotRun))]
    if not runs:
        raise GearingError((problem_of(message("fleet-none-run"), file=str(path)),))
    results = _results(fleet, runs, not_run, options)
    page, tree = render_fleet(results, share=options.share), results.tree()
    outputs.write_whole(folder / "fleet.html", page.encode())
    outputs.write_whole(folder / "fleet.json", dumps(tree).encode())
    return Outcome(
        results=tree | {"answered": any(run.answered for run in runs)},
        folder=folder,
        units=options.units or fleet.units,
        lines=tuple(fleet_lines(results)),
        unchanged=not not_run and all(run.unchanged for run in runs),
        faults=tuple(problem for one in not_run for problem in one.problems),
    )


@dataclass(frozen=True, slots=True)
class _Vehicle:
    """One vehicle to run, into a folder of its own."""

    member: Member
    folder: Path
    options: Options


def _run_all(
    fleet: Fleet, folder: Path, options: Options, progress: Progress
) -> list[_Run | NotRun]:
    """Every vehicle, in the fleet's order: side by side where there are as many as workers, else
    one after the other, the logs of each shared out."""
    done, vehicles = 0, len(fleet.members)

    def tell(found: _Run | NotRun) -> None:
        """Show that one more vehicle is done, and at once what kept it from being run."""
        nonlocal done
        done += 1
        if isinstance(found, NotRun):
            progress.tell(problem.sentence() for problem in found.problems)
        progress.step(message("running-vehicles", done=done, vehicles=vehicles))

    with all_workers(options) as workers:
        beside = 1 < workers.width <= vehicles
        own = replace(options, out=None, jobs=1, cluster=None) if beside else options
        tasks = [_Vehicle(one, folder / one.study.slug, own) for one in fleet.members]
        if beside:
            # the largest first, lest one be left to run alone at the end
            tasks.sort(key=lambda task: -_bytes_of(task.member.study))
            found = workers.run(_run, tasks, tell)
        else:
            found = local(1).run(functools.partial(_run, progress=progress), tasks, tell)
    by_name = {
        task.member.study.name: _lost(task.member, one, tell) if isinstance(one, Died) else one
        for task, one in zip(tasks, found, strict=True)
    }
    return [by_name[member.study.name] for member in fleet.members]


def _bytes_of(study: Study) -> int:
    """How large a study's logs are together."""
    return sum(path.stat().st_size for path, _ in log_files(study) if path.is_file())


def _lost(member: Member, died: Died, tell: Callable[[NotRun], None]) -> NotRun:
    """A vehicle that killed each worker it was given to."""
    path = member.study.path
    told = message("killed-the-reader/study", system=UserText(died.why, "system"))
    lost = NotRun(
        name=member.study.name,
        file=path,
        role=member.role,
        problems=(problem_of(told, file=str(path)),),
    )
    tell(lost)
    return lost


def _run(vehicle: _Vehicle, progress: Progress | None = None) -> _Run | NotRun:
    member, study = vehicle.member, vehicle.member.study
    progress = progress or Progress(quiet=True)
    try:
        outcome = run_loaded(study, vehicle.folder, vehicle.options, progress)
    except GearingError as error:
        problems = error.problems
    except Exception as error:  # ours, and no reason to leave the others of a night undone
        problems = (_program_fault(study.path, error),)
    else:
        return _Run(
            member=member,
            figures=vehicle_figures(outcome.results, member.role, name=study.name),
            run_id=outcome.results["run_id"],
            answered=outcome.answered,
            unchanged=outcome.unchanged,
            warnings=warnings_of_vehicle(study.name, member.role, outcome.results),
        )
    return NotRun(name=study.name, file=study.path, role=member.role, problems=problems)


def _program_fault(path: Path, error: Exception) -> Problem:
    told = message("program-fault/study", system=UserText(repr(error), "system"))
    return problem_of(told, file=str(path))


def _results(
    fleet: Fleet, runs: Sequence[_Run], not_run: Sequence[NotRun], options: Options
) -> FleetResults:
    """What `fleet.json` holds."""
    vehicles = [run.figures for run in runs]
    vehicles += [
        vehicle_figures({}, one.role, name=one.name, missing=message("fleet-not-run"))
        for one in not_run
    ]
    claim = fleet.claim.consumption_change_percent if fleet.claim else None
    finding = pool(fleet.name, vehicles, claim_percent=claim, margin_percent=fleet.margin_percent)
    mended = tuple(map(_not_run, not_run))
    run_id = digest([run.run_id for run in runs], plain(finding), plain(mended))[:32]
    return FleetResults(
        fleet=fleet.name,
        program="gearing",
        version=__version__,
        run_id=run_id,
        units=options.units,
        studies=tuple(
            FleetStudy(
                name=run.member.study.name, folder=run.member.study.slug, role=run.member.role
            )
            for run in runs
        ),
        not_run=mended,
        name=finding.name,
        vehicles=finding.vehicles,
        fuel=finding.fuel,
        warnings=(
            *finding.warnings,
            *fleet.warnings,
            *(warning for run in runs for warning in run.warnings),
        ),
    )


def _not_run(one: NotRun) -> VehicleNotRun:
    problems = tuple(
        ToMend(
            code=problem.code,
            file=problem.file,
            line=problem.first_line,
            message=problem.told,
            remedy=problem.fix,
        )
        for problem in one.problems
    )
    return VehicleNotRun(name=one.name, file=str(one.file), role=one.role, problems=problems)


def warnings_of_vehicle(
    name: str, role: Role, results: Mapping[str, Any]
) -> tuple[StudyWarning, ...]:
    """What one vehicle's run did not use, as a fleet tells it; of its results as JSON has them."""
    return tuple(
        StudyWarning(
            row["code"],
            message(
                "of-vehicle/control" if role == "control" else "of-vehicle",
                vehicle=UserText(name),
                told=field_of(row["text"]),
            ),
            (),
        )
        for row in results["warnings"]
        if row["code"] in NOT_USED
    )
