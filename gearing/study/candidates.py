"""The study's `[[candidate]]` tables: sizes and axles not bought yet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.study.model import Candidate
from gearing.study.vehicle import read_axle_ratio, read_tire
from gearing.study.words import show

if TYPE_CHECKING:
    from gearing.study.section import Section

MAX_CANDIDATES = 24  # each is driven along every route, both ways


def read_candidates(sections: list[Section]) -> tuple[Candidate, ...]:
    """Each by its name; what one leaves out stays as it is on the vehicle."""
    found: list[Candidate] = []
    for section in sections:
        name = section.text("name", '"275 with the tall axle"')
        section.require("name", '"275 with the tall axle"')
        tire, revolutions = read_tire(section)
        axle = read_axle_ratio(section)
        if name is not None and any(one.name == name for one in found):
            section.fault("study-conflict", "name", f"= {show(name)} names two candidates.")
        if name is not None:
            found.append(
                Candidate(
                    name=name, drive_tire=tire, revolutions_per_km=revolutions, axle_ratio=axle
                )
            )
    if len(found) > MAX_CANDIDATES:
        sections[MAX_CANDIDATES].fault(
            "study-range",
            "name",
            f"is that of candidate {MAX_CANDIDATES + 1}, and no more than {MAX_CANDIDATES} are "
            "compared at once.",
            "Leave out those that are out of the question.",
        )
    return tuple(found)
