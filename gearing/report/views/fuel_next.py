"""What to do next about the fuel: nothing where the question is settled, else what settles it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages.display import Display, rough
from gearing.report.phrases import clause, joined, said

if TYPE_CHECKING:
    from gearing.results.record import Results
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
_WEATHER = (
    "Next: a weather file (weather = ...) with the outside temperature of the days driven would "
    "narrow the interval most."
)


def fuel_next(
    results: Results, verdict: str, display: Display, *, shown: Estimate, claim: bool
) -> tuple[str, str]:
    """What to do, in a short line and in one or two sentences; `shown` is the estimate the verdict
    rests on, and `claim` whether the study makes one. Without a verdict only a plan is told."""
    fuel = results.fuel
    if fuel.plan is not None and said(fuel.plan.text):
        return "Drive by the plan", f"Next: {clause(fuel.plan.text)}."
    if verdict in SETTLED:
        told = joined((_settled(verdict, shown, display), _not_adjusted(results)))
        return f"No more driving is needed {SETTLED[verdict]}", told
    if not verdict:
        return "", ""
    keys = _contradicted(results)
    if keys:
        return f"Correct {keys}", (
            f"Next: correct {keys} in the study and run again; no driving settles it before."
        )
    more, days = fuel.more_driving_km, _days_wanted(results, display)
    if not days and any(one.code == "temperature-unknown" for one in results.warnings):
        return "Give the weather of the days driven", _WEATHER
    few = f"Log at least {FEWEST_DAYS} days {display.word('on each set')}" if days else ""
    where = display.on("after")
    far = more if days else fuel.deciding_km or more
    if far is None:
        return few, days or _no_distance_settles(results, display)
    way = f"about {rough(display.distance(far))} more true {display.distance_word} {where}"
    if fuel.deciding_km and not days:
        return f"Log {way}", f"Next: {way} would settle it, were the change to stay as it is."
    if far > 0:
        shows = f"{way}, and a change of {'half the claim' if claim else '2 %'} would show."
        return few or f"Log {way}", f"{days} In all {shows}" if days else f"Next: {shows}"
    return few or f"Log more days {where}", days or _narrower(results, verdict, display)


def _contradicted(results: Results) -> str:
    """Study keys that the logs rule out and that keep the fuel change from a verdict."""
    if results.fuel.verdict_basis == "fillups":
        return ""
    keys = (one.keys for one in results.warnings if "vehicle.fuel" in one.keys)
    return " and ".join(next(keys, ()))


def _settled(verdict: str, shown: Estimate, display: Display) -> str:
    told = f"No more driving is needed {SETTLED[verdict]}"
    if verdict == "smaller than claimed" and shown.ends is not None and shown.ends[1] >= 0:
        return f"{told}; whether {display.word('the tires save anything')} is still open."
    return f"{told}."


def _days_wanted(results: Results, display: Display) -> str:
    """How many days each set of tires needs, where one has too few to judge anything."""
    old, new = results.fuel.sides.before.days, results.fuel.sides.after.days
    if min(old, new) >= FEWEST_DAYS:
        return ""
    return (
        f"Next: at least {FEWEST_DAYS} days long enough to compare, with fuel logged, "
        f"{display.word('on each set')}; so far {old} {display.on('before')} and {new} "
        f"{display.on('after')}."
    )


def _no_distance_settles(results: Results, display: Display) -> str:
    lacking = _not_adjusted(results)
    reason = said(results.fuel.more_driving_km_why)
    if lacking or not reason or reason == said(results.fuel.verdict_why):
        return lacking
    return f"More driving {display.on('after')} alone will not settle it: {clause(reason)}."


def _not_adjusted(results: Results) -> str:
    """Why nothing but the road was put right, where so and where the verdict has not said it."""
    adjusted = results.fuel.change_percent.adjusted
    if adjusted.known or said(adjusted.why) == said(results.fuel.verdict_why):
        return ""
    return f"There is no adjusted figure: {clause(adjusted.why)}."


def _narrower(results: Results, verdict: str, display: Display) -> str:
    """The change asked for would show by now, and yet the interval is too wide."""
    adjusted = results.fuel.change_percent.adjusted
    physics = results.fuel.physics_half_width_percent
    open_still = "how much is saved" if verdict.startswith("some saving") else "it"
    ends = adjusted.ends
    if physics is not None and ends is not None and physics > MOSTLY * (ends[1] - ends[0]) / 2:
        return (
            f"Next: driving at the temperatures and speeds of the other period would settle "
            f"{open_still}; more days of this kind hardly narrow the interval."
        )
    return (
        f"Next: more days {display.on('after')} narrow the interval until {open_still} is settled."
    )
