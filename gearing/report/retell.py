"""The results' texts told anew for their reader: units, audience, and what a shared page hides."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from gearing.messages.audience import Role
from gearing.messages.display import Display, System
from gearing.messages.plain import from_plain
from gearing.messages.render import Renderer
from gearing.report.reading import dig, rows, text
from gearing.results import pointer_part

Results = dict[str, Any]


def role_of(results: Results) -> Role:
    """Whether the results are of a vehicle that changed its tires, or of a fleet's control."""
    return "control" if text(dig(results, "declared", "role")) == "control" else "changed"


def display_of(results: Results, units: System | None = None) -> Display:
    """How the results are shown: in `units`, else in those they name; metric where they do not."""
    own: System = "us" if dig(results, "units") == "us" else "metric"
    return Display(units or own, role_of(results))


def shared_names(results: Results) -> dict[str, str]:
    """What stands for each trip's name on a shared page: trips numbered within their period,
    since a trip's name is its file's."""
    counts: dict[str, int] = {}
    names: dict[str, str] = {}
    for trip in rows(results, "trips"):
        name, period = text(trip.get("name")), text(trip.get("period")) or "trip"
        if name and name not in names:
            counts[period] = counts.get(period, 0) + 1
            names[name] = f"{period} {counts[period]}"
    return names


def for_reader(
    results: Results, display: Display, *, hidden_trips: Mapping[str, str] | None = None
) -> Results:
    """The results with each message's text as their reader has it.

    `hidden_trips`, from `shared_names`, where the page is to be handed on.
    """
    told: Mapping[str, Mapping[str, Any]] = results.get("messages", {})
    renderer = Renderer(display, display.role, hidden_trips)

    def walk(value: Any, at: str) -> Any:
        if isinstance(value, dict):
            return {key: walk(item, f"{at}/{pointer_part(key)}") for key, item in value.items()}
        if isinstance(value, list | tuple):
            return [walk(item, f"{at}/{place}") for place, item in enumerate(value)]
        if at in told and isinstance(value, str):
            message = from_plain(dict(told[at]))
            remedy = told[at].get("part") == "remedy"
            return renderer.remedy(message) if remedy else renderer.text(message)
        return value

    kept = {key: value for key, value in results.items() if key != "messages"}
    found: Results = walk(kept, "")
    return found
