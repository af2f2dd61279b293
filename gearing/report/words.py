"""The three answers as plain sentences: figure, interval, how sure, and what to do next.

Pure functions of results.json; used by the page and by the short answer on the terminal.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from gearing.report.display import Display, System, digits, rough
from gearing.report.phrases import (
    change_interval_phrase,
    change_phrase,
    count_phrase,
    farther_phrase,
    interval_phrase,
    level_phrase,
    listed,
)
from gearing.report.reading import branch, dig, estimate, number, rows, text, why
from gearing.report.translate import translated

if TYPE_CHECKING:
    from gearing.statistics.estimate import Estimate

Results = dict[str, Any]

QUESTIONS = ("Speed and distance", "Fuel", "Mountain")


@dataclass(frozen=True, slots=True)
class Answer:
    """One of the three questions answered: `short` in a few words, `headline` in a sentence."""

    question: str
    short: str  # a few words that hold the truth on their own
    headline: str
    certainty: str = ""
    next_step: str = ""
    settled: bool = True  # false: cannot tell yet, or not answered

    def sentence(self) -> str:
        return " ".join(part for part in (self.headline, self.certainty, self.next_step) if part)


def three_answers(results: Results, units: System = "metric") -> tuple[str, str, str]:
    """Speed, fuel and mountain, each as a few plain sentences in the reader's units."""
    speed, fuel, mountain = answers(results, units)
    return speed.sentence(), fuel.sentence(), mountain.sentence()


def answers(results: Results, units: System = "metric") -> tuple[Answer, Answer, Answer]:
    display = Display(units)
    results = translated(results, display)
    return (
        speed_answer(results, display),
        fuel_answer(results, display),
        mountain_answer(results, display),
    )


# ---- speed and distance ------------------------------------------------------------------


def speed_answer(results: Results, display: Display) -> Answer:
    question = QUESTIONS[0]
    after = estimate(results, "speed", "odometer_factor", "after")
    before = estimate(results, "speed", "odometer_factor", "before")
    shown, tires = (after, "On the new tires") if after.known else (before, "On these tires")
    if not shown.known:
        open_answer = f"Cannot tell yet: {_clause(after.why)}."
        return Answer(question, "Cannot tell yet", open_answer, settled=False)
    assert shown.value is not None
    example = display.round_speed
    headline = (
        f"{tires} the vehicle goes {farther_phrase(shown)}: at an indicated "
        f"{digits(example, 0)} {display.speed_unit} the true speed is "
        f"{digits(example * shown.value, 1)} {display.speed_unit}, and "
        f"1,000 {display.distance_word} on the odometer are {digits(1000 * shown.value, 0)}."
    )
    certainty = f"True = {digits(shown.value, 4)} x indicated{_brackets(shown, 4)}."
    if after.known and before.known:
        assert before.value is not None
        certainty += f" Before the change: {digits(before.value, 4)}{_brackets(before, 4)}."
    short = _capital(farther_phrase(shown)) + _percent_ends(shown)
    return Answer(question, short, headline, certainty, _speed_next(results, display, shown))


def _percent_ends(factor: Estimate) -> str:
    """The interval of the factor as percent off what is shown, unsigned where it can be."""
    if factor.low is None or factor.high is None or factor.low == factor.high:
        return ""
    ends = [100 * (end - 1) for end in (factor.low, factor.high)]
    if ends[0] < 0 < ends[1]:
        return f" ({digits(-ends[0], 1)} % less to {digits(ends[1], 1)} % more)"
    low, high = sorted(map(abs, ends))
    return f" ({digits(low, 1)} to {digits(high, 1)} %)"


def _brackets(shown: Estimate, places: int, unit: str = "") -> str:
    interval = interval_phrase(shown, places, unit)
    if not interval:
        return ""
    return f" ({'; '.join(part for part in (interval, count_phrase(shown)) if part)})"


def _speed_next(results: Results, display: Display, shown: Estimate) -> str:
    broken = dict.fromkeys(
        f"{text(row.get('rule'))} ({_period(row)})"
        for row in rows(results, "speed", "rules")
        if row.get("meets") is False
    )
    rules = f" Outside {listed(broken)}." if broken else ""
    now = number(dig(results, "speed", "programmed_revolutions_per_km", "now"))
    should_be = number(dig(results, "speed", "programmed_revolutions_per_km", "should_be"))
    if shown.low is not None and shown.high is not None and 0.998 < shown.low < shown.high < 1.002:
        return "Nothing to reprogram." + rules
    if should_be is None:
        reason = _clause(why(results, "speed", "programmed_revolutions_per_km", "should_be"))
        return (
            "Next: have the computer that counts speed set to the tires now fitted "
            f"(the figure to set is not known: {reason})." + rules
        )
    was = f" (now {digits(display.revolutions(now), 0)})" if now is not None else ""
    return (
        "Next: have the computer that counts speed programmed to "
        f"{digits(display.revolutions(should_be), 0)} {display.revolutions_unit}{was}." + rules
    )


def _period(row: Any) -> str:
    period = text(row.get("period"))
    return {"after": "new tires", "before": "old tires"}.get(period, period or "either period")


# ---- fuel --------------------------------------------------------------------------------

VERDICTS = {
    "supported": "The claimed gain is supported",
    "smaller than claimed": "The gain is smaller than claimed",
    "some saving, size unsettled": "Some saving, but its size is not settled",
    "no change": "No change worth the name",
    "worse": "Worse than before",
    "less fuel": "Less fuel than before",
    "cannot tell yet": "Cannot tell yet whether the tires changed the fuel used",
}


def fuel_answer(results: Results, display: Display) -> Answer:
    question = QUESTIONS[1]
    verdict = text(dig(results, "fuel", "verdict"))
    basis, shown = decisive(results)
    if verdict not in VERDICTS:
        return Answer(
            question,
            "Not answered",
            f"Not answered: {_clause(why(results, 'fuel', 'verdict'))}.",
            _dash_sentence(results, display, basis),
            _fuel_next(results, display, verdict),
            settled=False,
        )
    headline = VERDICTS[verdict]
    settled = verdict != "cannot tell yet"
    if shown.known:
        found = change_phrase(shown, display, "is" if settled else "is best put at")
        headline += f": {_BASES[basis]}, {found}."
    else:
        headline += f": {_clause(shown.why)}."
    inside = "; ".join(
        part
        for part in (change_interval_phrase(display.fuel_change(shown)), count_phrase(shown))
        if part
    )
    certainty = (
        f"{inside}." if inside else "",
        _claim_sentence(results, display),
        _dash_sentence(results, display, basis),
    )
    return Answer(
        question,
        _fuel_short(verdict, shown, display),
        headline,
        " ".join(part for part in certainty if part),
        _fuel_next(results, display, verdict),
        settled,
    )


def _fuel_short(verdict: str, shown: Estimate, display: Display) -> str:
    words = "Claim supported" if verdict == "supported" else verdict.capitalize()
    if not shown.known:
        return words
    interval = change_interval_phrase(display.fuel_change(shown)).removeprefix("95 % interval ")
    if verdict == "cannot tell yet":
        return f"{words}: {interval}" if interval else words
    change = display.fuel_change(shown).value
    assert change is not None
    found = f"{words}: {display.fuel_word} {level_phrase(change)}"
    if " lower to " not in interval:  # both ends on one side, as the words before already say
        interval = interval.removesuffix(" higher").removesuffix(" lower")
    return f"{found} ({interval})" if interval else found


_BASES = {
    "adjusted": "at the same road, speed, weather and load",
    "matched": "on the same roads in the same direction",
    "true_distance": "per true distance, as driven",
    "fillups": "from the fill-up log",
    "indicated": "per indicated distance",
}


def decisive(results: Results) -> tuple[str, Estimate]:
    """The estimate the verdict rests on, and its key: adjusted, else matched, else the next."""
    adjusted = estimate(results, "fuel", "change_percent", "adjusted")
    for basis in ("adjusted", "matched"):
        shown = estimate(results, "fuel", "change_percent", basis)
        if shown.known:
            return basis, shown
    return "adjusted", adjusted


def claimed_percent(results: Results) -> float | None:
    """The claimed change of consumption [%], where the study makes a claim."""
    for keys in (
        ("fuel", "claim_percent"),
        ("declared", "claim", "consumption_change_percent"),
    ):
        found = number(dig(results, *keys))
        if found is not None:
            return found
    return None


def _claim_sentence(results: Results, display: Display) -> str:
    claim = claimed_percent(results)
    return f"The claim: {claim_phrase(claim, display)}." if claim is not None else ""


def claim_phrase(claim: float, display: Display) -> str:
    """The claim both ways, the reader's own first."""
    both = [
        f"{shown.fuel_word} {level_phrase(shown.fuel_change_percent(claim))}"
        for shown in (Display("us"), Display("metric"))
    ]
    first, second = both if display.us else reversed(both)
    return f"{first}, which is the same as {second}"


def _dash_sentence(results: Results, display: Display, basis: str) -> str:
    """What the dash's own figures would have said, and why that is not the answer."""
    indicated = estimate(results, "fuel", "change_percent", "indicated")
    if not indicated.known or basis == "indicated":
        return ""
    return f"By the dash alone, {change_phrase(indicated, display, 'would be')}."


def _fuel_next(results: Results, display: Display, verdict: str) -> str:
    more = number(dig(results, "fuel", "more_driving_km"))
    if not verdict:
        return ""
    if more is None:
        reason = text(dig(results, "fuel", "more_driving_km_why"))
        return f"More driving alone will not settle it: {_clause(reason)}." if reason else ""
    if more <= 0:
        return "Nothing more to drive." if verdict != "cannot tell yet" else ""
    goal = "settle it" if verdict == "cannot tell yet" else "pin the size down"
    return (
        f"Next: about {rough(display.distance(more))} more true {display.distance_word} "
        f"on the new tires should {goal}."
    )


# ---- mountain ----------------------------------------------------------------------------


def mountain_answer(results: Results, display: Display) -> Answer:
    question = QUESTIONS[2]
    routes = rows(results, "routes")
    gearing = _gearing_sentence(results)
    certainty = _routes_sentence(results, display, routes)
    settled = bool(gearing) or any(
        text(route.get("verdict")) not in ("", "cannot tell yet") for route in routes
    )
    if not gearing:
        reason = _clause(why(results, "final_drive", "effective", "after"))
        gearing = f"The effective axle ratio is not known: {reason}."
        if not routes or not settled:
            gearing = f"Cannot tell yet: {reason}."
    short = _mountain_short(results, routes) if settled else "Cannot tell yet"
    return Answer(question, short, gearing, certainty, _mountain_next(results, routes), settled)


_WORST_FIRST = ("does not suit", "suits with care", "cannot tell yet", "suits")


def _mountain_short(results: Results, routes: list[Any]) -> str:
    """The engine's change of speed and the worst verdict of any route."""
    change = estimate(results, "final_drive", "change_percent").value
    engine = ""
    if change is not None:
        engine = f"Engine {digits(abs(change), 1)} % {'slower' if change < 0 else 'faster'}"
    for verdict in _WORST_FIRST:
        names = [
            text(route.get("name")) for route in routes if text(route.get("verdict")) == verdict
        ]
        if names:
            where = names[0] if len(names) == 1 else f"{len(names)} routes"
            told = f"{where}: {verdict}"
            return f"{engine}; {told}" if engine else told
    return engine or "No route judged"


def _gearing_sentence(results: Results) -> str:
    change = estimate(results, "final_drive", "change_percent")
    before = estimate(results, "final_drive", "effective", "before")
    after = estimate(results, "final_drive", "effective", "after")
    if change.known:
        assert change.value is not None
        slower = "slower" if change.value < 0 else "faster"
        size = digits(abs(change.value), 1)
        inside = _brackets(change.map(abs), 1, " %")
        turns = f"the engine turns {size} % {slower} at the same true speed in the same gear"
        if before.value is not None and after.value is not None:
            return (
                f"The axle, {digits(before.value, 2)} before, now works like "
                f"{digits(after.value, 2)}: {turns}{inside}."
            )
        return f"{turns[:1].upper()}{turns[1:]}{inside}."
    known = after if after.known else before
    if known.value is None:
        return ""
    tires = "new" if after.known else "present"
    ratio = digits(known.value, 2)
    return f"On the {tires} tires the effective axle ratio is {ratio}{_brackets(known, 2)}."


def _routes_sentence(results: Results, display: Display, routes: list[Any]) -> str:
    if not routes:
        reason = text(dig(results, "routes_why")) or text(dig(results, "mountain", "why"))
        return f"No route judged: {_clause(reason or 'the study names none')}."
    return " ".join(route_sentence(route, display) for route in routes[:3]) + (
        f" {len(routes) - 3} more routes are in the report." if len(routes) > 3 else ""
    )


def route_sentence(route: Any, display: Display) -> str:
    """One route's verdict with what decides it: the slowest point, and the brakes' share."""
    name, verdict = text(route.get("name")) or "Route", text(route.get("verdict"))
    if verdict in ("", "cannot tell yet"):
        return f"{name}: cannot tell yet, {_clause(why(route, 'verdict'))}."
    facts = [fact for fact in (_slowest(route, display), _brakes(route)) if fact]
    return f"{name}: {verdict}" + (f"; {', '.join(facts)}." if facts else ".")


def route_lines(mountain: Results, units: System = "metric") -> list[str]:
    """The mountain routes alone, one line each way, and what is missing."""
    display = Display(units)
    mountain = translated(mountain, display)
    lines = []
    for route in rows(mountain, "routes"):
        lines.append(route_sentence(route, display))
        back = branch(route, "reversed")
        if back:
            named = {**back, "name": f"{text(route.get('name')) or 'Route'}, the other way"}
            lines.append(route_sentence(named, display))
    if not lines:
        reason = text(dig(mountain, "routes_why")) or text(dig(mountain, "why"))
        lines.append(f"No route judged: {_clause(reason or 'the study names none')}.")
    lines.extend(text(row.get("text")) for row in rows(mountain, "warnings"))
    return [line for line in lines if line]


def _slowest(route: Any, display: Display) -> str:
    before = number(dig(route, "before", "lowest_speed_kmh"))
    after = number(dig(route, "after", "lowest_speed_kmh"))
    if after is None:
        return ""
    now = f"{digits(display.speed(after), 0)} {display.speed_unit}"
    if before is None:
        return f"slowest point {now}"
    was = f"{digits(display.speed(before), 0)} {display.speed_unit}"
    return f"slowest point {was} before, {now} after"


def _brakes(route: Any) -> str:
    """The service brakes' work on the way down: the other way round where that is the descent."""
    for way in (branch(route), branch(route, "reversed")):
        before = number(dig(way, "before", "descent", "brake_kwh"))
        after = number(dig(way, "after", "descent", "brake_kwh"))
        if before is not None and after is not None and max(before, after) > 0:
            was, now = digits(before, 1), digits(after, 1)
            if was == now:
                return f"the brakes take {now} kWh, as before"
            return f"the brakes take {was} kWh before, {now} kWh after"
    return ""


def _mountain_next(results: Results, routes: list[Any]) -> str:
    restoring = estimate(results, "final_drive", "restoring_axle_ratio")
    parts = []
    if restoring.value is not None:
        parts.append(
            f"An axle ratio of {digits(restoring.value, 2)} would bring the old gearing back."
        )
    careful = [
        (text(route.get("name")), cares)
        for route in routes
        if text(route.get("verdict")) in ("suits with care", "does not suit")
        and (cares := care(route))
    ]
    parts.extend(f"Mind on {name}: {cares}." for name, cares in careful[:2])
    if len(careful) > 2:
        parts.append(f"What to mind on {len(careful) - 2} more routes is in the report.")
    return " ".join(parts)


def care(route: Any) -> str:
    """What to mind on a route, or what fails there, in one clause."""
    found = route.get("care")
    items = [_clause(item) for item in found if text(item)] if isinstance(found, list) else []
    return "; ".join(items)


def _capital(phrase: str) -> str:
    return phrase[:1].upper() + phrase[1:]


def _clause(reason: str | None) -> str:
    """A reason as the middle of a sentence: no full stop, no capital."""
    plain = (reason or "no reason was given").strip().rstrip(".")
    second = plain[1:2]
    return plain if second.isupper() else plain[:1].lower() + plain[1:]
