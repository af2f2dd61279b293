"""The results of a fleet, `fleet.json`, as a typed, frozen record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from gearing.analysis.fleet import FleetFuel, VehicleFigures
from gearing.messages import StudyWarning, Text
from gearing.results import SCHEMA, decoded, plain, with_messages
from gearing.study.model import Role


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetStudy:
    """A vehicle that was run; its own report lies in `folder`, beside the fleet's."""

    name: str
    folder: str
    role: Role


@dataclass(frozen=True, slots=True, kw_only=True)
class ToMend:
    """One thing to be mended before a vehicle can be run."""

    code: str
    file: str
    line: int | None
    message: Text
    remedy: Text


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleNotRun:
    """A vehicle that could not be run; `file` is its study file."""

    name: str
    file: str
    role: Role
    problems: tuple[ToMend, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetResults:
    """Every figure of a fleet's run."""

    schema: int = SCHEMA
    fleet: str
    program: str
    version: str
    run_id: str
    units: str | None
    studies: tuple[FleetStudy, ...]
    not_run: tuple[VehicleNotRun, ...]
    name: str
    vehicles: tuple[VehicleFigures, ...]
    fuel: FleetFuel
    warnings: tuple[StudyWarning, ...]

    def tree(self) -> dict[str, Any]:
        """As plain JSON values: `fleet.json`."""
        return with_messages(plain(self))

    @classmethod
    def from_tree(cls, tree: dict[str, Any]) -> FleetResults:
        """The results that `tree` was made of.

        Raises
        ------
        KeyError, TypeError, ValueError
            the tree is not that.
        """
        return decoded(cls, tree, tree["messages"])
