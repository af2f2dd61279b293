"""The third answer in words: the gearing, and each route up and down."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gearing.messages.display import Display, digits
from gearing.report.phrases import brackets, capital, clause, count_phrase
from gearing.report.reading import Tree, branch, dig, estimate, number, rows, text, why
from gearing.report.views.answer import Answer
from gearing.statistics.estimate import Estimate

if TYPE_CHECKING:
    from collections.abc import Callable

Results = dict[str, Any]

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
_WORST_FIRST = ("does not suit", "suits with care", "cannot tell yet", "suits")


def mountain_answer(results: Results, display: Display) -> Answer:
    question = "Mountain"
    routes = ways(results)
    judged = [way for _, way in routes if verdict(way) != "cannot tell yet"]
    gearing = _gearing_sentence(results, display)
    settled = bool(gearing) or bool(judged)
    if not gearing:
        reason = clause(why(results, "final_drive", "effective", "after"))
        gearing = f"The effective axle ratio is not known: {reason}."
        if not settled:
            gearing = f"Cannot tell yet: {reason}."
    short = _short(results, routes) if settled else "Cannot tell yet"
    told = _routes_told(results, display)
    return Answer(
        question,
        short,
        gearing,
        told,
        _next(results, routes),
        settled,
        _action(results, routes),
        _sure(results, bool(judged)),
    )


def _action(results: Results, routes: list[tuple[str, Tree]]) -> str:
    """Where to take care, worst first, or that there is nothing to."""
    careful = [name for name, way in routes if care(way) or verdict(way) == "does not suit"]
    if careful:
        return f"Watch on {careful[0]}" + (
            f" and {len(careful) - 1} more drive{'s' if len(careful) > 2 else ''}"
            if len(careful) > 1
            else ""
        )
    if routes and not dig(results, "declared", "after"):
        return "Name the tires planned under [after]"
    open_still = not routes or any(verdict(way) == "cannot tell yet" for _, way in routes)
    return "" if open_still else "Nothing to do"


def _sure(results: Results, judged: bool) -> str:
    if not judged:
        return "Cannot tell yet"
    checked = number(dig(results, "mountain", "model_check", "stretches"))
    return "Calculated, log-checked" if checked else "Calculated, not checked"


def ways(results: Tree) -> list[tuple[str, Tree]]:
    """Every route and its reverse, each under the name of the way it shows."""
    out: list[tuple[str, Tree]] = []
    for route in rows(results, "routes"):
        name = text(route.get("name")) or "Route"
        out.append((name, route))
        back = branch(route, "reversed")
        if back:
            out.append((text(back.get("name")) or f"{name}, the other way", back))
    return out


def verdict(way: Tree) -> str:
    return text(way.get("verdict")) or "cannot tell yet"


def _short(results: Results, routes: list[tuple[str, Tree]]) -> str:
    """The engine's change of speed and the worst verdict of any route, either way."""
    change = estimate(results, "final_drive", "change_percent").value
    engine = ""
    if _unchanged(results):
        engine = "Engine speed as before"
    elif change is not None:
        engine = f"Engine {digits(abs(change), 1)} % {'slower' if change < 0 else 'faster'}"
    for worst in _WORST_FIRST:
        names = [name for name, way in routes if verdict(way) == worst]
        if names:
            where = names[0] if len(names) == 1 else f"{len(names)} drives"
            if worst == "suits" and len(names) > 1:
                where = "every route"
            told = f"{where}: {worst}"
            return f"{engine}; {told}" if engine else capital(told)
    if engine:
        return engine
    present = _present(results)
    return (
        "No route judged"
        if present.value is None
        else (f"Effective axle ratio {digits(present.value, 2)}")
    )


def _present(results: Results) -> Estimate:
    """The effective axle ratio on the tires now fitted: the one declared for the old tires is
    not theirs."""
    after = estimate(results, "final_drive", "effective", "after")
    if after.known or dig(results, "declared", "after") is not None:
        return after
    return estimate(results, "final_drive", "effective", "before")


def _unchanged(results: Results) -> bool:
    """No change of gearing is to be seen: the interval holds none, or it is too small to show."""
    change = estimate(results, "final_drive", "change_percent")
    if change.value is None or dig(results, "final_drive", "told"):
        return False
    if change.low is not None and change.high is not None and change.low <= 0 <= change.high:
        return True
    return float(digits(change.value, 1)) == 0


def _gearing_sentence(results: Results, display: Display) -> str:
    told = text(dig(results, "final_drive", "told"))
    if told:
        return f"{capital(told)}."
    change = estimate(results, "final_drive", "change_percent")
    before = estimate(results, "final_drive", "effective", "before")
    after = estimate(results, "final_drive", "effective", "after")
    if _unchanged(results):
        inside = "; ".join(part for part in (_reach(change), count_phrase(change)) if part)
        return (
            "The engine turns as fast as before at the same true speed in the same gear, within "
            f"what the logs can tell{f' ({inside})' if inside else ''}."
        )
    if change.value is not None:
        slower = "slower" if change.value < 0 else "faster"
        size = digits(abs(change.value), 1)
        inside = brackets(change.map(abs), 1, " %")
        turns = f"the engine turns {size} % {slower} at the same true speed in the same gear"
        if before.value is not None and after.value is not None:
            return (
                f"The axle, {digits(before.value, 2)} before, now works like "
                f"{digits(after.value, 2)}: {turns}{inside}."
            )
        return f"{capital(turns)}{inside}."
    present = _present(results)
    if present.value is None:
        return ""
    where = capital(display.on("after")) if after.known else "On the present tires"
    ratio = digits(present.value, 2)
    return f"{where} the effective axle ratio is {ratio}{brackets(present, 2)}."


def _reach(change: Estimate) -> str:
    """The interval of a change too small to show, with as many places as it takes."""
    if change.low is None or change.high is None or change.low == change.high:
        return ""
    places = 1 if max(abs(change.low), abs(change.high)) >= 0.1 else 2
    ends = [
        f"{digits(abs(end), places)} % {'slower' if end < 0 else 'faster'}"
        for end in (change.low, change.high)
    ]
    return f"95 % interval {ends[0]} to {ends[1]}"


def _routes_told(results: Results, display: Display) -> str:
    routes = rows(results, "routes")
    if not routes:
        return _no_route(results)
    worst_first = sorted(routes, key=lambda route: min(_rank(route), _rank(route, "reversed")))
    told = [_both_ways(route, display) for route in worst_first[:_TOLD]]
    more = len(routes) - _TOLD
    if more > 0:
        told.append("One more route is" if more == 1 else f"{more} more routes are")
        told[-1] += " in the report."
    return " ".join(told)


def _rank(route: Tree, *keys: str) -> int:
    """Place of a drive's verdict among those worst first; behind all where there is no drive."""
    way = branch(route, *keys)
    return _WORST_FIRST.index(verdict(way)) if way else len(_WORST_FIRST)


def _no_route(results: Results) -> str:
    reason = text(dig(results, "routes_why")) or text(dig(results, "mountain", "routes_why"))
    return f"No route judged: {clause(reason or 'the study names none')}."


def _both_ways(route: Tree, display: Display) -> str:
    """A route's sentence, and the verdict of the other way where it is another."""
    sentence = route_sentence(text(route.get("name")) or "Route", route, display)
    back = branch(route, "reversed")
    if back and verdict(back) != verdict(route):
        return f"{sentence[:-1]}; the other way: {verdict(back)}."
    return sentence


def route_sentence(name: str, way: Tree, display: Display) -> str:
    """One drive's verdict with what decides it: top gear, the slowest point, the brakes' share."""
    if verdict(way) == "cannot tell yet":
        return f"{name}: cannot tell yet, {clause(why(way, 'verdict'))}."
    facts = [fact for fact in (top_gear(way), _slowest(way, display), _brakes(way)) if fact]
    return f"{name}: {verdict(way)}" + (f"; {', '.join(facts)}." if facts else ".")


def route_sentences(mountain: Results, display: Display) -> list[str]:
    """The routes alone, a line each way, what to watch, and what is missing."""
    lines = []
    for name, way in ways(mountain):
        mind = care(way)
        sentence = route_sentence(name, way, display)
        lines.append(f"{sentence} Watch: {mind}." if mind else sentence)
    if not lines:
        lines.append(_no_route(mountain))
    lines.extend(text(row.get("text")) for row in rows(mountain, "warnings"))
    if any(verdict(way) != "cannot tell yet" for _, way in ways(mountain)):
        lines += [inputs_from(mountain), calculated_for(mountain, display), CAUTION]
    return [line for line in lines if line]


def calculated_for(mountain: Tree, display: Display) -> str:
    """The weight and power the routes are calculated for: the owner knows whether they are his."""
    kw = number(mountain.get("peak_power_kw"))
    found = {
        text(row.get("name")): number(row.get("value")) for row in rows(mountain, "parameters")
    }
    mass = found.get("mass_kg")
    if kw is None or mass is None:
        return ""
    weight, weight_unit = display.plain(mass, "kg")
    power, power_unit = display.plain(1000 * kw, "W")
    return (
        f"Calculated for a weight of {digits(weight, 0)} {weight_unit} and an engine whose torque "
        f"curve gives {digits(power, 0)} {power_unit} at most: check both."
    )


def top_gear(way: Tree) -> str:
    """Does top gear still serve: the grade it sustains, its share of the way, downshifts gained."""
    before, after = branch(way, "before"), branch(way, "after")
    if not after:
        return ""
    parts = [
        _top_gear_part(_sustains, before, after, "top gear sustains up to", "at the speed wanted"),
        _top_gear_part(_top_share, before, after, "serves for", "of the time under way"),
    ]
    gained = _downshifts(after) - _downshifts(before) if before else 0
    if gained:
        count = "one downshift" if abs(gained) == 1 else f"{abs(gained)} downshifts"
        parts.append(f"{count} {'more' if gained > 0 else 'fewer'} under drive")
    return ", ".join(part for part in parts if part)


def _top_gear_part(
    told: Callable[[Tree], str], before: Tree, after: Tree, lead: str, what: str
) -> str:
    now, was = told(after), told(before) if before else ""
    if not now:
        return ""
    changed = f" ({was} before)" if was and was != now else ""
    return f"{lead} {now} {what}{changed}"


def _sustains(drive: Tree) -> str:
    grade = number(drive.get("top_gear_sustains_percent"))
    return "" if grade is None else f"{digits(grade, 1)} %"


def _top_share(drive: Tree) -> str:
    """Top gear's share of the time under way."""
    share = number(branch(drive, "gear_time_share").get(top_gear_number(drive)))
    if not branch(drive, "gear_time_share"):
        return ""
    return f"{digits(100 * (share or 0.0), 0)} %"


def top_gear_number(drive: Tree) -> str:
    """The vehicle's highest gear: that the descent knows of, or the highest driven."""
    known = [*branch(drive, "descent", "held_by_gear_kmh"), *branch(drive, "gear_time_share")]
    return str(max((int(gear) for gear in known), default=0))


def _downshifts(drive: Tree) -> int:
    return int(number(drive.get("downshifts_under_drive")) or 0)


def inputs_from(mountain: Tree) -> str:
    """Where the figures come from that decide the routes, so that two commands can be compared."""
    by_source: dict[str, list[str]] = {}
    for row in rows(mountain, "parameters"):
        source = text(row.get("source"))
        by_source.setdefault(source, []).append(text(row.get("label")))
    told = [f"{', '.join(labels)} ({source})" for source, labels in by_source.items()]
    return f"Worked out from: {'; '.join(told)}." if told else ""


def _slowest(way: Tree, display: Display) -> str:
    before = number(dig(way, "before", "lowest_speed_kmh"))
    after = number(dig(way, "after", "lowest_speed_kmh"))
    if after is None:
        return ""
    now = digits(display.speed(after), 0)
    if before is None:
        return f"slowest point {now} {display.speed_unit}"
    was = digits(display.speed(before), 0)
    if was == now:
        return f"slowest point {now} {display.speed_unit}, as before"
    return f"slowest point {was} {display.speed_unit} before, {now} {display.speed_unit} after"


def _brakes(way: Tree) -> str:
    """The service brakes' work on the way down, where there is any to speak of."""
    before = number(dig(way, "before", "descent", "brake_kwh"))
    after = number(dig(way, "after", "descent", "brake_kwh"))
    if after is None:
        return ""
    most = number(dig(way, "after", "spread", "brake_kwh", "high")) or 0.0
    if max(before or 0.0, after, most) < 0.05:
        return ""
    was, now = brake_work(branch(way, "before")), brake_work(branch(way, "after"))
    if before is None:
        return f"the brakes take {now} kWh"
    if was == now:
        return f"the brakes take {now} kWh, as before"
    return f"the brakes take {was} kWh before, {now} kWh after"


def brake_work(side: Tree) -> str:
    """The service brakes' work on one set of tires [kWh], with its 95 % range."""
    kwh = number(dig(side, "descent", "brake_kwh"))
    low, high = (number(dig(side, "spread", "brake_kwh", end)) for end in ("low", "high"))
    if kwh is None:
        return "-"
    if low is None or high is None:
        return digits(kwh, 1)
    return f"{digits(kwh, 1)} ({digits(low, 1)} to {digits(high, 1)})"


def _next(results: Results, routes: list[tuple[str, Tree]]) -> str:
    restoring = estimate(results, "final_drive", "restoring_axle_ratio")
    parts = []
    if restoring.value is not None and not _unchanged(results):
        parts.append(
            f"An axle ratio of {digits(restoring.value, 2)} would bring the old gearing back."
        )
    worst_first = sorted(routes, key=lambda one: _rank(one[1]))
    careful = [(name, mind) for name, way in worst_first if (mind := care(way))]
    parts.extend(f"Watch on {name}: {mind}." for name, mind in careful[:2])
    if routes and not dig(results, "declared", "after"):
        parts.append(_PLANNED)
    if len(careful) > 2:
        more = len(careful) - 2
        drives = "one more drive" if more == 1 else f"{more} more drives"
        parts.append(f"What to watch on {drives} is in the report.")
    return " ".join(parts)


def care(way: Tree) -> str:
    """What to watch on a drive, or what fails there, in one clause."""
    found = way.get("care")
    items = [clause(item) for item in found if text(item)] if isinstance(found, list) else []
    return "; ".join(items)
