"""How often chance alone would part the two sides this far: labels shuffled in blocks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.statistics.arrays import as_vector

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True)
class Permutation:
    """`p`: share of relabellings with a difference at least as large, the observed one counted."""

    p: float
    draws: int
    blocks: int
    seed: int


def block_permutation(
    first: ArrayLike, second: ArrayLike, *, block: int = 1, draws: int = 2000, seed: int
) -> Permutation:
    """Permutation test of the difference of means, keeping `block` neighbours together.

    Both samples are in order of time and `first` lies before `second`. The joined series is cut
    into blocks, and blocks are dealt anew to the two sides, so that what persists from one value
    to the next stays together. Phipson and Smyth (2010): the observed labelling counts as one of
    the draws, so `p` is never 0.
    """
    a, b = as_vector(first), as_vector(second)
    joined = np.concatenate([a, b])
    n, n_first = len(joined), len(a)
    if min(n_first, len(b)) < 1:
        raise ValueError("each sample needs a value")
    observed = abs(b.mean() - a.mean())
    block = max(1, min(block, n // 2))
    generator = np.random.default_rng(seed)
    # where the cutting begins differs from draw to draw
    offset = generator.integers(0, block, size=(draws, 1))
    number = (np.arange(n) + offset) // block
    keys = generator.random((draws, n // block + 2))
    dealt = joined[np.argsort(np.take_along_axis(keys, number, axis=1), axis=1, kind="stable")]
    sums = dealt[:, :n_first].sum(axis=1)
    differences = (joined.sum() - sums) / (n - n_first) - sums / n_first
    extreme = int(np.sum(np.abs(differences) >= observed * (1 - 1e-12)))
    return Permutation((extreme + 1) / (draws + 1), draws, -(-n // block), seed)
