"""The columns of the comparison, and who is best in each."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from gearing.analysis.candidates.result import Figure

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gearing.analysis.candidates.result import Standing
    from gearing.messages import Text
    from gearing.statistics.arrays import Array

# Whether more (1) or less (-1) of a figure is better by itself; all else is neither.
BETTER = {
    "startability_percent": 1,
    "top_gear_share": 1,
    "top_gear_sustains_percent": 1,
    "sustained_lowest_kmh": 1,
    "downshifts_under_drive": -1,
    "liters": -1,
    "fuel_change_percent": -1,
    "brake_kwh": -1,
    "brake_stops": -1,
}
# Told as means of the draws: no one driver stands for all, nor does a still day for all weather.
MEANS = ("brake_kwh", "brake_stops", "fuel_change_percent")


def central(name: str, values: Array) -> float:
    """The figure told of its draws: that of the central inputs, or of braking the mean."""
    return float(values.mean() if name in MEANS else values[0])


def figure(name: str, values: Array | None, why: Text | None = None) -> Figure:
    """A figure with the 95 % range of its draws (n,), or without one and why."""
    if values is None or not np.isfinite(values[0]):
        return Figure(why=why)
    known = values[np.isfinite(values)]
    low, high = (float(one) for one in np.percentile(known, [2.5, 97.5]))
    value = central(name, values)
    return Figure(value=value, low=min(low, value), high=max(high, value))


def standings(name: str, rows: Mapping[str, Array]) -> dict[str, Standing]:
    """By row, "best" or, where several may be, "tie" in a column; the others are surely behind.

    Rows share their draws, so that what is common to them drops out of each difference. Nothing is
    best where no row is surely behind.
    """
    better = BETTER.get(name)
    known = {row: values for row, values in rows.items() if np.isfinite(values[0])}
    if better is None or len(known) < 2:
        return {}
    first = max(known, key=lambda row: better * central(name, known[row]))
    tied = [row for row in known if _ties(better * (known[first] - known[row]))]
    if len(tied) == len(known):
        return {}
    return dict.fromkeys(tied, "best" if len(tied) == 1 else "tie")


def _ties(behind: Array) -> bool:
    """Whether a distance from the best may be none."""
    known = behind[np.isfinite(behind)]
    return bool(known.size == 0 or np.percentile(known, 2.5) <= 0)
