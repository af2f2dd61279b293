"""Seeded chance: one independent stream for each purpose, so that any trip can be made alone."""

from __future__ import annotations

import zlib

import numpy as np
from numpy.typing import NDArray

SEED = 20260210

Floats = NDArray[np.float64]


def stream(*purpose: str | int) -> np.random.Generator:
    """A random generator that depends on the seed and on the words given, on nothing else."""
    key = zlib.crc32("/".join(map(str, purpose)).encode())
    return np.random.default_rng([SEED, key])


def wandering(rng: np.random.Generator, n: int, *, sd: float, length: float) -> Floats:
    """A first-order autoregressive series of `n` steps with standard deviation `sd` [sd's unit]
    and correlation length `length` [steps]."""
    r = float(np.exp(-1.0 / length))
    shocks = rng.normal(0.0, sd * (1 - r * r) ** 0.5, n)
    out = np.empty(n)
    value = rng.normal(0.0, sd)
    for i in range(n):
        value = r * value + shocks[i]
        out[i] = value
    return out
