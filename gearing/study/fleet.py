"""A fleet file: many studies, some of vehicles left unchanged, to be read against each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC
from pathlib import Path
from typing import Literal, cast
from zoneinfo import ZoneInfo

from gearing.messages import (
    GearingError,
    Problem,
    StudyWarning,
    UserText,
    message,
    problem_of,
    warning,
)
from gearing.study.document import read_document
from gearing.study.faults import Faults
from gearing.study.files import log_files, match_logs, shut_folders
from gearing.study.load import load_study
from gearing.study.model import Claim, Period, Role, Study
from gearing.study.moments import read_moment
from gearing.study.records import read_claim
from gearing.study.section import Section
from gearing.study.sections import slug
from gearing.study.words import nearest, show, shown
from gearing.vehicle.tire import parse_size

_EXAMPLE = '["bus_1/study.toml", { study = "bus_2/study.toml", role = "control" }]'


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One vehicle. A control's study has both periods on one size, split at its own date."""

    study: Study

    @property
    def role(self) -> Role:
        """Whether this vehicle changed its tires or is a control."""
        return self.study.role


@dataclass(frozen=True, slots=True, kw_only=True)
class NotRun:
    """A vehicle that cannot be run, and all that is to be mended.

    `file` is its study file, or the pattern that should have led there; `name` is the declared
    one where it can be read, else the file as seen from the fleet file.
    """

    name: str
    file: Path
    role: Role
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fleet:
    """Many studies under one name. The claim is the fleet file's own, None without one."""

    name: str
    slug: str
    path: Path
    members: tuple[Member, ...]
    not_run: tuple[NotRun, ...] = ()
    units: Literal["us", "metric"] = "metric"
    claim: Claim | None = None
    margin_percent: float = 1.0
    warnings: tuple[StudyWarning, ...] = ()


@dataclass(frozen=True, slots=True)
class _Listed:
    """A study file as an entry of the fleet file lists it."""

    path: Path
    role: Role
    section: Section

    @property
    def terms(self) -> tuple[Role, object]:
        """The role and the date as written; entries of one file that differ in them contradict."""
        return self.role, self.section.values.get("changed")


def is_fleet(path: Path) -> bool:
    """Whether a file reads as a fleet file: TOML with `studies` at its top, or a slip of the pen
    for it where nothing of a study stands beside."""
    try:
        keys = read_document(path).data
    except GearingError:
        return False
    if "studies" in keys or keys.keys() & {"before", "after", "logs", "fillups", "vehicle"}:
        return "studies" in keys
    return any(nearest(key, ("studies",)) for key in keys)


def load_fleet(path: Path) -> Fleet:
    """Read and check a fleet file and every study it names.

    What is wrong with one vehicle's study costs that vehicle alone.

    Raises
    ------
    GearingError
        with every fault of all the files, where the fleet file itself is at fault or no study
        can be run.
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
    listings, not_run = _listings(top)
    members, warnings = _members(path.parent, listings, not_run)
    top.close({})
    if faults.found or not members:
        told = [problem for one in not_run for problem in one.problems]
        raise GearingError((*faults.in_order(), *told))
    return Fleet(
        name=name or "",
        slug=slug(name or ""),
        path=path,
        members=tuple(members),
        not_run=tuple(not_run),
        units=cast('Literal["us", "metric"]', units or members[0].study.units),
        claim=claim,
        margin_percent=1.0 if margin is None else margin,
        warnings=tuple(warnings),
    )


def _listings(top: Section) -> tuple[list[list[_Listed]], list[NotRun]]:
    """Each study file with all its listings, and entries that lead to none.

    Faults of the entries themselves are noted in `top`.
    """
    found: dict[Path, list[_Listed]] = {}
    not_run: list[NotRun] = []
    roles = set[Role]()
    for number, entry in enumerate(top.list_of("studies", _EXAMPLE) or ()):
        if not isinstance(entry, str | dict):
            told = message(
                "study-type/holds",
                key=top.called("studies"),
                shown=shown(entry),
                name=UserText("studies"),
                example=UserText(_EXAMPLE),
            )
            top.fault("studies", told)
            continue
        values = {"study": entry} if isinstance(entry, str) else entry
        section = top.inside(values, "studies", number)
        listed, without = _entry(section)
        for one in listed:
            found.setdefault(one.path.resolve(), []).append(one)
        not_run += without
        roles |= {one.role for one in listed} | {one.role for one in without}
    whole = "studies" not in top.faulty and not any(child.faulty for child in top.children)
    if whole and roles == {"control"}:
        told = message("study-conflict/all-controls", key=top.called("studies"))
        top.fault("studies", told)
    return list(found.values()), not_run


def _entry(section: Section) -> tuple[list[_Listed], list[NotRun]]:
    """The study files an entry names: one, or as many as its pattern matches; or why none."""
    pattern = section.text("study", '"bus_1/study.toml"')
    section.require("study", '"bus_1/study.toml"')
    role = cast("Role", section.choice("role", ("changed", "control")) or "changed")
    read_moment(section, "changed")
    if role == "changed" and "role" not in section.faulty and "changed" in section.values:
        told = message("study-conflict/changed", key=section.called("changed"))
        section.fault("changed", told)
    if pattern is None:
        return [], []
    folder = section.faults.document.path.parent
    paths = match_logs(folder, pattern)
    without = [_shut(folder, place, role) for place in shut_folders(folder, pattern, paths)]
    if not paths and not without:
        own = _own_faults(section)
        named = UserText(show(pattern), "file")
        own.fault("study", message("study-files/no-study", key=own.called("study"), shown=named))
        problems = own.faults.in_order()
        without = [NotRun(name=pattern, file=folder / pattern, role=role, problems=problems)]
    return [_Listed(path, role, section) for path in paths], without


def _own_faults(section: Section) -> Section:
    """The same entry, whose faults are noted apart: they are of one vehicle."""
    return replace(section, faults=Faults(section.faults.document), faulty=set(), missing={})


def _shut(folder: Path, place: Path, role: Role) -> NotRun:
    problem = problem_of(message("study-unreadable/shut"), file=str(place))
    return NotRun(name=_from(folder, place), file=place, role=role, problems=(problem,))


def _members(
    folder: Path, listings: Sequence[list[_Listed]], not_run: list[NotRun]
) -> tuple[list[Member], list[StudyWarning]]:
    """The vehicles that can be run; those that cannot join `not_run`."""
    members: list[Member] = []
    warnings: list[StudyWarning] = []
    for listed in listings:
        path, role = listed[0].path, listed[0].role
        study: Study | None = None
        problems: tuple[Problem, ...] = ()
        if len({one.terms for one in listed}) > 1:
            problems = (problem_of(message("study-conflict/listed"), file=str(path)),)
        else:
            study, problems = _study(listed[0])
            if len(listed) > 1:
                twice = UserText(_from(folder, path), "file")
                warnings.append(warning(message("listed-twice", study=twice)))
        if study is None:
            not_run.append(
                NotRun(name=_called(folder, path), file=path, role=role, problems=problems)
            )
        else:
            members.append(Member(study=study))
    members = _distinguished(members, not_run)
    return members, [*warnings, *_in_common(members)]


def _in_common(members: Sequence[Member]) -> list[StudyWarning]:
    """Logs that two studies name: a vehicle's driving would count for another too."""
    owner: dict[Path, Study] = {}
    shared: dict[tuple[str, str], list[Path]] = {}
    for member in members:
        for path, _ in log_files(member.study):
            first = owner.setdefault(path.resolve(), member.study)
            if first is not member.study:
                shared.setdefault((first.name, member.study.name), []).append(path)
    return [
        warning(
            message(
                "same-figures/logs",
                vehicle=UserText(first),
                other=UserText(other),
                logs=len(paths),
                file=UserText(paths[0].name, "file"),
            )
        )
        for (first, other), paths in shared.items()
    ]


def _study(listed: _Listed) -> tuple[Study | None, tuple[Problem, ...]]:
    """A listed study, or all that is wrong with it."""
    try:
        study = load_study(listed.path)
    except GearingError as error:
        return None, error.problems
    if listed.role == "changed":
        return study, ()
    own = _own_faults(listed.section)
    own.zone = ZoneInfo(study.time_zone) if study.time_zone != "UTC" else UTC
    control = _as_control(own, study)
    return control, own.faults.in_order()


def _called(folder: Path, path: Path) -> str:
    """The name a study declares, as far as it can be read."""
    try:
        name = read_document(path).data.get("name")
    except GearingError:
        name = None
    return name.strip() if isinstance(name, str) and name.strip() else _from(folder, path)


def _from(folder: Path, path: Path) -> str:
    return (path.relative_to(folder) if path.is_relative_to(folder) else path).as_posix()


def _as_control(section: Section, study: Study) -> Study | None:
    """A study of a vehicle left alone, its logs split at the date the others changed.

    What was claimed for new tires, and what they cost, is nothing to a vehicle that got none.
    """
    study = replace(study, role="control", claim=None, money=None)
    file = UserText(str(study.path), "file")
    changed = read_moment(section, "changed")
    if section.faulty:
        return None
    periods = [period for period in (study.before, study.after) if period is not None]
    if len({_diameter(period) for period in periods}) > 1:
        told = message("study-conflict/control-sizes", key=section.called("role"), study=file)
        section.fault("role", told)
        return None
    if changed is None:
        if len(periods) == 2:
            return study
        section.require("changed", "2026-03-14", message("needs/changed", study=file))
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


def _distinguished(members: list[Member], not_run: list[NotRun]) -> list[Member]:
    """The vehicles whose names differ: each writes a folder of its own, called by its name."""
    by_slug: dict[str, list[Member]] = {}
    for member in members:
        by_slug.setdefault(member.study.slug, []).append(member)
    for alike in by_slug.values():
        for member, other in zip(alike, (*alike[1:], alike[0]), strict=True):
            if member is other:
                continue
            study = member.study
            told = message(
                "study-conflict/same-name",
                name=UserText(show(study.name)),
                study=UserText(str(other.study.path), "file"),
                same=UserText(show(other.study.name)),
            )
            problem = problem_of(told, file=str(study.path))
            not_run.append(
                NotRun(name=study.name, file=study.path, role=member.role, problems=(problem,))
            )
    return [member for member in members if len(by_slug[member.study.slug]) == 1]
