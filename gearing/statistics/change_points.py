"""Steps in a sequence of figures, told from slow drift and from lone outliers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.statistics.arrays import Array, as_vector
from gearing.statistics.regression import weighted_fit
from gearing.statistics.robust import median_deviation

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

BoolArray = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]

# improvement of chi-square a step must bring: chance gives 20 in under one of 1,000 sequences
# of 100 (Monte Carlo in the tests); a slope has one place only and needs less
STEP_CHI2 = 20.0
SLOPE_CHI2 = 11.0
# a step may choose its place, which lets chance favour it over a slope by about this
STEP_FREEDOM = 6.0
MIN_RUN = 2
MIN_SLOPED = 6


@dataclass(frozen=True, slots=True)
class Step:
    """From unit `index` on the level is `size` higher (standard error `error`)."""

    index: int
    size: float
    error: float


@dataclass(frozen=True, slots=True)
class Course:
    """How a sequence runs: steps, one slope per unit of `times` (0 where none shows), `apart`
    the indices that fit no level, `between` the deviation beyond the units' own errors."""

    steps: tuple[Step, ...]
    slope: float
    slope_error: float
    apart: tuple[int, ...]
    between: float


def find_course(
    values: ArrayLike,
    errors: ArrayLike,
    times: ArrayLike,
    *,
    least_step: float,
    floor: float,
    apart_sigmas: float = 6.0,
) -> Course:
    """Steps of at least `least_step`, a slope, and outliers, in a sequence in order of time.

    Whichever of a slope or a step explains most is added first, so that a drift is not cut
    into steps nor a step smeared into a drift. `floor` is the least deviation between units.
    """
    y, s, t = as_vector(values), as_vector(errors), as_vector(times)
    n = len(y)
    if n < 4:
        return Course((), 0.0, 0.0, (), floor)
    between = _between(y, s, floor)
    weight = 1 / (s**2 + between**2)
    apart = _lone(y, np.sqrt(1 / weight), apart_sigmas, least_step)
    time = (t - t.mean()) / max(float(np.ptp(t)), 1e-12)
    for _ in range(n):
        places, sloped = _select(y, weight * ~apart, time, least_step)
        fitted = _design(n, time, places, sloped)
        residual = y - fitted @ weighted_fit(y, weight * ~apart, fitted)[0]
        distance = np.abs(residual) * np.sqrt(weight) * ~apart
        worst = int(np.argmax(distance))
        if distance[worst] < apart_sigmas or abs(residual[worst]) < least_step:
            break
        if np.count_nonzero(~apart) <= max(4, n // 2):
            break
        apart[worst] = True
    solution, covariance, _ = weighted_fit(y, weight * ~apart, fitted)
    steps = tuple(
        Step(k, float(solution[1 + i]), float(np.sqrt(covariance[1 + i, 1 + i])))
        for i, k in enumerate(places)
    )
    span = max(float(np.ptp(t)), 1e-12)
    slope = float(solution[-1]) / span if sloped else 0.0
    error = float(np.sqrt(covariance[-1, -1])) / span if sloped else 0.0
    return Course(steps, slope, error, tuple(np.flatnonzero(apart).tolist()), between)


def _lone(y: Array, deviation: Array, sigmas: float, least: float) -> BoolArray:
    """Units that differ from both neighbours far more than those differ from each other.

    Taken out before any step is sought, for a step would be laid around them; they come back
    nowhere, but a lone unit's level is no level.
    """
    n = len(y)
    left = np.array([i - 1 if i else 2 for i in range(n)])
    right = np.array([i + 1 if i < n - 1 else n - 3 for i in range(n)])
    nearer = np.minimum(np.abs(y - y[left]), np.abs(y - y[right]))
    alike = np.abs(y[left] - y[right]) < 0.5 * nearer
    return np.asarray(alike & (nearer > np.maximum(sigmas * deviation, least)))


def _between(y: Array, s: Array, floor: float) -> float:
    """Deviation between neighbours beyond their own errors; steps and drift hardly touch it."""
    rough = median_deviation(np.diff(y)) / np.sqrt(2)
    return float(np.sqrt(max(rough**2 - float(np.median(s**2)), floor**2)))


def _design(n: int, time: Array, places: list[int], sloped: bool) -> Array:
    columns = [np.ones(n), *((np.arange(n) >= k).astype(np.float64) for k in places)]
    if sloped:
        columns.append(time)
    return np.column_stack(columns)


def _select(y: Array, weight: Array, time: Array, least_step: float) -> tuple[list[int], bool]:
    """Steps and slope by forward selection on chi-square; steps too small are dropped again."""
    n = len(y)
    places: list[int] = []
    sloped = False
    candidates = (np.arange(n)[:, None] >= np.arange(1, n)[None, :]).astype(np.float64)
    while True:
        design = _design(n, time, places, sloped)
        gain_steps = _gains(design, y, weight, candidates)
        kept = weight > 0
        edges = [0, *sorted(places), n]
        for k in range(1, n):
            left = max(e for e in edges if e <= k)
            right = min((e for e in edges if e > k), default=n)
            runs = (np.count_nonzero(kept[left:k]), np.count_nonzero(kept[k:right]))
            if min(runs) < MIN_RUN:
                gain_steps[k - 1] = 0.0
        best = int(np.argmax(gain_steps))
        gain_slope = 0.0 if sloped else float(_gains(design, y, weight, time[:, None])[0])
        may_slope = not sloped and n >= MIN_SLOPED and gain_slope > SLOPE_CHI2
        trial = [*places, best + 1]
        solution = weighted_fit(y, weight, _design(n, time, trial, sloped))[0]
        large = np.abs(solution[1 : 1 + len(trial)]).min() >= least_step
        may_step = large and gain_steps[best] > STEP_CHI2
        if may_slope and (gain_slope > gain_steps[best] - STEP_FREEDOM or not may_step):
            sloped = True
        elif may_step:
            places = trial
        else:
            break
    if places and not sloped:
        design = _design(n, time, places, False)
        sloped = bool(_gains(design, y, weight, time[:, None])[0] > STEP_CHI2)
    return sorted(places), sloped


def _gains(design: Array, y: Array, weight: Array, candidates: Array) -> Array:
    """Fall of chi-square when each candidate column joins the design."""
    root = np.sqrt(weight)
    basis = np.linalg.qr(design * root[:, None])[0]
    residual = root * y
    residual = residual - basis @ (basis.T @ residual)
    columns = candidates * root[:, None]
    columns = columns - basis @ (basis.T @ columns)
    length = np.einsum("ij,ij->j", columns, columns)
    product = columns.T @ residual
    return np.where(
        length > 1e-9 * float(weight.sum()), product**2 / np.maximum(length, 1e-300), 0.0
    )
