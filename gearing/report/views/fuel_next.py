"""What to do next about the fuel: nothing where the question is settled, else what settles it."""

from __future__ import annotations

from typing import Any

from gearing.messages.display import Display, rough
from gearing.report.phrases import clause
from gearing.report.reading import dig, estimate, number, rows, text
from gearing.statistics.estimate import Estimate

# what no further driving is needed for
SETTLED = {
    "supported": "to judge the claim",
    "smaller than claimed": "to judge the claim",
    "no change": "to say so",
    "worse": "to say so",
    "less fuel": "to say so",
}
FEWEST_DAYS = 4  # a side: under these nothing is judged
# of the interval's width; where physics alone makes this much of it, days narrow it hardly
MOSTLY = 0.8


def fuel_next(
    results: dict[str, Any], verdict: str, display: Display, *, shown: Estimate, claim: bool
) -> str:
    """One or two sentences; `shown` is the estimate the verdict rests on, and `claim` whether
    the study makes one. Without a verdict only a plan is told."""
    plan = text(dig(results, "fuel", "plan", "text"))
    if plan:
        return f"Next: {clause(plan)}."
    if verdict in SETTLED:
        return f"{_settled(verdict, shown)} {_not_adjusted(results)}".strip()
    if not verdict:
        return ""
    more = number(dig(results, "fuel", "more_driving_km"))
    days = _days_wanted(results)
    if not days and _temperature_unknown(results):
        return (
            "Next: a weather file (weather = ...) with the outside temperature of the days driven "
            "would narrow the interval most."
        )
    if more is None:
        return days or _no_distance_settles(results)
    if more > 0:
        goal = "half the claim" if claim else "2 %"
        way = f"{rough(display.distance(more))} more true {display.distance_word}"
        shows = f"about {way} on the new tires, and a change of {goal} would show."
        return f"{days} In all {shows}" if days else f"Next: {shows}"
    return days or _narrower(results, verdict)


def _temperature_unknown(results: dict[str, Any]) -> bool:
    return any(text(w.get("code")) == "temperature-unknown" for w in rows(results, "warnings"))


def _settled(verdict: str, shown: Estimate) -> str:
    told = f"No more driving is needed {SETTLED[verdict]}"
    low, high = shown.low, shown.high
    if verdict == "smaller than claimed" and low is not None and high is not None and high >= 0:
        return f"{told}; whether the tires save anything is still open."
    return f"{told}."


def _days_wanted(results: dict[str, Any]) -> str:
    """How many days each set of tires needs, where one has too few to judge anything."""
    driven = [number(dig(results, "fuel", "sides", s, "days")) for s in ("before", "after")]
    if None in driven or min(day for day in driven if day is not None) >= FEWEST_DAYS:
        return ""
    old, new = (f"{day:.0f}" for day in driven)
    return (
        f"Next: at least {FEWEST_DAYS} days long enough to compare, with fuel logged, on each set "
        f"of tires; so far {old} on the old and {new} on the new."
    )


def _no_distance_settles(results: dict[str, Any]) -> str:
    lacking = _not_adjusted(results)
    reason = text(dig(results, "fuel", "more_driving_km_why"))
    if lacking or not reason or reason == text(dig(results, "fuel", "verdict_why")):
        return lacking
    return f"More driving on the new tires alone will not settle it: {clause(reason)}."


def _not_adjusted(results: dict[str, Any]) -> str:
    """Why nothing but the road was put right, where so and where the verdict has not said it."""
    adjusted = estimate(results, "fuel", "change_percent", "adjusted")
    if adjusted.known or adjusted.why == text(dig(results, "fuel", "verdict_why")):
        return ""
    return f"There is no adjusted figure: {clause(adjusted.why)}."


def _narrower(results: dict[str, Any], verdict: str) -> str:
    """The change asked for would show by now, and yet the interval is too wide."""
    adjusted = estimate(results, "fuel", "change_percent", "adjusted")
    physics = number(dig(results, "fuel", "physics_half_width_percent"))
    open_still = "how much is saved" if verdict.startswith("some saving") else "it"
    if (
        physics is not None
        and adjusted.low is not None
        and adjusted.high is not None
        and physics > MOSTLY * (adjusted.high - adjusted.low) / 2
    ):
        return (
            f"Next: driving at the temperatures and speeds of the other side would settle "
            f"{open_still}; more days of this kind hardly narrow the interval."
        )
    return f"Next: more days on the new tires narrow the interval until {open_still} is settled."
