"""The speedometer against the rules.

[1] 49 CFR 393.82: a speedometer shall be accurate to within plus or minus 8 km/h (5 mph) at a
    speed of 80 km/h (50 mph).
[2] UN Regulation 39, paragraph 5.3: 0 <= V1 - V2 <= V2 / 10 + 4 km/h, V1 shown, V2 true.

Both speak of what the driver is shown. Bus speed is not the needle: without readings of the
needle the figure from bus speed is given and whether the rule is met stays open.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gearing.analysis.sides import SIDES, BySide
from gearing.messages import Message, Quantity, Span, Text, message
from gearing.statistics.estimate import NORMAL_95, Estimate, unknown
from gearing.statistics.intervals import t_quantile
from gearing.study.model import Study
from gearing.trips.record import TripRecord
from gearing.units import KMH_MPS

CFR_AT_KMH = 80.0
CFR_LIMIT_KMH = 8.0
R39_AT_KMH = (40.0, 80.0)
R39_SHARE, R39_CONSTANT_KMH = 0.1, 4.0
# a needle is read to about one unit either way: common practice, no source
NEEDLE_READING_KMH = 1.0
SLOWEST_READ_MPS = 5.0  # slower, a unit either way is too much of it
# beyond what a needle and other tires do together: common practice, no source
MAX_OFF_SHARE, MAX_OFF_KMH = 0.25, 4.0
NO_NEEDLE = message("rule-open/no-reading")


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule at one true speed in one period: `figure` shown less true, km/h."""

    rule: str
    period: str
    at_kmh: float
    limit: Message
    limit_low_kmh: float
    limit_high_kmh: float
    figure: float | None
    figure_low: float | None
    figure_high: float | None
    basis: Message
    meets: bool | None
    why: Text | None = None


def r39_limits_kmh(true_kmh: float) -> tuple[float, float]:
    """Lowest and highest V1 - V2 that UN Regulation 39 allows at true speed V2."""
    return 0.0, R39_SHARE * true_kmh + R39_CONSTANT_KMH


def within(low: float, high: float, limit_low: float, limit_high: float) -> bool | None:
    """True, false, or None where the interval straddles a limit."""
    if low >= limit_low and high <= limit_high:
        return True
    if high < limit_low or low > limit_high:
        return False
    return None


def far_off(shown_mps: float, true_mps: float) -> bool:
    """Whether a reading is too far from the true speed to be a needle's at that moment."""
    return abs(shown_mps - true_mps) > MAX_OFF_SHARE * true_mps + MAX_OFF_KMH * KMH_MPS


def needle_ratio(study: Study, records: Sequence[TripRecord], side: str) -> Estimate:
    """Shown over true speed from the declared readings of the needle that fall in a trip."""
    ratios, errors = [], []
    for record in records:
        if record.side != side:
            continue
        for shown in record.shown:
            declared = study.dash[shown.index].speed_mps
            if declared is None or shown.true_mps is None or shown.true_mps < SLOWEST_READ_MPS:
                continue
            if far_off(declared, shown.true_mps):
                continue
            ratios.append(declared / shown.true_mps)
            errors.append(NEEDLE_READING_KMH * KMH_MPS / shown.true_mps)
    if not ratios:
        return unknown(NO_NEEDLE)
    count = len(ratios)
    reading = float(np.mean(errors)) / np.sqrt(count)
    spread = float(np.std(ratios, ddof=1)) / np.sqrt(count) if count > 1 else 0.0
    reach = max(
        NORMAL_95 * reading, float(t_quantile(0.975, max(count - 1, 1))) * spread * (count > 2)
    )
    mean = float(np.mean(ratios))
    return Estimate(mean, mean - reach, mean + reach, count, "needle-readings")


def rule_rows(
    study: Study, needles: BySide[Estimate], factor: BySide[Estimate]
) -> tuple[Rule, ...]:
    """Every rule in every period the study has."""
    rows: list[Rule] = []
    either_way = message(
        "rule-limit/either-way",
        off=Quantity(CFR_LIMIT_KMH, "km/h"),
        at=Quantity(CFR_AT_KMH, "km/h"),
    )
    for side in SIDES:
        if (study.before if side == "before" else study.after) is None:
            continue
        needle = needles.of(side)
        shown = needle if needle.known else factor.of(side).map(lambda k: 1 / k)
        rows.append(
            _row(
                "49 CFR 393.82", side, CFR_AT_KMH, -CFR_LIMIT_KMH, CFR_LIMIT_KMH,
                either_way, shown, needle.known,
            )
        )  # fmt: skip
        for speed in R39_AT_KMH:
            low, high = r39_limits_kmh(speed)
            limit = message(
                "rule-limit/never-low",
                range=Span(low, high, "km/h"),
                at=Quantity(speed, "km/h"),
            )
            rows.append(
                _row("UN Regulation 39", side, speed, low, high, limit, shown, needle.known)
            )
    return tuple(rows)


def _row(
    rule: str,
    side: str,
    at_kmh: float,
    low: float,
    high: float,
    limit: Message,
    shown: Estimate,
    from_needle: bool,
) -> Rule:
    basis = message("rule-basis/read" if from_needle else "rule-basis/bus")
    if shown.value is None or shown.low is None or shown.high is None:
        return Rule(rule, side, at_kmh, limit, low, high, None, None, None, basis, None, shown.why)
    ends = [at_kmh * (ratio - 1) for ratio in (shown.value, shown.low, shown.high)]
    meets = within(ends[1], ends[2], low, high) if from_needle else None
    why = None if meets is not None else NO_NEEDLE
    if from_needle and meets is None:
        why = message("rule-open/across-limit")
    return Rule(rule, side, at_kmh, limit, low, high, ends[0], ends[1], ends[2], basis, meets, why)
