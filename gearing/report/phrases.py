"""Turns of phrase for figures: no signs to misread, the interval in the same words."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from gearing.messages.display import Display, digits, minus, rough, signed
from gearing.statistics.estimate import Estimate, unknown

if TYPE_CHECKING:
    from gearing.messages import Text

NOT_ANSWERED = "this part was not worked out"


def said(text: Text | None) -> str:
    """A text of results told for their reader; empty where there is none."""
    return str(text or "").strip()


def sentence(text: Text | None) -> str:
    """A text as a sentence of its own; empty where there is none."""
    told = capital(said(text))
    return told if not told or told.endswith((".", "?")) else f"{told}."


def joined(sentences: Iterable[str]) -> str:
    """Sentences one after another, empty ones passed over."""
    return " ".join(one for one in sentences if one)


def counted(n: int, one: str, many: str = "") -> str:
    """`1 trip`, `3 trips`."""
    return f"{n:,} {one if n == 1 else many or f'{one}s'}"


def inverse(ratio: Estimate) -> Estimate:
    """One over a ratio; unknown where that or an end of its interval is not above zero."""
    if ratio.value is None or ratio.value <= 0 or (ratio.low is not None and ratio.low <= 0):
        return unknown(ratio.why or "the ratio is not above zero")
    if ratio.ends is None:
        return Estimate(1 / ratio.value, n=ratio.n, method=ratio.method)
    return ratio.map(lambda value: 1 / value)


def places_of(shown: Estimate, places: int) -> int:
    """Decimals for a figure and the ends of its interval alike: `places`, or as many more, two at
    most, as it takes to tell the ends apart."""
    if shown.ends is None or shown.low == shown.high:
        return places
    low, high = shown.ends
    apart = (p for p in range(places, places + 3) if digits(low, p) != digits(high, p))
    return next(apart, places)


def ends_of(shown: Estimate, places: int) -> tuple[float, float] | None:
    """The ends of an interval; None where there is none, or one too narrow to show."""
    if shown.ends is None:
        return None
    low, high = (digits(end, places_of(shown, places)) for end in shown.ends)
    return None if low == high else shown.ends


def interval_phrase(shown: Estimate, places: int, unit: str = "") -> str:
    """`95 % interval 4.2 to 4.5 %`; empty where there is none or it has no width."""
    ends = ends_of(shown, places)
    if ends is None:
        return ""
    low, high = (digits(end, places_of(shown, places)) for end in ends)
    return f"95 % interval {low} to {high}{unit}"


def change_interval_phrase(shown: Estimate) -> str:
    """`95 % interval 1.2 % lower to 3.4 % higher`: the interval of a change [%], unsigned."""
    ends = ends_of(shown, 1)
    if ends is None:
        return ""
    low, high = ends
    first, second = (digits(abs(end), places_of(shown, 1)) for end in ends)
    if low >= 0:
        return f"95 % interval {first} to {second} % higher"
    if high <= 0:
        return f"95 % interval {second} to {first} % lower"
    return f"95 % interval {first} % lower to {second} % higher"


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
    if factor.holds(1.0):
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
    return f"{display.fuel_word} {verb} {level_phrase(shown.value, places_of(shown, 1))}"


def level_phrase(percent: float, places: int = 1) -> str:
    """`3.4 % higher`, `3.4 % lower` or `the same`."""
    size = digits(abs(percent), places)
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


def with_interval(shown: Estimate, places: int, *, sign: bool = False) -> str:
    """`1.0461 (1.0450 to 1.0472)`; the value alone where there is no interval.

    `sign` gives `+1.2 (-0.3 to +2.7)`; minus signs are proper ones either way.
    """
    if shown.value is None:
        return "not known"
    told = signed if sign else minus
    fine = places_of(shown, places)
    value = told(shown.value, fine)
    ends = ends_of(shown, places)
    return value if ends is None else f"{value} ({told(ends[0], fine)} to {told(ends[1], fine)})"


def interval_or_value(shown: Estimate) -> dict[str, float]:
    """A known estimate as `value`, `low` and `high` of a chart's row."""
    assert shown.value is not None
    low, high = (shown.value if end is None else end for end in (shown.low, shown.high))
    return {"value": shown.value, "low": low, "high": high}


def roughly(shown: Estimate, unit: str = "") -> str:
    """`210 (110 to 320) USD`: a figure known no better than to two digits, and its interval."""
    if shown.value is None:
        return "not known"
    ends = " ({} to {})".format(*map(rough, shown.ends)) if shown.ends else ""
    return f"{rough(shown.value)}{ends} {unit}".strip()


def shown(
    value: float | None,
    places: int = 0,
    turn: Callable[[float], float | None] | None = None,
    *,
    sign: bool = False,
) -> str:
    """A figure through `turn`, or a dash where it is not known."""
    found = value if value is None or turn is None else turn(value)
    return "-" if found is None else (signed if sign else minus)(found, places)


def capital(phrase: str) -> str:
    """The phrase with its first letter large."""
    return phrase[:1].upper() + phrase[1:]


def clause(reason: Text | None) -> str:
    """A reason as the middle of a sentence: no full stop, no capital."""
    plain = (said(reason) or NOT_ANSWERED).rstrip(".")
    second = plain[1:2]
    return plain if second.isupper() else plain[:1].lower() + plain[1:]


def brackets(shown: Estimate, places: int, unit: str = "") -> str:
    """` (95 % interval 4.2 to 4.5 %; 9 days of driving)`; empty without an interval."""
    interval = interval_phrase(shown, places, unit)
    if not interval:
        return ""
    return f" ({'; '.join(part for part in (interval, count_phrase(shown)) if part)})"
