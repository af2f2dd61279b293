"""The results of one study as a typed, frozen record: what page, terminal and scripts read."""

from __future__ import annotations

import dataclasses
import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from gearing.analysis.candidates.result import CandidateRow, CandidatesBasis
from gearing.analysis.final_drive import FinalDriveFinding
from gearing.analysis.final_drive.gears import GearRow
from gearing.analysis.fuel import FuelFinding
from gearing.analysis.mountain import MountainFinding
from gearing.analysis.mountain.result import Route
from gearing.analysis.speed import SpeedFinding
from gearing.messages import StudyWarning, Text
from gearing.results import SCHEMA, decoded, plain, read, with_messages
from gearing.results.schema import definition_name, schema_of
from gearing.study.model import Claim, Fitment, Money, Role, Side, Vehicle

# what of a finding stands at the top of the file instead
_LIFTED = {"final_drive": "gears", "mountain": "routes"}
_FINDINGS = ("speed", "final_drive", "fuel", "mountain")
_MOVED = {
    SpeedFinding: ("warnings",),
    FinalDriveFinding: ("warnings", "gears"),
    FuelFinding: ("warnings",),
    MountainFinding: ("warnings", "routes"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class DeclaredPeriod:
    """One set of tires as the study declares it; its logs are no part of it."""

    side: Side
    drive_tire: str
    steer_tire: str | None
    revolutions_per_km: float | None
    axle_ratio: float | None
    start: datetime | None
    end: datetime | None
    pressure_kpa: float | None
    fitment: Fitment | None
    tread_m: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Declared:
    """What the study says, for a page to repeat; paths are left out."""

    role: Role
    vehicle: Vehicle
    before: DeclaredPeriod | None
    after: DeclaredPeriod | None
    claim: Claim | None
    money: Money | None
    time_zone: str
    private_radius_m: float
    routes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class InputCount:
    """What was read. Read = used + set aside, always."""

    files: int
    rows_read: int
    rows_used: int
    rows_set_aside: int
    reasons: dict[str, int]  # of rows
    values_set_aside: dict[str, int]
    repairs: dict[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteGroup:
    """Like problems of many files as one: how many files, how many cases, the first of them."""

    code: str
    severity: str
    column: str
    message: Text
    remedy: Text
    file: str
    files: int
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip:
    """One trip: `name` is its file's stem, with -2, -3 where the file holds several."""

    name: str
    period: str
    start: str
    true_km: float | None
    indicated_km: float | None
    liters: float | None
    odometer_factor: float | None
    final_drive: float | None
    flags: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Results:
    """Every figure of a run."""

    schema: int = SCHEMA
    study: str
    program: str
    version: str
    seed: int
    run_id: str
    units: str
    answered: bool
    input: InputCount
    declared: Declared
    speed: SpeedFinding
    final_drive: FinalDriveFinding
    gears: tuple[GearRow, ...]
    fuel: FuelFinding
    routes: tuple[Route, ...]
    mountain: MountainFinding
    candidates: tuple[CandidateRow, ...] = ()
    candidates_basis: CandidatesBasis | None = None  # None where the study names no candidate
    warnings: tuple[StudyWarning, ...]
    questions: tuple[NoteGroup, ...]
    notes: tuple[NoteGroup, ...]
    trips: tuple[Trip, ...]

    def tree(self) -> dict[str, Any]:
        """As plain JSON values: `results.json`, but for the digests of the other files."""
        tree = plain(self)
        for name in _FINDINGS:
            del tree[name]["warnings"]
        for name, lifted in _LIFTED.items():
            del tree[name][lifted]
        return with_messages(tree)

    @classmethod
    def from_tree(cls, tree: dict[str, Any]) -> Results:
        """The results that `tree` was made of; their frames come back empty.

        Raises
        ------
        KeyError, TypeError, ValueError
            the tree is not that.
        """
        whole = dict(tree)
        for name in _FINDINGS:
            whole[name] = tree[name] | {"warnings": []}
        for name, lifted in _LIFTED.items():
            whole[name] = whole[name] | {lifted: []}
        made = decoded(cls, whole, tree["messages"])
        return dataclasses.replace(
            made,
            final_drive=dataclasses.replace(made.final_drive, gears=made.gears),
            mountain=dataclasses.replace(made.mountain, routes=made.routes),
        )


def read_results(path: str | Path) -> Results:
    """The results in a `results.json`, or in the output folder that holds one.

    Raises
    ------
    ValueError
        there is no whole file of this schema.
    """
    path = Path(path)
    path = path / "results.json" if path.is_dir() else path
    tree = read(path)
    if tree is None:
        raise ValueError(f"{path} holds no results of schema {SCHEMA}")
    try:
        return Results.from_tree(tree)
    except (KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"{path} holds results of another program version: {error}") from error


def results_schema() -> dict[str, Any]:
    """The JSON Schema of `results.json`, made of the types."""
    schema = schema_of(Results, title="results.json of gearing")
    for finding, moved in _MOVED.items():
        record = schema["$defs"][definition_name(finding)]
        for key in moved:
            del record["properties"][key]
            record["required"].remove(key)
    return schema


def write_schema(path: Path) -> None:
    """Write the JSON Schema to where the guide holds it."""
    path.write_text(json.dumps(results_schema(), indent=1) + "\n", encoding="utf-8")
