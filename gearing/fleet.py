"""A fleet's run: each study in a folder of its own, and one page that compares the vehicles."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from gearing import __version__, outputs
from gearing.batch import Options, Outcome, run_loaded
from gearing.findings.fleet import pool, vehicle_figures
from gearing.progress import Progress
from gearing.report.closing import of_vehicle
from gearing.report.fleet_page import render_fleet
from gearing.results import SCHEMA, dumps, plain
from gearing.store import digest
from gearing.study.fleet import Member, load_fleet


def run_fleet(path: Path, options: Options, progress: Progress) -> Outcome:
    """Run every study of a fleet file and write `fleet.html`, `fleet.json`, one folder a study.

    Raises
    ------
    GearingError
        the fleet file, a study, the output folder or the disk is not fit.
    """
    fleet = load_fleet(path)
    units = options.units or fleet.units
    folder = options.out or Path("reports") / fleet.slug
    outputs.claim_folder(folder, fleet.name)
    outputs.remove_leavings(folder)
    inner = replace(options, out=None, units=units)
    runs: list[tuple[Member, Outcome]] = []
    for member in fleet.members:
        study = member.study
        progress.step(f"{study.name}, {len(runs) + 1} of {len(fleet.members)} vehicles")
        runs.append((member, run_loaded(study, folder / study.slug, inner, progress)))
    vehicles = [
        vehicle_figures(outcome.results, member.role, name=member.study.name)
        for member, outcome in runs
    ]
    claim = fleet.claim.consumption_change_percent if fleet.claim else None
    finding = pool(fleet.name, vehicles, claim_percent=claim, margin_percent=fleet.margin_percent)
    results: dict[str, Any] = {
        "schema": SCHEMA,
        "fleet": fleet.name,
        "program": "gearing",
        "version": __version__,
        "run_id": digest([outcome.results["run_id"] for _, outcome in runs], plain(finding))[:32],
        "units": units,
        "studies": [
            {"name": member.study.name, "folder": member.study.slug, "role": member.role}
            for member, _ in runs
        ],
        **plain(finding),
    }
    for member, outcome in runs:
        results["warnings"] += of_vehicle(member.study.name, outcome.results)
    outputs.write_whole(folder / "fleet.html", render_fleet(results).encode())
    outputs.write_whole(folder / "fleet.json", dumps(results).encode())
    return Outcome(
        results=results | {"answered": any(outcome.answered for _, outcome in runs)},
        folder=folder,
        units=units,
        unchanged=all(outcome.unchanged for _, outcome in runs),
    )
