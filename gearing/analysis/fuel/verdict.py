"""The verdict on the claim: size and significance must both pass before a change is called one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from gearing.messages import Quantity, Text, message, places_of

if TYPE_CHECKING:
    from gearing.analysis.fuel.model import Verdict
    from gearing.statistics.estimate import Estimate

FEWEST_DAYS = 4


def judge(
    change: Estimate,
    *,
    claim_percent: float | None,
    margin_percent: float,
    fewest_days: int,
    unit: Literal["days", "tanks"] = "days",
) -> tuple[Verdict, Text]:
    """The verdict and the reason for it.

    `change` is of consumption [%] with its 95 % interval; `claim_percent` negative (a claim of
    no saving counts as none); `margin_percent` the size below which a change counts as none;
    `fewest_days` the number of days on the shorter side, or of tanks, as `unit` says.
    """
    if change.figures is None:
        return "cannot tell yet", change.why or message("no-interval")
    value, low, high = change.figures
    if fewest_days < FEWEST_DAYS:
        return (
            "cannot tell yet",
            message("verdict/too-few-days", days=fewest_days, fewest=FEWEST_DAYS)
            if unit == "days"
            else message("verdict/too-few-tanks", tanks=fewest_days, fewest=FEWEST_DAYS),
        )
    if low > 0 and value > margin_percent:
        return "worse", message("verdict/worse", margin=_of_consumption(margin_percent))
    if -margin_percent <= low and high <= margin_percent:
        margin = Quantity(margin_percent, "%", places_of(margin_percent))
        return "no change", message("verdict/no-change", margin=margin)
    if claim_percent is None or claim_percent >= 0:
        if high < -margin_percent:
            return "less fuel", message(
                "verdict/less-fuel", margin=_of_consumption(-margin_percent)
            )
        return "cannot tell yet", message("verdict/open")
    return _against_claim(low, high, claim_percent, margin_percent)


def deciding_half_width(
    value: float, *, claim_percent: float | None, margin_percent: float
) -> float | None:
    """Half the width [percentage points] of an interval about `value` that settles the question
    whichever way is nearest; None where no interval about it would."""
    margins = [margin_percent - abs(value)]
    if value > margin_percent:
        margins.append(value)
    if claim_percent is None or claim_percent >= 0:
        margins.append(-margin_percent - value)
    else:
        holds = min(claim_percent / 2, -margin_percent)
        margins += [value - claim_percent, holds - value]
    return max(margins) if max(margins) > 0 else None


def _against_claim(low: float, high: float, claim: float, margin: float) -> tuple[Verdict, Text]:
    told = _of_consumption(claim, 1)
    if low > claim:
        short = message("verdict/short-of-claim", claim=told, saves=high < 0)
        return "smaller than claimed", short
    if high < claim:
        return "supported", message("verdict/reaches-claim", claim=told)
    if high <= claim / 2 and high < -margin:
        return "supported", message("verdict/holds-claim", claim=told)
    if high < -margin:
        some = message("verdict/some-saving", margin=_of_consumption(-margin), claim=told)
        return "some saving, size unsettled", some
    return "cannot tell yet", message("verdict/claim-open")


def _of_consumption(percent: float, least_places: int = 0) -> Quantity:
    """A change of consumption with its sign, and as many places as it takes."""
    places = max(places_of(percent), least_places)
    return Quantity(percent, "% consumption", places, sign=True)
