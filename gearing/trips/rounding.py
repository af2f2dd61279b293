"""What a log's indicated speed was rounded to, and what that hides.

SAE J1979 parameter 0D reports whole km/h; some recorders turn it into whole mph. A value cut
to the whole number below is on average half a unit low, a rounded one is not, and the two
differ by 0.5 % at 100 km/h: as much as a tire's wear. So which it is is found from the data,
or, where it cannot be, left open inside the interval.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gearing.units import KMH_MPS, MPH_MPS

Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

GRIDS = (("km/h", KMH_MPS), ("mph", MPH_MPS))
NEAR = 0.02
# of values on no grid, 4 % fall this near to one by chance
LEAST_SHARE = 0.15
LEAST_SAMPLES = 30


@dataclass(frozen=True, slots=True)
class Grid:
    """The whole unit in which indicated speed comes; `step_mps` 0 where it is finely resolved."""

    unit: str | None
    step_mps: float


FINE = Grid(None, 0.0)


def find_grid(indicated_mps: Array) -> Grid:
    """The grid that raw indicated speeds stand on. Recorders that draw lines between samples
    leave a part of the values on it, which is enough."""
    moving = indicated_mps[indicated_mps > 2.0]
    if len(moving) < LEAST_SAMPLES:
        return FINE
    shares = []
    for _, step in GRIDS:
        whole = moving / step
        shares.append(float(np.mean(np.abs(whole - np.round(whole)) < NEAR)))
    best = int(np.argmax(shares))
    return Grid(*GRIDS[best]) if shares[best] > LEAST_SHARE else FINE


def on_grid(indicated_mps: Array, grid: Grid) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Which values stand on the grid: a recorder's drawn-in ones do not and tell nothing."""
    whole = indicated_mps / grid.step_mps
    return np.asarray(np.abs(whole - np.round(whole)) < NEAR)
