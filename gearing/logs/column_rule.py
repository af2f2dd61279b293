"""What a user says a heading means, in which files, and how the study writes it."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import PurePosixPath

from gearing.logs.headings import ROLES, dimensions_of, short_name
from gearing.units import find_unit


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnRule:
    """What a heading means, where the heading itself leaves doubt."""

    heading: str
    channel: str | None  # None: leave this column alone
    unit: str | None = None
    files: str | None = None  # glob; None: every file


def rules_for(rules: tuple[ColumnRule, ...], file: str) -> tuple[ColumnRule, ...]:
    """The study's rules that concern a file, by its name as the study's folder sees it."""
    return tuple(rule for rule in rules if rule.files is None or matches(file, rule.files))


def matches(file: str, pattern: str) -> bool:
    """Whether a file, named from the study's folder, fits a rule's `files`: the whole name, the
    bare name, or as many folders of it as the pattern gives."""
    pattern = re.sub(r"^(?:\.{1,2}/)+", "", pattern)
    path = PurePosixPath(file)
    if pattern in (file, path.name):  # brackets in a name of its own are no pattern
        return True
    return fnmatch(file, pattern) or fnmatch(path.name, pattern) or path.match(pattern)


def find_rule(heading: str, rules: tuple[ColumnRule, ...]) -> ColumnRule | None:
    """The rule for this heading, of those for its file: exactly as written, else but for case."""
    for rule in rules:
        if rule.heading == heading:
            return rule
    folded = " ".join(heading.lower().split())
    for rule in rules:
        if " ".join(rule.heading.lower().split()) == folded:
            return rule
    return None


def rule_lines(heading: str, targets: Iterable[str], units: Sequence[str]) -> list[str]:
    """Lines for the study's [columns] that it takes: each channel with the units that fit it."""
    return [
        rule_line(heading, target, unit)
        for target in targets
        for unit in units
        if find_unit(unit, dimensions_of(target)) is not None
    ]


def ignore_line(heading: str) -> str:
    """The line that leaves a column alone, and asks no more about it."""
    return rule_line(heading, "ignore", None)


def rule_line(heading: str, channel: str, unit: str | None, files: str | None = None) -> str:
    """One line for the study's [columns]."""
    return f"{json.dumps(heading, ensure_ascii=False)} = {rule_entry(channel, unit, files)}"


def rule_entry(channel: str, unit: str | None, files: str | None = None) -> str:
    """What stands behind a heading in the study's [columns]."""
    name = short_name(channel) if channel not in ROLES else channel
    parts = {"channel": name, "unit": unit, "files": files}
    inside = ", ".join(f'{key} = "{value}"' for key, value in parts.items() if value)
    return f"{{ {inside} }}"
