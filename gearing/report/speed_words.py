"""The first answer in words: what the indicated speed and distance really mean."""

from __future__ import annotations

from typing import Any

from gearing.messages.display import Display, digits
from gearing.report.answer import Answer
from gearing.report.phrases import brackets, capital, clause, farther_phrase, listed
from gearing.report.reading import branch, dig, estimate, number, rows, text, why
from gearing.statistics.estimate import Estimate

Results = dict[str, Any]


SWAPPED = "periods-swapped"
CONTRADICTS = "declared-contradicts-logs"
NOTHING_TO_SET = 0.002  # off one: about what a whole revolution per mile is worth
SEE_WHICH = "Next: see which logs are from before and which from after, and run again"


def speed_answer(results: Results, display: Display) -> Answer:
    question = "Speed and distance"
    after = estimate(results, "speed", "odometer_factor", "after")
    before = estimate(results, "speed", "odometer_factor", "before")
    swapped = looks_swapped(results)
    # what the old tires showed says nothing of the new ones
    both = dig(results, "declared", "after") is not None or after.known
    shown, tires = (after, "On the new tires") if both else (before, "On these tires")
    if not shown.known and (road := _same_road(results)) is not None:
        return _road_answer(question, *road, shown)
    if not shown.known and (by_needle := text(dig(results, "speed", "needle_correction", "told"))):
        return _needle_answer(question, results, by_needle)
    if not shown.known:
        where = " on the new tires" if both and before.known else ""
        open_answer = f"{swapped}Cannot tell yet{where}: {clause(shown.why)}."
        was = f"Before the change the odometer factor was {_times(before)}." if where else ""
        step = _to_set(results, display) if both else ""
        told = text(dig(results, "speed", "relative", "told"))
        certainty = " ".join(one for one in (was, f"{capital(told)}." if told else "") if one)
        return Answer(question, "Cannot tell yet", open_answer, certainty, step, settled=False)
    assert shown.value is not None
    example = display.round_speed
    headline = (
        f"{swapped}{tires} the vehicle goes {farther_phrase(shown)}: at an indicated "
        f"{digits(example, 0)} {display.speed_unit} the true speed is "
        f"{digits(example * shown.value, 1)} {display.speed_unit}, and "
        f"1,000 {display.distance_word} on the odometer are {digits(1000 * shown.value, 0)}."
    )
    certainty = f"True = {_times(shown, ' x indicated')}."
    certainty += _since(results, "after" if both else "before")
    if both and before.known:
        certainty += f" Before the change: {_times(before)}."
    certainty += _kept_out(results) + _contradicted(results)
    short = "Periods swapped?" if swapped else capital(farther_phrase(shown)) + _percent_ends(shown)
    step = (
        f"{SEE_WHICH}; what to program waits for that."
        if swapped
        else _speed_next(results, display, shown)
    )
    return Answer(question, short, headline, certainty, step)


def _same_road(results: Results) -> tuple[str, Estimate] | None:
    """A road driven on both sets of tires that tells how far the factor moved."""
    for row in rows(results, "speed", "measured", "roads"):
        ratio = estimate(row, "ratio")
        if row.get("holds") is True and ratio.known:
            return text(row.get("road")), ratio
    return None


def _road_answer(question: str, road: str, ratio: Estimate, shown: Estimate) -> Answer:
    """Without a receiver: the change alone, from one road driven in both periods."""
    assert ratio.value is not None
    percent = 100 * (ratio.value - 1)
    farther = f"{digits(abs(percent), 1)} % {'faster' if percent > 0 else 'slower'} than before"
    headline = (
        f"At the same indicated speed the vehicle goes {farther}: so it counted on the same road, "
        f"{road}, on both sets of tires."
    )
    certainty = f"Change of the odometer factor: {_times(ratio)}. How fast it goes cannot be told: "
    certainty += f"{clause(shown.why)}."
    step = (
        "Next: have the computer that counts speed reprogrammed, if it was right before: what it "
        f"holds as revolutions, divided by {digits(ratio.value, 4)}."
    )
    return Answer(question, capital(farther) + _percent_ends(ratio), headline, certainty, step)


def _needle_answer(question: str, results: Results, told: str) -> Answer:
    """Without a computer's count: what the needle shows beside true speed."""
    relative = text(dig(results, "speed", "relative", "told"))
    setting = text(dig(results, "speed", "relative", "setting_told"))
    change = estimate(results, "speed", "relative", "factor")
    short = "Needle read"
    if change.value is not None:
        percent = 100 * (change.value - 1)
        short = f"{digits(abs(percent), 1)} % {'faster' if percent > 0 else 'slower'} than before"
        short = capital(short) + _percent_ends(change)
    return Answer(
        question,
        short,
        f"By the needle: {told}.",
        f"{capital(relative)}." if relative else "",
        f"Next: {setting}; which computer, and whether it may be set, is its maker's to say."
        if setting
        else "",
    )


def _contradicted(results: Results) -> str:
    """That declared figures do not fit the logs, by their keys in the study file."""
    keys = [
        text(key)
        for row in rows(results, "warnings")
        if text(row.get("code")) == CONTRADICTS and isinstance(found := row.get("keys"), list)
        for key in found
    ]
    return f" Does not fit the logs as declared: {listed(keys)}; see the warnings." if keys else ""


def looks_swapped(results: Results) -> str:
    """A sentence ahead of everything where the two periods look swapped."""
    if any(text(row.get("code")) == SWAPPED for row in rows(results, "warnings")):
        return "The logs of before and after look swapped (see the warnings). "
    return ""


def _kept_out(results: Results) -> str:
    """How many trips are left out for the tires they seem to have been driven on."""
    wrong = [row for row in rows(results, "warnings") if text(row.get("code")) == "misfiled"]
    count = sum(len(trips) for row in wrong if isinstance(trips := row.get("trips"), list))
    if not count:
        return ""
    trips = "1 trip looks" if count == 1 else f"{count} trips look"
    return f" {trips} filed under the wrong tires; not used, see the warnings."


def _times(factor: Estimate, what: str = "") -> str:
    assert factor.value is not None
    return f"{digits(factor.value, 4)}{what}{brackets(factor, 4)}"


def _since(results: Results, side: str) -> str:
    """Since when the factor stands where it does, and where it stood, if it changed in between."""
    levels = rows(results, "speed", "levels", side)
    if len(levels) < 2:
        return ""
    now, last = levels[-1], estimate(levels[-2], "odometer_factor")
    day = text(now.get("at"))[:10]
    told = f" That holds since trip {text(now.get('since'))} of {day}, where the factor changed"
    return f"{told}; until then it was {_times(last)}." if last.known else f"{told}."


def _percent_ends(factor: Estimate) -> str:
    """The interval of the factor as percent off what is shown, unsigned where it can be."""
    if factor.low is None or factor.high is None or factor.low == factor.high:
        return ""
    ends = [100 * (end - 1) for end in (factor.low, factor.high)]
    if ends[0] < 0 < ends[1]:
        return f" (to {digits(max(-ends[0], ends[1]), 1)} %)"
    low, high = sorted(map(abs, ends))
    return f" ({digits(low, 1)} to {digits(high, 1)} %)"


def _speed_next(results: Results, display: Display, shown: Estimate) -> str:
    broken = dict.fromkeys(
        f"{text(row.get('rule'))} on the {_period(row)}"
        for row in rows(results, "speed", "rules")
        if row.get("meets") is False
    )
    rules = f" The speedometer is outside {listed(broken)}." if broken else ""
    now = number(dig(results, "speed", "programmed_revolutions_per_km", "now"))
    should_be = number(dig(results, "speed", "programmed_revolutions_per_km", "should_be"))
    if (
        shown.low is not None
        and shown.high is not None
        and (1 - NOTHING_TO_SET < shown.low < shown.high < 1 + NOTHING_TO_SET)
    ):
        return "Nothing to reprogram." + rules
    turns = [digits(display.revolutions(one), 0) for one in (now, should_be) if one is not None]
    if len(turns) == 2 and turns[0] == turns[1]:  # the very figure it works with already
        return f"Nothing to reprogram: {turns[0]} {display.revolutions_unit} is right." + rules
    if _may_be_one(shown):
        return "Nothing to reprogram, as far as these logs tell." + rules
    if should_be is None:
        reason = clause(why(results, "speed", "programmed_revolutions_per_km", "should_be"))
        return (
            "Next: have the computer that counts speed reprogrammed: what it holds as revolutions, "
            f"divided by {digits(shown.value or 1.0, 4)} (the figure itself is not known: "
            f"{reason}).{rules}"
        )
    return f"{_programming(results, display, shown, now, should_be)}{rules}"


def _may_be_one(factor: Estimate) -> bool:
    if factor.value is None or factor.low is None or factor.high is None:
        return False
    return abs(factor.value - 1) < NOTHING_TO_SET and factor.low < 1 < factor.high


def _programming(
    results: Results, display: Display, shown: Estimate, now: float | None, should_be: float
) -> str:
    """What to program; by size or a published figure only with its doubt, and the surer way."""
    to_set = f"{digits(display.revolutions(should_be), 0)} {display.revolutions_unit}"
    was = f" (now {digits(display.revolutions(now), 0)})" if now is not None else ""
    by = _declared(results)
    if not by or now is None:
        return f"Next: have the computer that counts speed programmed to {to_set}{was}."
    assert shown.value is not None
    return (
        "Next: have the computer that counts speed reprogrammed: what it holds as revolutions, "
        f"divided by {digits(shown.value, 4)}. {by} that is about {to_set}{was}"
        f"{_ends(results, display)}."
    )


_DECLARED = {
    "size": "By the size of the tires alone",
    "published": "By the published figure of the tires",
}


def _declared(results: Results) -> str:
    """Where the turns of the tires now fitted are not measured: by what they are told."""
    for side in ("after", "before"):
        if basis := text(dig(results, "speed", "revolutions_per_km", side, "basis")):
            return _DECLARED.get(basis, "")
    return ""


def _ends(results: Results, display: Display) -> str:
    should = estimate(results, "speed", "programmed_revolutions_per_km", "should_be")
    if should.low is None or should.high is None:
        return ""
    ends = sorted(display.revolutions(end) for end in (should.low, should.high))
    return f", somewhere from {digits(ends[0], 0)} to {digits(ends[1], 0)}"


def _to_set(results: Results, display: Display) -> str:
    """What can be done where the factor on the new tires is not known: name the right unit, or
    hold what the computer works with against what is right."""
    doubt = branch(results, "speed", "unit_doubts", "after")
    if doubt:
        line = text(doubt.get("line"))
        if line:
            return f"Next: if so, write under [columns]: {line}, and run again."
        return "Next: see with `gearing inspect` what is read as indicated speed, and in what unit."
    should_be = number(dig(results, "speed", "programmed_revolutions_per_km", "should_be"))
    if should_be is None:
        return ""
    turns = f"{digits(display.revolutions(should_be), 0)} {display.revolutions_unit}"
    by = _declared(results)
    told = f"The new tires turn {turns}"
    if by:
        told = f"{by} the new ones turn {turns}{_ends(results, display)}"
    now = number(dig(results, "speed", "programmed_revolutions_per_km", "now"))
    if now is not None:
        works = digits(display.revolutions(now), 0)
        return f"{told}, and the computer works with {works} now: have it set once they are fitted."
    return (
        f"{told}; what the computer works with now is not known, so whether it must be "
        "reprogrammed stays open."
    )


def _period(row: Any) -> str:
    period = text(row.get("period"))
    return {"after": "new tires", "before": "old tires"}.get(period, period or "either period")
