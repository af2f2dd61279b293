"""A figure with its interval, its count and the name of how it was found."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from gearing.messages import Text, message

# standard errors to the end of a 95 % interval, the spread being known
NORMAL_95 = 1.959963984540054


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with its 95 % interval, from `n` independent units, or the reason for none.

    An unknown estimate has None for all figures and says why in `why`.
    """

    value: float | None = None
    low: float | None = None
    high: float | None = None
    n: int | None = None
    method: str | None = None
    why: Text | None = None

    def __post_init__(self) -> None:
        if self.value is None and not self.why:
            raise ValueError("an unknown estimate must say why")

    @property
    def known(self) -> bool:
        """Whether there is a value."""
        return self.value is not None

    @property
    def ends(self) -> tuple[float, float] | None:
        """Both ends of the interval; None where one is missing."""
        return None if self.low is None or self.high is None else (self.low, self.high)

    @property
    def figures(self) -> tuple[float, float, float] | None:
        """The value and both ends; None where one is missing."""
        return None if self.value is None or self.ends is None else (self.value, *self.ends)

    def holds(self, value: float) -> bool:
        """Whether a value lies in the interval; False where an end is missing."""
        return self.ends is not None and self.ends[0] <= value <= self.ends[1]

    def map(self, transform: Callable[[float], float]) -> Estimate:
        """The same estimate through a monotone function; the ends are put in order. Where one end
        is missing, through an increasing one."""
        if self.value is None:
            return self
        low, high = (None if end is None else transform(end) for end in (self.low, self.high))
        if low is not None and high is not None:
            low, high = min(low, high), max(low, high)
        return replace(self, value=transform(self.value), low=low, high=high)

    def widened(self, error: float) -> Estimate:
        """The same value with an independent standard error added to its interval."""
        if self.figures is None or not error:
            return self
        value, low, high = self.figures
        reach = NORMAL_95 * error
        return replace(
            self,
            low=value - math.hypot(value - low, reach),
            high=value + math.hypot(high - value, reach),
        )

    def apart_from(self, other: Estimate) -> bool:
        """Whether the two intervals do not meet; False where one is not known."""
        if self.ends is None or other.ends is None:
            return False
        return self.ends[0] > other.ends[1] or other.ends[0] > self.ends[1]


def unknown(why: Text) -> Estimate:
    """An estimate that could not be made, with the reason and what would make it possible."""
    return Estimate(why=why)


def product(a: Estimate, b: Estimate) -> Estimate:
    """Of two independent estimates, relative half-widths added in squares."""
    if a.value is None or b.value is None or a.low is None or b.low is None:
        return unknown(a.why or b.why or message("not-known"))
    assert a.high is not None
    assert b.high is not None
    half_width = math.hypot(
        0.5 * math.log(a.high / a.low) if a.low > 0 else 0.0,
        0.5 * math.log(b.high / b.low) if b.low > 0 else 0.0,
    )
    value = a.value * b.value
    counts = [n for n in (a.n, b.n) if n is not None]
    return Estimate(
        value, value * math.exp(-half_width), value * math.exp(half_width),
        min(counts, default=None), b.method or a.method,
    )  # fmt: skip
