"""The third answer in words: the gearing, and each route up and down."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

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
    "Posted limits, grade signs and the maker's data come first. The grip of the tires is not "
    "worked out, nor, outside the one class of vehicle of a published model, the temperature of "
    "the brakes; and no speed is recommended."
)
_PLANNED = (
    "Next: name the tires planned under [after], drive_tire is enough, and each route is worked "
    "out on them too."
)
_TOLD = 3  # routes in the short answer
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
_SMALL_KWH = 0.05  # of less work by the service brakes nobody needs to be told


def mountain_answer(results: Results, display: Display) -> Answer:
    """The answer to the third question, of results told for their reader."""
    routes = ways(results.routes)
    judged = any(way.verdict != OPEN for _, way in routes)
    gearing = _gearing_sentence(results, display)
    settled = bool(gearing) or judged
    if not gearing:
        reason = clause(results.final_drive.effective.after.why)
        lead = "The effective axle ratio is not known" if settled else "Cannot tell yet"
        gearing = f"{lead}: {reason}."
    return Answer(
        "Mountain",
        _short(results, routes) if settled else "Cannot tell yet",
        gearing,
        _routes_told(results, display),
        _next(results, routes),
        settled,
        _action(results, routes),
        _sure(results, judged=judged),
    )


def _action(results: Results, routes: Sequence[Named]) -> str:
    """Where to take care, worst first, or that there is nothing to."""
    careful = [name for name, way in routes if care(way) or way.verdict == "does not suit"]
    if careful:
        more = len(careful) - 1
        return f"Watch on {careful[0]}" + (f" and {more} more {_drives(more)}" if more else "")
    if routes and results.declared.after is None:
        return "Name the tires planned under [after]"
    if not routes and not results.routes:
        return "Name the mountain roads you drive as [[route]]"
    open_still = any(way.verdict == OPEN for _, way in routes)
    return "" if open_still else "Nothing to do"


def _drives(count: int) -> str:
    return "drive" if count == 1 else "drives"


def _sure(results: Results, *, judged: bool) -> str:
    if not judged:
        return "Cannot tell yet"
    checked = results.mountain.model_check.stretches
    return "Checked against logs" if checked else "Calculated only"


def ways(routes: Sequence[Route]) -> list[Named]:
    """Every route and its reverse, each under the name of the way it shows."""
    out: list[Named] = []
    for route in routes:
        name = said(route.name) or "Route"
        out.append((name, route))
        if route.reversed is not None:
            out.append((said(route.reversed.name) or f"{name}, the other way", route.reversed))
    return out


def _short(results: Results, routes: Sequence[Named]) -> str:
    """The engine's change of speed and the worst verdict of any route, either way."""
    change = results.final_drive.change_percent.value
    engine = ""
    if _unchanged(results):
        engine = "Engine speed as before"
    elif change is not None:
        engine = f"Engine {digits(abs(change), 1)} % {'slower' if change < 0 else 'faster'}"
    for worst in _WORST_FIRST:
        names = [name for name, way in routes if way.verdict == worst]
        if names:
            where = names[0] if len(names) == 1 else f"{len(names)} drives"
            if worst == "suits" and len(names) > 1:
                where = "every route"
            told = f"{_SHORT[worst]} {where}"
            return f"{engine}; {told}" if engine else capital(told)
    present = _present(results).value
    if engine or present is None:
        return engine or "No route judged"
    return f"Effective axle ratio {digits(present, 2)}"


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


def _routes_told(results: Results, display: Display) -> str:
    routes = results.routes
    if not routes:
        return no_route(results.mountain)
    worst_first = sorted(routes, key=lambda route: min(_rank(route), _rank(route.reversed)))
    told = [_both_ways(route, display) for route in worst_first[:_TOLD]]
    more = len(routes) - _TOLD
    if more > 0:
        told.append(
            f"{'One more route is' if more == 1 else f'{more} more routes are'} in the report."
        )
    return joined(told)


def _rank(way: Way | None) -> int:
    """Place of a drive's verdict among those worst first; behind all where there is no drive."""
    return len(_WORST_FIRST) if way is None else _WORST_FIRST.index(way.verdict)


def no_route(mountain: MountainFinding) -> str:
    """That no route was judged, and why."""
    return f"No route judged: {clause(mountain.routes_why or 'the study names none')}."


def _both_ways(route: Route, display: Display) -> str:
    """A route's sentence, and the verdict of the other way where it is another."""
    told = route_sentence(said(route.name) or "Route", route, display)
    back = route.reversed
    if back is not None and back.verdict != route.verdict:
        return f"{told[:-1]}; the other way: {VERDICTS[back.verdict]}."
    return told


def route_sentence(name: str, way: Way, display: Display) -> str:
    """One drive's verdict with what decides it: top gear, the slowest point, the brakes' share."""
    if way.verdict == OPEN:
        return f"{name}: cannot tell yet, {clause(way.verdict_why)}."
    facts = [fact for fact in (top_gear(way), _slowest(way, display), _brakes(way)) if fact]
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


def top_gear(way: Way) -> str:
    """Does top gear still serve: the grade it sustains, its share of the way, downshifts gained."""
    before, after = way.before, way.after
    if after is None:
        return ""
    parts = [
        _top_gear_part(_sustains, before, after, "top gear sustains up to", "at the speed wanted"),
        _top_gear_part(top_gear_share, before, after, "serves for", "of the time under way"),
    ]
    gained = 0
    if before is not None:
        gained = after.downshifts_under_drive - before.downshifts_under_drive
    if gained:
        count = "one downshift" if abs(gained) == 1 else f"{abs(gained)} downshifts"
        parts.append(f"{count} {'more' if gained > 0 else 'fewer'} while pulling, once this way")
    return ", ".join(part for part in parts if part)


def _top_gear_part(
    told: Callable[[RouteSide], str],
    before: RouteSide | None,
    after: RouteSide,
    lead: str,
    what: str,
) -> str:
    now, was = told(after), told(before) if before is not None else ""
    if not now:
        return ""
    changed = f" ({was} before)" if was and was != now else ""
    return f"{lead} {now} {what}{changed}"


def _sustains(drive: RouteSide) -> str:
    grade = drive.top_gear_sustains_percent
    return "" if grade is None else f"{digits(grade, 1)} %"


def top_gear_share(drive: RouteSide) -> str:
    """Top gear's share of the time under way; empty where no gear is known.

    Top gear is the highest that the descent knows of, or that was driven.
    """
    held = drive.descent.held_by_gear_kmh if drive.descent is not None else {}
    top = max(map(int, [*held, *drive.gear_time_share]), default=0)
    return percent_of(drive.gear_time_share.get(str(top), 0.0)) if drive.gear_time_share else ""


def _slowest(way: Way, display: Display) -> str:
    was, now = (
        "" if side is None else digits(display.speed(side.lowest_speed_kmh), 0)
        for side in (way.before, way.after)
    )
    return _then_and_now("slowest point", was, now, display.speed_unit)


def _brakes(way: Way) -> str:
    """The service brakes' work on the way down, where there is any to speak of."""
    sides = [side for side in (way.before, way.after) if side is not None]
    most = [side.descent.brake_kwh for side in sides if side.descent is not None]
    if way.after is not None and "brake_kwh" in way.after.spread:
        most.append(way.after.spread["brake_kwh"].high)
    if max(most, default=0.0) < _SMALL_KWH:
        return ""
    was, now = (
        brake_work(side) if side is not None and side.descent is not None else ""
        for side in (way.before, way.after)
    )
    return _then_and_now("the brakes take", was, now, "kWh")


def _then_and_now(lead: str, was: str, now: str, unit: str) -> str:
    """A figure on the new tires, and on the old where known; empty where the new is not."""
    if not was or not now:
        return f"{lead} {now} {unit}" if now else ""
    if was == now:
        return f"{lead} {now} {unit}, as before"
    return f"{lead} {was} {unit} before, {now} {unit} after"


def brake_work(side: RouteSide) -> str:
    """The service brakes' work on one set of tires [kWh], with its 95 % range."""
    if side.descent is None:
        return "-"
    told = digits(side.descent.brake_kwh, 1)
    ends = side.spread.get("brake_kwh")
    return told if ends is None else f"{told} ({digits(ends.low, 1)} to {digits(ends.high, 1)})"


def _next(results: Results, routes: Sequence[Named]) -> str:
    restoring = results.final_drive.restoring_axle_ratio.value
    parts = []
    if restoring is not None and not _unchanged(results):
        parts.append(f"An axle ratio of {digits(restoring, 2)} would bring the old gearing back.")
    worst_first = sorted(routes, key=lambda one: _rank(one[1]))
    careful = [(name, watch) for name, way in worst_first if (watch := care(way))]
    parts.extend(f"Watch on {name}: {watch}." for name, watch in careful[:2])
    if routes and results.declared.after is None:
        parts.append(_PLANNED)
    if len(careful) > 2:
        more = len(careful) - 2
        drives = counted(more, "more drive") if more > 1 else "one more drive"
        parts.append(f"What to watch on {drives} is in the report.")
    return joined(parts)


def care(way: Way) -> str:
    """What to watch on a drive, or what fails there, in one clause."""
    return "; ".join(clause(item) for item in way.care if said(item))


def cares(descent: LongDescent) -> list[str]:
    """What asks for care on a descent, on the new tires, on the old where there are no others."""
    side = descent.after or descent.before
    return [said(one) for one in side.care] if side is not None else []


def from_to(stretch: LongDescent, display: Display) -> str:
    """From where to where along the road, in the reader's unit."""
    return " to ".join(digits(display.distance(km), 1) for km in (stretch.from_km, stretch.to_km))
