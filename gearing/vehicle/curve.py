"""Piecewise linear curves by operators only, for floats, arrays and expressions alike."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gearing.units import Number


def positive_part(value: Number) -> Number:
    """`value` where it is above zero, else zero."""
    return (value + abs(value)) / 2


def interpolate(x: Number, xs: Sequence[float], ys: Sequence[float]) -> Number:
    """The line through the points (`xs` ascending, `ys`), held level outside them.

    Raises
    ------
    ValueError
        no points, unequal counts, or `xs` not strictly ascending.
    """
    if not xs or len(xs) != len(ys):
        raise ValueError(f"a curve needs as many values as places, got {len(ys)} for {len(xs)}")
    if any(b <= a for a, b in pairwise(xs)):
        raise ValueError(f"a curve's places must ascend, got {list(xs)}")
    total = x * 0.0 + float(ys[0])
    for (x0, x1), (y0, y1) in zip(pairwise(xs), pairwise(ys), strict=True):
        width = x1 - x0
        # how far x has come between x0 and x1, kept within 0 and width
        come = (abs(x - x0) - abs(x - x1) + width) / 2
        total = total + come * ((y1 - y0) / width)
    return total
