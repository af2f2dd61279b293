"""A fleet file: many studies, some of vehicles left unchanged, to be read against each other."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal, cast
from zoneinfo import ZoneInfo

from gearing.problems import GearingError, Problem
from gearing.study.document import read_document
from gearing.study.files import match_logs
from gearing.study.load import load_study, slug
from gearing.study.model import Claim, Period, Study
from gearing.study.records import read_claim
from gearing.study.section import Faults, Section
from gearing.study.words import show
from gearing.vehicle.tire import parse_size

Role = Literal["changed", "control"]
_EXAMPLE = '["bus_1/study.toml", { study = "bus_2/study.toml", role = "control" }]'


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One vehicle. A control's study has both periods on one size, split at its own date."""

    study: Study
    role: Role


@dataclass(frozen=True, slots=True, kw_only=True)
class Fleet:
    """Many studies under one name. The claim is the fleet file's own, None without one."""

    name: str
    slug: str
    path: Path
    members: tuple[Member, ...]
    units: Literal["us", "metric"] = "metric"
    claim: Claim | None = None
    margin_percent: float = 1.0


def is_fleet(path: Path) -> bool:
    """Whether a file reads as a fleet file: TOML with `studies` at its top."""
    try:
        return "studies" in read_document(path).data
    except GearingError:
        return False


def load_fleet(path: Path) -> Fleet:
    """Read and check a fleet file and every study it names.

    Raises
    ------
    GearingError
        with every fault of all the files.
    """
    document = read_document(path)
    faults = Faults(document)
    top = Section(faults, document.data)
    name = top.text("name", '"county fleet"')
    top.require("name", '"county fleet"')
    units = top.choice("units", ("us", "metric"))
    margin = top.number("margin_percent", "1", 0, 20)
    claim = read_claim(top.part("claim"))
    top.require("studies", _EXAMPLE)
    inner: list[Problem] = []
    members = list(_members(top, inner))
    if not inner:
        _check_names(top, members)
    top.close({})
    problems = (*faults.in_order(), *inner)
    if problems:
        raise GearingError(problems)
    return Fleet(
        name=name or "",
        slug=slug(name or ""),
        path=path,
        members=tuple(members),
        units=cast('Literal["us", "metric"]', units or members[0].study.units),
        claim=claim,
        margin_percent=1.0 if margin is None else margin,
    )


def _members(top: Section, inner: list[Problem]) -> Iterator[Member]:
    """Each member; faults of the fleet file are noted in `top`, those of studies in `inner`."""
    for number, entry in enumerate(top.list_of("studies", _EXAMPLE) or ()):
        if not isinstance(entry, str | dict):
            top.fault(
                "study-type", "studies", f"holds {show(entry)}.", f"Write studies = {_EXAMPLE}"
            )
            continue
        values = {"study": entry} if isinstance(entry, str) else entry
        yield from _entry(top.inside(values, "studies", number), inner)


def _entry(section: Section, inner: list[Problem]) -> Iterator[Member]:
    """The members an entry names: one, or as many as its pattern matches."""
    pattern = section.text("study", '"bus_1/study.toml"')
    section.require("study", '"bus_1/study.toml"')
    role = cast("Role", section.choice("role", ("changed", "control")) or "changed")
    section.get("changed")
    if pattern is None:
        return
    paths = match_logs(section.faults.document.path.parent, pattern)
    if not paths:
        section.fault(
            "study-files",
            "study",
            f"= {show(pattern)} matches no file.",
            "Paths are relative to the fleet file.",
        )
    for path in paths:
        try:
            study = load_study(path)
        except GearingError as error:
            inner.extend(error.problems)
            continue
        section.zone = ZoneInfo(study.time_zone) if study.time_zone != "UTC" else UTC
        changed = section.moment("changed")
        if role == "control":
            control = _as_control(section, study, changed)
            if control is not None:
                yield Member(study=control, role=role)
            continue
        if changed is not None:
            section.fault(
                "study-conflict",
                "changed",
                "is for controls.",
                "A changed vehicle's own study says when: [after] from, or logs by period.",
            )
        yield Member(study=study, role=role)


def _as_control(section: Section, study: Study, changed: datetime | None) -> Study | None:
    """A study of a vehicle left alone, its logs split at the date the others changed.

    What was claimed for new tires, and what they cost, is nothing to a vehicle that got none.
    """
    study = replace(study, claim=None, money=None)
    periods = [period for period in (study.before, study.after) if period is not None]
    if len({_diameter(period) for period in periods}) > 1:
        section.fault(
            "study-conflict",
            "role",
            f'= "control", but {study.path} declares two tire sizes.',
            "A control keeps its tires; take the role out, or mend the study.",
        )
        return None
    if changed is None:
        if len(periods) == 2:
            return study
        section.require("changed", "2026-03-14", "The control's study has one period only.")
        return None
    tires = periods[0]
    return replace(
        study,
        logs=(*study.logs, *(pattern for period in periods for pattern in period.logs)),
        before=replace(tires, side="before", logs=(), start=None),
        after=replace(tires, side="after", logs=(), start=changed),
    )


def _diameter(period: Period) -> float | str:
    try:
        return parse_size(period.drive_tire).diameter_m
    except ValueError:
        return period.drive_tire


def _check_names(top: Section, members: list[Member]) -> None:
    """Each study writes a folder of its own: files and names must differ."""
    files: set[Path] = set()
    slugs: dict[str, Path] = {}
    for study in (member.study for member in members):
        real = study.path.resolve()
        first = slugs.setdefault(study.slug, study.path)
        if real in files:
            top.fault("study-conflict", "studies", f"name {show(str(study.path))} twice.")
        elif first != study.path:
            names = f"{os.fspath(first)} and {os.fspath(study.path)}"
            top.fault(
                "study-conflict",
                "studies",
                f"hold two of one name, {show(study.name)}: {names}.",
                "Give each study a name of its own.",
            )
        files.add(real)
    whole = "studies" not in top.faulty and not any(child.faulty for child in top.children)
    if members and whole and all(member.role == "control" for member in members):
        top.fault("study-conflict", "studies", "are all controls; none has changed its tires.")
