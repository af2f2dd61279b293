"""The routes alone in lines of a terminal, from what the study declares."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages.display import Display
from gearing.report.phrases import said
from gearing.report.views.mountain import (
    CAUTION,
    OPEN,
    calculated_for,
    no_route,
    told_ways,
    ways,
)

if TYPE_CHECKING:
    from gearing.analysis.mountain import MountainFinding

WITHOUT_LOGS = (
    "From the study file alone; its logs are not read. gearing run takes from them, where they "
    "show it: {what}. So its figures differ from these."
)
# what logs may tell of the vehicle and the air, by the names of the model's parameters
_BY_LOGS = (
    "mass_kg", "drag_area_m2", "rolling_at_25c", "torque_factor", "temperature_c", "l_per_kwh",
    "l_per_h_per_krpm",
)  # fmt: skip


def without_logs(mountain: MountainFinding) -> str:
    """Which inputs a run with logs has otherwise than these declared and assumed ones."""
    found = [said(row.label) for row in mountain.parameters if row.name in _BY_LOGS]
    what = ("revolutions of the tires", *found, "the speed wanted and the shifts as driven")
    return WITHOUT_LOGS.format(what=", ".join(what))


def route_sentences(
    mountain: MountainFinding, display: Display, *, logged: bool = False
) -> list[str]:
    """The routes alone, a line each way, what to watch, and what is missing; `logged`: the study
    has logs, which are not looked at."""
    lines: list[str] = []
    routes = ways(mountain.routes)
    lines.extend(one.sentence() for one in told_ways(routes, display))
    if not lines:
        lines.append(no_route(mountain))
    lines.extend(said(one.told) for one in mountain.warnings)
    if any(way.verdict != OPEN for _, way in routes):
        lines += [inputs_from(mountain), without_logs(mountain) if logged else ""]
        lines += [calculated_for(mountain, display), CAUTION]
    return [line for line in lines if line]


def inputs_from(mountain: MountainFinding) -> str:
    """Where the figures come from that decide the routes, so that two commands can be compared."""
    by_source: dict[str, list[str]] = {}
    for row in mountain.parameters:
        by_source.setdefault(said(row.source), []).append(said(row.label))
    told = [f"{', '.join(labels)} ({source})" for source, labels in by_source.items()]
    return f"Worked out from: {'; '.join(told)}." if told else ""
