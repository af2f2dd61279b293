"""The median against which a receiver's spikes are told, held against polars' own."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from gearing.trips.receiver import median_of_five


@pytest.mark.parametrize("n", [5, 6, 7, 8, 50, 1000])
def test_median_of_five(n: int) -> None:
    g = np.random.default_rng(n)
    for values in (g.normal(size=n), g.integers(0, 3, n).astype(float)):
        expected = pl.Series(values).rolling_median(5, center=True, min_samples=3).to_numpy()
        found = median_of_five(values)
        assert (found[2:-2] == expected[2:-2]).all()
        # of four values at the ends the mean of two, whose last digit is the library's own
        assert found == pytest.approx(expected, rel=1e-15)
