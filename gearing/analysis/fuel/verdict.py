"""The verdict on the claim: size and significance must both pass before a change is called one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearing.messages import Text

if TYPE_CHECKING:
    from gearing.analysis.fuel.model import Verdict
    from gearing.statistics.estimate import Estimate

FEWEST_DAYS = 4


def judge(
    change: Estimate, *, claim_percent: float | None, margin_percent: float, fewest_days: int
) -> tuple[Verdict, Text]:
    """The verdict and the reason for it.

    `change` is of consumption [%] with its 95 % interval; `claim_percent` negative (a claim of
    no saving counts as none); `margin_percent` the size below which a change counts as none;
    `fewest_days` the number of days on the shorter side.
    """
    value, low, high = change.value, change.low, change.high
    if value is None or low is None or high is None:
        return "cannot tell yet", change.why or "there is no interval"
    if fewest_days < FEWEST_DAYS:
        return (
            "cannot tell yet",
            f"the set of tires with fewer days has {fewest_days}, and under {FEWEST_DAYS} nothing "
            "can be called a change",
        )
    if low > 0 and value > margin_percent:
        return (
            "worse",
            f"the whole interval is above zero and the figure above {margin_percent:g} %",
        )
    if -margin_percent <= low and high <= margin_percent:
        return "no change", f"the whole interval lies within {margin_percent:g} % of none"
    if claim_percent is None or claim_percent >= 0:
        if high < -margin_percent:
            return "less fuel", f"the whole interval is below -{margin_percent:g} %"
        return "cannot tell yet", "the interval holds both a saving and none worth the name"
    return _against_claim(low, high, claim_percent, margin_percent)


def _against_claim(low: float, high: float, claim: float, margin: float) -> tuple[Verdict, Text]:
    if low > claim:
        shown = ", and no saving is shown" if high >= 0 else ""
        return (
            "smaller than claimed",
            f"the claim of {claim:g} % lies below the whole interval{shown}",
        )
    if high < claim:
        return "supported", f"the whole interval is at or beyond the claim of {claim:g} %"
    if high <= claim / 2 and high < -margin:
        return (
            "supported",
            f"the interval holds the claim of {claim:g} % and nothing less than half of it",
        )
    if high < -margin:
        return (
            "some saving, size unsettled",
            f"the whole interval is below -{margin:g} % and reaches from the claim to less than "
            "half of it",
        )
    return "cannot tell yet", "the interval holds both the claim and no saving worth the name"
