"""What a user says a heading means, and in which files."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import PurePosixPath


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
