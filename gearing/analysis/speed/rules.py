"""The speedometer against the rules.

[1] 49 CFR 393.82: a speedometer shall be accurate to within plus or minus 8 km/h (5 mph) at a
    speed of 80 km/h (50 mph).
[2] UN Regulation 39, paragraph 5.3: 0 <= V1 - V2 <= V2 / 10 + 4 km/h, V1 shown, V2 true.

Both speak of what the driver is shown. Bus speed is not the needle: without readings of the
needle the figure from bus speed is given and whether the rule is met stays open.
"""

from __future__ import annotations

from dataclasses import dataclass

from gearing.analysis.sides import SIDES, BySide
from gearing.analysis.speed.needle_fit import NeedleFit
from gearing.analysis.speed.rule_limits import NO_NEEDLE
from gearing.messages import Message, Quantity, Span, Text, message
from gearing.statistics.estimate import Estimate
from gearing.study.model import Study

CFR_AT_KMH = 80.0
CFR_LIMIT_KMH = 8.0
R39_AT_KMH = (40.0, 80.0)
R39_SHARE, R39_CONSTANT_KMH = 0.1, 4.0


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


def rule_rows(
    study: Study,
    needles: BySide[Estimate],
    factor: BySide[Estimate],
    fit: NeedleFit | None = None,
) -> tuple[Rule, ...]:
    """Every rule in every period the study has."""
    rows: list[Rule] = []
    either_way = message(
        "rule-limit/either-way",
        off=Quantity(CFR_LIMIT_KMH, "km/h"),
        at=Quantity(CFR_AT_KMH, "km/h"),
    )
    for side in SIDES:
        if study.period(side) is None:
            continue
        needle = needles.of(side)
        shown = needle if needle.known else factor.of(side).map(lambda k: 1 / k)

        def off(kmh: float, side: str = side, shown: Estimate = shown) -> Estimate:
            if fit is not None and fit.count.of(side):
                return fit.off(side, kmh)
            return shown.map(lambda ratio: kmh * (ratio - 1))

        rows.append(
            _row(
                "49 CFR 393.82", side, CFR_AT_KMH, -CFR_LIMIT_KMH, CFR_LIMIT_KMH,
                either_way, off(CFR_AT_KMH), needle.known,
            )
        )  # fmt: skip
        for speed in R39_AT_KMH:
            low, high = r39_limits_kmh(speed)
            limit = message(
                "rule-limit/never-low",
                range=Span(low, high, "km/h"),
                at=Quantity(speed, "km/h"),
            )
            found = off(speed)
            rows.append(
                _row("UN Regulation 39", side, speed, low, high, limit, found, needle.known)
            )
    return tuple(rows)


def _row(
    rule: str,
    side: str,
    at_kmh: float,
    low: float,
    high: float,
    limit: Message,
    off: Estimate,
    from_needle: bool,
) -> Rule:
    """`off`: shown less true [km/h]."""
    basis = message("rule-basis/read" if from_needle else "rule-basis/bus")
    if off.figures is None:
        return Rule(rule, side, at_kmh, limit, low, high, None, None, None, basis, None, off.why)
    meets = within(*off.figures[1:], low, high) if from_needle else None
    why: Text | None = None if meets is not None else NO_NEEDLE
    if from_needle and meets is None:
        why = message("rule-open/across-limit")
    return Rule(rule, side, at_kmh, limit, low, high, *off.figures, basis, meets, why)
