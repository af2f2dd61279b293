"""Turns of phrase for figures: no signs to misread, the interval in the same words."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from gearing.messages import Text
from gearing.messages.display import Display, digits, minus, signed

if TYPE_CHECKING:
    from gearing.statistics.estimate import Estimate


def interval_phrase(shown: Estimate, places: int, unit: str = "") -> str:
    """`95 % interval 4.2 to 4.5 %`; empty where there is none or it has no width."""
    if shown.low is None or shown.high is None or shown.low == shown.high:
        return ""
    low, high = digits(shown.low, places), digits(shown.high, places)
    if low == high:  # narrower than what is shown: one figure more
        low, high = digits(shown.low, places + 1), digits(shown.high, places + 1)
    return f"95 % interval {low} to {high}{unit}"


def change_interval_phrase(shown: Estimate) -> str:
    """`95 % interval 1.2 % lower to 3.4 % higher`: the interval of a change [%], unsigned."""
    if shown.low is None or shown.high is None or shown.low == shown.high:
        return ""
    low, high = shown.low, shown.high
    if low >= 0:
        return f"95 % interval {digits(low, 1)} to {digits(high, 1)} % higher"
    if high <= 0:
        return f"95 % interval {digits(-high, 1)} to {digits(-low, 1)} % lower"
    return f"95 % interval {digits(-low, 1)} % lower to {digits(high, 1)} % higher"


_STRETCH, _READING = ("measured stretch", "measured stretches"), ("reading", "readings")
_TRIP = ("trip", "trips")
# what an estimate of each method counts; those not named here count local days
COUNTED = {
    "measured-stretches": _STRETCH,
    "declared-over-indicated": _STRETCH,
    "same-road": _STRETCH,
    "needle-readings": _READING,
    "factor-of-each-level": _READING,
    "distance-weighted-trips": _TRIP,
    "random-effects-trips": _TRIP,
    "both-quantizations-trips": _TRIP,
    "few-trips": _TRIP,
    "welch-trips": _TRIP,
    "slope-within-trips": _TRIP,
    "odometer-readings": ("stretch of known road", "stretches of known road"),
    "full-tanks": ("tank", "tanks"),
}


def count_phrase(shown: Estimate) -> str:
    """What the figure rests on: days of driving, trips or measured stretches, by its method."""
    if shown.n is None:
        return ""
    one, many = COUNTED.get(shown.method or "", ("day of driving", "days of driving"))
    return f"{shown.n} {one if shown.n == 1 else many}"


def farther_phrase(factor: Estimate) -> str:
    """How true speed and distance stand to the indicated ones."""
    assert factor.value is not None
    percent = 100 * (factor.value - 1)
    if factor.low is not None and factor.high is not None and factor.low <= 1 <= factor.high:
        return "as fast and as far as its computer counts, within what the logs can tell"
    size = digits(abs(percent), 1)
    return (
        f"{size} % faster and farther than its computer counts"
        if percent > 0
        else f"{size} % slower and less far than its computer counts"
    )


def change_phrase(consumption: Estimate, display: Display, verb: str = "is") -> str:
    """A change of fuel use in the reader's sense: `fuel economy is 3.4 % higher`."""
    shown = display.fuel_change(consumption)
    assert shown.value is not None
    return f"{display.fuel_word} {verb} {level_phrase(shown.value)}"


def level_phrase(percent: float) -> str:
    """`3.4 % higher`, `3.4 % lower` or `the same`."""
    size = digits(abs(percent), 1)
    if float(size) == 0:
        return "the same"
    return f"{size} % {'higher' if percent > 0 else 'lower'}"


def listed(names: Iterable[str]) -> str:
    """`a, b and c`."""
    every = [name for name in names if name]
    if len(every) < 2:
        return "".join(every)
    return f"{', '.join(every[:-1])} and {every[-1]}"


def percent_of(share: float | None) -> str:
    """A share of one as whole percent; a dash where it is not known."""
    return "-" if share is None else f"{digits(100 * share, 0)} %"


def with_interval(shown: Estimate, places: int, unit: str = "") -> str:
    """`1.0461 (1.0450 to 1.0472)`; the value alone where there is no interval."""
    if shown.value is None:
        return "not known"
    value = f"{minus(shown.value, places)}{unit}"
    if shown.low is None or shown.high is None:
        return value
    low, high = minus(shown.low, places), minus(shown.high, places)
    # an interval narrower than what is shown says nothing more
    return value if low == high else f"{value} ({low} to {high})"


def signed_with_interval(shown: Estimate, places: int = 1) -> str:
    """`+1.2 (-0.3 to +2.7)` with proper minus signs."""
    if shown.value is None:
        return "not known"
    value = signed(shown.value, places)
    if shown.low is None or shown.high is None or shown.low == shown.high:
        return value
    low, high = signed(shown.low, places), signed(shown.high, places)
    if low == high:  # narrower than what is shown: one figure more
        low, high = signed(shown.low, places + 1), signed(shown.high, places + 1)
    return f"{value} ({low} to {high})"


def capital(phrase: str) -> str:
    return phrase[:1].upper() + phrase[1:]


def clause(reason: Text | None) -> str:
    """A reason as the middle of a sentence: no full stop, no capital."""
    plain = str(reason or "no reason was given").strip().rstrip(".")
    second = plain[1:2]
    return plain if second.isupper() else plain[:1].lower() + plain[1:]


def brackets(shown: Estimate, places: int, unit: str = "") -> str:
    interval = interval_phrase(shown, places, unit)
    if not interval:
        return ""
    return f" ({'; '.join(part for part in (interval, count_phrase(shown)) if part)})"
