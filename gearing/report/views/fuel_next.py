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
) -> tuple[str, str]:
    """What to do, in a short line and in one or two sentences; `shown` is the estimate the verdict
    rests on, and `claim` whether the study makes one. Without a verdict only a plan is told."""
    plan = text(dig(results, "fuel", "plan", "text"))
    if plan:
        return "Drive by the plan", f"Next: {clause(plan)}."
    if verdict in SETTLED:
        told = f"{_settled(verdict, shown, display)} {_not_adjusted(results)}".strip()
        return f"No more driving is needed {SETTLED[verdict]}", told
    if not verdict:
        return "", ""
    keys = _contradicted(results)
    if keys:
        told = " and ".join(keys)
        return f"Correct {told}", (
            f"Next: correct {told} in the study and run again; no driving settles it before."
        )
    more = number(dig(results, "fuel", "more_driving_km"))
    days = _days_wanted(results, display)
    if not days and _temperature_unknown(results):
        return "Give the weather of the days driven", (
            "Next: a weather file (weather = ...) with the outside temperature of the days driven "
            "would narrow the interval most."
        )
    few = f"Log at least {FEWEST_DAYS} days {display.word('on each set')}" if days else ""
    if more is None:
        return few, days or _no_distance_settles(results, display)
    if more > 0:
        goal = "half the claim" if claim else "2 %"
        way = f"{rough(display.distance(more))} more true {display.distance_word}"
        where = display.on("after")
        shows = f"about {way} {where}, and a change of {goal} would show."
        step = f"{days} In all {shows}" if days else f"Next: {shows}"
        return few or f"Log about {way} {where}", step
    return few or f"Log more days {display.on('after')}", days or _narrower(
        results, verdict, display
    )


def _contradicted(results: dict[str, Any]) -> list[str]:
    """Study keys that the logs rule out and that keep the fuel change from a verdict."""
    if text(dig(results, "fuel", "verdict_basis")) == "fillups":
        return []
    for one in rows(results, "warnings"):
        keys = one.get("keys")
        if isinstance(keys, list | tuple) and "vehicle.fuel" in keys:
            return list(keys)
    return []


def _temperature_unknown(results: dict[str, Any]) -> bool:
    return any(text(w.get("code")) == "temperature-unknown" for w in rows(results, "warnings"))


def _settled(verdict: str, shown: Estimate, display: Display) -> str:
    told = f"No more driving is needed {SETTLED[verdict]}"
    low, high = shown.low, shown.high
    if verdict == "smaller than claimed" and low is not None and high is not None and high >= 0:
        return f"{told}; whether {display.word('the tires save anything')} is still open."
    return f"{told}."


def _days_wanted(results: dict[str, Any], display: Display) -> str:
    """How many days each set of tires needs, where one has too few to judge anything."""
    driven = [number(dig(results, "fuel", "sides", s, "days")) for s in ("before", "after")]
    if None in driven or min(day for day in driven if day is not None) >= FEWEST_DAYS:
        return ""
    old, new = (f"{day:.0f}" for day in driven)
    return (
        f"Next: at least {FEWEST_DAYS} days long enough to compare, with fuel logged, "
        f"{display.word('on each set')}; so far {old} {display.on('before')} and {new} "
        f"{display.on('after')}."
    )


def _no_distance_settles(results: dict[str, Any], display: Display) -> str:
    lacking = _not_adjusted(results)
    reason = text(dig(results, "fuel", "more_driving_km_why"))
    if lacking or not reason or reason == text(dig(results, "fuel", "verdict_why")):
        return lacking
    return f"More driving {display.on('after')} alone will not settle it: {clause(reason)}."


def _not_adjusted(results: dict[str, Any]) -> str:
    """Why nothing but the road was put right, where so and where the verdict has not said it."""
    adjusted = estimate(results, "fuel", "change_percent", "adjusted")
    if adjusted.known or adjusted.why == text(dig(results, "fuel", "verdict_why")):
        return ""
    return f"There is no adjusted figure: {clause(adjusted.why)}."


def _narrower(results: dict[str, Any], verdict: str, display: Display) -> str:
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
            f"Next: driving at the temperatures and speeds of the other period would settle "
            f"{open_still}; more days of this kind hardly narrow the interval."
        )
    return (
        f"Next: more days {display.on('after')} narrow the interval until {open_still} is settled."
    )
