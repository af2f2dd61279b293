"""The first answer in words: what the speedometer shows, and what to set."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from gearing.messages.display import Display, digits
from gearing.messages.told import told_of
from gearing.report.phrases import (
    brackets,
    capital,
    clause,
    count_phrase,
    farther_phrase,
    inverse,
    joined,
    said,
    sentence,
    with_interval,
)
from gearing.report.views.answer import Answer
from gearing.report.views.rules import broken_rules
from gearing.statistics.estimate import Estimate

if TYPE_CHECKING:
    from gearing.results.record import Results

SWAPPED = "periods-swapped"
CONTRADICTS = "declared-contradicts-logs"
NOTHING_TO_SET = 0.002  # off one: about what a whole revolution per mile is worth
_SURE = 0.004  # the width of a factor's interval whose fourth decimal says something
SEE_WHICH = "Next: see which logs are from before and which from after, and run again"
_QUESTION = "Speed and distance"


def has_after(results: Results) -> bool:
    """Whether the answers are for new tires: what the old ones showed says nothing of them."""
    return results.declared.after is not None or results.speed.odometer_factor.after.known


def present(results: Results) -> Literal["before", "after"]:
    """The period whose tires are on the vehicle now."""
    return "after" if has_after(results) else "before"


def needle(results: Results) -> Estimate:
    """True over shown speed by readings of the needle on the present tires."""
    return inverse(results.speed.speedometer_ratio.of(present(results)))


def true_by_needle(results: Results, side: str, shown_kmh: float) -> Estimate:
    """True speed [km/h] where the needle shows so much: the correction as the results have it,
    straight between its rows and beyond them."""
    table = results.speed.speedometer_correction.table
    rows = [(row.shown_kmh, row.true_kmh.of(side)) for row in table]
    found = [(at, true.value, true.low, true.high) for at, true in rows if true.known]
    ratio = inverse(results.speed.speedometer_ratio.of(side))
    if len(found) < 2 or any(end is None for row in found for end in row):
        return ratio.map(lambda one: one * shown_kmh)
    at, *lines = np.array(found).T
    upper = int(np.clip(np.searchsorted(at, shown_kmh), 1, len(at) - 1))
    share = (shown_kmh - at[upper - 1]) / (at[upper] - at[upper - 1])
    value, low, high = (float((1 - share) * y[upper - 1] + share * y[upper]) for y in lines)
    return Estimate(value, low, high, ratio.n, ratio.method)


def needle_at(results: Results, display: Display) -> Estimate:
    """True speed where the needle shows the round one, on the present tires, as the reader has
    it."""
    shown_kmh = display.round_speed / display.speed(1.0)
    return true_by_needle(results, present(results), shown_kmh).map(display.speed)


def speed_answer(results: Results, display: Display) -> Answer:
    """The answer to the first question, of results told for their reader."""
    speed = results.speed
    shown = speed.odometer_factor.of(present(results))
    if shown.known:
        answer = _factor_answer(results, display, shown)
    elif road := next((r for r in speed.measured.roads if r.holds and r.ratio.known), None):
        answer = _road_answer(road.road, road.ratio, shown, display)
    elif told := said(speed.speedometer_correction.told):
        answer = _needle_answer(results, told)
    else:
        answer = _open_answer(results, display, shown)
    return _by_needle(results, display, answer)


def _by_needle(results: Results, display: Display, answer: Answer) -> Answer:
    """The answer led by what readings of the needle say, where there are any."""
    read = needle(results)
    if read.value is None:
        return answer
    at, unit = digits(display.round_speed, 0), display.speed_unit
    true = with_interval(needle_at(results, display), 1)
    count = count_phrase(read)
    swapped = looks_swapped(results)
    short = f"At {at} {unit} on the needle you do {true} {unit}"
    told = f"At {at} {unit} on the needle the true speed is {true} {unit}"
    days = answer.sure.removeprefix("Measured, ")
    both = (f"{read.n} needle readings" if read.n else "", days if days != answer.sure else "")
    return replace(
        answer,
        short=answer.short if swapped else short,
        headline=f"{told}{f' (from {count})' if count else ''}. {answer.headline}",
        settled=answer.settled or not swapped,
        sure=", ".join(filter(None, both)) or answer.sure,
    )


def _factor_answer(results: Results, display: Display, shown: Estimate) -> Answer:
    assert shown.value is not None
    swapped, side = looks_swapped(results), present(results)
    tires = capital(display.on("after")) if side == "after" else "On these tires"
    at, unit, far = digits(display.round_speed, 0), display.speed_unit, display.distance_word
    true = digits(display.round_speed * shown.value, 1)
    counts = f"at an indicated {at} {unit} the true speed is {true} {unit}, and "
    if (shows := _shows_more(results, display, shown)) is not None:
        counts = ""  # a second true speed for the same figure only confuses
    headline = (
        f"{swapped}{tires} the vehicle goes {farther_phrase(shown)}: {counts}1,000 {far} on the "
        f"odometer are {digits(1000 * shown.value, 0)}."
    )
    certainty = [f"True = {_times(shown, ' x indicated')}.", _since(results, side)]
    if shows is not None:
        size = f"{digits(abs(shows), 1)} % {'more' if shows >= 0 else 'less'}"
        certainty.append(f"The needle shows {size} than the computer counts.")
    if swapped:
        action, step = (
            "See which logs are from before",
            f"{SEE_WHICH}; what to program waits for that.",
        )
        short = "Periods swapped?"
    else:
        action, step = _speed_next(results, display, shown)
        counted_as = with_interval(shown.map(lambda factor: display.round_speed * factor), 1)
        short = f"At {at} {unit} by the computer you do {counted_as} {unit}"
    count = count_phrase(shown).replace(" of driving", "").replace("measured ", "")
    sure = f"Measured, {count}" if count else "As the logs tell"
    return Answer(_QUESTION, short, headline, joined(certainty), step, action=action, sure=sure)


def _shows_more(results: Results, display: Display, shown: Estimate) -> float | None:
    """By how much the needle shows more than the computer counts [%]; None where not read."""
    if needle(results).value is None or shown.value is None:
        return None
    counted_as = (needle_at(results, display).value or 0.0) / shown.value
    return 100 * (display.round_speed / counted_as - 1) if counted_as else None


def _open_answer(results: Results, display: Display, shown: Estimate) -> Answer:
    before = results.speed.odometer_factor.before
    after = has_after(results)
    where = f" {display.on('after')}" if after and before.known else ""
    was = f"Before the change the odometer factor was {_times(before)}." if where else ""
    action, step = _to_set(results, display) if after else ("", "")
    open_yet, relative = "Cannot tell yet", results.speed.relative
    reason = f"{looks_swapped(results)}{open_yet}{where}: {clause(shown.why)}."
    change = sentence(relative.told)
    short, sure = open_yet, open_yet
    if relative.factor.value is not None:
        short, sure = f"About {_off(relative.factor.value)}", "Not measured yet"
    lead, more = (change, reason) if change and not was else (reason, change)
    return Answer(
        _QUESTION,
        short,
        lead,
        joined((was, more)),
        step,
        settled=False,
        action=action,
        sure=sure,
    )


def _off(ratio: float) -> str:
    """`4.6 % faster than before`."""
    percent = 100 * (ratio - 1)
    return f"{digits(abs(percent), 1)} % {'faster' if percent > 0 else 'slower'} than before"


def _road_answer(road: str, ratio: Estimate, shown: Estimate, display: Display) -> Answer:
    """Without a receiver: the change alone, from one road driven in both periods."""
    assert ratio.value is not None
    divide, farther = digits(ratio.value, 4), _off(ratio.value)
    return Answer(
        _QUESTION,
        capital(farther),
        f"At the same indicated speed the vehicle goes {farther}: so it counted on the same road, "
        f"{road}, {display.word('on both sets')}.",
        f"Change of the odometer factor: {_times(ratio)}. How fast it goes cannot be told: "
        f"{clause(shown.why)}.",
        "Next: have the computer that counts speed reprogrammed, if it was right before: what it "
        f"holds as revolutions, divided by {divide}.",
        action=f"If the computer was right before: divide its revolutions by {divide}",
        sure="One road, twice",
    )


def _needle_answer(results: Results, told: str) -> Answer:
    """Without a computer's count: what the needle shows beside true speed."""
    relative = results.speed.relative
    setting = said(relative.setting_told)
    step = f"Next: {setting}; which computer, and whether it may be set, is its maker's to say."
    return Answer(
        _QUESTION,
        "Needle read" if relative.factor.value is None else _off(relative.factor.value),
        f"By the needle: {told}.",
        sentence(relative.told),
        step if setting else "",
        action=capital(setting),
        sure="By the needle",
    )


def contradicted_keys(results: Results) -> list[str]:
    """Keys of the study whose declared figures do not fit the logs."""
    return [key for row in results.warnings if row.code == CONTRADICTS for key in row.keys]


def looks_swapped(results: Results) -> str:
    """A sentence ahead of everything where the two periods look swapped."""
    if any(row.code == SWAPPED for row in results.warnings):
        return "The logs of before and after look swapped (see the warnings). "
    return ""


def misfiled_trips(results: Results) -> list[str]:
    """Trips left out for the tires they seem to have been driven on."""
    return [trip for row in results.warnings if row.code == "misfiled" for trip in row.trips]


def _times(factor: Estimate, what: str = "") -> str:
    assert factor.value is not None
    return f"{digits(factor.value, 4)}{what}{brackets(factor, 4)}"


def _since(results: Results, side: str) -> str:
    """Since when the factor stands where it does, and where it stood, if it changed in between."""
    levels = results.speed.regimes.of(side)
    if len(levels) < 2:
        return ""
    now, last = levels[-1], levels[-2].odometer_factor
    day = now.at.date().isoformat()
    told = f"That holds since trip {now.since} of {day}, where the factor changed"
    return f"{told}; until then it was {_times(last)}." if last.known else f"{told}."


def to_reprogram(results: Results, display: Display) -> bool:
    """Whether the computer is to get another setting."""
    shown = results.speed.odometer_factor.of(present(results))
    now, should_be = programmed(results, display)
    good = _as_good_as_one(shown) or _may_be_one(shown) or bool(now and now == should_be)
    return shown.known and not good and not looks_swapped(results)


def _speed_next(results: Results, display: Display, shown: Estimate) -> tuple[str, str]:
    """What to do, in a short line and in sentences."""
    told = broken_rules(results, present(results), display)
    now, should_be = programmed(results, display)
    nothing = "Nothing to reprogram"
    if _as_good_as_one(shown):
        return nothing, joined((f"{nothing}.", told))
    if now and now == should_be:  # the very figure it works with already
        return nothing, joined((f"{nothing}: {now} {display.revolutions_unit} is right.", told))
    if _may_be_one(shown):
        return nothing, joined((f"{nothing}, as far as these logs tell.", told))
    divide, short = f"divided by {digits(shown.value or 1.0, 4)}", _as_sure(shown)
    if not should_be:
        reason = clause(results.speed.programmed_revolutions_per_km.should_be.why)
        step = (
            "Next: have the computer that counts speed reprogrammed: what it holds as revolutions, "
            f"{divide} (the figure itself is not known: {reason})."
        )
        return f"Divide the computer's revolutions by {short}", joined((step, told))
    to_set, was = f"{should_be} {display.revolutions_unit}", f" (now {now})" if now else ""
    found = results.speed.programmed_revolutions_per_km.should_be.map(display.revolutions)
    figure = f"{with_interval(found, 0)} {display.revolutions_unit}"
    by = declared_by(results)
    if not by or not now:
        step = f"Next: have the computer that counts speed programmed to {to_set}{was}."
        return f"Program {figure}{', now ' + now if now else ''}", joined((step, told))
    # by size or a published figure only with its doubt, and the surer way
    step = (
        "Next: have the computer that counts speed reprogrammed: what it holds as revolutions, "
        f"{divide}. {by} that is about {to_set}{was}{_ends(results, display)}."
    )
    return (
        f"Divide the computer's revolutions by {short} (about {now} to {should_be})",
        joined((step, told)),
    )


def _as_sure(factor: Estimate) -> str:
    """A factor with as many decimals as its interval lets stand."""
    sure = factor.ends is None or factor.ends[1] - factor.ends[0] < _SURE
    return digits(factor.value or 1.0, 4 if sure else 3)


def programmed(results: Results, display: Display) -> tuple[str, str]:
    """Revolutions the computer works with now, and those it should; empty where not known."""
    found = results.speed.programmed_revolutions_per_km
    now, should_be = (
        "" if one.value is None else digits(display.revolutions(one.value), 0)
        for one in (found.now, found.should_be)
    )
    return now, should_be


def _as_good_as_one(factor: Estimate) -> bool:
    """Whether all of the interval is so near one that nothing can be set."""
    if factor.ends is None:
        return False
    low, high = factor.ends
    return 1 - NOTHING_TO_SET < low < high < 1 + NOTHING_TO_SET


def _may_be_one(factor: Estimate) -> bool:
    if factor.figures is None:
        return False
    value, low, high = factor.figures
    return abs(value - 1) < NOTHING_TO_SET and low < 1 < high


_DECLARED = {
    "turns-basis/size": "By the size of the tires alone",
    "turns-basis/published": "By the published figure of the tires",
}


def declared_by(results: Results) -> str:
    """Where the turns of the tires now fitted are not measured: by what they are told."""
    turns = results.speed.revolutions_per_km
    basis = turns.after.basis or turns.before.basis
    return _DECLARED.get(getattr(told_of(basis or ""), "code", ""), "")


def _ends(results: Results, display: Display) -> str:
    should = results.speed.programmed_revolutions_per_km.should_be
    if should.ends is None:
        return ""
    low, high = sorted(map(display.revolutions, should.ends))
    return f", somewhere from {digits(low, 0)} to {digits(high, 0)}"


def _to_set(results: Results, display: Display) -> tuple[str, str]:
    """What can be done where the factor on the new tires is not known: name the right unit, or
    hold what the computer works with against what is right."""
    doubt = results.speed.unit_doubts.after
    if doubt is not None and doubt.line:
        step = f"Next: if so, write under [columns]: {doubt.line}, and run again."
        return "Name the unit of the speed column", step
    if doubt is not None:
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
