"""The study's `[[candidate]]` tables: sizes and axles not bought yet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages import message
from gearing.study.model import Candidate
from gearing.study.vehicle import read_axle_ratio, read_tire
from gearing.study.words import shown

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
            told = message(
                "study-conflict/two-candidates", key=section.called("name"), shown=shown(name)
            )
            section.fault("name", told)
        if name is not None:
            found.append(
                Candidate(
                    name=name, drive_tire=tire, revolutions_per_km=revolutions, axle_ratio=axle
                )
            )
    if len(found) > MAX_CANDIDATES:
        too_many = sections[MAX_CANDIDATES]
        told = message("study-range/candidates", key=too_many.called("name"), most=MAX_CANDIDATES)
        too_many.fault("name", told)
    return tuple(found)
