"""The first answer in words: what the indicated speed and distance really mean."""

from __future__ import annotations

from typing import Any

from gearing.report.answer import Answer
from gearing.report.display import Display, digits
from gearing.report.phrases import brackets, capital, clause, farther_phrase, listed
from gearing.report.reading import dig, estimate, number, rows, text, why
from gearing.statistics.estimate import Estimate

Results = dict[str, Any]


def speed_answer(results: Results, display: Display) -> Answer:
    question = "Speed and distance"
    after = estimate(results, "speed", "odometer_factor", "after")
    before = estimate(results, "speed", "odometer_factor", "before")
    shown, tires = (after, "On the new tires") if after.known else (before, "On these tires")
    if not shown.known:
        open_answer = f"Cannot tell yet: {clause(after.why)}."
        return Answer(question, "Cannot tell yet", open_answer, settled=False)
    assert shown.value is not None
    example = display.round_speed
    headline = (
        f"{tires} the vehicle goes {farther_phrase(shown)}: at an indicated "
        f"{digits(example, 0)} {display.speed_unit} the true speed is "
        f"{digits(example * shown.value, 1)} {display.speed_unit}, and "
        f"1,000 {display.distance_word} on the odometer are {digits(1000 * shown.value, 0)}."
    )
    certainty = f"True = {digits(shown.value, 4)} x indicated{brackets(shown, 4)}."
    if after.known and before.known:
        assert before.value is not None
        certainty += f" Before the change: {digits(before.value, 4)}{brackets(before, 4)}."
    short = capital(farther_phrase(shown)) + _percent_ends(shown)
    return Answer(question, short, headline, certainty, _speed_next(results, display, shown))


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
    if shown.low is not None and shown.high is not None and 0.998 < shown.low < shown.high < 1.002:
        return "Nothing to reprogram." + rules
    if should_be is None:
        reason = clause(why(results, "speed", "programmed_revolutions_per_km", "should_be"))
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
