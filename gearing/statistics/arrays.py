"""The kinds of arrays that are taken and given."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Mask = NDArray[np.bool_]
Key = TypeVar("Key", np.int64, np.float64)


def as_vector(values: ArrayLike) -> Array:
    """`values` as a flat float64 array without copies where it is one already.

    Raises
    ------
    ValueError
        a value that is not finite: what is missing must be left out by name, not by accident.
    """
    vector = np.asarray(values, dtype=np.float64).ravel()
    if not np.all(np.isfinite(vector)):
        raise ValueError("values must be finite numbers")
    return vector


def standard_deviation(values: Array) -> float:
    """Of a sample, with n - 1, in two passes; the deviations are taken from the first value.

    Taking off the first value first keeps the digits where the spread is far below the level
    (NIST StRD NumAcc4 is the case in point).
    """
    shifted = values - values[0]
    return float(np.sqrt(np.sum((shifted - shifted.mean()) ** 2) / (len(values) - 1)))


def moving_mean(values: Array, width: int) -> tuple[Array, Array]:
    """Means of the finite values among the `width` around each, 0 where there are none, and how
    many they are; the shape of `values`. `width` odd, and no more than there are values."""
    known = np.isfinite(values)
    window = np.ones(width)
    count = np.convolve(known, window, "same")
    total = np.convolve(np.where(known, values, 0.0), window, "same")
    return total / np.maximum(count, 1.0), count


def sum_by(index: Index, weights: Array, count: int = 0) -> Array:
    """Sums of `weights` for each number in `index`; at least `count` entries."""
    return np.asarray(np.bincount(index, weights=weights, minlength=count), dtype=np.float64)


def distinct(keys: NDArray[Key]) -> tuple[NDArray[Key], Index]:
    """The distinct keys in order, and for each key its number among them.

    `numpy.unique` with the inverse, several times faster where equal keys stand together, as
    along a road.
    """
    new = np.concatenate([[True], keys[1:] != keys[:-1]])[: len(keys)]
    first = np.flatnonzero(new)
    found, number = np.unique(keys[first], return_inverse=True)
    return found, np.repeat(number, np.diff(np.append(first, len(keys))))
