"""The second answer in words: what the tires did to the fuel used."""

from __future__ import annotations

from typing import Any

from gearing.messages.display import Display
from gearing.report.phrases import (
    capital,
    change_interval_phrase,
    change_phrase,
    clause,
    count_phrase,
    level_phrase,
)
from gearing.report.reading import dig, estimate, number, text, why
from gearing.report.views.answer import Answer
from gearing.report.views.fuel_next import SETTLED, fuel_next
from gearing.statistics.estimate import Estimate

Results = dict[str, Any]


_CANNOT_TELL = "cannot tell yet"
VERDICTS = {
    "supported": "The claimed gain is supported",
    "smaller than claimed": "The gain is smaller than claimed",
    "some saving, size unsettled": "Some saving, but its size is not settled",
    "no change": "No change worth the name",
    "worse": "Worse than before",
    "less fuel": "Less fuel than before",
}


_NO_SAVING = "No saving shown, and the claim is out of reach"


def shows_none(shown: Estimate) -> bool:
    """Whether the interval of a change of consumption reaches zero or lies above it: no saving is
    shown then."""
    return shown.high is not None and shown.high >= 0


def verdict_words(verdict: str, shown: Estimate) -> str:
    """The verdict's lead."""
    none = verdict == "smaller than claimed" and shows_none(shown)
    return _NO_SAVING if none else VERDICTS[verdict]


def fuel_answer(results: Results, display: Display) -> Answer:
    verdict = text(dig(results, "fuel", "verdict"))
    basis, shown = decisive(results)
    action, step = _next(results, verdict, display, shown)
    if verdict == _CANNOT_TELL or (not verdict and _fillups(results).known):
        return _open_answer(results, display, basis, shown)
    if verdict not in VERDICTS:
        reason = clause(why(results, "fuel", "verdict"))
        driven = _as_driven(results, display)
        told = f"Not answered: {reason}."
        return Answer("Fuel", "Not answered", told, driven, step, False, action, "Not answered yet")
    lead = verdict_words(verdict, shown)
    headline = f"{lead}: {clause(shown.why)}."
    if shown.known:
        headline = f"{lead}: {_BASES[basis]}, {change_phrase(shown, display)}."
    against = _against_fillups(results, display, shown)
    inside = _inside(shown, display)
    certainty = (
        f"{inside}." if inside else "",
        _claim_sentence(results, display),
        _size_sentence(results, display),
        _dash_sentence(results, display, basis),
        against,
    )
    if against:
        action, step = "See why fill-ups and logs part", _SEE_WHY
    settled = "settled" if verdict in SETTLED else "unsettled"
    units = "tanks" if basis == "fillups" else "days"
    count = f"{shown.n} {units}" if shown.n else "Some days"
    return Answer(
        "Fuel",
        _fuel_short(verdict, shown, display),
        headline,
        _joined(certainty),
        step,
        action=action,
        sure=f"{count}, {'contradicted' if against else settled}",
    )


def _inside(shown: Estimate, display: Display) -> str:
    parts = (change_interval_phrase(display.fuel_change(shown)), count_phrase(shown))
    return "; ".join(part for part in parts if part)


def _next(results: Results, verdict: str, display: Display, shown: Estimate) -> tuple[str, str]:
    if text(dig(results, "fuel", "verdict_basis")) == "fillups":
        by_tanks = text(dig(results, "fuel", "tanks", "next"))
        action = capital(text(dig(results, "fuel", "tanks", "action")))
        return action, f"Next: {by_tanks}." if by_tanks else ""
    claim = claimed_percent(results) is not None
    return fuel_next(results, verdict, display, shown=shown, claim=claim)


def _open_answer(results: Results, display: Display, basis: str, shown: Estimate) -> Answer:
    """Cannot tell yet: why first, then the best estimate for what it is worth."""
    reason = (
        ("" if basis == "fillups" else _empty_side(results, display))
        or text(dig(results, "fuel", "verdict_why"))
        or shown.why
    )
    lead = f"Cannot tell yet whether {display.word('the tires changed the fuel used')}"
    headline = lead + (f": {clause(reason)}." if reason else ".")
    best = _joined((_as_driven(results, display), _as_filled(results, display)))
    if shown.known:
        told = _inside(shown, display)
        change = change_phrase(shown, display, "is best put at")
        best = f"{capital(_BASES[basis])}, {change}" + (f" ({told})." if told else ".")
    action, step = _next(results, _CANNOT_TELL, display, shown)
    return Answer(
        "Fuel",
        _fuel_short(_CANNOT_TELL, shown, display),
        headline,
        _joined((best, _claim_sentence(results, display), _dash_sentence(results, display, basis))),
        step,
        settled=False,
        action=action,
        sure="Cannot tell yet",
    )


def _empty_side(results: Results, display: Display) -> str:
    """The plainest reason of all: one period, and one alone, has nothing to compare."""
    sides = ("after", "before")
    empty = [s for s in sides if number(dig(results, "fuel", "sides", s, "days")) == 0]
    if len(empty) != 1:
        return ""
    yet = " yet" if empty[0] == "after" else ""
    return f"there is no driving with fuel {display.on(empty[0])}{yet}"


def _joined(sentences: tuple[str, ...]) -> str:
    return " ".join(sentence for sentence in sentences if sentence)


def _fuel_short(verdict: str, shown: Estimate, display: Display) -> str:
    words = "Claim supported" if verdict == "supported" else verdict.capitalize()
    if verdict == "smaller than claimed" and shows_none(shown):
        words = "No saving shown"
    if not shown.known:
        return words
    interval = change_interval_phrase(display.fuel_change(shown)).removeprefix("95 % interval ")
    if verdict == _CANNOT_TELL:
        return f"{words}: {interval}" if interval else words
    change = display.fuel_change(shown).value
    assert change is not None
    found = f"{words}: {display.fuel_word} {level_phrase(change)}"
    if " lower to " not in interval:  # both ends on one side, as the words before already say
        interval = interval.removesuffix(" higher").removesuffix(" lower")
    return f"{found} ({interval})" if interval else found


_BASES = {
    "adjusted": "at the same road, speed, weather and declared load",
    "matched": "on the same roads in the same direction",
    "true_distance": "per true distance, as driven",
    "fillups": "by the fill-up log, with the season taken out",
    "indicated": "per indicated distance",
}


def decisive(results: Results) -> tuple[str, Estimate]:
    """The estimate the verdict rests on, and its key: adjusted, else matched, else fill-ups."""
    if text(dig(results, "fuel", "verdict_basis")) == "fillups":
        return "fillups", _fillups(results)
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


def _size_sentence(results: Results, display: Display) -> str:
    """What the size did by itself, where the tread changed too."""
    size = estimate(results, "fuel", "size_change_percent")
    tread = display.fuel_change(estimate(results, "fuel", "tread_percent")).value
    if not size.known or tread is None or abs(tread) < _TREAD_PERCENT:
        return ""
    interval = change_interval_phrase(display.fuel_change(size)) or "no interval"
    return (
        "That is for the whole package: without what new tread costs by published figures, "
        f"{change_phrase(size, display, 'would be')} ({interval})."
    )


_TREAD_PERCENT = 0.5  # of less than this by the tread nobody needs to be told


def _fillups(results: Results) -> Estimate:
    return estimate(results, "fuel", "change_percent", "fillups")


_SEE_WHY = (
    "Next: see why they part: a fill that is missing or entered twice, or an engine computer that "
    "counts fuel otherwise than before. Until then the answer is in doubt."
)


def contradicted(results: Results, shown: Estimate) -> bool:
    """Whether the fill-ups' figure meets neither the one decided by nor the one as driven."""
    filled = _fillups(results)
    driven = estimate(results, "fuel", "change_percent", "true_distance")
    return filled.apart_from(shown) and filled.apart_from(driven)


def _against_fillups(results: Results, display: Display, shown: Estimate) -> str:
    """The fill-ups' figure where it meets neither the one decided by nor the one as driven: they
    are the check of the fuel rate, and what roads and weather did is in the latter too."""
    if not contradicted(results, shown):
        return ""
    return f"But the fill-ups say otherwise. {_as_filled(results, display)}"


def _as_filled(results: Results, display: Display) -> str:
    """What the fill-ups say, and what they leave in."""
    shown = _fillups(results)
    if not shown.known:
        return ""
    inside = (
        change_interval_phrase(display.fuel_change(shown)),
        f"{shown.n} tanks" if shown.n is not None else "",
    )
    told = "; ".join(part for part in inside if part)
    return (
        f"By the fill-up log, with the season taken out but not road and weather, "
        f"{change_phrase(shown, display)}" + (f" ({told})." if told else ".")
    )


def _as_driven(results: Results, display: Display) -> str:
    """What can be said without an answer: the change per true distance, nothing else put right."""
    shown = estimate(results, "fuel", "change_percent", "true_distance")
    if not shown.known:
        return ""
    interval = change_interval_phrase(display.fuel_change(shown)) or "no interval"
    return f"As driven, {change_phrase(shown, display)} per true distance ({interval})."


def _dash_sentence(results: Results, display: Display, basis: str) -> str:
    """What the dash's own figures would have said, and why that is not the answer."""
    indicated = estimate(results, "fuel", "change_percent", "indicated")
    if not indicated.known or basis == "indicated":
        return ""
    return f"By the dash alone, {change_phrase(indicated, display, 'would be')}."
