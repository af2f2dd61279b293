"""The first answer in words: what the needle and the odometer really mean."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from gearing.messages.display import Display, digits
from gearing.report.phrases import (
    brackets,
    capital,
    clause,
    count_phrase,
    farther_phrase,
    listed,
    with_interval,
)
from gearing.report.reading import branch, dig, estimate, inverse, number, rows, text, why
from gearing.report.views.answer import Answer
from gearing.statistics.estimate import Estimate

Results = dict[str, Any]


SWAPPED = "periods-swapped"
CONTRADICTS = "declared-contradicts-logs"
NOTHING_TO_SET = 0.002  # off one: about what a whole revolution per mile is worth
SEE_WHICH = "Next: see which logs are from before and which from after, and run again"
_QUESTION = "Speed and distance"


def has_after(results: Results) -> bool:
    """Whether the answers are for new tires: what the old ones showed says nothing of them."""
    after = estimate(results, "speed", "odometer_factor", "after")
    return dig(results, "declared", "after") is not None or after.known


def present(results: Results) -> str:
    """The period whose tires are on the vehicle now."""
    return "after" if has_after(results) else "before"


def needle(results: Results) -> Estimate:
    """True over shown speed by readings of the needle on the present tires."""
    return inverse(estimate(results, "speed", "needle_ratio", present(results)))


def speed_answer(results: Results, display: Display) -> Answer:
    shown = estimate(results, "speed", "odometer_factor", present(results))
    if not shown.known and (road := _same_road(results)) is not None:
        answer = _road_answer(*road, shown, display)
    elif not shown.known and (told := text(dig(results, "speed", "needle_correction", "told"))):
        answer = _needle_answer(results, told)
    elif not shown.known:
        answer = _open_answer(results, display, shown)
    else:
        answer = _factor_answer(results, display, shown)
    return _by_needle(results, display, answer)


def _by_needle(results: Results, display: Display, answer: Answer) -> Answer:
    """The answer led by what readings of the needle say, where there are any."""
    read = needle(results)
    if read.value is None:
        return answer
    at, unit = display.round_speed, display.speed_unit
    true = _corrected(results, display) or read.map(lambda ratio: at * ratio)
    told = f"At {digits(at, 0)} {unit} on the needle the true speed is "
    told += f"{with_interval(true, 1)} {unit}"
    count = count_phrase(read)
    swapped = looks_swapped(results)
    return replace(
        answer,
        short=answer.short
        if swapped
        else f"At {digits(at, 0)} {unit} on the needle you do {with_interval(true, 1)} {unit}",
        headline=f"{told}{f' (from {count})' if count else ''}. {answer.headline}",
        settled=answer.settled or not swapped,
        sure=f"From {count}" if count else answer.sure,
    )


def _corrected(results: Results, display: Display) -> Estimate | None:
    """True speed where the needle shows the round one, by the correction at that speed."""
    at = display.round_speed
    for row in rows(results, "speed", "needle_correction", "table"):
        shown = display.speed(number(row.get("shown_kmh")) or 0.0)
        true = estimate(row, "true_kmh", present(results))
        if abs(shown - at) < 0.01 * at and true.known:
            return true.map(display.speed)
    return None


def _factor_answer(results: Results, display: Display, shown: Estimate) -> Answer:
    assert shown.value is not None
    swapped = looks_swapped(results)
    side = present(results)
    before = estimate(results, "speed", "odometer_factor", "before")
    tires = capital(display.on("after")) if side == "after" else "On these tires"
    at, unit, far = digits(display.round_speed, 0), display.speed_unit, display.distance_word
    true = digits(display.round_speed * shown.value, 1)
    counted = with_interval(shown.map(lambda factor: display.round_speed * factor), 1)
    headline = (
        f"{swapped}{tires} the vehicle goes {farther_phrase(shown)}: at an indicated {at} {unit} "
        f"the true speed is {true} {unit}, and 1,000 {far} on the odometer are "
        f"{digits(1000 * shown.value, 0)}."
    )
    certainty = f"True = {_times(shown, ' x indicated')}.{_since(results, side)}"
    if side == "after" and before.known:
        certainty += f" Before the change: {_times(before)}."
    certainty += _kept_out(results) + _contradicted(results)
    action, step = _speed_next(results, display, shown)
    return Answer(
        _QUESTION,
        "Periods swapped?"
        if swapped
        else f"At {at} {unit} by the computer you do {counted} {unit}",
        headline,
        certainty,
        f"{SEE_WHICH}; what to program waits for that." if swapped else step,
        action="See which logs are from before" if swapped else action,
        sure=_sure(shown),
    )


def _open_answer(results: Results, display: Display, shown: Estimate) -> Answer:
    before = estimate(results, "speed", "odometer_factor", "before")
    after = has_after(results)
    where = f" {display.on('after')}" if after and before.known else ""
    headline = f"{looks_swapped(results)}Cannot tell yet{where}: {clause(shown.why)}."
    was = f"Before the change the odometer factor was {_times(before)}." if where else ""
    action, step = _to_set(results, display) if after else ("", "")
    told = text(dig(results, "speed", "relative", "told"))
    certainty = " ".join(one for one in (was, f"{capital(told)}." if told else "") if one)
    return Answer(
        _QUESTION, "Cannot tell yet", headline, certainty, step, False, action, "Cannot tell yet"
    )


def _sure(shown: Estimate) -> str:
    """`Measured, 8 days`: what the figure rests on."""
    count = count_phrase(shown).replace(" of driving", "").replace("measured ", "")
    return f"Measured, {count}" if count else "As the logs tell"


def _same_road(results: Results) -> tuple[str, Estimate] | None:
    """A road driven on both sets of tires that tells how far the factor moved."""
    for row in rows(results, "speed", "measured", "roads"):
        ratio = estimate(row, "ratio")
        if row.get("holds") is True and ratio.known:
            return text(row.get("road")), ratio
    return None


def _road_answer(road: str, ratio: Estimate, shown: Estimate, display: Display) -> Answer:
    """Without a receiver: the change alone, from one road driven in both periods."""
    assert ratio.value is not None
    percent = 100 * (ratio.value - 1)
    farther = f"{digits(abs(percent), 1)} % {'faster' if percent > 0 else 'slower'} than before"
    headline = (
        f"At the same indicated speed the vehicle goes {farther}: so it counted on the same road, "
        f"{road}, {display.word('on both sets')}."
    )
    certainty = f"Change of the odometer factor: {_times(ratio)}. How fast it goes cannot be told: "
    divide = digits(ratio.value, 4)
    return Answer(
        _QUESTION,
        capital(farther),
        headline,
        f"{certainty}{clause(shown.why)}.",
        "Next: have the computer that counts speed reprogrammed, if it was right before: what it "
        f"holds as revolutions, divided by {divide}.",
        action=f"If the computer was right before: divide its revolutions by {divide}",
        sure="One road, twice",
    )


def _needle_answer(results: Results, told: str) -> Answer:
    """Without a computer's count: what the needle shows beside true speed."""
    relative = text(dig(results, "speed", "relative", "told"))
    setting = text(dig(results, "speed", "relative", "setting_told"))
    change = estimate(results, "speed", "relative", "factor")
    short = "Needle read"
    if change.value is not None:
        percent = 100 * (change.value - 1)
        way = "faster" if percent > 0 else "slower"
        short = f"{digits(abs(percent), 1)} % {way} than before"
    step = f"Next: {setting}; which computer, and whether it may be set, is its maker's to say."
    return Answer(
        _QUESTION,
        short,
        f"By the needle: {told}.",
        f"{capital(relative)}." if relative else "",
        step if setting else "",
        action=capital(setting),
        sure="By the needle",
    )


def contradicted_keys(results: Results) -> list[str]:
    """Keys of the study whose declared figures do not fit the logs."""
    return [
        text(key)
        for row in rows(results, "warnings")
        if text(row.get("code")) == CONTRADICTS and isinstance(found := row.get("keys"), list)
        for key in found
    ]


def _contradicted(results: Results) -> str:
    keys = contradicted_keys(results)
    return f" Does not fit the logs as declared: {listed(keys)}; see the warnings." if keys else ""


def looks_swapped(results: Results) -> str:
    """A sentence ahead of everything where the two periods look swapped."""
    if any(text(row.get("code")) == SWAPPED for row in rows(results, "warnings")):
        return "The logs of before and after look swapped (see the warnings). "
    return ""


def misfiled_trips(results: Results) -> list[str]:
    """Trips left out for the tires they seem to have been driven on."""
    wrong = [row for row in rows(results, "warnings") if text(row.get("code")) == "misfiled"]
    return [text(t) for row in wrong if isinstance(found := row.get("trips"), list) for t in found]


def _kept_out(results: Results) -> str:
    count = len(misfiled_trips(results))
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


def broken_rules(results: Results, display: Display) -> str:
    """A sentence on the rules the speedometer does not meet; empty where it meets all."""
    broken = dict.fromkeys(
        f"{text(row.get('rule'))} {display.on(text(row.get('period')))}"
        for row in rows(results, "speed", "rules")
        if row.get("meets") is False
    )
    return f"The speedometer is outside {listed(broken)}." if broken else ""


def _speed_next(results: Results, display: Display, shown: Estimate) -> tuple[str, str]:
    """What to do, in a short line and in sentences."""
    told = broken_rules(results, display)
    rules = f" {told}" if told else ""
    now, should_be = programmed(results, display)
    nothing = "Nothing to reprogram"
    if (
        shown.low is not None
        and shown.high is not None
        and (1 - NOTHING_TO_SET < shown.low < shown.high < 1 + NOTHING_TO_SET)
    ):
        return nothing, f"{nothing}.{rules}"
    if now and now == should_be:  # the very figure it works with already
        return nothing, f"{nothing}: {now} {display.revolutions_unit} is right.{rules}"
    if _may_be_one(shown):
        return nothing, f"{nothing}, as far as these logs tell.{rules}"
    divide = f"divided by {digits(shown.value or 1.0, 4)}"
    if not should_be:
        reason = clause(why(results, "speed", "programmed_revolutions_per_km", "should_be"))
        return f"Program: its revolutions {divide}", (
            "Next: have the computer that counts speed reprogrammed: what it holds as revolutions, "
            f"{divide} (the figure itself is not known: {reason}).{rules}"
        )
    to_set, was = f"{should_be} {display.revolutions_unit}", f" (now {now})" if now else ""
    by = declared_by(results)
    if not by or not now:
        step = f"Next: have the computer that counts speed programmed to {to_set}{was}."
        return f"Program {f'{now} to ' if now else ''}{to_set}", step + rules
    # by size or a published figure only with its doubt, and the surer way
    return f"Program its revolutions {divide} (about {now} to {should_be})", (
        "Next: have the computer that counts speed reprogrammed: what it holds as revolutions, "
        f"{divide}. {by} that is about {to_set}{was}{_ends(results, display)}.{rules}"
    )


def programmed(results: Results, display: Display) -> tuple[str, str]:
    """Revolutions the computer works with now, and those it should; empty where not known."""
    found = branch(results, "speed", "programmed_revolutions_per_km")
    now, should_be = (number(found.get(key)) for key in ("now", "should_be"))
    first, second = (
        "" if one is None else digits(display.revolutions(one), 0) for one in (now, should_be)
    )
    return first, second


def _may_be_one(factor: Estimate) -> bool:
    if factor.value is None or factor.low is None or factor.high is None:
        return False
    return abs(factor.value - 1) < NOTHING_TO_SET and factor.low < 1 < factor.high


_DECLARED = {
    "size": "By the size of the tires alone",
    "published": "By the published figure of the tires",
}


def declared_by(results: Results) -> str:
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


def _to_set(results: Results, display: Display) -> tuple[str, str]:
    """What can be done where the factor on the new tires is not known: name the right unit, or
    hold what the computer works with against what is right."""
    doubt = branch(results, "speed", "unit_doubts", "after")
    if doubt:
        if line := text(doubt.get("line")):
            step = f"Next: if so, write under [columns]: {line}, and run again."
            return "Name the unit of the speed column", step
        return "See what is read as indicated speed", (
            "Next: see with `gearing inspect` what is read as indicated speed, and in what unit."
        )
    now, should_be = programmed(results, display)
    if not should_be:
        return "", ""
    turns, by = f"{should_be} {display.revolutions_unit}", declared_by(results)
    told = f"{capital(display.word('the new tires turn'))} {turns}"
    if by:
        told = f"{by} {display.word('the new tires turn')} {turns}{_ends(results, display)}"
    if now:
        action = f"Program {now} to {'about ' if by else ''}{turns} once they are fitted"
        return action, (
            f"{told}, and the computer works with {now} now: have it set once they are fitted."
        )
    return f"{'About ' if by else ''}{turns} is right; see what the computer holds", (
        f"{told}; what the computer works with now is not known, so whether it must be "
        "reprogrammed stays open."
    )
