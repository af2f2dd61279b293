"""The second answer in words: what the tires did to the fuel used."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from gearing.messages.display import Display, digits
from gearing.report.phrases import (
    capital,
    change_interval_phrase,
    change_phrase,
    clause,
    count_phrase,
    joined,
    level_phrase,
    said,
    sentence,
)
from gearing.report.views.answer import Answer
from gearing.report.views.fuel_next import SETTLED, fuel_next

if TYPE_CHECKING:
    from gearing.results.record import Results
    from gearing.statistics.estimate import Estimate

CANNOT_TELL = "cannot tell yet"
# verdicts that leave open whether a claim holds
OPEN_CLAIM = ("some saving, size unsettled", CANNOT_TELL)
VERDICTS = {
    "supported": "The claimed gain is supported",
    "smaller than claimed": "The gain is smaller than claimed",
    "some saving, size unsettled": "Some saving, but its size is not settled",
    "no change": "No change worth the name",
    "worse": "Worse than before",
    "less fuel": "Less fuel than before",
}
_NO_SAVING = "No saving shown, and the claim is out of reach"
_BASES = {
    "adjusted": "at the same road, speed, weather and declared load",
    "matched": "on the same roads in the same direction",
    "fillups": "by the fill-up log, with the season taken out",
}
_TREAD_PERCENT = 0.5  # of less than this by the tread nobody needs to be told
_SEE_WHY = (
    "Next: see why they part: a fill that is missing or entered twice, or an engine computer that "
    "counts fuel otherwise than before. Until then the answer is in doubt."
)


def shows_none(shown: Estimate) -> bool:
    """Whether the interval of a change of consumption reaches zero or lies above it: no saving is
    shown then."""
    return shown.high is not None and shown.high >= 0


def verdict_words(verdict: str, shown: Estimate) -> str:
    """The verdict's lead."""
    none = verdict == "smaller than claimed" and shows_none(shown)
    return _NO_SAVING if none else VERDICTS[verdict]


def fuel_answer(results: Results, display: Display) -> Answer:
    """The answer to the second question, of results told for their reader."""
    fuel = results.fuel
    verdict = fuel.verdict or ""
    basis, shown = decisive(results)
    action, step = _next(results, verdict, display, shown)
    if verdict == CANNOT_TELL or (not verdict and fuel.change_percent.fillups.known):
        return _open_answer(results, display, basis, shown)
    if verdict not in VERDICTS:
        told = f"Not answered: {clause(fuel.verdict_why)}."
        driven = _as_driven(results, display)
        return Answer("Fuel", "Not answered", told, driven, step, False, action, "Not answered yet")
    lead = verdict_words(verdict, shown)
    headline = f"{lead}: {clause(shown.why)}."
    if shown.known:
        headline = f"{lead}: {_BASES[basis]}, {change_phrase(shown, display)}."
    against = _against_fillups(results, display, shown)
    inside = _inside(shown, display)
    certainty = (
        f"{inside}." if inside else "",
        sentence(fuel.verdict_why),
        _claim_sentence(results, display),
        _size_sentence(results, display),
        _dash_sentence(results, display),
        against,
    )
    if against:
        action, step = "See why fill-ups and logs part", _SEE_WHY
    units = "tanks" if basis == "fillups" else "days"
    settled = ", contradicted" if against else ", settled" if verdict in SETTLED else ""
    return Answer(
        "Fuel",
        _short(results, verdict, shown, display),
        headline,
        joined(certainty),
        step,
        action=action,
        sure=f"{shown.n or 'Some'} {units}{settled}",
    )


def _inside(shown: Estimate, display: Display) -> str:
    parts = (change_interval_phrase(display.fuel_change(shown)), count_phrase(shown))
    return "; ".join(part for part in parts if part)


def _next(results: Results, verdict: str, display: Display, shown: Estimate) -> tuple[str, str]:
    fuel = results.fuel
    if fuel.verdict_basis == "fillups":
        told = fuel.tanks
        by_tanks, action = (said(told.next), said(told.action)) if told is not None else ("", "")
        return capital(action), f"Next: {by_tanks}." if by_tanks else ""
    claim = claimed_percent(results) is not None
    return fuel_next(results, verdict, display, shown=shown, claim=claim)


def _open_answer(results: Results, display: Display, basis: str, shown: Estimate) -> Answer:
    """Cannot tell yet: why first, then the best estimate for what it is worth."""
    reason = (
        ("" if basis == "fillups" else _empty_side(results, display))
        or said(results.fuel.verdict_why)
        or said(shown.why)
    )
    lead = f"Cannot tell yet whether {display.word('the tires changed the fuel used')}"
    best = joined((_as_driven(results, display), _as_filled(results, display)))
    if shown.known:
        told = _inside(shown, display)
        change = change_phrase(shown, display, "is best put at")
        best = f"{capital(_BASES[basis])}, {change}" + (f" ({told})." if told else ".")
    action, step = _next(results, CANNOT_TELL, display, shown)
    return Answer(
        "Fuel",
        _short(results, CANNOT_TELL, shown, display),
        lead + (f": {clause(reason)}." if reason else "."),
        joined((best, _claim_sentence(results, display), _dash_sentence(results, display))),
        step,
        settled=False,
        action=action,
        sure="Cannot tell yet",
    )


def _empty_side(results: Results, display: Display) -> str:
    """The plainest reason of all: one period, and one alone, has nothing to compare."""
    before, after = results.fuel.sides.before.days, results.fuel.sides.after.days
    if bool(before) == bool(after):
        return ""
    side, yet = ("before", "") if after else ("after", " yet")
    return f"there is no driving with fuel {display.on(side)}{yet}"


def claim_open(results: Results, shown: Estimate) -> bool:
    """Whether a claim is neither shown nor ruled out: of one that is not, the verdict speaks."""
    claim = claimed_percent(results)
    if claim is None or results.fuel.verdict not in OPEN_CLAIM:
        return False
    return shown.holds(claim)


def _short(results: Results, verdict: str, shown: Estimate, display: Display) -> str:
    words = "Claim supported" if verdict == "supported" else verdict.capitalize()
    claim = claimed_percent(results)
    if claim is not None and claim_open(results, shown):
        size = digits(abs(display.fuel_change_percent(claim)), 1)
        words = f"Claim of {size} % {'more' if display.us == (claim < 0) else 'less'} still open"
    if verdict == "smaller than claimed" and shows_none(shown):
        words = "No saving shown, claim out of reach"
    change = display.fuel_change(shown)
    if change.value is None:
        return words
    interval = change_interval_phrase(change).removeprefix("95 % interval ")
    if verdict == CANNOT_TELL:
        return f"{words}: {display.fuel_word} {interval}" if interval else words
    found = f"{words}: {display.fuel_word} {level_phrase(change.value)}"
    if " lower to " not in interval:  # both ends on one side, as the words before already say
        interval = interval.removesuffix(" higher").removesuffix(" lower")
    return f"{found} ({interval})" if interval else found


def decisive(results: Results) -> tuple[Literal["adjusted", "matched", "fillups"], Estimate]:
    """The estimate the verdict rests on, and its key: adjusted, else matched, else fill-ups."""
    change = results.fuel.change_percent
    if results.fuel.verdict_basis == "fillups":
        return "fillups", change.fillups
    if change.adjusted.known or not change.matched.known:
        return "adjusted", change.adjusted
    return "matched", change.matched


def claimed_percent(results: Results) -> float | None:
    """The claimed change of consumption [%], where the study makes a claim."""
    claim = results.declared.claim
    if results.fuel.claim_percent is not None or claim is None:
        return results.fuel.claim_percent
    return claim.consumption_change_percent


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
    return f"{first}, which is {second}"


def _size_sentence(results: Results, display: Display) -> str:
    """What the size did by itself, where the tread changed too."""
    size = results.fuel.size_change_percent
    tread = display.fuel_change(results.fuel.tread_percent).value
    if not size.known or tread is None or abs(tread) < _TREAD_PERCENT:
        return ""
    held = "; the claim is held against it" if claimed_percent(results) is not None else ""
    return (
        f"That is for the whole package{held}. Without what new tread costs by published figures, "
        f"{change_phrase(size, display, 'would be')} ({_interval(size, display)})."
    )


def _interval(shown: Estimate, display: Display) -> str:
    return change_interval_phrase(display.fuel_change(shown)) or "no interval"


def contradicted(results: Results, shown: Estimate) -> bool:
    """Whether the fill-ups' figure meets neither the one decided by nor the one as driven."""
    change = results.fuel.change_percent
    return change.fillups.apart_from(shown) and change.fillups.apart_from(change.true_distance)


def _against_fillups(results: Results, display: Display, shown: Estimate) -> str:
    """The fill-ups' figure where it meets neither the one decided by nor the one as driven: they
    are the check of the fuel rate, and what roads and weather did is in the latter too."""
    if not contradicted(results, shown):
        return ""
    return f"But the fill-ups say otherwise. {_as_filled(results, display)}"


def _as_filled(results: Results, display: Display) -> str:
    """What the fill-ups say, and what they leave in."""
    shown = results.fuel.change_percent.fillups
    if not shown.known:
        return ""
    tanks = f"{shown.n} tanks" if shown.n is not None else ""
    inside = (change_interval_phrase(display.fuel_change(shown)), tanks)
    told = "; ".join(part for part in inside if part)
    return (
        f"By the fill-up log, with the season taken out but not road and weather, "
        f"{change_phrase(shown, display)}" + (f" ({told})." if told else ".")
    )


def _as_driven(results: Results, display: Display) -> str:
    """What can be said without an answer: the change per true distance, nothing else put right."""
    shown = results.fuel.change_percent.true_distance
    if not shown.known:
        return ""
    change = change_phrase(shown, display)
    return f"As driven, {change} per true distance ({_interval(shown, display)})."


def _dash_sentence(results: Results, display: Display) -> str:
    """What the dash's own figures would have said, and why that is not the answer."""
    indicated = results.fuel.change_percent.indicated
    if not indicated.known:
        return ""
    return f"By the dash alone, {change_phrase(indicated, display, 'would be')}."
