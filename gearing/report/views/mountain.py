"""The third answer in words: the gearing, and each route up and down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gearing.messages import told_of
from gearing.messages.display import Display, digits
from gearing.report.phrases import (
    brackets,
    capital,
    clause,
    count_phrase,
    counted,
    joined,
    percent_of,
    said,
    sentence,
)
from gearing.report.views.answer import Answer

if TYPE_CHECKING:
    from gearing.analysis.mountain import MountainFinding
    from gearing.analysis.mountain.descent_figures import LongDescent
    from gearing.analysis.mountain.result import Route, RouteSide, RouteWay
    from gearing.results.record import Results
    from gearing.statistics.estimate import Estimate

    Way = Route | RouteWay
    Named = tuple[str, Way]

CAUTION = (
    "Posted limits, grade signs and the maker's data come first. Grip is not worked out, brake "
    "temperature of laden five-axle tractor-trailers alone, and no speed is recommended."
)
_PLANNED = (
    "Next: name the tires planned under [after], drive_tire is enough, and each route is worked "
    "out on them too."
)
TOLD = 6  # ways told one by one, the worst first; a table has all
OPEN = "cannot tell yet"
_WORST_FIRST = ("does not suit", "suits with care", OPEN, "suits")
# the verdicts as a reader has them
VERDICTS = {
    "suits": "gearing suits",
    "suits with care": "gearing suits, with care",
    "does not suit": "gearing does not suit",
    OPEN: OPEN,
}
_SHORT = {
    "suits": "the gearing suits",
    "suits with care": "take care on",
    "does not suit": "the gearing does not suit",
    OPEN: "cannot tell yet on",
}
_SMALL_STOPS = 0.2  # of less work by the service brakes nobody needs to be told


@dataclass(frozen=True, slots=True)
class WayTold:
    """One way of a route: the verdict with what decides it, and what to watch, in sentences."""

    text: str
    care: tuple[str, ...]

    def sentence(self) -> str:
        """All of it in one line."""
        return joined((self.text, *self.care))


def mountain_answer(results: Results, display: Display) -> Answer:
    """The answer to the third question, of results told for their reader."""
    routes = worst_first(ways(results.routes))
    judged = any(way.verdict != OPEN for _, way in routes)
    gearing = _gearing_sentence(results, display)
    settled = bool(gearing) or judged
    if not gearing:
        reason = clause(results.final_drive.effective.after.why)
        lead = "The effective axle ratio is not known" if settled else "Cannot tell yet"
        gearing = f"{lead}: {reason}."
    return Answer(
        "Mountain",
        _short(results, routes, display) if settled else "Cannot tell yet",
        gearing,
        "" if routes else no_route(results.mountain),
        _next(results, routes),
        settled,
        _action(results, routes, display),
        _sure(results) if judged else "Cannot tell yet",
    )


def _action(results: Results, routes: Sequence[Named], display: Display) -> str:
    """Where to watch what, the worst first, or that there is nothing to."""
    down = [(name, one) for name, way in routes for one in way.descents if cares(one)]
    careful = [f"{name}: {clauses[0]}" for name, way in routes if (clauses := care(way))]
    fails = bool(routes) and routes[0][1].verdict == "does not suit"
    if down and not (careful and fails):
        name, worst = down[0]
        told = f"Watch the brakes down {name} ({from_to(worst, display)} {display.distance_unit})"
        more = counted(len(down) - 1, "more descent")
        return f"{told}, and {more}" if len(down) > 1 else told
    if careful:
        return f"Watch on {careful[0]}"
    if routes and results.declared.after is None:
        return "Name the tires planned under [after]"
    if not routes:
        return "Name the mountain roads you drive as [[route]]"
    open_still = any(way.verdict in (OPEN, "does not suit") for _, way in routes)
    return "" if open_still else "Nothing to do"


def _sure(results: Results) -> str:
    """What the owner's own drives say of the model that the routes are calculated with."""
    found = results.mountain
    if not found.model_check.stretches:
        return "Calculated only"
    hills = (*found.climbs, *found.logged_descents)
    apart = {getattr(told_of(one), "code", "") for hill in hills for one in hill.disagrees}
    warned = any(row.code == "mountain-model-off" for row in results.warnings)
    if warned or "logs/speed" in apart:
        return "Speeds do not fit the logs"
    shifts = {"logs/downshifts", "logs/gear"} & apart
    return "Speeds fit the logs, shifts do not" if shifts else "Fits the logs"


def ways(routes: Sequence[Route]) -> list[Named]:
    """Every route and its reverse, each under the name of the way it shows."""
    out: list[Named] = []
    for route in routes:
        name = said(route.name) or "Route"
        out.append((name, route))
        if route.reversed is not None:
            out.append((said(route.reversed.name) or f"{name}, the other way", route.reversed))
    return out


def worst_first(routes: Sequence[Named]) -> list[Named]:
    """The ways by how much they ask for: verdict, descents no gear holds, work of the brakes."""

    def order(named: Named) -> tuple[float, ...]:
        """Smaller for what is worse."""
        way, side = named[1], named[1].after or named[1].before
        down = [one.after or one.before for one in way.descents]
        unheld = max((one.retarder_on.unheld_share for one in down if one), default=0.0)
        stops = side.brake_stops if side is not None else 0.0
        return _WORST_FIRST.index(way.verdict), -round(unheld, 1), -stops

    return sorted(routes, key=order)


def _short(results: Results, routes: Sequence[Named], display: Display) -> str:
    """The engine's change of speed, and what the tires or the road itself make of the routes."""
    change = results.final_drive.change_percent.value
    engine = ""
    if _unchanged(results):
        engine = "Engine speed as before"
    elif change is not None:
        engine = f"Engine {digits(abs(change), 1)} % {'slower' if change < 0 else 'faster'}"
    if routes:
        worst = routes[0][1].verdict
        names = [name for name, way in routes if way.verdict == worst]
        told = f"{_SHORT[worst]} {_some(names)}"
        if worst == "suits":
            told = f"{_SHORT[worst]} {'every route' if len(names) > 1 else names[0]}"
        elif worst == "suits with care" and display.role == "changed":
            told = _by_the_tires(routes) or told
        return f"{engine}; {told}" if engine else capital(told)
    present = _present(results).value
    if engine or present is None:
        return engine or "No route judged"
    return f"Effective axle ratio {digits(present, 2)}"


def _by_the_tires(routes: Sequence[Named]) -> str:
    """What the change alone does to the routes; empty where that is not known of one."""
    if any(way.change == OPEN for _, way in routes):
        return ""
    harder = [name for name, way in routes if way.change != "suits"]
    told = f"the new tires make {_some(harder)} harder" if harder else ""
    return told or "the new tires spoil no route, the roads ask for care"


def _some(names: Sequence[str]) -> str:
    """Up to two names, of more how many others there are."""
    more = len(names) - 1
    return " and ".join(names) if more < 2 else f"{names[0]} and {more} other ways"


def _present(results: Results) -> Estimate:
    """The effective axle ratio on the tires now fitted: the one declared for the old tires is
    not theirs."""
    effective = results.final_drive.effective
    if effective.after.known or results.declared.after is not None:
        return effective.after
    return effective.before


def _unchanged(results: Results) -> bool:
    """No change of gearing is to be seen: the interval holds none, or it is too small to show."""
    change = results.final_drive.change_percent
    if change.value is None or results.final_drive.told:
        return False
    if change.holds(0.0):
        return True
    return float(digits(change.value, 1)) == 0


def _gearing_sentence(results: Results, display: Display) -> str:
    if results.final_drive.told:
        return sentence(results.final_drive.told)
    change, effective = results.final_drive.change_percent, results.final_drive.effective
    before, after = effective.before.value, effective.after.value
    if _unchanged(results):
        inside = "; ".join(part for part in (_reach(change), count_phrase(change)) if part)
        return (
            "The engine turns as fast as before at the same true speed in the same gear, within "
            f"what the logs can tell{f' ({inside})' if inside else ''}."
        )
    if change.value is not None:
        slower = "slower" if change.value < 0 else "faster"
        size = digits(abs(change.value), 1)
        turns = f"the engine turns {size} % {slower} at the same true speed in the same gear"
        turns += brackets(change.map(abs), 1, " %")
        if before is None or after is None:
            return f"{capital(turns)}."
        return f"The axle, {digits(before, 2)} before, now works like {digits(after, 2)}: {turns}."
    present = _present(results)
    if present.value is None:
        return ""
    where = capital(display.on("after")) if after is not None else "On the present tires"
    ratio = digits(present.value, 2)
    return f"{where} the effective axle ratio is {ratio}{brackets(present, 2)}."


def _reach(change: Estimate) -> str:
    """The interval of a change too small to show, with as many places as it takes."""
    if change.ends is None or change.low == change.high:
        return ""
    places = 1 if max(map(abs, change.ends)) >= 0.1 else 2
    low, high = (
        f"{digits(abs(end), places)} % {'slower' if end < 0 else 'faster'}" for end in change.ends
    )
    return f"95 % interval {low} to {high}"


def told_ways(routes: Sequence[Named], display: Display) -> list[WayTold]:
    """Every way with its verdict, what decides it and what to watch, in the order given."""
    return [
        WayTold(
            route_sentence(name, way, display), tuple(sentence(capital(one)) for one in care(way))
        )
        for name, way in routes
    ]


def no_route(mountain: MountainFinding) -> str:
    """That no route was judged, and why."""
    return f"No route judged: {clause(mountain.routes_why or 'the study names none')}."


def route_sentence(name: str, way: Way, display: Display) -> str:
    """One way's verdict with what decides it: top gear, the slowest point, the brakes' work."""
    if way.verdict == OPEN:
        return f"{name}: cannot tell yet, {clause(way.verdict_why)}."
    found = (_top_gear(way), _slowest(way, display), _brakes(way))
    facts = [fact for fact in found if fact]
    return f"{name}: {VERDICTS[way.verdict]}" + (f"; {', '.join(facts)}." if facts else ".")


def calculated_for(mountain: MountainFinding, display: Display) -> str:
    """The weight and power the routes are calculated for: the owner knows whether they are his."""
    mass = next((one.value for one in mountain.parameters if one.name == "mass_kg"), None)
    if mountain.peak_power_kw is None or mass is None:
        return ""
    weight, weight_unit = display.plain(mass, "kg")
    power, power_unit = display.plain(1000 * mountain.peak_power_kw, "W")
    return (
        f"Calculated for a weight of {digits(weight, 0)} {weight_unit} and an engine whose torque "
        f"curve gives {digits(power, 0)} {power_unit} at most: check both."
    )


def _top_gear(way: Way) -> str:
    """Does top gear still serve: its share of the way."""
    told = _then_and_now("top gear in use", top_gear_share(way.before), top_gear_share(way.after))
    return told and f"{told} of the time"


def top_gear_share(drive: RouteSide | None) -> str:
    """Top gear's share of the time under way; empty where no gear is known.

    Top gear is the highest that the descent knows of, or that was driven.
    """
    if drive is None:
        return ""
    held = drive.descent.held_by_gear_kmh if drive.descent is not None else {}
    top = max(map(int, [*held, *drive.gear_time_share]), default=0)
    return percent_of(drive.gear_time_share.get(str(top), 0.0)) if drive.gear_time_share else ""


def _slowest(way: Way, display: Display) -> str:
    was, now = (
        "" if side is None else f"{digits(display.speed(side.lowest_speed_kmh), 0)}"
        for side in (way.before, way.after)
    )
    told = _then_and_now("slowest point", was, now)
    return told and f"{told} {display.speed_unit}"


def _brakes(way: Way) -> str:
    """The service brakes' work on the way down, where there is any to speak of and no descent
    asks for care by itself."""
    if any(map(cares, way.descents)):
        return ""
    sides = [side for side in (way.before, way.after) if side is not None]
    if max((side.brake_stops for side in sides), default=0.0) < _SMALL_STOPS:
        return ""
    was, now = (
        "" if side is None else digits(side.brake_stops, 1) for side in (way.before, way.after)
    )
    told = _then_and_now("service brakes up to", was, now)
    return told and f"{told} full stops"


def _then_and_now(lead: str, was: str, now: str) -> str:
    """A figure on the new tires, and on the old where it was another; empty without the new."""
    before = f" (before {was})" if was and was != now else ""
    return f"{lead} {now}{before}" if now else ""


def _next(results: Results, routes: Sequence[Named]) -> str:
    restoring = results.final_drive.restoring_axle_ratio.value
    parts = []
    if restoring is not None and not _unchanged(results):
        parts.append(f"An axle ratio of {digits(restoring, 2)} would bring the old gearing back.")
    if routes and results.declared.after is None:
        parts.append(_PLANNED)
    return joined(parts)


def care(way: Way) -> list[str]:
    """What to watch on a way, or what fails there, each in one clause."""
    return [clause(item) for item in way.care if said(item)]


def cares(descent: LongDescent) -> list[str]:
    """What asks for care on a descent, on the new tires, on the old where there are no others."""
    side = descent.after or descent.before
    return [said(one) for one in side.care] if side is not None else []


def from_to(stretch: LongDescent, display: Display) -> str:
    """From where to where along the road, in the reader's unit."""
    return " to ".join(digits(display.distance(km), 1) for km in (stretch.from_km, stretch.to_km))
