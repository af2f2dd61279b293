"""Is it enough? Smallest detectable change, what is still to drive, and chance by relabelling."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gearing.analysis.fuel.model import Chance
from gearing.analysis.fuel.verdict import deciding_half_width
from gearing.messages import Quantity, Text, message, places_of
from gearing.statistics.comparison import percent, welch
from gearing.statistics.estimate import Estimate
from gearing.statistics.intervals import t_quantile
from gearing.statistics.permutation import block_permutation
from gearing.statistics.persistence import common_persistence, effective_count
from gearing.statistics.power import POWER, more_units

if TYPE_CHECKING:
    from gearing.analysis.fuel.adjust import Adjusted
    from gearing.analysis.fuel.compare import Compared
    from gearing.analysis.fuel.facts import Facts
    from gearing.statistics.two_sides import SideChange

MAX_DAYS = 20_000


@dataclass(frozen=True, slots=True)
class Enough:
    smallest_percent: float | None
    smallest_why: Text | None
    more_km: float | None
    more_why: Text | None
    deciding_km: float | None = None  # until the verdict is settled, were the change to stay


def how_much_more(
    change: SideChange,
    *,
    target_percent: float,
    km_per_day: float,
    deciding_percent: float | None = None,
) -> Enough:
    """What could be shown, and true km on the new tires until `target_percent` could be, and until
    half the interval's width is `deciding_percent`.

    `km_per_day` as driven so far on the new tires.
    """
    smallest = percent(change.smallest_detectable)
    degrees = max(change.degrees, 1.0)
    reach = t_quantile(0.975, degrees) + t_quantile(POWER, degrees)
    # the noise of a day that explains the interval found, persistence and all
    noise = max((change.smallest_detectable / reach) ** 2 - change.known_error**2, 0.0)
    deviation = math.sqrt(noise / (1 / change.n_before + 1 / change.n_after))
    target = math.log1p(target_percent / 100)

    def more(goal: float, floor: float, power: float = POWER) -> float | None:
        return more_units(
            deviation, change.n_before, deviation, change.n_after, goal,
            floor_error=floor, most=MAX_DAYS, power=power,
        )  # fmt: skip

    deciding = None
    if deciding_percent is not None:
        half = more(math.log1p(deciding_percent / 100), change.known_error, 0.5)
        deciding = None if half is None else math.ceil(half) * km_per_day
    if change.smallest_detectable <= target:
        return Enough(smallest, None, 0.0, None, deciding)
    days = more(target, change.known_error)
    if days is not None:
        return Enough(smallest, None, math.ceil(days) * km_per_day, None, deciding)
    if more(target, 0.0) is None:
        shown = Quantity(target_percent, "%", places_of(target_percent))
        why = message("too-few-old-days", days=change.n_before, target=shown)
    else:
        why = message("physics-stays")
    return Enough(smallest, None, None, why, deciding)


def enough_of(facts: Facts, compared: Compared) -> Enough:
    """What the days compared could show, and until when half the claim (2 % without one) would."""
    if compared.adjusted is None:
        why = compared.adjusted_estimate.why or message("needs-adjusted")
        return Enough(None, why, None, why)
    claim, value = facts.claim_percent, compared.adjusted_estimate.value
    margin = facts.study.margin_percent
    return how_much_more(
        compared.adjusted.change,
        target_percent=abs(claim) / 2 if claim else 2.0,
        km_per_day=(facts.after.amount.true_km or 0.0) / max(facts.after.amount.days, 1),
        deciding_percent=None
        if value is None
        else deciding_half_width(value, claim_percent=claim, margin_percent=margin),
    )


def plain_check(adjusted: Adjusted) -> Estimate:
    """The adjusted days by Welch's t with n' for their lag-1 correlation, in percent.

    Physics counts as known here and persistence as found, so that this interval is the narrower
    one; it is shown as a check that nothing else makes the answer.
    """
    sides = adjusted.sides
    correlation = common_persistence(sides)
    counts = [effective_count(len(side), correlation) for side in sides]
    found = welch(*sides, effective_first=counts[0], effective_second=counts[1])
    count = found.n_first + found.n_second
    told = Estimate(found.value, *found.interval(), count, "welch-adjusted-days")
    return told.map(percent)


def chance_of(adjusted: Adjusted, seed: int) -> Chance:
    """Permutation of the adjusted days in blocks as long as their persistence asks."""
    r = min(adjusted.change.persistence, 0.8)
    block = max(1, round((1 + r) / (1 - r) / 2))
    found = block_permutation(*adjusted.sides, block=block, draws=1000, seed=seed)
    return Chance(found.p, found.draws, block, seed)
