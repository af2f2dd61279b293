"""What a log's indicated speed was rounded to, and what that hides.

SAE J1979 parameter 0D reports whole km/h; some recorders turn it into whole mph. A value cut
to the whole number below is on average half a unit low, a rounded one is not, and the two
differ by 0.5 % at 100 km/h: as much as a tire's wear. So which it is is found from the data,
or, where it cannot be, left open inside the interval.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gearing.statistics.arrays import Array, Mask
from gearing.units import KMH_MPS, MPH_MPS

SPN_84_MPS = KMH_MPS / 256  # SAE J1939 suspect parameter 84: fine enough to need nothing
GRIDS = (("km/h", KMH_MPS), ("mph", MPH_MPS))
NEAR = 0.02
# of values on no grid, 4 % fall this near to one by chance
MIN_SHARE = 0.15
MIN_SAMPLES = 30
MAX_TRIED = 400
TOPS_TRIED = 5
SMALLEST_STEP, LARGEST_STEP = 0.2, 0.6
COARSE, FINEST = 2e-3, 5e-5
# the best of a thousand grids holds a tenth of values that stand on none
MIN_SCALED_SHARE = 0.2
MIN_PLACES = 12
FLOAT_NOISE = 1e-6


@dataclass(frozen=True, slots=True)
class Grid:
    """The whole unit in which indicated speed comes; `step_mps` 0 where it is finely resolved.

    `drawn`: the recorder drew lines between its samples, so that many values stand on no grid.
    """

    unit: str | None
    step_mps: float
    drawn: bool = False


FINE = Grid(None, 0.0)


def find_grid(indicated_mps: Array) -> Grid:
    """The grid that raw indicated speeds stand on. Recorders that draw lines between samples
    leave a part of the values on it, which is enough."""
    moving = indicated_mps[indicated_mps > 2.0]
    if len(moving) < MIN_SAMPLES:
        return FINE
    shares = [_share(moving / step) for _, step in GRIDS]
    best = int(np.argmax(shares))
    if shares[best] <= MIN_SHARE and np.all(np.abs(_off(moving / SPN_84_MPS)) < NEAR):
        return FINE
    if shares[best] > MIN_SHARE:
        name, step = GRIDS[best]
        every = _every(moving / step) if shares[best] == 1.0 else 1
        name = name if every == 1 else f"{every} {name}"
        return Grid(name, every * step, drawn=shares[best] < 1.0)
    return _wide_grid(moving) or _scaled_grid(moving)


def _wide_grid(moving: Array) -> Grid | None:
    """A grid whose step, wider than any unit, is the least difference of values that all stand on
    it: some recorders keep speed classes alone."""
    places = np.unique(moving)
    if len(places) < MIN_PLACES // 2:
        return None
    step = _common_step(places)
    return None if step <= LARGEST_STEP else Grid(f"{step / KMH_MPS:.3f} km/h", step)


def _every(whole: Array) -> int:
    """Of which whole number all values are multiples; 1 where too few differ to tell."""
    places = np.unique(np.round(whole).astype(np.int64))
    return int(np.gcd.reduce(places)) if len(places) >= MIN_PLACES // 2 else 1


def coarseness(values: Array) -> float:
    """Half the unit that all values are multiples of, over the mean of those above 0; 0 where there
    is none, or too few values to tell."""
    moving = values[values > 0]
    places = np.unique(moving)
    if len(places) < MIN_PLACES:
        return 0.0
    return float(0.5 * _common_step(places) / moving.mean())


def _common_step(places: Array) -> float:
    """The least difference of values in order, where all of them stand on it; else 0."""
    step = float(np.diff(places).min())
    whole = np.all(np.abs(_off(places / step)) < NEAR) and step > FLOAT_NOISE * places[-1]
    return step if whole else 0.0


def _off(whole: Array) -> Array:
    """How far from the nearest whole number."""
    return np.asarray(whole - np.round(whole))


def _share(whole: Array) -> float:
    """Share of values on whole numbers, the number met most often left out: a speed that is
    held may stand on any."""
    on = np.abs(_off(whole)) < NEAR
    if on.mean() > 0.98:
        return 1.0
    counts = np.bincount(np.round(whole[on]).astype(np.int64))
    most = int(counts.max(initial=0))
    rest = len(whole) - most
    return float(np.count_nonzero(on) - most) / rest if rest >= MIN_SAMPLES else 0.0


def _scaled_grid(moving: Array) -> Grid:
    """A grid of another step: a recorder may multiply whole km/h by a correction of its own.

    Sought where the values' phases agree, then tried line by line: enough values must stand on
    the grid, and on many of its places, for a speed that is held stands on any.
    """
    v = moving[:: max(len(moving) // MAX_TRIED, 1)]
    steps = np.exp(np.arange(np.log(SMALLEST_STEP), np.log(LARGEST_STEP), COARSE))
    agree = np.abs(np.exp(2j * np.pi * v[None, :] / steps[:, None]).mean(axis=1))
    tops = np.flatnonzero((agree[1:-1] >= agree[:-2]) & (agree[1:-1] > agree[2:])) + 1
    found = []
    for top in sorted(tops.tolist(), key=lambda i: -agree[i])[:TOPS_TRIED]:
        fine = steps[top] * np.exp(np.arange(-1.5 * COARSE, 1.5 * COARSE, FINEST))
        whole = v[None, :] / fine[:, None]
        on = np.abs(_off(whole)) < NEAR
        best = int(np.argmax(on.sum(axis=1)))
        places = np.unique(np.round(whole[best][on[best]]))
        share = _share(whole[best])
        if share > MIN_SCALED_SHARE and len(places) >= MIN_PLACES:
            found.append((share, _refined(v[on[best]], float(fine[best]))))
    if not found:
        return FINE
    most = max(share for share, _ in found)
    # every grid's half and third are grids too: the widest that explains as much is the one
    step = max(step for share, step in found if share > 0.9 * most)
    return Grid(f"{step / KMH_MPS:.3f} km/h", step, drawn=most < 1.0)


def _refined(on: Array, step: float) -> float:
    whole = np.round(on / step)
    return float((on * whole).sum() / (whole**2).sum())


def on_grid(indicated_mps: Array, grid: Grid) -> Mask:
    """Which values stand on the grid: a recorder's drawn-in ones do not and tell nothing."""
    return np.asarray(np.abs(_off(indicated_mps / grid.step_mps)) < NEAR)
